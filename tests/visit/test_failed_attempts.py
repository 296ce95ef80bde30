"""A check that had failed before its last step is a failed result; one left before it proved anything is none."""

from __future__ import annotations

import pytest

from logger.clock import NS_PER_S
from logger.metrology.checks import CheckKind, CheckVerdict
from logger.metrology.setup import Setup
from logger.report.document.read_report_data import read_report_data
from logger.report.document.sections.checks import checks as checks_section
from logger.report.export.tables.checks import CHECKS
from logger.visit import VisitLog
from logger.visit.records.reading_records import Reading, Span
from logger.visit.results.check_review import doubt_by_checks, failed_later
from logger.visit.storage.verification import verify
from tests.support.visit_fixtures import Recording
from tests.visit.test_integrity import edit

ROD = Setup(reference="earth rod")
PASSED, FAILED, SKIPPED = CheckVerdict.PASSED, CheckVerdict.FAILED, CheckVerdict.SKIPPED


def steps(log: VisitLog, recording: Recording, kind: CheckKind, *levels: float) -> None:
    """Take the first steps of a check, and keep its result where these are all."""
    spans: list[Span] = []
    for volts in levels:
        recording.clock.advance_ns(11 * NS_PER_S)
        recording.samples([volts] * 8, u_volts=0.001)
        spans.append(log.check_steps.take(kind, spans))
    if len(spans) == 3:
        log.checks.add(kind, spans)


def read(log: VisitLog, recording: Recording) -> Reading:
    spot = next(iter(log.spots.all()), None) or log.spots.add("Bed")
    recording.clock.advance_ns(NS_PER_S)
    return log.readings.enter(spot.id, "everything on", 0.3, 0.01)


def doubt(log: VisitLog, reading: Reading) -> str:
    return doubt_by_checks(reading, failed_later(log.checks.all()), {})


@pytest.fixture(autouse=True)
def rod(log: VisitLog) -> None:
    log.setup.set(ROD)


def test_a_rise_that_is_too_small_is_a_failed_check_in_all_that_is_made_of_the_visit(
    log: VisitLog, recording: Recording
) -> None:
    steps(log, recording, CheckKind.FUNCTION, 0.31, 0.45)
    (failed,) = log.checks.all()
    assert (failed.kind, failed.outcome.verdict) == (CheckKind.FUNCTION, FAILED)
    assert [(step.name, step.span.volts) for step in failed.steps] == [
        ("background", pytest.approx(0.31)),
        ("cord near", pytest.approx(0.45)),
    ]
    assert "rose by 0.14 V to 0.45 V" in failed.outcome.sentence
    context = read(log, recording).context
    assert context is not None and context.verdicts == {CheckKind.FUNCTION: FAILED}
    rows = list(CHECKS.rows(log))
    assert [(row.check.id, row.step.name) for row in rows if row.step] == [
        (failed.id, "background"),
        (failed.id, "cord near"),
    ]
    section = checks_section(read_report_data(log))
    assert section is not None and "rose by 0.14 V" in repr(section)
    assert log.checks.still_open() == []


def test_what_was_read_since_it_had_passed_is_in_doubt_and_passing_again_does_not_take_that_back(
    log: VisitLog, recording: Recording
) -> None:
    steps(log, recording, CheckKind.FUNCTION, 0.3, 2.1, 0.3)
    between = read(log, recording)
    assert doubt(log, between) == ""
    steps(log, recording, CheckKind.FUNCTION, 0.31, 0.45)
    steps(log, recording, CheckKind.FUNCTION, 0.3, 2.1, 0.3)
    assert [check.outcome.verdict for check in log.checks.all()] == [PASSED, FAILED, PASSED]
    assert doubt(log, between) == "The function check passed before this reading and failed after it."
    after = read(log, recording)
    assert doubt(log, after) == "" and after.context is not None
    assert after.context.verdicts[CheckKind.FUNCTION] is PASSED


def test_skipping_a_check_that_failed_leaves_it_failed(log: VisitLog, recording: Recording) -> None:
    steps(log, recording, CheckKind.FUNCTION, 0.31, 0.45)
    log.checks.skip(CheckKind.FUNCTION, "no lamp cord at hand")
    assert [check.outcome.verdict for check in log.checks.all()] == [FAILED, SKIPPED]
    context = read(log, recording).context
    assert context is not None and context.verdicts[CheckKind.FUNCTION] is FAILED


def test_a_clock_that_was_set_back_does_not_make_it_older_than_the_check_before(
    log: VisitLog, recording: Recording
) -> None:
    steps(log, recording, CheckKind.FUNCTION, 0.3, 2.1, 0.3)
    recording.clock.set_utc_ns(recording.clock.utc_ns() - 3600 * NS_PER_S)
    steps(log, recording, CheckKind.FUNCTION, 0.31, 0.45)
    assert [check.outcome.verdict for check in log.checks.all()] == [PASSED, FAILED]


def test_rods_that_do_not_agree_at_the_first_step_have_failed(log: VisitLog, recording: Recording) -> None:
    steps(log, recording, CheckKind.TWO_RODS, 0.4)
    (failed,) = log.checks.all()
    assert failed.outcome.verdict is FAILED and "between the rods" in failed.outcome.sentence
    context = read(log, recording).context
    assert context is not None and (context.rod_volts or 0.0) >= 0.4


@pytest.mark.parametrize(
    ("kind", "levels"),
    [
        (CheckKind.FUNCTION, (0.31,)),
        (CheckKind.FUNCTION, (0.31, 2.1)),
        (CheckKind.REFERENCE, (0.31,)),
        (CheckKind.TWO_RODS, (0.001,)),
    ],
)
def test_what_was_left_before_it_proved_anything_is_named_and_is_no_result(
    log: VisitLog, recording: Recording, kind: CheckKind, levels: tuple[float, ...]
) -> None:
    steps(log, recording, kind, *levels)
    assert log.checks.all() == []
    (left,) = log.checks.still_open()
    assert (left.kind, len(left.noted)) == (kind, len(levels))
    section = checks_section(read_report_data(log))
    assert section is not None and "left before it was decided" in repr(section)
    assert str(kind) in repr(section)


@pytest.mark.parametrize("without_checksums", [False, True])
def test_a_changed_step_of_a_check_without_a_result_does_not_agree_with_its_lines(
    log: VisitLog, recording: Recording, without_checksums: bool
) -> None:
    steps(log, recording, CheckKind.FUNCTION, 0.31, 0.45)
    assert log.integrity().sound
    edit(
        log.path,
        "UPDATE fact SET value = json_set(value, '$.span.volts', 2.0) WHERE value LIKE '%cord near%'",
        without_checksums=without_checksums,
    )
    found = [sentence for sentence in log.integrity().others if "cord near" in sentence]
    assert len(found) == 1 and "function check" in found[0]
    assert "holds 2 V" in found[0] and "0.45 V" in found[0]
    assert not verify(log.path).sound
