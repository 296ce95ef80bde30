"""Set-up, checks and context: what a reading means a year later; older files; values entered by hand."""

from __future__ import annotations

import json
import re
import sqlite3
from dataclasses import replace
from datetime import date
from math import hypot, sqrt

import pytest

from logger.errors import StillvoltError
from logger.meter.description import Accuracy, MeterDescription
from logger.metrology.check_validity import Lapse
from logger.metrology.check_words import checks_in_short
from logger.metrology.checks import REQUIRED_CHECKS, CheckKind, CheckVerdict
from logger.metrology.context import UNIT_ASSUMED_REMARK, Context, shared_range, why_not_comparable
from logger.metrology.meter_connection import MeterConnection
from logger.metrology.reference_error import UNPROVEN_ROD_VOLTS
from logger.metrology.setup import MeterFacts, Setup
from logger.metrology.target import target_source_text
from logger.metrology.uncertainty import LevelParts
from logger.settling.events import Settled, State
from logger.translation import in_language
from logger.visit.records.condition import EVERYTHING_OFF, EVERYTHING_ON
from logger.visit.results.input_correction import corrected_reading
from logger.visit.results.on_off_result import SpotResult, against_target, mixed

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
    assert nothing.reference_state().remarks() == [
        "counted as building earth, laptop on its charger and link not isolated, because not stated"
    ]
    half_setup = Setup(reference="building earth", on_battery=True)
    assert half_setup.reference_state().remarks() == [
        "building earth as reference", "counted as link not isolated, because not stated"
    ]  # fmt: skip
    names = [c.name for c in Context(half_setup, {}).budget(0.3, 0.001).components]
    assert "reference: building earth" in names
    assert "reference: counted as link not isolated, because not stated" in names
    assert GOOD.missing() == [] and GOOD.reference_state().remarks() == []


def test_a_setup_comes_back_from_the_log_and_older_readings_keep_theirs(log, recording):
    bed = log.spots.add("Bed", room="Bedroom", reminder="screen on")
    assert (log.spots.all()[0].room, log.spots.all()[0].reminder) == ("Bedroom", "screen on")
    log.setup.set(GOOD)
    recording.samples([0.3] * 5)
    log.readings.take(bed.id, "everything on")
    log.setup.set(GOOD.with_changes(reference="building earth", on_battery=False))
    recording.samples([0.3] * 5)
    log.readings.take(bed.id, "everything on")
    first, second = log.readings.all()
    assert first.context.setup == GOOD
    assert "building earth as reference" in second.context.remarks()
    assert second.context.budget(0.3, 0.01).u_volts > 5 * first.context.budget(0.3, 0.01).u_volts
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
    recording.samples([0.3] * 5)
    log.readings.take(bed.id)
    assert log.readings.all()[0].context.remarks() == ["reference check not done", "function check skipped"]


def check(log, recording, kind, *values):
    """Do a check with those values."""
    spans = []
    for volts in values:
        recording.samples([volts] * 5, u_volts=0.0005)
        spans.append(log.current_value.settled_span())
    return log.checks.add(kind, spans).outcome.verdict


def test_a_reference_check_without_a_change_does_not_narrow_the_rod(log, recording):
    """An error at right angles to the body's voltage hardly changes the reading: 48 mV at 0.5 V, halved, are 2 mV."""
    log.setup.set(GOOD)
    unchecked = log.checks.context()
    assert "reference: earth rod, not proved by a second rod" in [
        c.name for c in unchecked.budget(0.3, 0.001).components
    ]
    before, after = abs(complex(0.5, 0.048)), abs(complex(0.5, 0.024))
    assert check(log, recording, CheckKind.REFERENCE, before, after) is CheckVerdict.PASSED
    checked = log.checks.context()
    assert checked.rod_volts == UNPROVEN_ROD_VOLTS > 0.048
    assert checked.budget(0.3, 0.001).u_volts == unchecked.budget(0.3, 0.001).u_volts
    check(log, recording, CheckKind.LEAD, 0.3, 0.45)
    assert log.checks.context().rod_volts == pytest.approx(0.15), "a change that was seen widens it"


def test_a_second_rod_narrows_it_and_a_check_holds_for_its_own_reference_only(log, recording):
    log.setup.set(GOOD)
    assert check(log, recording, CheckKind.TWO_RODS, 0.002, 0.003) is CheckVerdict.PASSED
    context = log.checks.context()
    assert context.rod_proved and context.rod_volts < UNPROVEN_ROD_VOLTS / 2
    assert "reference: earth rod" in [c.name for c in context.budget(0.3, 0.001).components]
    assert Context.from_json(context.to_json()) == context
    log.setup.set(GOOD.with_changes(moisture="wet"))  # wetting is a part of the reference check itself
    assert log.checks.context().verdicts == {CheckKind.TWO_RODS: CheckVerdict.PASSED}
    log.setup.set(GOOD.with_changes(soil="sand"))  # the rod stands elsewhere
    elsewhere = log.checks.context()
    assert (elsewhere.rod_volts, elsewhere.rod_proved, elsewhere.verdicts) == (None, False, {})
    assert elsewhere.reference_state().rod_volts == UNPROVEN_ROD_VOLTS


def test_a_failed_zero_check_counts_in_every_value_until_it_passes(log, recording):
    """A rectangular distribution of which the failed check gives the limits (GUM 4.3.7)."""
    log.setup.set(GOOD)
    before = log.checks.context().budget(0.9, 0.001)
    assert check(log, recording, CheckKind.ZERO, 2.0) is CheckVerdict.FAILED
    failed = log.checks.context()
    assert failed.failed_zero_volts > 2.0 and Context.from_json(failed.to_json()) == failed
    budget = failed.budget(0.9, 0.001)
    assert budget.u_volts == pytest.approx(hypot(before.u_volts, failed.failed_zero_volts / sqrt(3.0)))
    assert against_target(budget, 0.1) == "too close to the target of 0.1 V to tell"
    assert check(log, recording, CheckKind.ZERO, 0.004) is CheckVerdict.PASSED
    assert log.checks.context().budget(0.9, 0.001).u_volts == before.u_volts


def test_after_a_failed_function_check_no_value_is_called_below_the_target(log, recording):
    bed = log.spots.add("Bed")
    log.setup.set(GOOD)
    assert check(log, recording, CheckKind.FUNCTION, 0.03, 0.03, 0.03) is CheckVerdict.FAILED
    recording.samples([0.03] * 5)
    log.readings.take(bed.id, EVERYTHING_OFF)
    result = SpotResult.of(log.readings.all(), bed.id)
    assert result.verdict(0.1) == result.left_over(0.1) == "not known: the function check failed"
    assert result.meaning(0.1).startswith("The function check failed before this was read")


def test_a_lapsed_check_is_named_as_lapsed_beside_a_reading(log, recording):
    bed = log.spots.add("Bed")
    log.setup.set(GOOD)
    check(log, recording, CheckKind.ZERO, 0.004)
    log.setup.set(GOOD.with_changes(soil="sand"))
    recording.samples([0.3] * 5)
    log.readings.take(bed.id)
    remarks = log.readings.all()[0].context.remarks()
    assert remarks == [
        "zero check lapsed: other reference", "reference check not done", "function check not done"
    ]  # fmt: skip
    assert checks_in_short({CheckKind.ZERO: Lapse.METER, CheckKind.FUNCTION: None}) == [
        "not passed: function check", "does not count here: zero check"
    ]  # fmt: skip
    assert checks_in_short(dict.fromkeys(REQUIRED_CHECKS, Lapse.METER)) == ["no check counts here"]
    with in_language("de"):
        assert checks_in_short({CheckKind.ZERO: CheckVerdict.FAILED}) == ["nicht bestanden: Nullprüfung"]


def test_a_rod_that_an_older_version_took_for_proved_counts_as_any_other(log, recording):
    kept = json.loads(Context(GOOD, {}, 0.008).to_json())
    for key in ("rod_proved", "lapses", "read_on", "count_volts"):
        del kept[key]
    old = Context.from_json(json.dumps(kept))
    assert old.rod_volts == UNPROVEN_ROD_VOLTS and not old.rod_proved
    assert old.remarks() == [f"{kind} not done" for kind in REQUIRED_CHECKS]


RANGES = (
    Accuracy(0.6, 1.0, 3, 0.0001, specified_from_volts=0.03),
    Accuracy(6.0, 1.0, 3, 0.001),
    Accuracy(20.0, 1.0, 3, 0.01),
)
WITH_RANGES = MeterFacts.of(MeterDescription("Ranges", accuracy=RANGES, true_rms=True))


def test_the_learned_count_tells_the_range_in_use_and_the_value_where_it_is_not_known():
    fine, middle, coarse = RANGES
    assert WITH_RANGES.accuracy_at(0.05) is fine
    assert WITH_RANGES.accuracy_at(0.05, 0.01) is coarse, "left on its 20 V range"
    assert WITH_RANGES.accuracy_at(0.05, 0.001) is middle
    assert WITH_RANGES.accuracy_at(0.05, 0.0003) is fine, "a multiple of the true count"
    assert WITH_RANGES.accuracy_at(0.05, 0.00001) is fine, "it sends more digits than its display shows"
    assert WITH_RANGES.accuracy_at(0.7, 0.0001) is middle, "0.7 V does not fit the 0.6 V range"
    assert WITH_RANGES.accuracy_at(900.0) is coarse
    assert WITH_RANGES.accuracy_at(0.05, 0.1) == replace(coarse, resolution_volts=0.1)
    one = Context(GOOD.with_changes(meter=WITH_RANGES), {})
    assert shared_range(one, one, (0.05, 0.06)) is fine
    assert shared_range(one, replace(one, count_volts=0.01), (0.05, 0.06)) is None


def test_a_reading_keeps_the_count_of_the_display_that_it_was_read_from(log, recording):
    bed = log.spots.add("Bed")
    log.setup.set(GOOD.with_changes(meter=WITH_RANGES))
    recording.samples([0.05, 0.06] * 15)
    log.readings.take(bed.id)
    recording.samples([0.05] * 30)
    log.readings.take(bed.id)
    seen, steady = (r.context for r in log.readings.all())
    assert seen.count_volts == pytest.approx(0.01) and seen.accuracy_at(0.05) is not steady.accuracy_at(0.05)
    assert steady.count_volts is None, "a display that never changes does not show its count"
    # GUM 4.3.7: 1 % and 3 counts of the range in use.
    assert seen.budget(0.05, 0.0).components[1].u_volts == pytest.approx((0.0005 + 0.03) / 3**0.5)


def test_below_its_specified_part_the_meter_widens_and_says_so():
    context = Context(GOOD.with_changes(meter=WITH_RANGES), {})
    assert "below what the meter is specified for" in context.remarks(0.02)
    assert "below what the meter is specified for" not in context.remarks(0.03)
    # Twice the limit at 30 mV: 0.3 mV and 3 counts of 0.1 mV.
    assert context.budget(0.02, 0.0).components[1].u_volts == pytest.approx(2 * 0.0006 / 3**0.5)
    assert context.budget(0.03, 0.0).components[1].u_volts == pytest.approx(0.0006 / 3**0.5)


def test_a_calibration_that_is_dated_after_the_reading_is_a_remark_but_not_by_the_day_that_utc_is_behind():
    for day, is_remarked in (("2026-11-29", False), ("2026-11-30", True), ("2030-01-31", True)):
        meter = replace(WITH_RANGES, calibrated_on=day)
        remarks = Context(Setup(meter=meter), {}, read_on="2026-11-28").remarks()
        assert ("meter's calibration dated after the reading" in remarks) is is_remarked
        assert bool(meter.calibration_doubt(date(2026, 11, 29))) is is_remarked


@pytest.mark.parametrize(
    ("calibrated_on", "read_on", "factor"),
    [
        ("2025-01-01", "2025-12-31", 1.0),
        ("2024-01-01", "2026-01-01", 731 / 365.25),
        ("", "2026-01-01", 1.0),
        ("2024-01-01", "", 1.0),
        ("2026-06-01", "2026-01-01", 1.0),
    ],
)
def test_a_calibration_out_of_date_widens_the_limits_with_its_age(calibrated_on, read_on, factor):
    meter = replace(WITH_RANGES, calibrated_on=calibrated_on)
    context = Context(GOOD.with_changes(meter=meter), {}, read_on=read_on)
    assert context.accuracy_at(1.0).limit_volts(1.0) == pytest.approx(factor * RANGES[1].limit_volts(1.0))
    assert ("meter's calibration out of date" in context.remarks()) is (factor > 1.0)


def test_a_meter_that_is_not_true_rms_has_a_line_for_the_waveform():
    lines = {c.name: c.u_volts for c in Context(GOOD, {}).budget(1.0, 0.0).components}
    share = lines["waveform: meter not true rms"] * 3**0.5
    assert share == pytest.approx(GOOD.meter.waveform_share(50.0)) and 0.03 < share < 0.1
    assert GOOD.meter.waveform_share(60.0) < share, "where the mains is not stated, the worse of both"
    true_rms = GOOD.with_changes(meter=replace(GOOD.meter, true_rms=True))
    assert "waveform: meter not true rms" not in [
        c.name for c in Context(true_rms, {}).budget(1.0, 0.0).components
    ]


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
    with pytest.raises(StillvoltError, match="changing"):
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


def test_the_parts_of_a_level_are_lines_of_its_budget_and_come_back_from_the_log() -> None:
    span = Settled(0.0, 15.0, 0.5, 0.005, 4.0, 40, u_tilt_volts=0.003, u_resolution_volts=0.0024)
    parts = LevelParts.of_span(span)
    plain, kept = Context(GOOD, {}), Context.from_json(Context(GOOD, {}, parts=parts).to_json())
    assert kept.parts == parts
    lines = {component.name: component.u_volts for component in kept.budget(0.5, 0.01).components}
    # Shares of the square: they hold also where the whole is another, such as that of a shorter stretch.
    assert lines["tilt of the still span"] == pytest.approx(0.006)
    assert lines["meter's resolution"] == pytest.approx(0.0048)
    assert "meter's averaging" not in lines
    assert kept.budget(0.5, 0.01).u_volts == pytest.approx(plain.budget(0.5, 0.01).u_volts)


def test_parts_of_an_earlier_moment_of_the_span_make_the_level_no_less_certain_than_it_is() -> None:
    late = Context(GOOD, {}, parts=LevelParts(tilt=0.5, averaging=218.0, resolution=0.0))
    plain = Context(GOOD, {})
    assert late.budget(0.5, 0.01).u_volts == pytest.approx(plain.budget(0.5, 0.01).u_volts)


def test_stating_the_reference_for_the_first_time_keeps_a_failed_rod_check(log, recording):
    """Nobody has put in another rod by it, and while nothing is stated the worse of both counts."""
    log.setup.set(GOOD.with_changes(reference=None))
    unchecked = log.checks.context().budget(0.9, 0.001).u_volts
    assert check(log, recording, CheckKind.TWO_RODS, 3.0, 3.1) is CheckVerdict.FAILED
    unstated = log.checks.context()
    log.setup.set(GOOD)
    stated = log.checks.context()
    assert stated.verdicts == {CheckKind.TWO_RODS: CheckVerdict.FAILED}
    assert unchecked < unstated.budget(0.9, 0.001).u_volts == stated.budget(0.9, 0.001).u_volts
    log.setup.set(GOOD.with_changes(reference="building earth"))
    assert log.checks.context().verdicts == {}, "that is no rod"


def test_a_reading_of_a_meter_without_a_unit_says_so_for_good() -> None:
    assumed = MeterConnection("/dev/ttyUSB0", "9600 8N1", is_unit_assumed=True)
    kept = Context.from_json(Context(GOOD, {}, connection=assumed).to_json())
    assert UNIT_ASSUMED_REMARK in kept.remarks(0.273)
    stated = replace(kept, connection=replace(assumed, is_unit_assumed=False))
    assert UNIT_ASSUMED_REMARK not in stated.remarks(0.273)


def test_the_pair_says_of_which_value_its_verdict_is_and_why_the_difference_is_less_certain(log):
    bed = log.spots.add("Bed")
    precise = MeterFacts.of(MeterDescription("Bench", accuracy=(Accuracy(6.0, 0.1, 1, 0.001),)))
    log.setup.set(GOOD.with_changes(meter=precise))
    log.readings.enter(bed.id, EVERYTHING_ON, 0.8, 0.001)
    log.readings.enter(bed.id, EVERYTHING_OFF, 0.01, 0.001)
    result = SpotResult.of(log.readings.all(), bed.id)
    meaning, difference = result.meaning(0.1), result.difference()
    assert "With everything off 0.0" in meaning and "nobody lies or sits the same way twice" in meaning
    change, share = re.match(r"([0-9.]+) V ± [0-9.]+ V \((\d+)%\) goes", meaning).groups()
    assert int(share) == round(100 * float(change) / 0.8) and "doubled" not in meaning
    only_scatter = replace(result, repeatability=replace(result.repeatability, share=0.0))
    assert only_scatter.difference().expanded_volts < difference.expanded_volts
    assert "same way twice" not in only_scatter.meaning(0.1)


def test_what_people_read_of_a_target_and_of_a_reading_is_plain():
    assert target_source_text(Setup().target_source) == "usual in the trade, not from a publication"
    assert target_source_text("the household") == target_source_text("the household", 5.0) == "the household"
    assert target_source_text(Setup().target_source, 5.0) == "chosen for this visit, no source stated"
    remarks = Context(GOOD, {}, stated_unchanged=True, condition_stated_later=True).remarks()
    assert remarks[:2] == [
        "on the practitioner's word: nothing in the trace shows a change before it",
        "what was on was entered only after the value was there",
    ]
