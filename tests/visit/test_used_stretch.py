"""A stretch of the trace gives one reading of a spot and condition, whoever takes it."""

from __future__ import annotations

import pytest

from logger.visit import VisitLog
from logger.visit.results.used_stretch import AlreadyTakenError
from tests.support.visit_fixtures import Recording


def test_the_same_samples_are_taken_once(log: VisitLog, recording: Recording) -> None:
    bed, desk = log.spots.add("Bed").id, log.spots.add("Desk").id
    recording.samples([0.3] * 5)
    first = log.readings.take(bed, "everything on")
    other_window = VisitLog.open(log.path, recording.clock)
    with pytest.raises(AlreadyTakenError, match="already taken at “Bed”") as refused:
        other_window.readings.take(bed, "everything on")
    other_window.close()
    assert refused.value.reading == first and log.readings.all() == [first]
    log.readings.take(bed, "everything off")
    log.readings.take(desk, "everything on")
    assert len(log.readings.all()) == 3, "another spot or condition is another reading"


def test_a_voided_reading_or_a_new_stretch_gives_the_way_free(log: VisitLog, recording: Recording) -> None:
    bed = log.spots.add("Bed").id
    recording.samples([0.3] * 5)
    log.readings.void(log.readings.take(bed, "everything on").id, "wrong posture")
    log.readings.take(bed, "everything on")
    recording.samples([0.31] * 5)
    log.readings.take(bed, "everything on")
    assert [r.void_reason for r in log.readings.all()] == ["wrong posture", None, None]


def test_a_run_ends_after_it_began_whatever_the_clock_was_set_to(log: VisitLog, recording: Recording) -> None:
    recording.samples([0.3] * 5)
    recording.clock.set_utc_ns(recording.clock.utc_ns() - 7200 * 10**9)
    recording.samples([0.3] * 5)
    t_ns = recording.clock.steady_ns() - recording.started_ns
    recording.writer.end(recording.clock.utc_ns(), t_ns, "stopped")
    (run,) = log.runs.all()
    assert run.ended_utc_ns == run.started_utc_ns + t_ns
    assert run.clock_set_ns == -7200 * 10**9
