"""What was read after a failed check supports no list, no "below the target" and no "lower", and why is said."""

from __future__ import annotations

from dataclasses import replace

import pytest

from logger.metrology.checks import CheckKind, CheckVerdict
from logger.report.compare.value_change import WHY_UNPROVED, value_change
from logger.report.document.first_page.in_short import in_short
from logger.report.document.read_report_data import read_report_data
from logger.report.document.wording import reading_text
from logger.sweep.plan_text import no_answer_text, to_be_certain_text
from logger.sweep.read_unproved import read_unproved
from logger.sweep.sweep_progress import sweep_progress
from logger.sweep.switch_off_plan import PlanState, SwitchOffPlan, switch_off_plan
from logger.visit import Reading, VisitLog
from logger.visit.records.condition import EVERYTHING_OFF
from tests.support.swept_home import LEGS, TARGET_VOLTS, Home


@pytest.fixture
def home(log: VisitLog) -> Home:
    found = Home(
        log, {"bed": {"Bedroom": 1.0, "Light": 0.1}}, {name: LEGS[name] for name in ("Bedroom", "Light")}
    )
    found.sweep()
    plan, _ = found.settle()
    assert plan.meets_target
    return found


def failed(reading: Reading) -> Reading:
    assert reading.context is not None
    return replace(
        reading, context=replace(reading.context, verdicts={CheckKind.FUNCTION: CheckVerdict.FAILED})
    )


def planned(log: VisitLog, readings: list[Reading]) -> SwitchOffPlan | None:
    spots = [(spot.id, spot.name) for spot in log.spots.all()]
    return switch_off_plan(readings, spots, log.circuits.all(), log.setup.current())


def test_a_list_whose_own_reading_is_unproved_is_read_again(home: Home, log: VisitLog) -> None:
    readings = log.readings.all()
    newest = readings[-1]
    unproved = [failed(r) if r.live == newest.live else r for r in readings]
    plan = planned(log, unproved)
    assert plan is not None and plan.state is not PlanState.CONFIRMED and not plan.meets_target
    (left,) = plan.unproved
    assert newest.condition in left.conditions, "also by its other name"
    assert no_answer_text(plan, reading_text).endswith(
        "were read after the function check had failed and do not count: find out why, do the check again, then read "
        "them again."
    )
    again = planned(log, [*unproved, *(replace(newest, id=99 + n) for n in range(2))])
    assert again is not None and again.meets_target and not again.unproved, "once the check has passed"


def test_a_sweep_that_is_unproved_as_a_whole_gives_no_list_and_the_report_says_why(
    home: Home, log: VisitLog
) -> None:
    readings = [failed(reading) for reading in log.readings.all()]
    spot = readings[0].spot_id
    assert planned(log, readings) is None
    assert sweep_progress(readings, spot, log.circuits.all()).taken == {}
    (left,) = read_unproved(readings, [spot], log.circuits.all())
    assert f"{len(left.conditions)} combinations, such as “{EVERYTHING_OFF}”, were read after" in left.text
    data = replace(read_report_data(log), readings=tuple(readings), swept=(), tonight=None)
    assert any(left.text in text for _, text in in_short(data))


def test_a_confirmed_list_says_that_readings_elsewhere_do_not_count(home: Home, log: VisitLog) -> None:
    readings = log.readings.all()
    desk = log.spots.add("Desk")
    here = [failed(replace(r, id=100 + r.id, spot_id=desk.id, spot_name="Desk")) for r in readings]
    plan = planned(log, [*readings, *here])
    assert plan is not None and plan.meets_target and not plan.elsewhere
    assert "At “Desk” " in to_be_certain_text(plan)


def test_what_a_failed_zero_check_showed_is_in_tonight_and_a_later_repeat_takes_its_place(
    home: Home, log: VisitLog
) -> None:
    readings = log.readings.all()
    newest = readings[-1]
    assert newest.context is not None
    off_zero = replace(newest, context=replace(newest.context, failed_zero_volts=2.0))
    plan = planned(log, [*readings[:-1], off_zero])
    assert plan is not None and not plan.meets_target and plan.spots[0].left.expanded_volts > 2.0
    again = planned(log, [*readings[:-1], off_zero, replace(newest, id=99, utc_ns=newest.utc_ns + 1)])
    assert again is not None and again.spots[0].left.expanded_volts < TARGET_VOLTS


@pytest.mark.parametrize("is_later", [True, False])
def test_no_change_is_told_of_an_unproved_value(home: Home, log: VisitLog, *, is_later: bool) -> None:
    before, after = log.readings.all()[0], log.readings.all()[-1]
    sound = value_change(EVERYTHING_OFF, before, after, TARGET_VOLTS)
    assert sound.change is not None
    found = value_change(
        EVERYTHING_OFF,
        before if is_later else failed(before),
        failed(after) if is_later else after,
        TARGET_VOLTS,
    )
    assert (found.verdict, found.why, found.change) == ("not comparable", WHY_UNPROVED, None)
    assert (found.after_against_target == "not known: the function check failed") is is_later
    assert value_change(EVERYTHING_OFF, None, failed(after), 9.0).after_against_target.startswith("not known")
