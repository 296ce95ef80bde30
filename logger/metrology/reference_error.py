"""How far the reference may be off, and what that does to a value. All in volts.

The meter shows the magnitude of a difference of two phasors, `|V_body - V_reference|`, and nobody knows the angle
between them. So the true value lies within the reference's magnitude of the reading on either side (the triangle
inequality), whatever the angle. A reference error at right angles to the body's phasor changes the reading in second
order only: that a reading stays the same when the reference is improved does not show that the reference was good.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import hypot

UNPROVEN_ROD_VOLTS = 0.05
"""How far a rod may be off (half-width) that no second rod has proved. A rod lies in what is left of the potential of
the building's earth, 0.2 to 0.3 V at its electrode (common practice, no source), which falls with the distance: a
fifth at five times the electrode's size. Its wire, run along live wiring, lifts it by about as much: 300 pF at 230 V
and 50 Hz over 2 kohm are 0.04 V. The number is ours."""

SHARED_BY_BOTH_RODS_VOLTS = 0.01
"""What two rods may have in common and the voltage between them cannot show (half-width): a fifth of what a rod may be
off by unproved, so that the check narrows it fivefold at best. The number is ours."""

ROD_PAIR_FACTOR = 2.0
"""The rod in use is off by up to so many times the voltage between it and a second rod. Two reasons agree on it. The
potential in soil falls with the distance (hemispherical electrode), so a second rod twice as far from the building
has half the potential, and the voltage between them is the other half. And of two independent rods of like size, any
angles, the one in use is off by less than 2.28 times the voltage between them with 95 % probability (the ratio of two
complex normal variables); expanded with k = 2 this half-width is 2.31 times it."""


@dataclass(frozen=True, slots=True)
class RodError:
    """How far the rod in use may be off."""

    volts: float
    """Half-width."""
    by_second_rod: bool
    """A second rod proved it; else it is assumed, or it is what a check that does not prove it has shown at least."""


@dataclass(frozen=True, slots=True)
class SeenByChecks:
    """What the checks of a rod have shown; None where a check was not done.

    Args:
        change_volts: how much the reading changed when the rod was improved, or its wire moved; the larger one.
        between_rods_volts: the largest voltage that may lie between the rods: as read, with its expanded uncertainty.
        rods_agree: the check with a second rod passed (True) or failed (False); None where it did not decide.
    """

    change_volts: float | None = None
    between_rods_volts: float | None = None
    rods_agree: bool | None = None


def rod_error(seen: SeenByChecks) -> RodError:
    """How far the rod may be off after these checks.

    A change that was seen widens it. That none was seen does not narrow it, since the reference's error may stand at
    right angles to the body's voltage, or be a potential of the soil that wetting leaves as it is. The voltage between
    two rods does.
    """
    unproven = max(UNPROVEN_ROD_VOLTS, seen.change_volts or 0.0)
    if seen.between_rods_volts is None or seen.rods_agree is None:
        return RodError(unproven, by_second_rod=False)
    by_pair = by_pair_of_rods(seen.between_rods_volts)
    if not seen.rods_agree:
        return RodError(max(by_pair, unproven), by_second_rod=True)
    return RodError(max(min(by_pair, UNPROVEN_ROD_VOLTS), seen.change_volts or 0.0), by_second_rod=True)


def by_pair_of_rods(between_rods_volts: float) -> float:
    """How far the rod in use may be off by the voltage between it and a second rod (half-width, V).

    Args:
        between_rods_volts: the largest voltage that may lie between the rods: as read, with its expanded uncertainty.
    """
    return hypot(ROD_PAIR_FACTOR * between_rods_volts, SHARED_BY_BOTH_RODS_VOLTS)
