"""A check holds for the meter, the port and the lines that it was done with, and for no others."""

from __future__ import annotations

import json
from dataclasses import replace

import pytest

from logger.clock import NS_PER_S, ManualClock
from logger.errors import StillvoltError
from logger.meter.description import Accuracy, MeterDescription
from logger.meter.description_toml import as_toml
from logger.metrology.check_validity import CHECK_HOLDS_S, Lapse, lapse_by_connection
from logger.metrology.checks import STEPS, CheckKind, CheckOutcome, CheckVerdict
from logger.metrology.context import UNIT_ASSUMED_REMARK, Context
from logger.metrology.meter_connection import MeterConnection, forms_agree
from logger.metrology.setup import ASSUMED_METER, MeterFacts, Setup
from logger.settling.events import Event, Gap, Motion, Now, State
from logger.visit import VisitLog
from logger.visit.records.reading_records import CheckResult, CheckStep, Span
from logger.visit.results.check_review import doubt_by_checks
from logger.visit.results.reading_context import ReadWith, lapse_of_check, newest_valid, verdict_by_now
from logger.visit.storage.check_store import StepsApartError
from logger.visit.storage.run_checksum import LineRow
from logger.visit.storage.run_writer import Batch
from tests.support.visit_fixtures import Recording

PORT, OTHER_PORT = "/dev/ttyUSB0", "/dev/ttyUSB1"
FINE = MeterFacts.of(MeterDescription("Fine", accuracy=(Accuracy(20.0, 0.5, 1, 0.001),)))
DONE_OVER = MeterConnection(PORT, "9600 baud, 8N1", "Bench", "<>VAC")


@pytest.mark.parametrize(
    ("now", "lapse"),
    [
        (DONE_OVER, None),
        (None, None),
        (MeterConnection(OTHER_PORT, "9600 baud, 8N1", "Bench", "<>VAC"), Lapse.PORT),
        (MeterConnection(PORT, "2400 baud, 8N1", "Bench", "<>VAC"), Lapse.PORT_SETTINGS),
        (MeterConnection(PORT, "9600 baud, 8N1", "Other", "<>VAC"), Lapse.METER),
        (MeterConnection(PORT, "9600 baud, 8N1", "Bench", "VAC<E>"), Lapse.LINE_FORM),
        (MeterConnection(PORT, "9600 baud, 8N1", "Bench", ""), None),  # not known yet
    ],
)
def test_what_a_check_was_done_over_and_what_is_connected_now(
    now: MeterConnection | None, lapse: Lapse | None
) -> None:
    assert lapse_by_connection(DONE_OVER, now) is lapse
    assert lapse_by_connection(None, now) is None, "a log that did not keep it"


def test_forms_that_the_user_called_those_of_one_meter_are_alike_by_way_of_a_third() -> None:
    same = [("a", "b"), ("c", "b")]
    assert forms_agree("a", "c", same) and forms_agree("c", "a", same)
    assert not forms_agree("a", "d", same)


def settle(recording: Recording, volts: float, pattern: str = "%.3f V AC") -> None:
    """Settle at a level anew, with lines of a form."""
    since_s, lines = recording.t_s() + 0.4, list[LineRow]()
    for _ in range(8):
        recording.clock.advance_ns(400_000_000)
        t_ns = recording.clock.steady_ns() - recording.started_ns
        lines.append((recording.clock.utc_ns(), t_ns, "volts", volts, (pattern % volts).encode()))
    recording.counts.volts += len(lines)
    recording.beat(Batch(lines), Now(State.SETTLED, since_s, volts, 0.0005, len(lines)))


def begin_again(recording: Recording, port: str = PORT, **settings: object) -> None:
    recording.writer.end(
        recording.clock.utc_ns(), recording.clock.steady_ns() - recording.started_ns, "stopped"
    )
    recording.writer.close()
    recording.clock.advance_ns(NS_PER_S)
    recording.start(port, json.dumps({"url": port} | settings))


@pytest.fixture
def bed(log: VisitLog, recording: Recording) -> int:
    """A spot; the zero check passed."""
    settle(recording, 0.004)
    assert log.checks.add(CheckKind.ZERO, [log.current_value.settled_span()]).outcome.verdict == "passed"
    return log.spots.add("Bed").id


def read(log: VisitLog, recording: Recording, bed: int, pattern: str = "%.3f V AC") -> Context:
    """The context of a reading, as the log gives it back."""
    settle(recording, 2.5, pattern)
    log.readings.take(bed, "everything on")
    context = log.readings.all()[-1].context
    assert context is not None
    return context


def test_the_same_meter_keeps_its_checks_also_in_another_run(
    log: VisitLog, recording: Recording, bed: int
) -> None:
    assert read(log, recording, bed).verdicts == {CheckKind.ZERO: CheckVerdict.PASSED}
    recording.clock.advance_ns(NS_PER_S)
    assert read(log, recording, bed).lapses == {}


@pytest.mark.parametrize(
    ("port", "settings", "lapse"),
    [
        (OTHER_PORT, {}, Lapse.PORT),
        (PORT, {"baud": 2400}, Lapse.PORT_SETTINGS),
        (PORT, {"meter": "Other"}, Lapse.METER),
        ("sim://house", {}, Lapse.MEASURED),
    ],
)
def test_a_run_with_another_meter_or_port_ends_what_the_checks_prove(
    log: VisitLog, recording: Recording, bed: int, port: str, settings: dict[str, object], lapse: Lapse
) -> None:
    begin_again(recording)  # with stated settings, which the run of the check does not have
    settle(recording, 0.004)
    check = log.checks.add(CheckKind.ZERO, [log.current_value.settled_span()])
    begin_again(recording, port, **settings)
    context = read(log, recording, bed)
    assert (context.verdicts, context.lapses) == ({}, {CheckKind.ZERO: lapse})
    assert context.connection is not None and context.connection.port == port
    assert f"zero check {lapse}" in context.remarks()
    if not context.simulated:
        assert log.checks.lapses()[check.id] is lapse
    assert Context.from_json(context.to_json()) == context


def test_lines_of_another_form_end_it_until_the_user_calls_it_the_same_meter(
    log: VisitLog, recording: Recording, bed: int
) -> None:
    assert read(log, recording, bed).lapses == {}
    before = log.readings.all()[-1].context
    swapped = read(log, recording, bed, "VAC +%.4fE+0")
    assert (swapped.verdicts, swapped.lapses) == ({}, {CheckKind.ZERO: Lapse.LINE_FORM})
    assert before is not None and before.connection is not None and swapped.connection is not None
    log.meters.state_same_meter([before.connection.line_form, swapped.connection.line_form])
    again = read(log, recording, bed, "VAC +%.4fE+0")
    assert again.verdicts == {CheckKind.ZERO: CheckVerdict.PASSED} and again.lapses == {}


def test_a_check_with_steps_of_two_meters_is_refused(log: VisitLog, recording: Recording) -> None:
    spans = []
    for volts, pattern in ((0.3, "%.3f V AC"), (2.0, "%.3f V AC"), (0.3, "VAC +%.4fE+0")):
        settle(recording, volts, pattern)
        spans.append(log.current_value.settled_span())
    with pytest.raises(StillvoltError, match="was begun with lines of another form"):
        log.checks.add(CheckKind.FUNCTION, spans)
    assert log.checks.all() == []


def test_a_check_in_doubt_proves_nothing_and_speaks_against_what_rests_on_it(
    log: VisitLog, recording: Recording, bed: int, clock: ManualClock
) -> None:
    (check,) = log.checks.all()
    assert verdict_by_now(check, {}) is CheckVerdict.PASSED
    assert verdict_by_now(check, {check.id: "motion"}) is CheckVerdict.IN_DOUBT
    read(log, recording, bed)
    (reading,) = log.readings.all()
    assert doubt_by_checks(reading, [], {check.id: "motion"}) == (
        "The zero check that it rests on is in doubt by now."
    )
    assert doubt_by_checks(reading, [], {}) == ""


@pytest.mark.parametrize(
    ("port", "settings", "how"),
    [
        (OTHER_PORT, {}, "over another port"),
        (PORT, {"baud": 2400}, "with other port settings"),
        (PORT, {"meter": "Other"}, "by another meter"),
        ("sim://house", {}, "from a meter, not from the simulation"),
    ],
)
def test_the_halves_of_a_check_come_from_one_connection(
    log: VisitLog, recording: Recording, port: str, settings: dict[str, object], how: str
) -> None:
    begin_again(recording)
    settle(recording, 0.30)
    half = log.current_value.settled_span()
    begin_again(recording, port, **settings)
    settle(recording, 0.305)
    with pytest.raises(StillvoltError, match=f"The reference check was begun {how}.*from its first step"):
        log.checks.add(CheckKind.REFERENCE, [half, log.current_value.settled_span()])
    assert log.checks.all() == []
    begin_again(recording, port, **settings)  # a run of the same connection is no other one
    settle(recording, 0.30)
    first = log.current_value.settled_span()
    settle(recording, 0.305)
    assert len(log.checks.add(CheckKind.REFERENCE, [first, log.current_value.settled_span()]).steps) == 2


def test_a_kept_check_whose_halves_come_from_two_ports_proves_nothing_for_either() -> None:
    span = Span(0.3, 0.001, 5, 1, 0, 1, 1, 5)
    other = replace(DONE_OVER, port=OTHER_PORT)
    steps = (CheckStep("before", span, DONE_OVER), CheckStep("after", span, other))
    check = CheckResult(
        1,
        0,
        CheckKind.REFERENCE,
        CheckOutcome(CheckVerdict.PASSED, "kept before that was refused"),
        steps,
        None,
    )
    for now in (DONE_OVER, other, None):
        assert lapse_of_check(check, ReadWith(Setup(), False, now)) is Lapse.PORT


def test_a_check_of_the_day_before_proves_nothing_for_a_reading(
    log: VisitLog, recording: Recording, bed: int
) -> None:
    assert read(log, recording, bed).verdicts == {CheckKind.ZERO: CheckVerdict.PASSED}
    recording.clock.advance_ns(round(CHECK_HOLDS_S * NS_PER_S))
    context = read(log, recording, bed)
    assert (context.verdicts, context.lapses) == ({}, {CheckKind.ZERO: Lapse.AGE})
    assert "lapsed: more than 24 hours old" in " ".join(context.remarks())


@pytest.mark.parametrize("days", [2, -2])
def test_what_failed_fails_until_it_is_done_again_and_time_brings_no_older_one_back(days: int) -> None:
    span = Span(0.3, 0.001, 5, 1, 0, 1, 1, 5)

    def zero_check(number: int, verdict: CheckVerdict) -> CheckResult:
        steps = (CheckStep("zero", span, DONE_OVER),)
        return CheckResult(number, number, CheckKind.ZERO, CheckOutcome(verdict, "of a test"), steps, None)

    failed, passed = zero_check(1, CheckVerdict.FAILED), zero_check(2, CheckVerdict.PASSED)
    later = ReadWith(Setup(), False, DONE_OVER, utc_ns=round(days * CHECK_HOLDS_S * NS_PER_S))
    assert newest_valid([failed], later) == {CheckKind.ZERO: failed}
    assert newest_valid([failed, passed], later) == {}


def test_a_reading_counts_with_the_meter_that_it_was_recorded_with_whatever_is_stated(
    log: VisitLog, recording: Recording, bed: int
) -> None:
    coarse = MeterDescription("Coarse", accuracy=(Accuracy(20.0, 5.0, 10, 0.001),))
    fine = MeterFacts.of(MeterDescription("Fine", accuracy=(Accuracy(20.0, 0.5, 1, 0.001),)))
    log.setup.set(Setup(meter=fine))
    begin_again(recording, meter="Coarse", description=as_toml(coarse))
    context = read(log, recording, bed)
    assert context.setup.meter.name == "Coarse" and not any("Fine" in said for said in context.remarks())
    assert context.budget(2.5, 0.0005).u_volts > 0.06, "not the 0.01 V of the stated meter"
    log.setup.set(Setup(meter=replace(MeterFacts.of(coarse), calibrated_on="2026-05-01")))
    newest = read(log, recording, bed)
    assert newest.setup.meter.calibrated_on == "2026-05-01", "the same meter, with what was stated since"
    begin_again(recording, meter="Coarse", description=as_toml(replace(coarse, make="Hill")))
    recording.samples([3.0], State.CHANGING)
    moved = Motion(0.0, recording.t_s(), 3.0, recording.t_s())
    recording.beat(Batch([], [moved]), Now(State.CHANGING, 0.0, 3.0, None, 1))
    assert read(log, recording, bed).setup.meter.make == "Hill", "the recorder was given newer data"
    kept = replace(context, setup=Setup(meter=fine))
    assert "recorded with the meter “Coarse”, but counted with the data of “Fine”" in kept.remarks()


@pytest.mark.parametrize(
    ("pattern", "settings", "is_assumed"),
    [
        ("%.3f", {}, True),
        ("%.3f V AC", {}, False),
        ("%.3f", {"query": "MEAS:VOLT:AC?"}, False),  # SCPI-1999: answered in volts
    ],
)
def test_a_reading_on_an_assumed_unit_says_so(
    log: VisitLog, recording: Recording, bed: int, pattern: str, settings: dict[str, object], is_assumed: bool
) -> None:
    begin_again(recording, PORT, **settings)
    remarks = read(log, recording, bed, pattern).remarks(2.5)
    assert (UNIT_ASSUMED_REMARK in remarks) == is_assumed
    by_hand = log.readings.enter(bed, "everything on", 0.3, 0.01)
    assert by_hand.context is not None and UNIT_ASSUMED_REMARK not in by_hand.context.remarks(0.3)


ROD = Setup(reference="earth rod", on_battery=True, link_isolated=True, soil="clay", meter=FINE)


@pytest.mark.parametrize(
    ("kind", "before", "why"),
    [
        (CheckKind.REFERENCE, {"reference": "building earth", "soil": ""}, "against another reference"),
        (CheckKind.FUNCTION, {"soil": "sand"}, "against another reference"),
        (CheckKind.REFERENCE, {"soil": "sand", "panel_distance_m": 9.0}, ""),  # the rod was moved
        (CheckKind.LEAD, {"wire_length_m": 9.0}, ""),
        (
            CheckKind.REFERENCE,
            {"reference": None, "soil": "", "on_battery": None},
            "",
        ),  # stated first in between
        (CheckKind.TWO_RODS, {"meter": ASSUMED_METER}, "with another meter or other data of it"),
        (CheckKind.REFERENCE, {"meter": replace(FINE, make="Hill")}, ""),
        (CheckKind.LEAD, {"on_battery": False}, "with the laptop powered in another way"),
        (CheckKind.REFERENCE, {"link_isolated": False}, "with another answer to whether the link"),
    ],
)
def test_the_steps_of_a_check_are_read_with_the_same_answers(
    log: VisitLog,
    recording: Recording,
    monkeypatch: pytest.MonkeyPatch,
    kind: CheckKind,
    before: dict[str, object],
    why: str,
) -> None:
    log.setup.set(ROD.with_changes(**before))
    settle(recording, 0.30)
    spans = [log.check_steps.take(kind, [])]
    log.setup.set(ROD)
    recording.clock.advance_ns(11 * NS_PER_S)
    settle(recording, 0.31)
    if not why:
        assert log.check_steps.take(kind, spans)
        return
    with pytest.raises(StepsApartError, match=f"The .* check was begun {why}.*from its first step"):
        log.check_steps.take(kind, spans)
    monkeypatch.setattr(log.checks, "refuse_steps_apart", lambda *_: None)  # as older versions kept it
    while len(spans) < len(STEPS[kind]):
        settle(recording, 0.31 + 0.01 * len(spans))
        spans.append(log.check_steps.take(kind, spans))
    check = log.checks.add(kind, spans)
    assert log.checks.lapses() == {check.id: Lapse.STEPS}
    assert why in log.checks.doubts()[check.id]
    context = read(log, recording, log.spots.add("Bed").id)
    assert (context.verdicts, context.lapses, context.rod_volts) == ({}, {kind: Lapse.STEPS}, None)


def test_a_check_of_the_body_stays_at_its_spot(log: VisitLog, recording: Recording) -> None:
    bed, desk = log.spots.add("Bed"), log.spots.add("Desk")
    settle(recording, 0.30)
    span = log.check_steps.take(CheckKind.REFERENCE, [], spot=bed)
    settle(recording, 0.31)
    with pytest.raises(StepsApartError, match="begun at another spot"):
        log.check_steps.take(CheckKind.REFERENCE, [span], spot=desk)
    assert log.check_steps.take(CheckKind.REFERENCE, [span], spot=bed)


def between(recording: Recording, event: Event) -> None:
    """An event that the recorder found between two stretches."""
    recording.beat(Batch(events=[event]), Now(State.CHANGING, recording.t_s(), None, None, 0))


@pytest.mark.parametrize("is_restarted", [False, True])
@pytest.mark.parametrize("kind", [CheckKind.FUNCTION, CheckKind.REFERENCE, CheckKind.TWO_RODS])
def test_the_same_value_after_a_gap_or_a_new_recording_shows_no_next_step_of_a_check(
    log: VisitLog, recording: Recording, kind: CheckKind, is_restarted: bool
) -> None:
    begin_again(recording)
    settle(recording, 0.30)
    spans = [log.check_steps.take(kind, [])]
    t_s = recording.t_s()
    recording.clock.advance_ns(20 * NS_PER_S)
    if is_restarted:
        begin_again(recording)
    else:
        between(recording, Gap(t_s, t_s + 20.0, t_s + 20.0))
    settle(recording, 0.30)
    if kind is CheckKind.TWO_RODS:  # between good rods nothing changes
        assert log.check_steps.take(kind, spans)
        return
    with pytest.raises(StillvoltError, match="the value is the same"):
        log.check_steps.take(kind, spans)
    assert len(log.checks.used_steps()) == 1
    t_s = recording.t_s()
    recording.clock.advance_ns(3 * NS_PER_S)
    between(recording, Motion(t_s + 1.0, t_s + 2.0, 0.05, t_s + 2.0))
    settle(recording, 0.30)
    assert log.check_steps.take(kind, spans), "something was moved"


def test_another_value_after_a_gap_is_the_next_step_of_a_check(log: VisitLog, recording: Recording) -> None:
    begin_again(recording)
    settle(recording, 0.30)
    spans = [log.check_steps.take(CheckKind.FUNCTION, [])]
    begin_again(recording)
    settle(recording, 0.60)
    assert log.check_steps.take(CheckKind.FUNCTION, spans)
