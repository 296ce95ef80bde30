"""What readings mean is said in the language that holds."""

from __future__ import annotations

import signal
from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from logger.errors import StillvoltError
from logger.metrology.checks import CheckKind
from logger.metrology.context import Context
from logger.metrology.setup import Setup
from logger.translation import tr_kept
from logger.visit.records.condition import EVERYTHING_OFF, EVERYTHING_ON
from logger.visit.records.essential_circuits import why_it_stays
from logger.visit.records.practitioner import Practitioner, check_logo, why_not_a_line
from logger.visit.records.reading_corrections import (
    CONDITION,
    CORRECTION_KINDS,
    Placement,
    ReadingCorrection,
    why_not_reason,
)
from logger.visit.records.reading_records import Reading
from logger.visit.records.rest_record import RestRecord
from logger.visit.records.salvage_record import SalvageRecord
from logger.visit.records.stop_source import StopSource, by_signal, is_on_purpose
from logger.visit.results.contradicting_repeats import repeats_doubt
from logger.visit.results.correction_history import (
    correction_history,
    doubt_by_correction,
    footnote,
    misfit_sentence,
)
from logger.visit.results.off_value_origin import REMOVED_SOURCE, LeftOn, possible_origin, why_other_off
from logger.visit.results.on_off_result import SpotResult, mixed, off_limit_note
from logger.visit.results.outside_walk import walk_meaning
from logger.visit.results.same_home import why_maybe_other_home
from logger.visit.results.simulated_readings import simulation_sentence
from logger.visit.results.typed_value import parse_pair, parse_value
from logger.visit.results.used_stretch import AlreadyTakenError, StretchInUseError, StretchUse, use_of_reading
from logger.visit.results.value_verification import SpanLines, StoredValue, why_not_of_lines, why_not_possible
from tests.support.other_language import OtherLanguage, speak, unspoken
from tests.support.walked import Walked, walked

SETUP = Setup(reference="earth rod", on_battery=True, link_isolated=True)


class AllKept(OtherLanguage):
    """Brackets around what is kept as well."""

    def pgettext(self, context: str, message: str) -> str:
        """The kept sentence in brackets.

        Args:
            context: of kept sentences.
            message: in English.
        """
        return f"⟦{message}⟧"


@pytest.fixture(autouse=True)
def _other_language(monkeypatch: pytest.MonkeyPatch) -> None:
    speak(monkeypatch, AllKept())


def reading(volts: float, condition: str, setup: Setup = SETUP, number: int = 1) -> Reading:
    """A reading at spot 1, called "7"."""
    context = Context(setup, {})
    return Reading(
        number, number, 1, 1, "7", condition, volts, 0.002, 20, 0, 9, 1, 9, "settled", context, None, frozenset(),
        None, None,
    )  # fmt: skip


def _mixed_walk() -> Walked:
    """A walk whose last point was read against another reference."""
    walk = walked([(7, 0.2), (8, 0.5), (9, 0.9)], [7, 8, 9])
    context = Context(replace(SETUP, reference="building earth"), {})
    walk.readings[-1] = replace(walk.readings[-1], context=context)
    return walk


def test_what_the_readings_of_a_spot_mean() -> None:
    on = reading(0.9, EVERYTHING_ON)
    offs = [reading(volts, EVERYTHING_OFF, number=2) for volts in (0.3, 0.9, 1.8, 0.01)]
    other = reading(0.2, EVERYTHING_OFF, replace(SETUP, reference="building earth"), number=3)
    said = [
        *(
            SpotResult(on, off, left_on=LeftOn(("4",), True, ("5",))).meaning(0.1)
            for off in [*offs, other, None]
        ),
        *(SpotResult(None, off).meaning(0.1) for off in offs),
        SpotResult(on, None, apart=((on, on),)).meaning(0.1),
        *(SpotResult(None, off).verdict(0.1) for off in offs),
        mixed([on, other]),
        off_limit_note(Context(SETUP, {}).budget(0.3, 0.001)),
        *(
            walk_meaning(walk.readings, walk.spots)
            for values in ((0.2,), (0.2, 0.2, 0.2), (0.2, 0.5, 0.9), (0.9, 0.5, 0.2), (0.2, 0.9, 0.2))
            if (walk := walked(list(enumerate(values, 7)), range(7, 10)))
        ),
        *(
            walk_meaning(walk.readings, walk.spots)
            for walk in (walked([(7, 0.2), (7, 0.9)], [7]), _mixed_walk())
        ),
        repeats_doubt([on, on]),
    ]
    assert [unspoken(text) for text in said if unspoken(text)] == [] and [
        n for n, text in enumerate(said) if not text
    ] == []


@pytest.mark.parametrize(
    "left",
    [
        LeftOn(),
        LeftOn((), True),
        LeftOn((REMOVED_SOURCE,), True),
        LeftOn((), True, ("5",)),
        LeftOn(("4",), True, ("5",)),
    ],
)
def test_where_what_is_left_comes_from(left: LeftOn) -> None:
    assert unspoken(possible_origin(left)) == []
    assert unspoken(why_other_off(left, LeftOn(("6",), True))) == []


def test_what_a_correction_makes_of_a_reading() -> None:
    before, after = Placement(1, "7", EVERYTHING_ON), Placement(1, "7", "")
    correction = ReadingCorrection(1, 1, CONDITION, before, after, "")
    taken = replace(reading(0.3, ""), corrections=(correction,))
    misfits = [
        replace(correction, kind=kind, before=at)
        for kind in ("spot", "condition", "valid", "9")
        for at in (before, replace(before, spot_id=2, condition="8"))
    ]
    history = correction_history(before, misfits, {1})
    said = [footnote(taken), doubt_by_correction(taken), misfit_sentence(history)]
    assert len(history.misfits) > 4 and all(said) and unspoken(" ".join(said)) == []


def test_what_stands_in_the_way_of_a_reading() -> None:
    use = use_of_reading(reading(0.3, EVERYTHING_ON), 1)
    assert use is not None
    step = StretchUse("1", 1, 2, 3, 0.1, 0.1, check=CheckKind.ZERO, seen="gap")
    errors = [AlreadyTakenError(use), StretchInUseError(use), StretchInUseError(step)]
    assert unspoken(" ".join(part for e in errors for part in (e.what, e.kept, e.next_step))) == []


@pytest.mark.parametrize(
    ("refused", "argument"),
    [(parse_value, "no"), (parse_value, "27"), (parse_value, "1,500 mV"), (parse_pair, "0.3 (270 mV)")],
)
def test_why_a_typed_value_is_none(refused: Callable[[str], object], argument: str) -> None:
    with pytest.raises(StillvoltError) as error:
        refused(argument)
    said = " ".join((error.value.what, error.value.kept, error.value.next_step))
    assert unspoken(said.replace(argument, "")) == []


def test_what_does_not_agree_in_the_log() -> None:
    value = StoredValue(0.3, 0.01, 5, "settled", 1, 0, 4_000_000_000, 1, 5, 1)
    lines = SpanLines(5, 5, 0, 4_000_000_000, 1, np.full(5, 0.3))
    impossible = [
        {"volts": -1.0},
        {"u_volts": -1.0},
        {"samples": 0},
        {"taken": "9"},
        {"taken": "by hand"},
        {"run_id": None},
    ]
    wrong = [
        {"lines": 3}, {"of_run": 2}, {"first_t_ns": None}, {"last_t_ns": -2_000_000_000},
        {"last_utc_ns": 90_000_000_000}, {"volts": np.full(50, 0.3)}, {"volts": np.full(5, 0.4)},
    ]  # fmt: skip
    said = [
        *(why_not_possible(replace(value, **change)) for change in impossible),  # type: ignore[arg-type]
        *(why_not_of_lines(value, replace(lines, **change)) for change in wrong),  # type: ignore[arg-type]
        why_maybe_other_home("", ""),
        why_maybe_other_home("1", "2"),
        why_maybe_other_home("1", ""),
        simulation_sentence([True, False], []),
        simulation_sentence([True], []),
    ]
    assert [text for text in said if unspoken(text)] == [] and [
        n for n, text in enumerate(said) if not text
    ] == []


def test_what_is_kept_of_a_visit_is_said_in_the_language() -> None:
    at, there = Placement(1, "7", EVERYTHING_ON), Placement(2, "8", "")
    salvage = SalvageRecord("9", "", False, False, False, (4,), False)
    said = [
        *(place.words for place in (at, there)),
        *(ReadingCorrection(1, 1, kind, at, there, "5").text for kind in CORRECTION_KINDS),
        ReadingCorrection(1, 1, CONDITION, at, at, "5").words,
        why_not_reason(""),
        why_not_reason("1" * 2000),
        why_not_a_line("1" * 300),
        why_not_a_line("1\n1"),
        salvage.sentence,
        salvage.doubt_of_readings,
        SalvageRecord("9").sentence,
        SalvageRecord("9", "1").sentence,
        SalvageRecord.from_fact("{").sentence,
        RestRecord("9", 1, 1).sentence(),
        *Practitioner("1", "2", "3", b"", "4", "5").lines(),
    ]
    assert [text for text in said if unspoken(text)] == [] and all(said)
    with pytest.raises(StillvoltError) as error:
        check_logo(b"")
    assert unspoken(error.value.what) == []


def test_why_a_run_ended_and_why_a_circuit_stays_on_are_kept_in_english() -> None:
    ends = [
        by_signal(signal.SIGINT),
        by_signal(signal.SIGTERM),
        *(source.end_reason for source in StopSource),
    ]
    assert all(map(is_on_purpose, [ends[0], *ends[2:]])) and not is_on_purpose(ends[1])
    assert why_it_stays("Fridge") == "keeps food cold" and unspoken(tr_kept(why_it_stays("Fridge"))) == []
