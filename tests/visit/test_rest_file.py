"""The rest of a recording that its visit log did not take is named by both logs."""

from __future__ import annotations

from pathlib import Path

from logger.clock import NS_PER_S, ManualClock
from logger.settling.events import Now, Settled, State
from logger.visit import VisitLog
from logger.visit.records.fact_names import REST_ELSEWHERE, REST_OF
from logger.visit.storage.rest_file import keep_rest, keep_where_rests_are, rest_sentences, rests_since
from logger.visit.storage.run_writer import Batch, Counts, FinishedRun, Heartbeat, RunEnd
from logger.visit.storage.verification import verification_text, verify
from tests.support.visit_fixtures import Recording


def test_the_visit_names_its_rest_and_the_rest_its_recording(
    log: VisitLog, recording: Recording, clock: ManualClock, tmp_path: Path
) -> None:
    recording.samples([0.27, 0.28])
    end_ns = 100 * NS_PER_S
    beat = Heartbeat(end_ns, end_ns, "open", "", Now(State.SETTLING, 0.0, None, None, 0), [], Counts(), "")
    rest = FinishedRun(
        recording.writer.start,
        Batch(
            lines=[(end_ns, 95 * NS_PER_S + NS_PER_S // 4, "volts", 0.27, b"0.270")],
            events=[Settled(80.0, 94.0, 0.27, 0.001, 95.0, 56)],
        ),
        beat,
        RunEnd(end_ns, end_ns, "asked to stop"),
    )
    path = keep_rest(log.path, recording.writer.run_id, rest, [tmp_path])
    assert path is not None
    of_visit = f"The rest of run 1, from second 95.2 on, is in {path}: this visit log did not take it."
    of_rest = (
        "This is the rest of run 1 of house.visit, from second 95.2 on, which that visit log did not take."
    )
    assert of_visit in verification_text(verify(log.path))
    assert verify(path).rests == (of_rest,)
    assert verify(path).sound, "a span of which no line is in the rest is none of it"
    runs = {run.started_utc_ns: run.id for run in log.runs.all()}
    assert rest_sentences(log.path, runs, log.facts.get(REST_OF)) == (of_visit,)
    assert rest_sentences(log.path, {1: 1}, "") == ()
    (for_others,) = rest_sentences(log.path, runs, "", with_folder=False)
    assert path.name in for_others and str(path.parent) not in for_others


def test_a_visit_that_was_written_again_says_wherever_it_is_copied_that_it_lacks_its_rest(
    log: VisitLog, recording: Recording, clock: ManualClock, tmp_path: Path
) -> None:
    recording.samples([0.27, 0.28])
    beat = Heartbeat(0, 0, "open", "", Now(State.SETTLING, 0.0, None, None, 0), [], Counts(), "")
    lines = Batch(lines=[(0, 95 * NS_PER_S, "volts", 0.27, b"0.270")])
    rest = FinishedRun(recording.writer.start, lines, beat, RunEnd(0, 0, "asked to stop"))
    path = keep_rest(log.path, recording.writer.run_id, rest, [tmp_path])
    assert path is not None
    for _ in range(2):
        keep_where_rests_are(log.path, clock.utc_ns())
    assert len(log.facts.values_of(REST_ELSEWHERE)) == 1
    written_ns = path.stat().st_mtime_ns
    assert rests_since(log.path, written_ns) == [path] and rests_since(log.path, written_ns + 1) == []
    path.unlink()
    (lacks,) = verify(log.path).rests
    assert (
        lacks.startswith("This visit log lacks the rest of run 1, from second 95.0 on") and path.name in lacks
    )
