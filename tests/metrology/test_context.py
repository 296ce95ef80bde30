"""Set-up, checks and context: what a reading means a year later; older files; values entered by hand."""

from __future__ import annotations

import sqlite3
from dataclasses import replace

import pytest

from logger.errors import StillvoltError
from logger.meter.description import Accuracy, MeterDescription
from logger.metrology.checks import CheckKind, CheckVerdict
from logger.metrology.context import Context, why_not_comparable
from logger.metrology.setup import MeterFacts, Setup
from logger.settling.events import State
from logger.visit.records.condition import EVERYTHING_OFF, EVERYTHING_ON
from logger.visit.results.input_correction import corrected_reading
from logger.visit.results.on_off_result import SpotResult, mixed

GOOD = Setup(
    household="Garden flat",
    reference="earth rod",
    on_battery=True,
    link_isolated=True,
    meter=MeterFacts.of(MeterDescription("Bench", accuracy=(Accuracy(6.0, 1.0, 3, 0.001),))),
)


def test_what_is_not_stated_counts_as_the_worse_and_is_named():
    nothing = Setup()
    assert len(nothing.missing()) == 3
    assert len(nothing.reference_state().remarks()) == 3
    assert GOOD.missing() == [] and GOOD.reference_state().remarks() == []


def test_a_setup_comes_back_from_the_log_and_older_readings_keep_theirs(log, recording):
    bed = log.spots.add("Bed", room="Bedroom", reminder="screen on")
    assert (log.spots.all()[0].room, log.spots.all()[0].reminder) == ("Bedroom", "screen on")
    log.setup.set(GOOD)
    recording.samples([0.3] * 5)
    log.readings.take(bed.id, "everything on")
    log.setup.set(GOOD.with_changes(reference="building earth", on_battery=False))
    log.readings.take(bed.id, "everything on")
    first, second = log.readings.all()
    assert first.context.setup == GOOD
    assert "building earth as reference" in second.context.remarks()
    assert second.context.budget(0.3, 0.01).u_volts > 10 * first.context.budget(0.3, 0.01).u_volts
    assert "earth rod" in why_not_comparable(first.context, second.context)


def test_checks_are_kept_with_their_lines_and_stand_with_the_readings(log, recording):
    bed = log.spots.add("Bed")
    log.setup.set(GOOD)
    recording.samples([0.004] * 5)
    zero = log.checks.add(CheckKind.ZERO, [log.current_value.settled_span()])
    assert zero.outcome.verdict is CheckVerdict.NOT_DECIDED, "u of 0.01 V cannot prove 0.02 V"
    recording.samples([0.004] * 5, u_volts=0.001)
    assert (
        log.checks.add(CheckKind.ZERO, [log.current_value.settled_span()]).outcome.verdict
        is CheckVerdict.PASSED
    )
    log.checks.skip(CheckKind.FUNCTION, "sensitive to cords")
    assert [c.kind for c in log.checks.all()] == [CheckKind.ZERO, CheckKind.ZERO, CheckKind.FUNCTION]
    step = log.checks.all()[1].steps[0]
    assert (step.name, step.span.first_line_id, step.span.last_line_id) == ("on the reference wire", 6, 10)
    log.readings.take(bed.id)
    assert log.readings.all()[0].context.remarks() == ["reference check not done", "function check skipped"]


def test_the_rod_is_as_uncertain_as_its_check_found_and_a_check_holds_for_its_own_reference_only(
    log, recording
):
    log.setup.set(GOOD)
    unchecked = log.checks.context()
    assert "reference: earth rod, not checked" in [c.name for c in unchecked.budget(0.3, 0.001).components]
    spans = []
    for volts in (0.31, 0.30):
        recording.samples([volts] * 5, u_volts=0.0005)
        spans.append(log.current_value.settled_span())
    assert log.checks.add(CheckKind.REFERENCE, spans).outcome.verdict is CheckVerdict.PASSED
    checked = log.checks.context()
    assert checked.rod_volts == pytest.approx(0.01, abs=1e-6)
    assert checked.budget(0.3, 0.001).u_volts < unchecked.budget(0.3, 0.001).u_volts
    log.setup.set(GOOD.with_changes(soil="sand"))  # the rod stands elsewhere
    assert log.checks.context().rod_volts is None and log.checks.context().verdicts == {}
    log.setup.set(GOOD.with_changes(moisture="wet"))  # wetting is a part of the check itself
    assert log.checks.context().verdicts == {CheckKind.REFERENCE: CheckVerdict.PASSED}


def test_readings_with_other_inputs_are_restated_marked_as_computed(log):
    bed, desk = log.spots.add("Bed"), log.spots.add("Desk")
    log.setup.set(GOOD.with_changes(mains_hz=50.0))
    log.readings.enter(bed.id, EVERYTHING_ON, 0.9, 0.001)
    log.readings.enter(desk.id, EVERYTHING_ON, 0.5, 0.001)
    assert mixed(log.readings.all()) == ""
    low = MeterFacts.of(MeterDescription("Old", input_resistance_ohm=1e6))
    log.setup.set(GOOD.with_changes(mains_hz=50.0, meter=low))
    log.readings.enter(bed.id, EVERYTHING_OFF, 0.05, 0.001)
    meaning = SpotResult.of(log.readings.all(), bed.id).meaning(0.1)
    assert "Not comparable: the meters' inputs differ" in meaning and "Computed for the input" in meaning
    assert "Bed (everything on), Desk (everything on)" in mixed(log.readings.all())
    off = log.readings.all()[-1]
    computed = corrected_reading(off, like=log.readings.all()[0])
    assert computed.volts > 0.05 and computed.components[-1].name.startswith("computed for another input")
    log.setup.set(GOOD.with_changes(meter=low))
    log.readings.enter(bed.id, EVERYTHING_OFF, 0.05, 0.001)
    on = replace(log.readings.all()[0], context=Context(GOOD, {}))
    assert corrected_reading(log.readings.all()[-1], like=on) is None, "no mains frequency was stated"


def test_a_check_cannot_be_changed_afterwards(log, recording):
    recording.samples([0.004] * 5)
    log.checks.add(CheckKind.ZERO, [log.current_value.settled_span()])
    with sqlite3.connect(log.path) as db, pytest.raises(sqlite3.IntegrityError, match="never changed"):
        db.execute("UPDATE check_result SET verdict = 'passed'")


def test_no_step_of_a_check_is_taken_from_a_moving_body(log, recording):

    recording.samples([0.004] * 5, State.CHANGING)
    with pytest.raises(StillvoltError, match="moving"):
        log.current_value.settled_span()


def test_a_value_read_by_hand_is_marked_as_such_and_needs_no_recorder(log):
    bed = log.spots.add("Bed")
    reading = log.readings.enter(bed.id, "everything off", 0.05, 0.01)
    assert (reading.taken, reading.volts, reading.run_id) == ("by hand", 0.05, None)
    for volts in (-0.1, float("nan"), float("inf")):
        with pytest.raises(StillvoltError, match="zero or more"):
            log.readings.enter(bed.id, "", volts, 0.01)
    assert len(log.readings.all()) == 1


def test_readings_are_not_comparable_across_meters_of_other_input():
    other = GOOD.with_changes(meter=MeterFacts.of(MeterDescription("Old", input_resistance_ohm=1e6)))
    assert "inputs differ" in why_not_comparable(Context(GOOD, {}), Context(other, {}))
    assert why_not_comparable(Context(GOOD, {}), Context(GOOD, {})) == ""
    assert "nothing is kept" in why_not_comparable(None, Context(GOOD, {}))


def test_a_context_comes_back_from_its_text():
    verdicts = {CheckKind.ZERO: CheckVerdict.PASSED, CheckKind.FUNCTION: CheckVerdict.SKIPPED}
    context = Context(GOOD, verdicts, 0.013)
    assert Context.from_json(context.to_json()) == context
