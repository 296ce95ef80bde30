"""Advice on what can be done about the sources that were found; each piece has the value on which it is based.

In: the contribution of each circuit and cord at a spot, the value with everything off, the target. Out: pieces of
advice, the most effective first. They are about wiring and its use, never about anybody's health. Wiring is an
electrician's work. The cautions of every advice are `logger.cautions.PANEL_CAUTIONS`, shown once.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import Literal

from logger.metrology.rounding import rounded
from logger.metrology.target import TARGET_VOLTS
from logger.metrology.uncertainty import (
    BUILDING_EARTH,
    BUILDING_EARTH_VOLTS,
    COVERAGE_FACTOR,
    Budget,
    ReferenceState,
    compare_with,
)

MOSTLY_SHARE = 0.7
"""Where the cords on a circuit give at least this share of its contribution, unplugging them replaces switching its
breaker off. No source; the share is ours."""


class AdviceKind(StrEnum):
    """The subject of a piece of advice."""

    CORD = "cord"
    CIRCUIT = "circuit"
    OUTSIDE = "outside"
    REFERENCE = "reference"


@dataclass(frozen=True, slots=True)
class SourceFinding:
    """The contribution of a circuit or a cord at a spot, with what the advice depends on.

    Args:
        kind: circuit or cord.
        name: of the source.
        volts: its contribution, V.
        u_volts: standard uncertainty, V.
        stays: why it must stay on; empty where it may be switched off.
        circuit: of a cord, the name of its circuit where that is known.
        off_tonight: it is to be switched off or unplugged tonight.
    """

    kind: Literal["circuit", "cord"]
    name: str
    volts: float
    u_volts: float
    stays: str = ""
    circuit: str = ""
    off_tonight: bool = False


@dataclass(frozen=True, slots=True)
class Advice:
    """One piece of advice.

    Args:
        kind: its subject.
        about: name of the circuit or cord; empty for the outside and the reference.
        text: for the user.
        volts: the value on which it is based, V.
        u_volts: standard uncertainty of that value, V.
    """

    kind: AdviceKind
    about: str
    text: str
    volts: float
    u_volts: float


def advise(
    found: Sequence[SourceFinding],
    background: Budget | None,
    stayed_on: Sequence[str] = (),
    target_volts: float = TARGET_VOLTS,
    reference: ReferenceState | None = None,
) -> list[Advice]:
    """Work out the advice for a spot.

    A cord or circuit gets advice where it is to be switched off tonight, or gives more than the target.

    Args:
        found: contributions of the circuits and cords.
        background: value with everything off that may be switched off; None where nobody read it.
        stayed_on: names of the circuits that stayed on then.
        target_volts: the value that is not to be exceeded, V.
        reference: what the readings were taken against; None where that needs no advice.
    """
    worth = [
        f
        for f in found
        if f.volts > COVERAGE_FACTOR * f.u_volts and (f.off_tonight or f.volts > target_volts)
    ]
    pieces = [_cord_advice(f) if f.kind == "cord" else _circuit_advice(f, found) for f in worth]
    pieces.sort(key=lambda piece: -piece.volts)
    if background is None:
        return pieces
    if compare_with(background, target_volts) == "above":
        pieces.append(_outside_advice(background, stayed_on, target_volts))
    if reference is not None and reference.building_earth:
        pieces.append(_reference_advice(background, BUILDING_EARTH not in reference.not_stated))
    return pieces


def _amount(volts: float, u_volts: float) -> str:
    figures = rounded(volts, COVERAGE_FACTOR * u_volts)
    return f"{figures.volts} V (± {figures.expanded} V)"


def _cord_advice(cord: SourceFinding) -> Advice:
    on = f" on {cord.circuit}" if cord.circuit else ""
    if cord.stays:
        text = (
            f"The cord{on} gives {_amount(cord.volts, cord.u_volts)} and stays plugged in ({cord.stays}). Move it away "
            "from where you lie or sit; an electrician can fit a shielded and earthed cord."
        )
    else:
        text = (
            f"The cord{on} gives {_amount(cord.volts, cord.u_volts)}. Unplug it at night, move it away from where you "
            "lie or sit, or plug it into an outlet that is switched off on both poles. An electrician can fit a "
            "shielded and earthed cord or lamp."
        )
    return Advice(AdviceKind.CORD, cord.name, text, cord.volts, cord.u_volts)


def _circuit_advice(circuit: SourceFinding, found: Sequence[SourceFinding]) -> Advice:
    gives = f"The circuit gives {_amount(circuit.volts, circuit.u_volts)}"
    cords = [f for f in found if f.kind == "cord" and f.circuit == circuit.name]
    from_cords = sum(cord.volts for cord in cords)
    if cords and from_cords >= MOSTLY_SHARE * circuit.volts:
        names = ", ".join(cord.name for cord in cords)
        text = (
            f"{gives}, of which {from_cords:.2f} V comes from cords on it ({names}): unplugging these does instead of "
            "switching its breaker off."
        )
    elif circuit.stays:
        text = (
            f"{gives} and stays on ({circuit.stays}). Ask an electrician whether its wiring near where you lie or sit "
            "can be moved or shielded."
        )
    else:
        text = (
            f"{gives}. Switch its breaker off at night; for good, an electrician can fit an automatic or a remote "
            "disconnect."
        )
    return Advice(AdviceKind.CIRCUIT, circuit.name, text, circuit.volts, circuit.u_volts)


def _outside_advice(background: Budget, stayed_on: Sequence[str], target_volts: float) -> Advice:
    """Advice on what is left with everything off.

    Args:
        background: what is left.
        stayed_on: names of the circuits that stayed on.
        target_volts: the value that is not to be exceeded, V.
    """
    origin = "It comes from outside the home's own wiring"
    if stayed_on:
        origin = (
            f"It comes from outside the home's own wiring, or from what stayed on: {', '.join(stayed_on)}"
        )
    text = (
        f"With everything off that may be switched off {_amount(background.volts, background.u_volts)} are left, above "
        f"the target of {target_volts:g} V. {origin}. From outside it may be a neighbouring flat or a power line: walk "
        "around outside and along the party walls, and ask the neighbour to switch off for one reading."
    )
    return Advice(AdviceKind.OUTSIDE, "", text, background.volts, background.u_volts)


def _reference_advice(background: Budget, is_stated: bool) -> Advice:
    against = (
        "The readings were taken against the building's protective earth"
        if is_stated
        else "Against what the readings were taken is not stated; it is counted as the building's protective earth"
    )
    text = (
        f"{against}, which may be wrong by up to "
        f"{BUILDING_EARTH_VOLTS:g} V: the {background.volts:.2f} V with everything off may be the earth's. Repeat the "
        "deciding readings against an earth rod in soil."
    )
    return Advice(AdviceKind.REFERENCE, "", text, background.volts, background.u_volts)
