"""Advice on what can be done about the sources that were found; each piece has the value on which it is based.

In: the contribution of each circuit and cord at a spot, the value with everything off, the target. Out: pieces of
advice, the most effective first. They are about wiring and its use, never about anybody's health. Wiring is an
electrician's work. The cautions of every advice are `logger.cautions.PANEL_CAUTIONS`, shown once.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import Literal

from logger.metrology.rounding import fixed, plain, rounded
from logger.metrology.target import TARGET_VOLTS
from logger.metrology.uncertainty import (
    BUILDING_EARTH,
    BUILDING_EARTH_VOLTS,
    COVERAGE_FACTOR,
    Budget,
    ReferenceState,
    compare_with,
)
from logger.name_list import joined
from logger.translation import marked, tr, tr_kept

MOSTLY_SHARE = 0.7
"""Where the cords on a circuit give at least this share of its contribution, and what is left is not above the target,
unplugging them replaces switching its breaker off. No source; the share is ours."""


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


KIND_WORDS: Mapping[AdviceKind, str] = {
    AdviceKind.CORD: marked("Cord"),
    AdviceKind.CIRCUIT: marked("Circuit"),
    AdviceKind.OUTSIDE: marked("Outside"),
    AdviceKind.REFERENCE: marked("Reference"),
}
"""What stands over a piece of advice that is about no circuit or cord; it goes through `tr` where it is shown."""


@dataclass(frozen=True, slots=True)
class Advice:
    """One piece of advice: the facts that it rests on, so that it can be worded in any language.

    Args:
        kind: its subject.
        about: name of the circuit or cord; empty for the outside and the reference.
        volts: the value on which it is based, V.
        u_volts: standard uncertainty of that value, V.
        stays: of a circuit or cord, why it must stay on; empty where it may be switched off.
        circuit: of a cord, the name of its circuit where that is known.
        cords: of a circuit, the names of the cords on it that give most of its value.
        from_cords_volts: what these give, V.
        stayed_on: of the outside, the names of the circuits that stayed on.
        target_volts: of the outside, the value that is not to be exceeded, V.
        is_reference_stated: of the reference, whether somebody stated that it is the building's earth.
    """

    kind: AdviceKind
    about: str
    volts: float
    u_volts: float
    stays: str = ""
    circuit: str = ""
    cords: tuple[str, ...] = ()
    from_cords_volts: float = 0.0
    stayed_on: tuple[str, ...] = ()
    target_volts: float = TARGET_VOLTS
    is_reference_stated: bool = True

    @property
    def text(self) -> str:
        """The whole advice, for the user."""
        if self.kind is AdviceKind.OUTSIDE:
            return _outside_text(self)
        if self.kind is AdviceKind.REFERENCE:
            return _reference_text(self)
        amount = _cord_amount(self) if self.kind is AdviceKind.CORD else _circuit_amount(self)
        # What the cords on a circuit give is a part of the amount's own sentence.
        by_household = "" if self.cords else self.for_the_household
        return " ".join(filter(None, (amount, by_household, self.for_an_electrician)))

    @property
    def finding_text(self) -> str:
        """What was found, without what can be done about it."""
        if self.kind is AdviceKind.OUTSIDE:
            return _outside_finding(self)
        if self.kind is AdviceKind.REFERENCE:
            return _reference_text(self)
        return _cord_amount(self) if self.kind is AdviceKind.CORD else _circuit_amount(self)

    @property
    def for_the_household(self) -> str:
        """What the household itself can do about a circuit or cord; empty where it can do nothing, or for no such."""
        if self.kind is AdviceKind.CORD:
            return (
                tr("Move it away from where you lie or sit.")
                if self.stays
                else tr("Unplug it at night, or move it away from where you lie or sit.")
            )
        if self.kind is not AdviceKind.CIRCUIT or self.stays:
            return ""
        if self.cords:
            return tr("Unplug at night what gives most of it: {cords}.").format(cords=joined(self.cords))
        return tr("Switch its breaker off at night.")

    @property
    def for_an_electrician(self) -> str:
        """What a licensed electrician can do about a circuit or cord; empty where there is nothing, or for no such."""
        if self.kind is AdviceKind.CORD:
            return (
                tr("An electrician can fit a shielded and earthed cord.")
                if self.stays
                else tr(
                    "An electrician can fit a shielded and earthed cord or lamp, or an outlet with a two-pole "
                    "switch."
                )
            )
        if self.kind is not AdviceKind.CIRCUIT or self.cords:
            return ""
        if self.stays:
            return tr(
                "An electrician can say whether its wiring near where you lie or sit can be moved or shielded."
            )
        return tr(
            "An electrician can fit a device in the panel that switches the circuit off at night, by itself "
            "or by remote control."
        )


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
    pieces = [_cord_advice(f) if f.kind == "cord" else _circuit_advice(f, found, target_volts) for f in worth]
    pieces.sort(key=lambda piece: -piece.volts)
    if background is None:
        return pieces
    if compare_with(background, target_volts) == "above":
        pieces.append(_outside_advice(background, stayed_on, target_volts))
    if reference is not None and reference.building_earth:
        pieces.append(_reference_advice(background, BUILDING_EARTH not in reference.not_stated))
    return pieces


def _cord_advice(cord: SourceFinding) -> Advice:
    return Advice(
        AdviceKind.CORD, cord.name, cord.volts, cord.u_volts, stays=cord.stays, circuit=cord.circuit
    )


def _circuit_advice(circuit: SourceFinding, found: Sequence[SourceFinding], target_volts: float) -> Advice:
    cords = [
        f
        for f in found
        if f.kind == "cord" and f.circuit == circuit.name and f.volts > COVERAGE_FACTOR * f.u_volts
    ]
    # On the circuit's own leg, so what they give is a plain part of it.
    from_cords = sum(cord.volts for cord in cords)
    if from_cords < MOSTLY_SHARE * circuit.volts or circuit.volts - from_cords > target_volts:
        cords = []
    return Advice(
        AdviceKind.CIRCUIT,
        circuit.name,
        circuit.volts,
        circuit.u_volts,
        stays=circuit.stays,
        cords=tuple(cord.name for cord in cords),
        from_cords_volts=from_cords,
    )


def _amount(piece: Advice) -> str:
    figures = rounded(piece.volts, COVERAGE_FACTOR * piece.u_volts)
    return f"{figures.volts} V (± {figures.expanded} V)"


def _cord_amount(cord: Advice) -> str:
    """What a cord gives, as a sentence."""
    if cord.stays:
        text = (
            tr("The cord on {circuit} gives {amount} and stays plugged in ({why}).")
            if cord.circuit
            else tr("The cord gives {amount} and stays plugged in ({why}).")
        )
    else:
        text = tr("The cord on {circuit} gives {amount}.") if cord.circuit else tr("The cord gives {amount}.")
    return text.format(circuit=cord.circuit, amount=_amount(cord), why=tr_kept(cord.stays))


def _circuit_amount(circuit: Advice) -> str:
    """What a circuit gives, as a sentence."""
    if circuit.cords:
        text = tr(
            "The circuit gives {amount}, of which {volts} V comes from cords on it ({cords}): unplugging these does "
            "instead of switching its breaker off."
        )
    elif circuit.stays:
        text = tr("The circuit gives {amount} and stays on ({why}).")
    else:
        text = tr("The circuit gives {amount}.")
    return text.format(
        amount=_amount(circuit),
        volts=fixed(circuit.from_cords_volts, 2),
        cords=", ".join(circuit.cords),
        why=tr_kept(circuit.stays),
    )


def _outside_advice(background: Budget, stayed_on: Sequence[str], target_volts: float) -> Advice:
    """Advice on what is left with everything off.

    Args:
        background: what is left.
        stayed_on: names of the circuits that stayed on.
        target_volts: the value that is not to be exceeded, V.
    """
    return Advice(
        AdviceKind.OUTSIDE,
        "",
        background.volts,
        background.u_volts,
        stayed_on=tuple(stayed_on),
        target_volts=target_volts,
    )


def _outside_finding(piece: Advice) -> str:
    """What is left with everything off, and where it comes from."""
    left = tr(
        "With everything off that may be switched off {amount} are left, above the target of {target} V."
    ).format(amount=_amount(piece), target=plain(piece.target_volts))
    origin = (
        tr("It comes from outside the home's own wiring, or from what stayed on: {names}.").format(
            names=", ".join(piece.stayed_on)
        )
        if piece.stayed_on
        else tr("It comes from outside the home's own wiring.")
    )
    return f"{left} {origin}"


def _outside_text(piece: Advice) -> str:
    to_do = tr(
        "From outside it may be a neighbouring flat or a power line: walk around outside and along the party walls, "
        "and ask the neighbour to switch off for one reading."
    )
    return f"{_outside_finding(piece)} {to_do}"


def _reference_advice(background: Budget, is_stated: bool) -> Advice:
    return Advice(
        AdviceKind.REFERENCE, "", background.volts, background.u_volts, is_reference_stated=is_stated
    )


def _reference_text(piece: Advice) -> str:
    text = (
        tr(
            "The readings were taken against the building's protective earth, which may be wrong by up to {limit} V: "
            "the {volts} V with everything off may be the earth's. Repeat the deciding readings against an earth rod "
            "in soil."
        )
        if piece.is_reference_stated
        else tr(
            "Against what the readings were taken is not stated; it is counted as the building's protective earth, "
            "which may be wrong by up to {limit} V: the {volts} V with everything off may be the earth's. Repeat the "
            "deciding readings against an earth rod in soil."
        )
    )
    return text.format(limit=plain(BUILDING_EARTH_VOLTS), volts=fixed(piece.volts, 2))
