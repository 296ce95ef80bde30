"""What the readings of a spot mean together: on (off), against the target, and what the household can change.

In: the readings of one spot that are not voided. Out: the pair for the form, the difference with its own budget,
and sentences that give no more than the numbers carry.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import ROUND_CEILING, Decimal

from logger.metrology.checks import CheckKind, CheckVerdict
from logger.metrology.context import why_not_comparable
from logger.metrology.difference import Term, difference
from logger.metrology.posture import DEFAULT_REPEATABILITY, Repeatability, less_certain_text
from logger.metrology.rounding import (
    Rounded,
    fixed,
    form_pair,
    plain,
    rounded,
    rounded_change,
    share_of_shown,
)
from logger.metrology.uncertainty import (
    REFERENCE,
    Budget,
    Verdict,
    compare_off_with,
    compare_with,
    off_limits,
    shown,
    shown_change,
)
from logger.name_list import joined, listed
from logger.translation import decimal_sign, marked, shown_number, tr, tr_kept
from logger.visit.records.condition import EVERYTHING_OFF, EVERYTHING_ON
from logger.visit.records.home_records import Source
from logger.visit.records.reading_records import Reading
from logger.visit.results.contradicting_repeats import is_repeat, repeats_contradict, repeats_doubt
from logger.visit.results.detail_differences import why_other_body
from logger.visit.results.input_correction import corrected_reading
from logger.visit.results.off_value_origin import (
    NOT_LISTED,
    LeftOn,
    is_everything_off,
    left_on,
    off_and_must_stay,
    possible_origin,
)
from logger.visit.results.posture_repeats import repeatability_on_site
from logger.visit.results.simulated_readings import measured_or_all_simulated

MAX_DECIMALS = 4
"""Of an upper limit that is close below the target."""

LABELS = ("on", "off")

FAILED_FUNCTION_CHECK = marked("not known: the function check failed")
"""Instead of a verdict on a value that was read after it; translated where it is shown."""

_APART = {
    EVERYTHING_ON: marked("Everything on: {doubt}"),
    EVERYTHING_OFF: marked("Everything off: {doubt}"),
}

_AGAINST: dict[Verdict, str] = {
    "above": marked("above {target} V"),
    "below": marked("below {target} V"),
    "not distinguishable": marked("too close to the target of {target} V to tell"),
}
"""A value against the target."""

_AGAINST_IN_TABLES: dict[Verdict, str] = {
    **_AGAINST,
    "not distinguishable": "not distinguishable from {target} V",
}
"""The same in the tables for other programs, whose values stay as they are."""


@dataclass(frozen=True, slots=True)
class SpotResult:
    """The newest readings of a spot with everything on and with everything off; voided ones do not count.

    Args:
        on: with everything on; None where it was not read.
        off: with everything off; None where it was not read.
        repeatability: of the posture in this visit.
        left_on: what was still live in the reading with everything off.
        apart: the readings with everything on, and those with everything off, where they contradict each other: no ±
            and no verdict holds for them. Only those count in which the same was on as in the newest.
        wrongly_off: names of what was off in the readings with everything off, and must stay on by now: they are no
            readings with everything off any more, and there is none else.
    """

    on: Reading | None
    off: Reading | None
    repeatability: Repeatability = DEFAULT_REPEATABILITY
    left_on: LeftOn = NOT_LISTED
    apart: tuple[tuple[Reading, ...], ...] = ()
    wrongly_off: tuple[str, ...] = ()

    @classmethod
    def of(
        cls,
        readings: Sequence[Reading],
        spot_id: int,
        sources: Sequence[Source] = (),
        *,
        as_read: bool = False,
    ) -> SpotResult:
        """From all readings of a visit.

        Args:
            readings: of the visit, oldest first; its repeats at any spot show how well the posture repeats.
            spot_id: the spot.
            sources: circuits and cords of the home; empty where none was listed.
            as_read: everything off is what it was when it was read, whatever must stay on by now.
        """
        here = measured_or_all_simulated([r for r in readings if r.spot_id == spot_id])
        repeats = [
            tuple(reading for reading in here if reading.condition == EVERYTHING_ON),
            tuple(
                reading
                for reading in here
                if (reading.condition == EVERYTHING_OFF if as_read else is_everything_off(reading, sources))
            ),
        ]
        on, off = (same[-1] if same else None for same in repeats)
        repeats = [tuple(r for r in same if is_repeat(r, same[-1])) for same in repeats]
        at_spot = repeatability_on_site(here)
        apart = tuple(same for same in repeats if repeats_contradict(same, at_spot))
        wrongly_off = [r for r in here if r.condition == EVERYTHING_OFF] if off is None else []
        names = tuple(s.name for s in off_and_must_stay(wrongly_off[-1], sources)) if wrongly_off else ()
        return cls(on, off, repeatability_on_site(readings), left_on(off, sources), apart, names)

    def contradicts(self, reading: Reading | None) -> bool:
        """Whether a reading of it is one of those that contradict each other."""
        return reading is not None and any(reading in same for same in self.apart)

    @property
    def simulated(self) -> bool:
        """Whether its values are simulated."""
        return any(reading is not None and reading.simulated for reading in (self.on, self.off))

    def pair(self) -> str:
        """As it is written on the form, without the unit: `0.9 (0.05)`."""
        return form_pair(self.on.volts if self.on else None, self.off.volts if self.off else None)

    def why_no_off(self) -> str:
        """Why a reading with everything off does not count as one now; empty where one does, or there is none."""
        if not self.wrongly_off:
            return ""
        text = tr(
            "Everything off was read here with {names} off, which must stay on: read it again with {names} on."
        )
        return text.format(names=joined(self.wrongly_off))

    def why_not_comparable(self) -> str:
        """Why on and off cannot be compared; empty when they can, or when one is missing."""
        if self.on is None or self.off is None:
            return ""
        return why_not_comparable(self.on.context, self.off.context) or why_other_body(
            self.on.details, self.off.details
        )

    @property
    def _has_failed_function_check(self) -> bool:
        return any(map(has_failed_function_check, (self.on, self.off)))

    def difference(self) -> Budget | None:
        """On minus off with its own uncertainty; None where they cannot be compared or one is missing."""
        on, off = budget_of(self.on), budget_of(self.off)
        if on is None or off is None or self.why_not_comparable() or self.apart:
            return None
        assert self.on is not None and self.on.context is not None
        assert self.off is not None and self.off.context is not None
        return difference(
            Term(on, self.on.context, self.repeatability),
            Term(off, self.off.context, self.repeatability),
            LABELS,
            same_visit=True,
        )

    def _not_comparable_in_words(self) -> str:
        why = self.why_not_comparable()
        assert self.on is not None and self.off is not None
        computed = corrected_reading(self.off, like=self.on)
        if computed is None:
            return why
        text = tr("{why} Computed for the input of the meter that read on, off would be {value}.")
        return text.format(why=why, value=shown(computed))

    def verdict(self, target_volts: float, *, in_table: bool = False) -> str:
        """The value with everything on (or off, where only that was read) against the target, in words.

        Args:
            target_volts: the target, V.
            in_table: for other programs.
        """
        words = _AGAINST_IN_TABLES if in_table else _AGAINST
        on, off = budget_of(self.on), budget_of(self.off)
        if self.contradicts(self.on or self.off):
            return tr("not known: its readings contradict each other")
        if has_failed_function_check(self.on or self.off):
            return tr(FAILED_FUNCTION_CHECK)
        if on is None and off is not None:
            return _in_words(compare_off_with(off, target_volts), target_volts, words)
        return _in_words(compare_with(on, target_volts), target_volts, words) if on else ""

    def both_above(self, target_volts: float) -> bool:
        """Whether the value with everything on and that with everything off are both above the target for sure.

        Args:
            target_volts: the target, V.
        """
        on, off = budget_of(self.on), budget_of(self.off)
        if on is None or off is None or self.apart or self._has_failed_function_check:
            return False
        return compare_with(on, target_volts) == compare_off_with(off, target_volts) == "above"

    def is_alike(self, target_volts: float) -> bool:
        """Whether switching everything off changed nothing that was seen, with both values surely above the target.

        As where nobody had switched, or at the wrong panel.

        Args:
            target_volts: the target, V.
        """
        change = self.difference() if self.both_above(target_volts) else None
        return change is not None and abs(change.volts) <= change.expanded_volts

    def is_in_doubt(self) -> bool:
        """Whether its meaning is a warning, to be read whole: no value of it can be relied on as it is."""
        is_wrongly_off = self.off is None and bool(self.wrongly_off)
        is_apart = bool(self.why_not_comparable()) or bool(self.apart)
        return is_apart or is_wrongly_off or self._has_failed_function_check

    def meaning(self, target_volts: float) -> str:
        """What the readings mean, in a sentence or two; empty while nothing was read."""
        on, off = budget_of(self.on), budget_of(self.off)
        if self.why_not_comparable():
            return self._not_comparable_in_words()
        if on is None and off is None:
            return ""
        if self.apart:
            return " ".join(
                tr(_APART[EVERYTHING_ON if same[0].condition == EVERYTHING_ON else EVERYTHING_OFF]).format(
                    doubt=repeats_doubt(same)
                )
                for same in self.apart
            )
        if self._has_failed_function_check:
            return tr(
                "The function check failed before this was read: whether the meter shows the voltage of a body is not "
                "known. Find out why, do the check again, then read again."
            )
        if off is None:
            assert on is not None
            if self.wrongly_off:
                return self.why_no_off()
            return tr(
                "{value} with everything on, {verdict}. Read it with everything off too: the difference is what the "
                "household can change."
            ).format(value=shown(on), verdict=against_target(on, target_volts))
        if on is None:
            text = tr("{value} with everything off, {verdict}. On is still to be read.")
            return text.format(value=shown(off), verdict=off_against_target(off, target_volts))
        change = self.difference()
        assert change is not None
        said = [_of_change(on, off, change)]
        if self.is_alike(target_volts):
            said.append(
                tr("Was everything really off? If not, void the value with everything off and read it again.")
            )
        if compare_off_with(off, target_volts) == "above":
            said.append(
                tr("{value} stays with everything off, above {target} V: {origin}.").format(
                    value=shown(off), target=plain(target_volts), origin=possible_origin(self.left_on)
                )
            )
        else:
            text = tr("With everything off {value} stays, {verdict}.")
            said.append(text.format(value=shown(off), verdict=off_against_target(off, target_volts)))
        return " ".join(said)

    def columns(self) -> OnOffColumns | None:
        """On, off and their difference as they stand side by side; None where more has to be said of them."""
        on, off, change = budget_of(self.on), budget_of(self.off), self.difference()
        if on is None or off is None or change is None or change.volts <= change.expanded_volts:
            return None
        figures = rounded_change(
            (off.volts, off.expanded_volts), (on.volts, on.expanded_volts), change.expanded_volts
        )
        share = share_of_shown(figures.difference, figures.after)
        return OnOffColumns(figures.after, figures.before, figures.difference, share)

    def left_over(self, target_volts: float) -> str:
        """What is left with everything off against the target; empty where that was not read.

        Args:
            target_volts: the value that is not to be exceeded, V.
        """
        off = budget_of(self.off)
        if off is None:
            return ""
        if has_failed_function_check(self.off):
            return tr(FAILED_FUNCTION_CHECK)
        if compare_off_with(off, target_volts) == "above":
            text = tr("{verdict}: {origin}")
            verdict = _in_words("above", target_volts)
            return text.format(verdict=verdict, origin=possible_origin(self.left_on))
        return off_against_target(off, target_volts)


@dataclass(frozen=True, slots=True)
class OnOffColumns:
    """On, off and on minus off, with figures that agree, and what share of on the difference is."""

    on: Rounded
    off: Rounded
    difference: Rounded
    share: str


def _of_change(on: Budget, off: Budget, change: Budget) -> str:
    """What on minus off means, worked out of the figures that stand beside it, so that they agree.

    Args:
        on: the value with everything on.
        off: the value with everything off.
        change: on minus off.
    """
    _, _, on_minus_off = shown_change(off, on, change)
    is_wider = bool(less_certain_text(change, on, off))
    if change.volts > change.expanded_volts:
        figures = rounded_change(
            (off.volts, off.expanded_volts), (on.volts, on.expanded_volts), change.expanded_volts
        )
        text = (  # why the ± is no sum of the two stands in the first sentence: a low page shows that one alone
            tr(
                "{difference} ({share}) goes with everything off; its ± is wider, as nobody lies or sits the same way "
                "twice. That much is under the household's control."
            )
            if is_wider
            else tr(
                "{difference} ({share}) goes with everything off: that much is under the household's control."
            )
        )
        return text.format(difference=on_minus_off, share=share_of_shown(figures.difference, figures.after))
    if change.volts < -change.expanded_volts:
        _, _, off_minus_on = shown_change(on, off, change)
        said = tr(
            "It is higher by {difference} with everything off: something that was on had cancelled part of another "
            "source."
        ).format(difference=off_minus_on)
    else:
        said = tr("On and off cannot be told apart: on minus off is {difference}.").format(
            difference=on_minus_off
        )
    less_certain = tr("It is less certain than each value, since nobody lies or sits the same way twice.")
    return f"{said} {less_certain}" if is_wider else said


def mixed(readings: Sequence[Reading]) -> str:
    """Whether the readings of a visit can be compared with each other; the odd ones are named.

    Returns a sentence for each reason, empty when all were read with the same input against the same reference.
    """
    valid = [r for r in readings if r.void_reason is None and r.context is not None]
    if not valid:
        return ""
    newest = valid[-1]
    odd: dict[str, list[str]] = {}
    for reading in valid:
        why = why_not_comparable(reading.context, newest.context)
        if why:
            name = tr("{spot} ({condition})")
            odd.setdefault(why, []).append(
                name.format(spot=reading.spot_name, condition=tr_kept(reading.condition))
            )
    text = tr("{why} That holds for {names} against the newest.")
    return "\n".join(text.format(why=why, names=listed(names)) for why, names in odd.items())


def has_failed_function_check(reading: Reading | None) -> bool:
    """Whether a reading was taken after the meter did not follow a voltage.

    No value proves anything then, least of all a small one, and no budget can say by how much it is off.
    """
    verdicts = reading.context.verdicts if reading is not None and reading.context is not None else {}
    return verdicts.get(CheckKind.FUNCTION) is CheckVerdict.FAILED


def budget_of(reading: Reading | None) -> Budget | None:
    """The uncertainty budget of a reading; None where nothing is kept of meter and reference."""
    if reading is None or reading.context is None:
        return None
    return reading.context.budget(reading.volts, reading.u_volts)


def against_target(budget: Budget, target_volts: float) -> str:
    """'above 0.1 V', 'below 0.1 V' or 'too close to the target of 0.1 V to tell'."""
    return _in_words(compare_with(budget, target_volts), target_volts)


def off_against_target(budget: Budget, target_volts: float) -> str:
    """A value read with everything off against the target, and at most how large the true one is.

    Its reference's error mostly adds to it (`off_limits`): 'below 0.1 V: at most 0.08 V'.
    """
    limits = off_limits(budget)
    verdict = _in_words(compare_off_with(budget, target_volts), target_volts)
    by_reference = any(component.name.startswith(REFERENCE) for component in budget.components)
    text = (
        tr("{verdict}: at most {limit} V, and all of that may be error of reference and meter")
        if by_reference and limits.low_volts == 0.0
        else tr("{verdict}: at most {limit} V")
    )
    return text.format(verdict=verdict, limit=_upper_limit(budget, limits.high_volts, target_volts))


def off_limit_note(budget: Budget) -> str:
    """Why a value with everything off cannot be as much too low as its ± says; empty where it can.

    Args:
        budget: of a value that was read with everything off.
    """
    if off_limits(budget).high_volts >= budget.volts + budget.expanded_volts:
        return ""
    return tr(
        "With everything off the value cannot be as much too low as its ± says, since the error of the reference has "
        "a limit. “At most” is the value plus √(limit² + (2 u)²), u of all but the reference, rounded up. It is of "
        "this meter, posture and moment."
    )


def _upper_limit(budget: Budget, high_volts: float, target_volts: float) -> str:
    """The highest value that is possible, rounded up to the figures of the value, and never onto the other side.

    Args:
        budget: of the value.
        high_volts: the highest value.
        target_volts: a value below it stays below it.
    """
    figures = rounded(budget.volts, budget.expanded_volts).volts
    decimals = len(figures.partition(decimal_sign())[2])
    for places in range(decimals, MAX_DECIMALS):
        up = Decimal(repr(float(high_volts))).quantize(Decimal(1).scaleb(-places), ROUND_CEILING)
        if high_volts >= target_volts or up < Decimal(repr(float(target_volts))):
            return shown_number(f"{up:f}")
    return fixed(high_volts, MAX_DECIMALS)


def _in_words(verdict: Verdict, target_volts: float, words: Mapping[Verdict, str] = _AGAINST) -> str:
    return tr(words[verdict]).format(target=plain(target_volts))
