"""Proof that meter and reference work: what the three checks ask for, and what their values say.

Each check is a row of steps; for each step one settled value is taken. The verdict is computed from those values
and their expanded uncertainty (k = 2). All in volts.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from math import hypot

from logger.visit.uncertainty import COVERAGE_FACTOR

ZERO_LIMIT_VOLTS = 0.02
"""With the probe on the reference wire the meter must read no more than this: a fifth of the usual target, so that
what is left cannot decide a verdict. Common practice is "near zero", no source; the number is ours."""

AGREEMENT_VOLTS = 0.02
AGREEMENT_SHARE = 0.05
"""Before and after the reference was improved, the values must agree within the larger of these: a reference that
can still be improved was not good enough. No source; the share is what a body's posture repeats to at best."""

RISE_VOLTS = 1.0
"""A live unearthed lamp cord near the body raises the value by 1 V or more (common practice, no source)."""

RETURN_SHARE = 0.1
"""Once the cord is away the value must have lost all but this share of the rise."""


class CheckKind(StrEnum):
    """The checks, in the order in which they are done."""

    ZERO = "zero check"
    REFERENCE = "reference check"
    FUNCTION = "function check"


class Verdict(StrEnum):
    """What a check says."""

    PASSED = "passed"
    FAILED = "failed"
    NOT_DECIDED = "not decided"
    """The values are too uncertain to tell."""
    SKIPPED = "skipped"


@dataclass(frozen=True, slots=True)
class Step:
    """One value that a check needs: what the user does before it is taken."""

    name: str
    instruction: str


@dataclass(frozen=True, slots=True)
class Outcome:
    """The verdict and the sentence that explains it with its numbers."""

    verdict: Verdict
    sentence: str


Value = tuple[float, float]
"""A settled level and its standard uncertainty, V."""

STEPS: dict[CheckKind, tuple[Step, ...]] = {
    CheckKind.ZERO: (
        Step(
            "on the reference wire",
            "Hold the probe against the bare end of the reference wire, hand off the metal.",
        ),
    ),
    CheckKind.REFERENCE: (
        Step("before", "Probe in the hand, lie or sit still."),
        Step("after", "Wet the soil, drive the rod deeper or add a second rod; then the same posture again."),
    ),
    CheckKind.FUNCTION: (
        Step("background", "Probe in the hand, lie or sit still, no cord near."),
        Step(
            "cord near",
            "A live lamp cord without an earth wire, insulation whole, a hand's width from the body.",
        ),
        Step("cord away", "Take the cord away again, same posture."),
    ),
}

CAUTIONS: dict[CheckKind, str] = {
    CheckKind.ZERO: "Never hold the probe to a live conductor.",
    CheckKind.REFERENCE: "Ask before driving a rod into the ground. No outdoor earth wire in or before a thunderstorm.",
    CheckKind.FUNCTION: "A person sensitive to the field of a cord does not do this: skip it or let somebody else.",
}


def judge(kind: CheckKind, values: Sequence[Value]) -> Outcome:
    """The outcome of a check from the values of its steps, in order.

    Raises:
        ValueError: not as many values as the check has steps.
    """
    if len(values) != len(STEPS[kind]):
        raise ValueError(f"{kind} needs {len(STEPS[kind])} values, got {len(values)}")
    return _JUDGES[kind](values)


def skipped(reason: str) -> Outcome:
    """The outcome of a check that is not done."""
    return Outcome(Verdict.SKIPPED, f"Skipped: {reason.strip().rstrip('.') or 'no reason given'}.")


def _judge_zero(values: Sequence[Value]) -> Outcome:
    ((volts, u_volts),) = values
    text = f"{_shown(volts, u_volts)} on the reference wire; at most {ZERO_LIMIT_VOLTS:g} V is near zero."
    return Outcome(_within(abs(volts), u_volts, ZERO_LIMIT_VOLTS), text)


def _judge_reference(values: Sequence[Value]) -> Outcome:
    (before, u_before), (after, u_after) = values
    tolerance = max(AGREEMENT_VOLTS, AGREEMENT_SHARE * max(abs(before), abs(after)))
    text = (
        f"{_shown(before, u_before)} before, {_shown(after, u_after)} after the reference was improved: "
        f"{abs(after - before):.3f} V apart; at most {tolerance:.3f} V is agreement."
    )
    return Outcome(_within(abs(after - before), hypot(u_before, u_after), tolerance), text)


def _judge_function(values: Sequence[Value]) -> Outcome:
    (background, u_background), (near, u_near), (away, u_away) = values
    rise, u_rise = near - background, hypot(u_background, u_near)
    left, u_left = away - background, hypot(u_background, u_away)
    text = (
        f"{_shown(background, u_background)} rose by {rise:.2f} V with the cord near and stood at "
        f"{_shown(away, u_away)} once it was away; it must rise by {RISE_VOLTS:g} V or more and return."
    )
    rose = _within(-rise, u_rise, -RISE_VOLTS)
    returned = _within(abs(left), u_left, max(AGREEMENT_VOLTS, RETURN_SHARE * abs(rise)))
    if Verdict.FAILED in (rose, returned):
        return Outcome(Verdict.FAILED, text)
    return Outcome(Verdict.NOT_DECIDED if Verdict.NOT_DECIDED in (rose, returned) else Verdict.PASSED, text)


_JUDGES = {
    CheckKind.ZERO: _judge_zero,
    CheckKind.REFERENCE: _judge_reference,
    CheckKind.FUNCTION: _judge_function,
}


def _within(value: float, u_value: float, limit: float) -> Verdict:
    """Whether a value is at or under a limit, for sure: k = 2 on the side where it matters."""
    if value + COVERAGE_FACTOR * u_value <= limit:
        return Verdict.PASSED
    return Verdict.FAILED if value - COVERAGE_FACTOR * u_value > limit else Verdict.NOT_DECIDED


def _shown(volts: float, u_volts: float) -> str:
    return f"{volts:.3f} V ± {COVERAGE_FACTOR * u_volts:.3f} V"
