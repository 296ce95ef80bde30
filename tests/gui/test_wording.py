"""How values and times are said."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, timedelta, timezone
from gettext import NullTranslations

import pytest

from gui.model.shown_levels import ShownLevels
from gui.model.source_list_controller import AS_DECIDED, stays_text
from gui.model.wording import (
    FROM_BED,
    clock_text,
    counted,
    dated_text,
    day_and_time,
    duration_text,
    hold_longer_text,
    mark_text,
    moment_text,
    span_text,
    spoken_change,
    uncertainty_text,
    value_text,
    volts_text,
)
from gui.stages.prepare.setup_items import ITEMS, REFERENCE, setup_row
from gui.stages.spots.condition_actions import condition_choices
from gui.widgets.badge import UNCLEAR
from logger.metrology.context import Context
from logger.metrology.setup import Setup
from logger.settling.events import Settled, Step
from logger.visit import Mark
from logger.visit.records.condition import EVERYTHING_OFF
from logger.visit.records.home_records import Source
from logger.visit.storage.time_zone import local_time, offset_unlike
from logger.visit.trace import Placed
from tests.support.other_language import speak


@pytest.mark.parametrize(
    ("volts", "u_volts", "text"),
    [
        (0.27, 0.01, "0.27 ± 0.02 V"),
        (0.2744, 0.002, "0.274 ± 0.004 V"),
        (0.2744, 0.00001, "0.274 ± 0.001 V"),  # never shown as zero
        (0.0, 0.003, "0.000 ± 0.006 V"),
        (12.345, 0.2, "12.35 ± 0.40 V"),
        (1.851, 0.6, "1.9 ± 1.2 V"),  # at most two digits (GUM 7.2.6)
        (0.065, 0.02, "0.07 ± 0.04 V"),  # halves up, whatever the binary fraction is
        (123.456, 7.0, "123 ± 14 V"),
    ],
)
def test_values_with_expanded_uncertainty(volts: float, u_volts: float, text: str) -> None:
    assert value_text(volts, u_volts) == text
    assert text == f"{volts_text(volts, u_volts)} {uncertainty_text(volts, u_volts)} V"


@pytest.mark.parametrize(
    ("seconds", "text"),
    [(-1, "0 s"), (0.9, "0 s"), (14.2, "14 s"), (125, "2 min 05 s"), (2460, "41 min"), (3900, "1 h 05 min")],
)
def test_durations(seconds: float, text: str) -> None:
    assert duration_text(seconds) == text


@pytest.mark.parametrize(
    ("seconds", "text"), [(30, "30 s"), (120, "2 min"), (75, "1 min 15 s"), (3600, "1 h")]
)
def test_stretches_of_the_trace(seconds: float, text: str) -> None:
    assert span_text(seconds) == text


def test_steps_and_numbers() -> None:
    assert (spoken_change("+0.17 V"), spoken_change("−0.3 V")) == (
        "plus zero point one seven volts",
        "minus zero point three volts",
    )
    assert (counted(1, "line"), counted(1204, "line"), counted(0, "line")) == (
        "1 line",
        "1,204 lines",
        "0 lines",
    )


def test_a_step_is_the_difference_of_its_levels_as_they_are_shown() -> None:
    """The levels beside it are shown as 0.81 and 0.00 V, of which the unrounded difference is 0.80 V."""
    levels = [
        Placed(0.0, 19.0, Settled(0.0, 19.0, 0.8051, 0.002, 5.0, 90)),
        Placed(22.0, 60.0, Settled(22.0, 60.0, 0.0049, 0.002, 27.0, 190)),
    ]
    shown = ShownLevels(
        lambda _, start_s, end_s: [p for p in levels if p.end_s >= start_s and p.start_s <= end_s],
        lambda: Context(Setup(), {}),
        lambda placed: taken.get(placed.start_s),
        lambda _: False,
    )
    taken: dict[float, tuple[float, float]] = {}
    assert [shown.level(placed) for placed in levels] == ["0.81", "0.00"]
    assert shown.step(20.0, Step(20.0, 0.8031, 0.0049, 0.003, 27.0)) == "−0.81 V"
    # No span is beside it any more, or it is at another level: the step's own levels.
    assert shown.step(900.0, Step(900.0, 0.8031, 0.0049, 0.003, 27.0)) == "−0.80 V"
    assert shown.step(20.0, Step(20.0, 0.6, 0.2, 0.003, 27.0)) == "−0.40 V"
    assert shown.step(900.0, Step(900.0, 0.602, 0.604, 0.001, 27.0)) == "+0.002 V"
    taken[22.0] = 0.0051, 0.03
    assert shown.level(levels[1]) == "0.01", "as the reading that was taken within it"
    taken[22.0] = 0.2, 0.03
    assert shown.level(levels[1]) == "0.00", "another level of a span that wandered"


def test_a_final_step_keeps_its_figures_while_its_level_goes_on() -> None:
    final, before = False, Placed(0.0, 19.0, Settled(0.0, 19.0, 0.0651, 0.002, 5.0, 90))
    after_volts = 0.0249

    def near(*_: object) -> list[Placed]:
        return [before, Placed(22.0, 60.0, Settled(22.0, 60.0, after_volts, 0.002, 27.0, 190))]

    shown = ShownLevels(near, lambda: Context(Setup(), {}), lambda _: None, lambda _: final)
    step = Step(20.0, 0.0651, 0.025, 0.003, 27.0)
    assert shown.step(20.0, step) == "−0.05 V"
    after_volts = 0.0251
    assert shown.step(20.0, step) == "−0.04 V", "the detector may still change it"
    final, after_volts = True, 0.0249
    assert shown.step(20.0, step) == "−0.05 V"
    after_volts = 0.0251
    assert shown.step(20.0, step) == "−0.05 V", "one change has one size"


def test_a_longer_hold_is_asked_for_in_a_whole_sentence() -> None:
    span = Settled(0.0, 8.0, 0.3, 0.006, 4.0, 40, hold_longer_s=20.0)
    assert hold_longer_text(span) == (
        "It can be taken now. The value wanders slowly. If you hold still for longer, its ± may get smaller."
    )
    assert hold_longer_text(replace(span, hold_longer_s=0.0)) == ""


def test_a_time_is_that_of_its_zone_and_the_offset_is_told_where_it_is_not_that_of_another_zone() -> None:
    kathmandu = timezone(timedelta(hours=5, minutes=45))
    assert (clock_text(0, kathmandu), clock_text(0, UTC, seconds=False)) == ("05:45:00", "00:00")
    assert (day_and_time(0, kathmandu), moment_text(0, UTC)) == ("1 Jan 05:45", "on 1 Jan at 00:00")
    moment = local_time(0, kathmandu)
    assert offset_unlike(moment, kathmandu, UTC) == "UTC+05:45" and not offset_unlike(moment, kathmandu)
    assert not offset_unlike(local_time(0, None), None), "the computer's own"


class OtherLanguage(NullTranslations):
    """Every sentence that goes through it is marked."""

    def gettext(self, message: str) -> str:
        return f"‹{message}›"

    def pgettext(self, _context: str, message: str) -> str:
        return f"‹{message}›" if message in (FROM_BED, AS_DECIDED) else message


@pytest.fixture
def other_language(monkeypatch: pytest.MonkeyPatch) -> None:
    speak(monkeypatch, OtherLanguage())


@pytest.mark.usefixtures("other_language")
def test_what_the_log_keeps_in_english_is_shown_in_the_shown_language_and_what_was_typed_as_typed() -> None:
    mark = Mark(1, 0, None, None, FROM_BED, None)
    assert (mark.text, mark_text(mark)) == ("marked from the bed", "‹marked from the bed›")
    assert mark_text(replace(mark, text="the dog came in")) == "the dog came in"
    decided = Source(1, "circuit", "Hall", stays=AS_DECIDED)
    assert stays_text(decided) == "‹as the household decided›"
    assert stays_text(replace(decided, stays="aquarium")) == "aquarium"
    assert dated_text(date(2026, 11, 24), "18:05") == "‹24 ‹Nov› 18:05›"


@pytest.mark.usefixtures("other_language")
def test_what_a_set_up_adds_to_the_uncertainty_does_not_hang_on_the_language() -> None:
    item = next(item for item in ITEMS if item.name == REFERENCE)
    row = setup_row(item, Setup(reference="building earth"))
    assert (row.head, row.value, row.badge) == ("‹Reference›", "‹building earth›", UNCLEAR)


@pytest.mark.usefixtures("other_language")
def test_what_was_on_before_is_offered_once_in_every_language() -> None:
    usual = ["‹Everything on, as in the evening›", "‹Everything off›", "‹Something else: type it›"]
    taken: list[str] = []
    for before, further in ((EVERYTHING_OFF, []), ("breaker 3", ["‹Still breaker 3›"])):
        choices = condition_choices(taken.append, lambda: None, before=before)
        assert [choice.text for choice in choices] == [*usual, *further]
