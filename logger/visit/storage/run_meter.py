"""The meter that a run was recorded with, as its description was then."""

from __future__ import annotations

import json
from pathlib import Path

from logger.errors import StillvoltError
from logger.meter.description import MeterDescription
from logger.meter.description_folder import list_descriptions
from logger.meter.description_toml import from_toml
from logger.metrology.setup import MeterFacts
from logger.visit.records.recording_records import Run


def description_of(run: Run) -> MeterDescription | None:
    """The kept meter that a run was recorded with; None without one, or where it cannot be read."""
    try:
        settings = json.loads(run.settings)
        name, text = settings["meter"], settings["description"]
        return from_toml(text, Path(f"{name}.toml"))
    except (ValueError, TypeError, KeyError, StillvoltError):
        return None


def meter_of(run: Run) -> MeterFacts | None:
    """The facts of that meter; None as `description_of`."""
    kept = description_of(run)
    return MeterFacts.of(kept) if kept else None


def not_kept_here(run: Run, where: Path | None = None) -> MeterDescription | None:
    """That meter where this computer does not know it, as after the visit was moved; else None."""
    kept = description_of(run)
    return kept if kept and kept.name not in list_descriptions(where) else None
