"""How the visit log marks a run that was logged elsewhere: a part of the run's settings, kept as JSON."""

from __future__ import annotations

import csv
import json
from dataclasses import asdict, dataclass
from decimal import Decimal
from math import isfinite
from typing import Any

from logger.visit.records.recording_records import Run

UNITS = {"V": 0, "mV": -3, "uV": -6}
"""The units in which a trace may be, with their powers of ten. Case counts, as in every unit."""

_KEY = "imported"
"""In the settings of an imported run; no other run has it."""


@dataclass(frozen=True, slots=True)
class ImportedTrace:
    """The file that an imported run was read from.

    Args:
        file: its name, without its folder.
        sha256: of its bytes, 64 hexadecimal digits.
        began: RFC 3339 time of the trace's second 0, as stated at the import.
        unit_exponent: power of ten of the unit of its values: -3 for mV.
        is_unit_assumed: nobody stated the unit, and the values are taken for volts; false in older logs.
    """

    file: str
    sha256: str
    began: str
    unit_exponent: int = 0
    is_unit_assumed: bool = False

    def as_settings(self) -> dict[str, Any]:
        """The part of a run's settings that marks it as imported; `imported_trace` is the way back."""
        return {_KEY: asdict(self)}


def imported_trace(run: Run) -> ImportedTrace | None:
    """The file that a run was imported from; None where it was recorded, or where its settings cannot be read."""
    try:
        trace = ImportedTrace(**json.loads(run.settings)[_KEY])
    except (ValueError, TypeError, KeyError):
        return None
    return trace if trace.unit_exponent in UNITS.values() else None


def row_volts(raw: bytes, unit_exponent: int = 0) -> float:
    """The volts of a row of an imported trace: its second column.

    Args:
        raw: the row.
        unit_exponent: power of ten of the unit of the values.

    Raises:
        ValueError: it is no row of a trace.
        IndexError: it has no second column.
    """
    try:
        (cells,) = csv.reader([raw.decode("utf-8")], strict=True)
    except csv.Error as error:
        raise ValueError(str(error)) from error
    return in_volts(cells[1], unit_exponent) + 0.0


def in_volts(number: str, unit_exponent: int) -> float:
    """A number as it is written, in volts.

    Args:
        number: it.
        unit_exponent: power of ten of its unit.

    Raises:
        ValueError: it is no number.
    """
    volts = float(number)
    return (
        float(Decimal(number.strip()).scaleb(unit_exponent)) if unit_exponent and isfinite(volts) else volts
    )
