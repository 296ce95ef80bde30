"""Steps that belong to a check are no switching in the home."""

from __future__ import annotations

from dataclasses import replace

from logger.metrology.checks import STEPS, CheckKind, CheckOutcome, CheckVerdict
from logger.settling.events import Step
from logger.sweep.labelled_steps import DetectedStep, every_known_step, known_steps, source_effects
from logger.sweep.read_unproved import switched_unproved
from logger.visit.records.home_records import Source, StepLabel
from logger.visit.records.reading_records import CheckResult, CheckStep, Span

S = 10**9


def check(kind: CheckKind, *levels: tuple[float, float, float]) -> CheckResult:
    """A check with a value from, until, and of so many volts for each step."""
    steps = tuple(
        CheckStep(step.name, Span(volts, 0.001, 20, 1, round(start * S), round(end * S), 1, 20))
        for step, (start, end, volts) in zip(STEPS[kind], levels, strict=True)
    )
    return CheckResult(1, 0, kind, CheckOutcome(CheckVerdict.PASSED, ""), steps, None)


def found(time_s: float, before: float, after: float) -> DetectedStep:
    return DetectedStep(1, Step(time_s, before, after, 0.005, time_s), True)


def test_the_cord_of_a_check_is_no_step_of_the_home_and_what_lies_beside_it_is() -> None:
    function = check(CheckKind.FUNCTION, (10.0, 20.0, 0.3), (25.0, 35.0, 2.0), (40.0, 50.0, 0.3))
    lamp_before, near, away, lamp_after = (
        found(10.0, 0.8, 0.3), found(24.0, 0.3, 2.0), found(38.0, 2.0, 0.3), found(55.0, 0.3, 0.8)
    )  # fmt: skip
    steps = [lamp_before, near, away, lamp_after]
    assert [k.found for k in known_steps(steps, (), (), [function])] == [lamp_before, lamp_after]
    in_check = {k.found: k.in_check for k in every_known_step(steps, (), (), [function])}
    assert in_check == {lamp_before: False, near: True, away: True, lamp_after: False}
    label = StepLabel(1, 0, 1, near.step, None, "ignored", None)
    assert near in [k.found for k in known_steps(steps, [label], (), [function])], (
        "a label is the user's word"
    )


def test_what_was_switched_after_a_failed_function_check_counts_once_it_has_passed() -> None:
    levels = (10.0, 20.0, 0.3), (25.0, 35.0, 0.4), (40.0, 50.0, 0.3)
    failed = replace(check(CheckKind.FUNCTION, *levels), outcome=CheckOutcome(CheckVerdict.FAILED, ""))
    broken_off = replace(failed, steps=failed.steps[:2])
    passed = check(CheckKind.FUNCTION, (210.0, 220.0, 0.3), (225.0, 235.0, 2.0), (240.0, 250.0, 0.3))
    lamp = Source(7, "cord", "Lamp", None)
    on, off, again_on, again_off = (
        found(60.0, 0.3, 0.8), found(80.0, 0.8, 0.3), found(260.0, 0.3, 0.8), found(280.0, 0.8, 0.3)
    )  # fmt: skip
    labels = [
        StepLabel(n, 0, 1, one.step, 3, "on" if one.step.after_volts > 0.5 else "off", lamp.id)
        for n, one in enumerate((on, off, again_on, again_off))
    ]
    for check_before in (failed, broken_off):
        unproved = known_steps([on, off], labels[:2], (), [check_before])
        assert source_effects(unproved) == {}
        (said,) = switched_unproved(unproved, {3: "Bed"}, {lamp.id: lamp})
        assert said.startswith("At “Bed” “Lamp” was switched after the function check had failed")
        assert switched_unproved(unproved, {3: "Bed"}, {lamp.id: lamp}, at=4) == []
    repeated = known_steps([on, off, again_on, again_off], labels, (), [failed, passed])
    assert source_effects(repeated)[3, lamp.id].repeats == 1
    assert switched_unproved(repeated, {3: "Bed"}, {lamp.id: lamp}) == []


def test_the_probe_that_comes_to_the_rods_and_leaves_them_is_no_step_of_the_home() -> None:
    rods = check(CheckKind.TWO_RODS, (10.0, 20.0, 3.0), (25.0, 35.0, 3.1))
    steps = [found(9.5, 0.6, 3.0), found(24.0, 3.0, 3.1), found(48.0, 3.1, 0.6), found(70.0, 0.6, 1.0)]
    assert [k.found.step.time_s for k in known_steps(steps, (), (), [rods])] == [70.0]
