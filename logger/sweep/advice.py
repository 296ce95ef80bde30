"""What can be done about what was found: advice, each piece with the number it rests on.

In: what each circuit and cord gives at a spot, the value with everything off, the target. Out: pieces of advice, the
most effective first. They are about wiring and its use; what a value means for anybody's health is not said here.
Wiring is an electrician's work. The cautions of every advice are `logger.cautions.PANEL_CAUTIONS`, shown once.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import Literal

from logger.metrology.setup import TARGET_VOLTS
from logger.metrology.uncertainty import COVERAGE_FACTOR

BUILDING_EARTH_ERROR_VOLTS = 0.3
"""By how much the building's protective earth as reference may be wrong (common practice, no source)."""

MOSTLY_SHARE = 0.7
"""From this share on, what a circuit gives comes from the cords on it, and unplugging them does instead of its breaker.
No source; the share is ours."""


class AdviceKind(StrEnum):
    """What a piece of advice is about."""

    CORD = "cord"
    CIRCUIT = "circuit"
    OUTSIDE = "outside"
    REFERENCE = "reference"


@dataclass(frozen=True, slots=True)
class SourceFinding:
    """What a circuit or a cord was found to give at a spot."""

    kind: Literal["circuit", "cord"]
    name: str
    volts: float
    """Its contribution, V."""
    u_volts: float
    """Standard uncertainty, V."""
    stays: str = ""
    """Why it must stay on; empty: it may be switched off."""
    circuit: str = ""
    """For a cord: the circuit that it is plugged into, where that is known."""
    off_tonight: bool = False
    """It is among what is to be switched off or unplugged tonight."""


@dataclass(frozen=True, slots=True)
class Advice:
    """One piece of advice."""

    kind: AdviceKind
    about: str
    """Name of the circuit or cord; empty for the outside and the reference."""
    text: str
    volts: float
    """The number that it rests on."""
    u_volts: float


def advise(
    found: Sequence[SourceFinding],
    background_volts: float,
    u_background_volts: float,
    target_volts: float = TARGET_VOLTS,
    building_earth: bool = False,
) -> list[Advice]:
    """Advice for a spot.

    A cord or circuit is worth advice when it is among what is switched off tonight, or gives more than the target.

    Args:
        found: what the circuits and cords give.
        background_volts: the value with everything off that can be switched off.
        u_background_volts: its standard uncertainty.
        target_volts: what the value shall not exceed.
        building_earth: the readings were taken against the building's protective earth.
    """
    worth = [f for f in found if f.volts > 2 * f.u_volts and (f.off_tonight or f.volts > target_volts)]
    pieces = [_cord(f) if f.kind == "cord" else _circuit(f, found) for f in worth]
    pieces.sort(key=lambda piece: -piece.volts)
    if background_volts > target_volts:
        pieces.append(_outside(background_volts, u_background_volts, target_volts))
    if building_earth:
        pieces.append(_reference(background_volts, u_background_volts))
    return pieces


def _amount(volts: float, u_volts: float) -> str:
    return f"{volts:.2f} V (± {COVERAGE_FACTOR * u_volts:.2f} V)"


def _cord(cord: SourceFinding) -> Advice:
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


def _circuit(circuit: SourceFinding, found: Sequence[SourceFinding]) -> Advice:
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


def _outside(volts: float, u_volts: float, target_volts: float) -> Advice:
    text = (
        f"With everything off that may be switched off {_amount(volts, u_volts)} are left, above the target of "
        f"{target_volts:g} V. Where circuits stay on, it may come from these; else it comes from outside the home's "
        "own wiring: a neighbouring flat or a power line. Walk around outside and along the party walls, and ask the "
        "neighbour to switch off for one reading."
    )
    return Advice(AdviceKind.OUTSIDE, "", text, volts, u_volts)


def _reference(volts: float, u_volts: float) -> Advice:
    text = (
        f"The readings were taken against the building's protective earth, which may be wrong by up to "
        f"{BUILDING_EARTH_ERROR_VOLTS:g} V: the {volts:.2f} V with everything off may be the earth's. Repeat the "
        "deciding readings against an earth rod in soil."
    )
    return Advice(AdviceKind.REFERENCE, "", text, volts, u_volts)
