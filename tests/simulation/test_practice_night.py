"""A night in a minute: the house as it was left, recorded as a run of its own after everything else."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from logger.clock import NS_PER_S
from logger.errors import StillvoltError
from logger.metrology.setup import Setup
from logger.night.night_conditions import keep_night_entry, night_entries
from logger.night.night_entries import NightEntry, entered_for
from logger.night.night_spots import NightSpot, keep_night_spot, night_spot_entries
from logger.night.recorded_nights import nights
from logger.recording.recorder_lock import sole_recorder
from logger.simulation.house.control import send_command
from logger.simulation.practice_night import bedtime, night_scene, record_night
from logger.simulation.practice_switches import PracticeHouse, url_of
from logger.visit import VisitLog
from logger.visit.records.fact_names import CONDITION
from tests.support.other_language import OPENING, OtherLanguage, speak, unspoken

NOON = datetime(2026, 5, 16, 12, 0, tzinfo=UTC)


@pytest.fixture
def url(tmp_path: Path) -> str:
    control = tmp_path / "house.control"
    for command in (
        "go to Desk",
        "walk",
        "breaker 4 off",
        "probe on reference wire",
        "meter off",
        "lamp unplug",
    ):
        send_command(control, command)
    return url_of(control)


@pytest.fixture
def visit(tmp_path: Path) -> Path:
    path = tmp_path / "house.visit"
    VisitLog.create(path).close()
    return path


def test_two_nights_one_after_the_other(visit: Path, url: str) -> None:
    told: list[str] = []
    said = record_night(visit, url, NOON, "UTC", told.append, length_s=1200.0)
    assert "night of 15 May 22:30 to 15 May 22:50 was" in said and told[-1] == "Night: 20 min of 20 min"
    record_night(visit, url, NOON, "UTC", length_s=120.0)
    log = VisitLog.open(visit)
    runs = log.runs.all()
    starts = [datetime.fromtimestamp(run.started_utc_ns / NS_PER_S, UTC) for run in runs]
    assert [start.isoformat() for start in starts] == [
        "2026-05-15T22:30:00+00:00",
        "2026-05-14T22:30:00+00:00",
    ], "none is still to come, and none overlaps another one"
    assert [run.port for run in runs] == [url, url]
    found = nights(log)
    log.close()
    assert "which spot the person slept was not entered" in said, "none is made up"
    assert [night.spot.is_known for night in found] == [False, False]
    assert len(found) == 2 and len(found[0].record.volts) == pytest.approx(2400, abs=3)
    # In bed, the probe in hand and the meter on, whatever was left.
    assert float(found[0].record.volts.min()) > 0.02 and float(found[0].record.volts.max()) < 20


def test_only_what_was_entered_for_the_night_is_on_in_it_and_in_no_later_one(visit: Path, url: str) -> None:
    log = VisitLog.open(visit)
    later = datetime.now(UTC) + timedelta(seconds=60)  # the night keeps its entries by the computer's clock
    log.facts.set(CONDITION, "everything off")
    record_night(visit, url, later, "UTC", length_s=60.0)
    keep_night_entry(log, NightEntry("everything on", 1, is_ahead=True))  # during a recording
    keep_night_spot(log, NightEntry(NightSpot(7, "Bedroom: bed, lying down"), None, is_ahead=True))
    first: list[tuple[str | None, NightSpot | None]] = []

    def look(_: str) -> None:
        first.append(
            (entered_for(night_entries(log), (2,), 0), entered_for(night_spot_entries(log), (2,), 0))
        )

    said = record_night(visit, url, later, "UTC", look, length_s=60.0)
    assert first == [("everything on", NightSpot(7, "Bedroom: bed, lying down"))], "while it goes on"
    assert "slept at “Bedroom: bed, lying down”" in said
    record_night(visit, url, later, "UTC", length_s=60.0)
    found = nights(log)
    log.close()
    assert [night.conditions_text for night in found] == ["not entered", "everything on", "not entered"]
    assert [night.spot.text for night in found] == [
        "not recorded",
        "Bedroom: bed, lying down",
        "not recorded",
    ]


def test_where_the_person_slept_may_be_entered_while_the_night_is_recorded(visit: Path, url: str) -> None:
    log = VisitLog.open(visit)

    def enter(_: str) -> None:
        keep_night_spot(log, NightEntry(NightSpot(3, "Bed, left"), log.runs.all()[-1].id, is_ahead=False))

    said = record_night(visit, url, NOON, "UTC", enter, length_s=60.0)
    (night,) = nights(log)
    log.close()
    assert "slept at “Bed, left”" in said and night.spot.name == "Bed, left"


def test_a_practice_night_has_the_set_up_that_was_stated_before_it_was_recorded(
    visit: Path, url: str
) -> None:
    log = VisitLog.open(visit)
    record_night(visit, url, NOON, "UTC", length_s=60.0)
    unstated = nights(log)[0].context.budget(0.06, 0.005).expanded_volts
    log.setup.set(Setup(reference="earth rod", on_battery=True, link_isolated=True))
    context = nights(log)[0].context
    log.close()
    assert context.setup.reference == "earth rod"
    assert context.budget(0.06, 0.005).expanded_volts < unstated / 2


def test_the_house_is_slept_in_as_it_was_left(url: str) -> None:
    scene = night_scene(url)
    places = {s.name: s.main.word for group in PracticeHouse(url).groups() for s in group.switches}
    assert (places["Desk"], places[scene.start_spot]) == ("here", "sleeps here")
    assert scene.house.spots[scene.start_spot].posture == "lying"
    assert not scene.house.breakers[4] and scene.house.breakers[1]
    assert not scene.house.cord_states["lamp"].plugged


def test_called_off_keeps_what_there_is(visit: Path, url: str, monkeypatch: pytest.MonkeyPatch) -> None:
    speak(monkeypatch, OtherLanguage())
    told: list[str] = []
    said = record_night(visit, url, NOON, "UTC", told.append, lambda: len(told) >= 3, length_s=1200.0)
    assert "called off" in said
    assert unspoken(said) == unspoken(told[0]) == []
    log = VisitLog.open(visit)
    assert [run.end_reason for run in log.runs.all()] == ["called off"], "kept in English"
    assert not any(OPENING in notice.message for notice in log.notices.after())
    live = log.recorder.live()
    assert live is not None and live.ended and live.count_volts == pytest.approx(360, abs=3)
    log.close()


def test_bedtime_is_the_last_one_whose_night_is_over() -> None:
    assert bedtime(NOON).day == 15 and bedtime(NOON.replace(hour=23)).day == 15
    assert bedtime(NOON.replace(hour=6)).day == 14


def test_refused_while_a_recorder_is_at_work(visit: Path, url: str) -> None:
    with sole_recorder(visit), pytest.raises(StillvoltError, match="Another recorder"):
        record_night(visit, url, NOON, "UTC", length_s=60.0)
