"""The uncertainty of a reading, after the GUM (JCGM 100:2008): a budget of standard uncertainties, combined.

In: the settled level with its standard uncertainty from scatter, and what is known of the meter and of the
reference. Out: a `Budget`, whose lines a user can read one by one, the combined standard uncertainty, and the
expanded one for k = 2. All in volts.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from math import hypot, sqrt
from typing import Literal

from logger.meter.description import Accuracy
from logger.metrology.rounding import Rounded, rounded, rounded_change
from logger.name_list import joined
from logger.settling.events import Settled
from logger.translation import kept_text, marked, tr, tr_kept

COVERAGE_FACTOR = 2.0
"""k = 2: about 95 % where the distribution is near normal (GUM 6.3.3)."""

RECTANGULAR = sqrt(3.0)
"""Limits of a rectangular distribution over its standard uncertainty (GUM 4.3.7)."""

BUILDING_EARTH_VOLTS = 0.3
"""The building's protective earth is itself up to 0.2 to 0.3 V off (common practice, no source)."""

CHARGER_VOLTS = 0.3
LINK_VOLTS = 0.1
"""What a laptop on its charger, and a link that is not isolated, may shift the reference by. Assumed, no source:
of the size of building earth, to which both connect the meter, and the reason to work on battery and fibre."""

AGREEMENT_VOLTS = 0.02
"""Values before and after the reference was improved agree within this (or what a posture repeats to): a
reference that can still be improved was not good enough. No source."""

METER = kept_text("meter accuracy")
WAVEFORM = kept_text("waveform: meter not true rms")
REFERENCE = "reference"
"""How the names of those components begin that come from what the meter calls zero."""

BUILDING_EARTH = marked("building earth")
ON_CHARGER = marked("laptop on its charger")
LINK_NOT_ISOLATED = marked("link not isolated")
"""What may spoil the reference, as it is named beside readings; translated where it is shown."""

_ROD = kept_text("reference: earth rod")
_UNPROVEN_ROD = kept_text("reference: earth rod, not proved by a second rod")
FAILED_ZERO = kept_text("reference: what its failed zero check showed")

_STATED_COMPONENTS = {
    BUILDING_EARTH: kept_text("reference: building earth"),
    ON_CHARGER: kept_text("reference: laptop on its charger"),
    LINK_NOT_ISOLATED: kept_text("reference: link not isolated"),
}
_ASSUMED_COMPONENTS = {
    BUILDING_EARTH: kept_text("reference: counted as building earth, because not stated"),
    ON_CHARGER: kept_text("reference: counted as laptop on its charger, because not stated"),
    LINK_NOT_ISOLATED: kept_text("reference: counted as link not isolated, because not stated"),
}
"""What may spoil the reference, as the line of the budget is named where it was stated, and where nobody did."""

_LEVEL_LINES: tuple[tuple[str, Kind, str], ...] = (
    (
        kept_text("scatter"),
        "A",
        kept_text("still span, slow wandering allowed for; half of what covers 95 %"),
    ),
    (kept_text("tilt of the still span"), "A", kept_text("its rise or fall along a straight line")),
    (kept_text("meter's averaging"), "A", kept_text("the first seconds still approach the level")),
    (kept_text("meter's resolution"), "B", kept_text("half a count, less where scatter averages it out")),
)
"""What the uncertainty of a settled level consists of, as `LevelParts` has it."""

_LABELLED = {
    "on": marked("{component} (on)"),
    "off": marked("{component} (off)"),
    "before": marked("{component} (before)"),
    "after": marked("{component} (after)"),
}
"""The line of a budget of one of two values, by what that is called."""

Kind = Literal["A", "B"]
Verdict = Literal["above", "below", "not distinguishable"]


@dataclass(frozen=True, slots=True)
class ReferenceState:
    """What the meter calls zero, and what may spoil it.

    Args:
        building_earth: the building's protective earth instead of a rod.
        on_charger: the laptop is on its charger and nothing isolates it from the meter.
        link_isolated: the cable between meter and laptop is isolated (optical, radio).
        rod_volts: how far the rod may be off (half-width, V), after its checks; 0 for no rod.
        rod_proved: a second rod proved it; else `rod_volts` is assumed, or what its checks have shown at least.
        failed_zero_volts: what the meter showed on the reference wire, with its U, where the zero check failed; else 0.
            Whatever brought it there may lift or lower each value by as much.
        not_stated: which of `BUILDING_EARTH`, `ON_CHARGER` and `LINK_NOT_ISOLATED` count only because nobody stated
            how it is.
    """

    building_earth: bool = False
    on_charger: bool = False
    link_isolated: bool = True
    rod_volts: float = 0.0
    rod_proved: bool = True
    failed_zero_volts: float = 0.0
    not_stated: frozenset[str] = frozenset()

    def remarks(self) -> list[str]:
        """What has to be named beside every reading: first what is a fact, then what was not stated."""
        facts = {
            BUILDING_EARTH: tr("building earth as reference"),
            ON_CHARGER: tr(ON_CHARGER),
            LINK_NOT_ISOLATED: tr(LINK_NOT_ISOLATED),
        }
        applies = [
            cause
            for cause, holds in zip(
                facts, (self.building_earth, self.on_charger, not self.link_isolated), strict=True
            )
            if holds
        ]
        assumed = [cause for cause in applies if cause in self.not_stated]
        stated = [facts[cause] for cause in applies if cause not in self.not_stated]
        return [*stated, counted_as(assumed)] if assumed else stated

    def component_name(self, cause: str) -> str:
        """Name the line of the budget for what may spoil the reference: as a fact only where it was stated."""
        return (_ASSUMED_COMPONENTS if cause in self.not_stated else _STATED_COMPONENTS)[cause]


def counted_as(causes: Sequence[str]) -> str:
    """Name what counts against a reading because nobody stated how it is: it is the worse of both, and no fact."""
    return tr("counted as {what}, because not stated").format(what=joined(list(map(tr, causes))))


@dataclass(frozen=True, slots=True)
class Limits:
    """Between which a true value lies, with about 95 % confidence."""

    low_volts: float
    high_volts: float


@dataclass(frozen=True, slots=True)
class LevelParts:
    """What the uncertainty of a settled level consists of, as shares of its square; the rest is scatter.

    Args:
        tilt: from the rise or fall that is tolerated in a settled span.
        averaging: from the span's first seconds, in which the meter's averaging approached the level.
        resolution: from the meter's count.
    """

    tilt: float
    averaging: float
    resolution: float

    @classmethod
    def of_span(cls, span: Settled) -> LevelParts:
        """The parts of a settled span that grows."""
        whole = span.u_volts**2 or 1.0
        parts = (span.u_tilt_volts, span.u_averaging_volts, span.u_resolution_volts)
        return cls(*(part**2 / whole for part in parts))

    def components(self, u_volts: float) -> list[Component]:
        """The lines in the budget of a level with the standard uncertainty `u_volts`, which is never more than that.

        Logs of older versions have parts of an earlier moment of the span, which may be larger than the whole.
        """
        named = self.tilt + self.averaging + self.resolution
        parts = max(1.0 - named, 0.0), self.tilt, self.averaging, self.resolution
        lines = zip(_LEVEL_LINES, parts, strict=True)
        return [
            Component(*line, u_volts * sqrt(share / max(named, 1.0))) for line, share in lines if share > 0.0
        ]


@dataclass(frozen=True, slots=True)
class Component:
    """One line of the budget: its texts as files have them; `tr_kept` shows them."""

    name: str
    kind: Kind
    basis: str
    """What it rests on, for a reader: distribution, limits."""
    u_volts: float
    of: str = ""
    """In a difference, of which value: a key of `_LABELLED`, which stands behind the name in parentheses."""

    def shown_name(self) -> str:
        """Its name in the language that holds."""
        if not self.of:
            return tr_kept(self.name)
        return tr(_LABELLED[self.of]).format(component=tr_kept(self.name.removesuffix(f" ({self.of})")))


@dataclass(frozen=True, slots=True)
class Budget:
    """The uncertainty of one value."""

    volts: float
    components: tuple[Component, ...]

    @classmethod
    def of_u(cls, name: str, volts: float, u_volts: float) -> Budget:
        """Of a value whose standard uncertainty is known as a whole.

        Args:
            name: the component's name in the budget.
            volts: the value.
            u_volts: its standard uncertainty.
        """
        return cls(volts, (Component(name, "B", kept_text("standard uncertainty as computed"), u_volts),))

    @property
    def u_volts(self) -> float:
        """Combined standard uncertainty (GUM 5.1.2, uncorrelated, sensitivities 1)."""
        return hypot(*(component.u_volts for component in self.components))

    @property
    def expanded_volts(self) -> float:
        """Expanded uncertainty, k = 2."""
        return COVERAGE_FACTOR * self.u_volts


def reading_budget(
    volts: float,
    u_scatter_volts: float,
    accuracy: Accuracy,
    reference: ReferenceState,
    waveform_share: float = 0.0,
    parts: LevelParts | None = None,
) -> Budget:
    """The budget of one reading.

    Args:
        volts: the settled level.
        u_scatter_volts: its standard uncertainty as the detector gives it: scatter with its autocorrelation, and
            the resolution within the span.
        parts: what that consists of, where it is known: each part is a line of its own.
        accuracy: of the meter on its range.
        reference: what the meter calls zero.
        waveform_share: half-width by the waveform, as a share of the value; 0 for a meter that is true rms.
    """
    whole = Component(
        kept_text("scatter and resolution"),
        "A",
        kept_text("still span, autocorrelation counted, half a count"),
        u_scatter_volts,
    )
    components = [whole] if parts is None else parts.components(u_scatter_volts)
    components.append(meter_component(volts, accuracy))
    if waveform_share > 0.0:
        components.append(rectangular(WAVEFORM, waveform_share * abs(volts)))
    for name, half_width, applies in (
        (reference.component_name(BUILDING_EARTH), BUILDING_EARTH_VOLTS, reference.building_earth),
        (reference.component_name(ON_CHARGER), CHARGER_VOLTS, reference.on_charger),
        (reference.component_name(LINK_NOT_ISOLATED), LINK_VOLTS, not reference.link_isolated),
        (
            _ROD if reference.rod_proved else _UNPROVEN_ROD,
            reference.rod_volts,
            reference.rod_volts > 0,
        ),
        (FAILED_ZERO, reference.failed_zero_volts, reference.failed_zero_volts > 0),
    ):
        if applies:
            components.append(rectangular(name, half_width))
    return Budget(volts, tuple(components))


def meter_component(volts: float, accuracy: Accuracy) -> Component:
    """The meter's own share at a reading."""
    return rectangular(METER, accuracy.limit_volts(abs(volts)))


def rectangular(name: str, half_width_volts: float) -> Component:
    """A component of which only the limits are known (GUM 4.3.7)."""
    basis = kept_text("±{half_width} V, rectangular").format(half_width=f"{half_width_volts:.4g}")
    return Component(name, "B", basis, half_width_volts / RECTANGULAR)


def difference_budget(
    on: Budget, off: Budget, accuracy: Accuracy, labels: tuple[str, str] = ("on", "off")
) -> Budget:
    """The budget of on minus off (or of any two, called as `labels` says), read with the same meter on the same range.

    The meter's share of reading is the same error in both and acts on the difference; its counts are taken as
    independent, and so is all of its error where it is not specified. So is the reference: what lifts it is switched
    together with what is measured, and its error need not cancel.

    Args:
        on: the budget of the first value.
        off: the budget of the value that is subtracted.
        accuracy: the meter's accuracy on the range of both.
        labels: what the two are called in the names of the components.
    """
    difference = on.volts - off.volts
    counts_volts = hypot(*(accuracy.offset_limit_volts(abs(budget.volts)) for budget in (on, off)))
    components = [rectangular(METER, accuracy.percent_of_reading / 100.0 * abs(difference) + counts_volts)]
    for label, budget in zip(labels, (on, off), strict=True):
        components += _labelled(label, (c for c in budget.components if c.name != METER))
    return Budget(difference, tuple(components))


def independent_difference_budget(one: Budget, other: Budget, labels: tuple[str, str]) -> Budget:
    """The budget of one minus other that have no error in common: read with different meters, or on other ranges.

    Args:
        one: the budget of the first value.
        other: the budget of the value that is subtracted.
        labels: what the two are called in the names of the components.
    """
    components = [*_labelled(labels[0], one.components), *_labelled(labels[1], other.components)]
    return Budget(one.volts - other.volts, tuple(components))


def _labelled(label: str, components: Iterable[Component]) -> list[Component]:
    return [Component(f"{c.name} ({label})", c.kind, c.basis, c.u_volts, label) for c in components]


def compare_with(budget: Budget, target_volts: float) -> Verdict:
    """Whether a value is above or below a target, or not distinguishable from it at k = 2."""
    if abs(budget.volts - target_volts) <= budget.expanded_volts:
        return "not distinguishable"
    return "above" if budget.volts > target_volts else "below"


def off_limits(budget: Budget) -> Limits:
    """Between which limits the body's voltage lies where the value was read with everything off.

    What the body keeps and what the reference is off by are two phasors, so that the square of the reading is, over
    all angles, the sum of both squares: the reference's error adds to the little that is left, and may be all of it.
    Only where the two are in phase does it take away, and never more than itself: the half-widths of the reference
    are limits, so above the value they count as such, not expanded (the rest is, by k = 2).
    """
    from_reference = [c for c in budget.components if c.name.startswith(REFERENCE)]
    rest = [c.u_volts for c in budget.components if not c.name.startswith(REFERENCE)]
    limit_volts = sum(RECTANGULAR * c.u_volts for c in from_reference)
    above_volts = min(hypot(limit_volts, COVERAGE_FACTOR * hypot(*rest)), budget.expanded_volts)
    return Limits(max(budget.volts - budget.expanded_volts, 0.0), budget.volts + above_volts)


def compare_off_with(budget: Budget, target_volts: float) -> Verdict:
    """Whether a value read with everything off is above or below a target, by its limits (`off_limits`)."""
    limits = off_limits(budget)
    if limits.high_volts < target_volts:
        return "below"
    return "above" if limits.low_volts > target_volts else "not distinguishable"


def shown(budget: Budget) -> str:
    """'0.85 V ± 0.02 V' (k = 2), rounded as everywhere (`rounding.rounded`)."""
    return _with_units(rounded(budget.volts, budget.expanded_volts))


def shown_change(before: Budget, after: Budget, difference: Budget) -> tuple[str, str, str]:
    """Both values and after minus before, with figures that agree (`rounding.rounded_change`).

    Args:
        before: the earlier value.
        after: the later value.
        difference: after minus before.
    """
    figures = rounded_change(
        (before.volts, before.expanded_volts),
        (after.volts, after.expanded_volts),
        difference.expanded_volts,
    )
    return _with_units(figures.before), _with_units(figures.after), _with_units(figures.difference)


def _with_units(figures: Rounded) -> str:
    return f"{figures.volts} V ± {figures.expanded} V"
