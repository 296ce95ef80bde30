"""Units merged: one unit from the words that speak of the same number."""

from __future__ import annotations

from collections.abc import Iterable

from logger.meter.tokens import Refused
from logger.meter.vocabulary import Meaning, Role, WordKind
from logger.translation import kept_text

STRONGEST_KIND_FIRST = (WordKind.PEAK, WordKind.AC_AND_DC, WordKind.AC, WordKind.DC)
"""Peak and AC+DC say more than AC or DC alone."""


def merge_units(front: Meaning | None, behind: Meaning | None) -> Meaning | None:
    """The unit of a number from what stands in front of it (a function, a name) and behind it.

    In "ACV 273.1 mV" and "Vac: 273.1 mV" the front says what is measured and the unit behind says how it is
    written; the other way round they contradict each other.

    Raises:
        Refused: they contradict each other.
    """
    if front is None or behind is None:
        return front or behind
    if front.quantity is not behind.quantity or front.exponent not in (0, behind.exponent):
        raise Refused(kept_text("it gives two units for one number"))
    kinds = {kind for kind in (front.kind, behind.kind) if kind}
    if kinds == {WordKind.AC, WordKind.DC}:
        raise Refused(kept_text("it says both AC and DC"))
    kind = next((kind for kind in STRONGEST_KIND_FIRST if kind in kinds), None)
    return Meaning(Role.UNIT, front.quantity, behind.exponent, kind)


def merge_all(units: Iterable[Meaning]) -> Meaning | None:
    """One unit from several; None from none.

    Raises:
        Refused: they contradict each other.
    """
    merged: Meaning | None = None
    for unit in units:
        merged = merge_units(merged, unit)
    return merged
