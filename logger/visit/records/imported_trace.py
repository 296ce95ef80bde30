"""How the visit log marks a run that was logged elsewhere: a part of the run's settings, kept as JSON."""

from __future__ import annotations

import csv
import json
from dataclasses import asdict, dataclass
from typing import Any

from logger.visit.records.recording_records import Run

_KEY = "imported"
"""In the settings of an imported run; no other run has it."""


@dataclass(frozen=True, slots=True)
class ImportedTrace:
    """The file that an imported run was read from.

    Args:
        file: its name, without its folder.
        sha256: of its bytes, 64 hexadecimal digits.
        began: RFC 3339 time of the trace's second 0, as stated at the import.
    """

    file: str
    sha256: str
    began: str

    def as_settings(self) -> dict[str, Any]:
        """The part of a run's settings that marks it as imported; `imported_trace` is the way back."""
        return {_KEY: asdict(self)}


def imported_trace(run: Run) -> ImportedTrace | None:
    """The file that a run was imported from; None where it was recorded, or where its settings cannot be read."""
    try:
        return ImportedTrace(**json.loads(run.settings)[_KEY])
    except (ValueError, TypeError, KeyError):
        return None


def row_volts(raw: bytes) -> float:
    """The volts of a row of an imported trace: its second column.

    Raises:
        ValueError: it is no row of a trace.
        IndexError: it has no second column.
    """
    try:
        (cells,) = csv.reader([raw.decode("utf-8")], strict=True)
    except csv.Error as error:
        raise ValueError(str(error)) from error
    return float(cells[1]) + 0.0
