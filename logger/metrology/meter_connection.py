"""How a meter was connected when a value was read: whether two values may come from one meter."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

FormPair = tuple[str, str]
"""Two forms of lines that the user called those of one meter."""


@dataclass(frozen=True, slots=True)
class MeterConnection:
    """The meter and its connection at a moment of a recording.

    Args:
        port: URL of the port.
        settings: rate, framing and query of the port, in words.
        meter: name of the kept meter; empty where none was chosen.
        line_form: what stays the same in its lines whatever the value (`logger.meter.line_form`); empty where it is
            not known.
        is_unit_assumed: its lines state no unit, nor did anybody: the numbers are taken for volts.
        is_imported: the run was logged elsewhere.
        is_battery_low: it says that its battery is low.
    """

    port: str
    settings: str
    meter: str = ""
    line_form: str = ""
    is_unit_assumed: bool = False
    is_imported: bool = False
    is_battery_low: bool = False


def forms_agree(one: str, other: str, same_forms: Sequence[FormPair]) -> bool:
    """Whether two forms of lines may be those of one meter.

    Args:
        one: a form; empty where it is not known, which agrees with every other.
        other: the other form.
        same_forms: forms that the user called those of one meter; what is like a third is alike.
    """
    if not one or not other:
        return True
    alike, grown = {one}, True
    while grown and other not in alike:
        more = {form for pair in same_forms if alike.intersection(pair) for form in pair}
        grown = not more <= alike
        alike |= more
    return other in alike
