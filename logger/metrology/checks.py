"""Proof that meter and reference work: the steps of the checks, and the verdicts on their values.

Each check is a row of steps; for each step one settled value is taken. The verdict is computed from those values
and their expanded uncertainty (k = 2): scatter, and what the meter may be off by. What the reference may be off by is
no part of it, since that is what is checked. All in volts.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum

from logger import cautions
from logger.metrology.posture import DEFAULT_SHARE
from logger.metrology.reference_error import SHARED_BY_BOTH_RODS_VOLTS, SeenByChecks, rod_error
from logger.metrology.rounding import as_shown, difference_as_shown, fixed, plain, rounded
from logger.metrology.setup import MeterFacts
from logger.metrology.uncertainty import (
    AGREEMENT_VOLTS,
    COVERAGE_FACTOR,
    Budget,
    ReferenceState,
    difference_budget,
    reading_budget,
    shown,
)
from logger.translation import in_language, kept_text, marked, tr

ZERO_LIMIT_VOLTS = 0.02
"""With the probe on the reference wire the meter must read no more than this: a fifth of the usual target, so that
what is left cannot decide a verdict. Common practice is "near zero", no source; the number is ours. A meter whose data
sheet allows more at zero passes within its data sheet; its readings carry that in their uncertainty."""

RISE_VOLTS = 1.0
"""A live unearthed lamp cord near the body raises the value by 1 V or more (common practice, no source)."""

NO_CHANGE_PROVES_LITTLE = kept_text(
    "A value that stays as it was does not prove the rod; the two-rod check does."
)
"""Said with a check that passed because a value stayed as it was (see `reference_error`)."""

RETURN_SHARE = 0.1
"""Once the cord is away the value must have lost all but this share of the rise."""


class CheckKind(StrEnum):
    """The checks, in the order in which they are done."""

    ZERO = "zero check"
    REFERENCE = "reference check"
    FUNCTION = "function check"
    TWO_RODS = "two-rod check"
    LEAD = "wire check"


REQUIRED_CHECKS = (CheckKind.ZERO, CheckKind.REFERENCE, CheckKind.FUNCTION)
"""Without which readings say so. The others narrow what the reference may be off by, or find that it is off."""

CLOSING_CHECKS = (CheckKind.ZERO, CheckKind.REFERENCE)
"""Done once more after the last reading, they show that meter and reference were then still as at the beginning."""

ROD_CHECKS = (CheckKind.REFERENCE, CheckKind.TWO_RODS, CheckKind.LEAD)
"""What they show decides how far the rod may be off."""


class CheckVerdict(StrEnum):
    """The verdict of a check."""

    PASSED = "passed"
    FAILED = "failed"
    NOT_DECIDED = "not decided"
    """The values are too uncertain to decide."""
    SHOWS_NOTHING = "shows nothing here"
    """The values are as they are without any body voltage: they would be the same with a bad reference."""
    SKIPPED = "skipped"
    IN_DOUBT = "in doubt"
    """It had passed, and what came later speaks against a value that it rests on. No check is kept with it."""


@dataclass(frozen=True, slots=True)
class CheckStepKind:
    """One value that a check needs: what the user does before it is taken."""

    name: str
    """As the log keeps it; `tr_kept` shows it."""
    instruction: str
    new_value: str = marked("Do what the step asks for, then hold still until a new value has settled.")

    def to_do(self) -> str:
        """What the user does before the value is taken."""
        return tr(self.instruction).format(rise=plain(RISE_VOLTS))

    def for_new_value(self) -> str:
        """What to do where the value of before still stands."""
        return tr(self.new_value)


@dataclass(frozen=True, slots=True)
class CheckOutcome:
    """The verdict and the sentence that explains it with its numbers: as it is kept; `tr_kept` shows it."""

    verdict: CheckVerdict
    sentence: str


Value = tuple[float, float]
"""A settled level and its standard uncertainty, V."""

STEPS: dict[CheckKind, tuple[CheckStepKind, ...]] = {
    CheckKind.ZERO: (
        CheckStepKind(
            kept_text("on the reference wire"),
            marked("Hold the probe against the bare end of the reference wire, hand off the metal."),
        ),
    ),
    CheckKind.REFERENCE: (
        CheckStepKind(kept_text("before"), marked("Probe in the hand, lie or sit still.")),
        CheckStepKind(
            kept_text("after"),
            marked("Wet the soil, drive the rod deeper or add a second rod; then the same posture again."),
        ),
    ),
    CheckKind.FUNCTION: (
        CheckStepKind(
            kept_text("background"),
            marked(
                "Have a lamp cord with a two-pin plug, so without an earth wire, at hand: brought near it must raise "
                "the value by {rise} V or more. First without it: unplug it or lay it two metres away. Probe in the "
                "hand, lie or sit still."
            ),
            marked(
                "Unplug the lamp, or move a little where it is unplugged; then lie still until a new value has "
                "settled."
            ),
        ),
        CheckStepKind(
            kept_text("cord near"),
            marked(
                "Plug the lamp cord in, switch the lamp on, and lay the cord a hand’s width from the body; its "
                "insulation must be whole. The value must rise by {rise} V or more."
            ),
        ),
        CheckStepKind(kept_text("cord away"), marked("Take the cord away again, same posture.")),
    ),
    CheckKind.TWO_RODS: (
        CheckStepKind(
            kept_text("between the rods"),
            marked(
                "Drive a second rod in, twice as far from the building, and connect the meter between both rods."
            ),
        ),
        CheckStepKind(
            kept_text("wire moved"),
            marked("Lay the first rod's wire elsewhere, off walls and cables. Leave the meter as it is."),
        ),
    ),
    CheckKind.LEAD: (
        CheckStepKind(
            kept_text("as laid"), marked("Probe in the hand, lie or sit still, reference wire as it lies.")
        ),
        CheckStepKind(
            kept_text("wire moved"),
            marked("Lay the reference wire elsewhere, off walls and cables; then the same posture again."),
        ),
    ),
}

WITHOUT_BODY = frozenset({CheckKind.ZERO, CheckKind.TWO_RODS})
"""Checks in which the probe is on a wire and in nobody's hand: their level is no body voltage."""

VALUE_MAY_STAY = frozenset({CheckKind.TWO_RODS})
"""Checks whose steps may leave the trace as it is, since no body takes part: between good rods there is next to
nothing, whatever is done. Of the others each step has a settled span of its own."""

MIN_STEP_S = 10.0
"""A wire is not laid elsewhere in less: where the trace stays as it is, the next step's value has to rest on so long a
part of it. The number is ours."""

CAUTIONS: dict[CheckKind, tuple[str, ...]] = {
    CheckKind.ZERO: (cautions.LIVE_CONDUCTOR,),
    CheckKind.REFERENCE: (cautions.DIGGING, cautions.THUNDERSTORM),
    CheckKind.FUNCTION: (cautions.SENSITIVE_PERSON,),
    CheckKind.TWO_RODS: (cautions.DIGGING, cautions.THUNDERSTORM, cautions.LIVE_CONDUCTOR),
    CheckKind.LEAD: (cautions.LIVE_CONDUCTOR, cautions.THUNDERSTORM),
}
"""Sentences, translated where they are shown."""


def open_checks(verdicts: Mapping[CheckKind, CheckVerdict]) -> list[CheckKind]:
    """The checks that leave a doubt: a required one that has not passed, or another one that failed.

    A second rod proves more than an improved reference: where the two-rod check passed, the reference check counts as
    passed unless it failed.
    """
    passed = {kind for kind, verdict in verdicts.items() if verdict is CheckVerdict.PASSED}
    failed = {kind for kind, verdict in verdicts.items() if verdict is CheckVerdict.FAILED}
    if CheckKind.TWO_RODS in passed and CheckKind.REFERENCE not in failed:
        passed.add(CheckKind.REFERENCE)
    return [kind for kind in CheckKind if kind in failed or (kind in REQUIRED_CHECKS and kind not in passed)]


@in_language("en")
def judge(kind: CheckKind, values: Sequence[Value], meter: MeterFacts) -> CheckOutcome:
    """The outcome of a check from the values of its steps, in order, read with that meter; as it is kept.

    Args:
        kind: which check.
        values: one for each step, in the order of the steps.
        meter: the meter that they were read with.

    Raises:
        ValueError: not as many values as the check has steps.
    """
    if len(values) != len(STEPS[kind]):
        raise ValueError(f"{kind} needs {len(STEPS[kind])} values, got {len(values)}")
    return _JUDGES[kind]([step_budget(value, meter) for value in values], meter)


def failure_so_far(kind: CheckKind, values: Sequence[Value], meter: MeterFacts) -> str:
    """Why the function check can no longer pass by the values so far, in a sentence; empty while it can.

    Args:
        kind: which check. Of another one all steps are taken, whatever the first has shown: they tell more.
        values: of the steps that were taken, in the order of the steps.
        meter: the meter that they were read with.
    """
    if kind is not CheckKind.FUNCTION or not has_failed_by(kind, values, meter):
        return ""
    background, near = (step_budget(value, meter) for value in values[:2])
    change = _rise_as_shown(background, near)
    text = (
        tr("It rose by {volts} V; a rise of {needed} V is needed.")
        if change >= 0
        else tr("It fell by {volts} V; a rise of {needed} V is needed.")
    )
    return text.format(volts=as_shown(abs(change)), needed=plain(RISE_VOLTS))


def has_failed_by(kind: CheckKind, values: Sequence[Value], meter: MeterFacts) -> bool:
    """Whether a check can no longer pass by the values so far: whatever its other steps would show.

    Args:
        kind: which check.
        values: of the steps that were taken, in the order of the steps.
        meter: the meter that they were read with.
    """
    budgets = [step_budget(value, meter) for value in values]
    if kind is CheckKind.FUNCTION and len(budgets) >= 2:
        return _rose_enough(_change(budgets[0], budgets[1], meter)) is CheckVerdict.FAILED
    if kind is CheckKind.TWO_RODS and budgets:
        return _between_rods(budgets) is CheckVerdict.FAILED
    return False


@in_language("en")
def outcome_so_far(kind: CheckKind, values: Sequence[Value], meter: MeterFacts) -> CheckOutcome | None:
    """The outcome of a check that was not done to its end, as a result has it; None while it could still pass.

    Args:
        kind: which check.
        values: of the steps that were taken, in the order of the steps.
        meter: the meter that they were read with.
    """
    if not has_failed_by(kind, values, meter):
        return None
    first, last = step_budget(values[0], meter), step_budget(values[-1], meter)
    if kind is CheckKind.TWO_RODS:
        text = kept_text(
            "{as_laid} between the rods; at most {limit} V is agreement. One of the rods, or its wire, is off by half "
            "of that or more; nobody knows which. The check was not done to its end."
        ).format(as_laid=shown(last), limit=plain(AGREEMENT_VOLTS))
        return CheckOutcome(CheckVerdict.FAILED, text)
    change = _rise_as_shown(first, last)
    text = (
        kept_text(
            "{background} rose by {change} V to {near} with the cord near; it must rise by {needed} V or more. The "
            "check was not done to its end. The ± is the meter's alone, without the reference."
        )
        if change >= 0
        else kept_text(
            "{background} fell by {change} V to {near} with the cord near; it must rise by {needed} V or more. The "
            "check was not done to its end. The ± is the meter's alone, without the reference."
        )
    ).format(
        background=shown(first), change=as_shown(abs(change)), near=shown(last), needed=plain(RISE_VOLTS)
    )
    return CheckOutcome(CheckVerdict.FAILED, text)


def _rise_as_shown(background: Budget, near: Budget) -> Decimal:
    """The rise of the function check, of the figures that the page of the checks shows of both steps.

    There each has the uncertainty of its reference too, which the budgets here have not, and so two decimals.
    """
    return difference_as_shown(rounded(background.volts).volts, rounded(near.volts).volts)


def _rose_enough(rise: Budget) -> CheckVerdict:
    """Whether the cord has raised the value as it must."""
    return _within(-rise.volts, rise.u_volts, -RISE_VOLTS)


def skipped(reason: str) -> CheckOutcome:
    """The outcome of a check that is not done, as it is kept."""
    why = reason.strip().rstrip(".")
    text = kept_text("Skipped: {why}.").format(why=why) if why else kept_text("Skipped: no reason given.")
    return CheckOutcome(CheckVerdict.SKIPPED, text)


def seen_of_rod(values: Mapping[CheckKind, Sequence[Value]], meter: MeterFacts) -> SeenByChecks:
    """What the checks have shown of the rod.

    Args:
        values: of the newest result of each check that was done: one for each of its steps.
        meter: the meter that they were read with.
    """
    before_and_after = [values[kind] for kind in (CheckKind.REFERENCE, CheckKind.LEAD) if values.get(kind)]
    change_volts = max((abs(after[0] - before[0]) for before, after in before_and_after), default=None)
    if not values.get(CheckKind.TWO_RODS):
        return SeenByChecks(change_volts)
    between = [step_budget(value, meter) for value in values[CheckKind.TWO_RODS]]
    verdict = _between_rods(between)
    agree = None if verdict is CheckVerdict.NOT_DECIDED else verdict is CheckVerdict.PASSED
    return SeenByChecks(change_volts, _most_between(between), agree)


def _judge_zero(values: Sequence[Budget], meter: MeterFacts) -> CheckOutcome:
    (value,) = values
    by_data_sheet = meter.accuracy_at(0.0).limit_volts(0.0)
    if by_data_sheet > ZERO_LIMIT_VOLTS:
        # Held against its own data sheet, which is then not counted once more as an uncertainty.
        scatter = Budget(value.volts, value.components[:1])
        text = kept_text(
            "{value} on the reference wire; the meter's data sheet allows {limit} V at zero."
        ).format(value=shown(scatter), limit=plain(by_data_sheet))
        return CheckOutcome(_within(abs(scatter.volts), scatter.u_volts, by_data_sheet), text)
    text = kept_text("{value} on the reference wire; at most {limit} V is near zero.").format(
        value=shown(value), limit=plain(ZERO_LIMIT_VOLTS)
    )
    return CheckOutcome(_within(abs(value.volts), value.u_volts, ZERO_LIMIT_VOLTS), text)


@dataclass(frozen=True, slots=True)
class _ChangeTexts:
    """The sentences on a value that should have stayed as it was, as they are kept."""

    passed: str
    not_passed: str
    """Failed, or not decided."""
    within_zero: str


_OF_REFERENCE = _ChangeTexts(
    kept_text(
        "{before} before, {after} after the reference was improved: {apart} V apart; at most {limit} V is agreement. "
        "The ± is the meter's alone, without the reference. A value that stays as it was does not prove the rod; the "
        "two-rod check does."
    ),
    kept_text(
        "{before} before, {after} after the reference was improved: {apart} V apart; at most {limit} V is agreement. "
        "The ± is the meter's alone, without the reference."
    ),
    kept_text(
        "{before} before, {after} after the reference was improved: both values are within the zero level."
    ),
)
_OF_LEAD = _ChangeTexts(
    kept_text(
        "{before} before, {after} after the reference wire was moved: {apart} V apart; at most {limit} V is "
        "agreement. The ± is the meter's alone, without the reference. A value that stays as it was does not prove "
        "the rod; the two-rod check does."
    ),
    kept_text(
        "{before} before, {after} after the reference wire was moved: {apart} V apart; at most {limit} V is "
        "agreement. The ± is the meter's alone, without the reference."
    ),
    kept_text(
        "{before} before, {after} after the reference wire was moved: both values are within the zero level."
    ),
)


def _judge_change(values: Sequence[Budget], meter: MeterFacts, texts: _ChangeTexts) -> CheckOutcome:
    """Judge whether a value stayed as it was when something about the reference was changed.

    Args:
        values: before and after.
        meter: the meter that they were read with.
        texts: what is said of it. The values have a smaller uncertainty than the readout showed when they were taken,
            and the text says why.
    """
    before, after = values
    change = _change(before, after, meter)
    tolerance = max(AGREEMENT_VOLTS, DEFAULT_SHARE * max(abs(before.volts), abs(after.volts)))
    verdict = _within(abs(change.volts), change.u_volts, tolerance)
    if verdict is not CheckVerdict.FAILED and all(map(_is_within_zero, values)):
        text = texts.within_zero.format(before=shown(before), after=shown(after))
        return CheckOutcome(CheckVerdict.SHOWS_NOTHING, text)
    text = texts.passed if verdict is CheckVerdict.PASSED else texts.not_passed
    figures = (rounded(value.volts, value.expanded_volts).volts for value in values)
    apart = as_shown(abs(difference_as_shown(*figures)))
    return CheckOutcome(
        verdict,
        text.format(before=shown(before), after=shown(after), apart=apart, limit=plain(round(tolerance, 3))),
    )


def _is_within_zero(value: Budget) -> bool:
    """Whether a value is no more than what the meter shows on the reference wire, or not distinguishable from it."""
    return abs(value.volts) <= max(ZERO_LIMIT_VOLTS, value.expanded_volts)


def _judge_reference(values: Sequence[Budget], meter: MeterFacts) -> CheckOutcome:
    return _judge_change(values, meter, _OF_REFERENCE)


def _judge_lead(values: Sequence[Budget], meter: MeterFacts) -> CheckOutcome:
    return _judge_change(values, meter, _OF_LEAD)


def _judge_two_rods(values: Sequence[Budget], meter: MeterFacts) -> CheckOutcome:
    as_laid, moved = values
    verdict = _between_rods(values)
    said = {
        "as_laid": shown(as_laid),
        "moved": shown(moved),
        "limit": plain(AGREEMENT_VOLTS),
    }
    if verdict is CheckVerdict.PASSED:
        seen = SeenByChecks(between_rods_volts=_most_between(values), rods_agree=True)
        # A limit is rounded up: rounded down it would be less than what it limits.
        said["off_by"] = fixed(math.ceil(rod_error(seen).volts * 1000.0 - 1e-9) / 1000.0, 3)
        said["shared"] = plain(SHARED_BY_BOTH_RODS_VOLTS)
    return CheckOutcome(verdict, _OF_TWO_RODS[verdict].format(**said))


_OF_TWO_RODS = {
    CheckVerdict.PASSED: kept_text(
        "{as_laid} between the rods, {moved} with the first rod's wire moved; at most {limit} V is agreement. The rod "
        "is off by at most {off_by} V. Not seen is what both rods share, as in the same potential of the soil: "
        "{shared} V is counted for it."
    ),
    CheckVerdict.FAILED: kept_text(
        "{as_laid} between the rods, {moved} with the first rod's wire moved; at most {limit} V is agreement. One of "
        "the rods, or its wire, is off by half of that or more; nobody knows which."
    ),
    CheckVerdict.NOT_DECIDED: kept_text(
        "{as_laid} between the rods, {moved} with the first rod's wire moved; at most {limit} V is agreement."
    ),
}


def _between_rods(values: Sequence[Budget]) -> CheckVerdict:
    """Whether the rods agree by both routes of the wire; one that is not certain leaves it open, however small."""
    verdicts = {_within(abs(value.volts), value.u_volts, AGREEMENT_VOLTS) for value in values}
    worst_first = (CheckVerdict.FAILED, CheckVerdict.NOT_DECIDED)
    return next((verdict for verdict in worst_first if verdict in verdicts), CheckVerdict.PASSED)


def _most_between(values: Sequence[Budget]) -> float:
    """The largest voltage that may lie between the rods, in volts: of the routes of the wire, with its uncertainty."""
    return max(abs(value.volts) + value.expanded_volts for value in values)


def _judge_function(values: Sequence[Budget], meter: MeterFacts) -> CheckOutcome:
    background, near, away = values
    rise, left = _change(background, near, meter), _change(background, away, meter)
    text = kept_text(
        "{background} rose by {rise} V with the cord near and was {away} once it was away; it must rise by {needed} V "
        "or more and return. The ± is the meter's alone, without the reference."
    ).format(
        background=shown(background),
        rise=as_shown(_rise_as_shown(background, near)),
        away=shown(away),
        needed=plain(RISE_VOLTS),
    )
    rose = _rose_enough(rise)
    allowed = max(AGREEMENT_VOLTS, RETURN_SHARE * abs(rise.volts))
    returned = _within(abs(left.volts), left.u_volts, allowed)
    if CheckVerdict.FAILED in (rose, returned):
        return CheckOutcome(CheckVerdict.FAILED, text)
    return CheckOutcome(
        CheckVerdict.NOT_DECIDED if CheckVerdict.NOT_DECIDED in (rose, returned) else CheckVerdict.PASSED,
        text,
    )


_JUDGES = {
    CheckKind.ZERO: _judge_zero,
    CheckKind.REFERENCE: _judge_reference,
    CheckKind.FUNCTION: _judge_function,
    CheckKind.TWO_RODS: _judge_two_rods,
    CheckKind.LEAD: _judge_lead,
}


def step_budget(value: Value, meter: MeterFacts) -> Budget:
    """The budget of one step's value: what the reference may be off by is no part of it."""
    volts, u_volts = value
    return reading_budget(volts, u_volts, meter.accuracy_at(abs(volts)), ReferenceState())


def _change(before: Budget, after: Budget, meter: MeterFacts) -> Budget:
    accuracy = meter.accuracy_at(max(abs(before.volts), abs(after.volts)))
    return difference_budget(after, before, accuracy)


def _within(value: float, u_value: float, limit: float) -> CheckVerdict:
    """Whether a value is at or under a limit, for sure: k = 2 on the side where it matters."""
    if value + COVERAGE_FACTOR * u_value <= limit:
        return CheckVerdict.PASSED
    return CheckVerdict.FAILED if value - COVERAGE_FACTOR * u_value > limit else CheckVerdict.NOT_DECIDED
