"""The meter that a run was recorded with, as its description was then."""

from __future__ import annotations

import json
from pathlib import Path

from logger.errors import StillvoltError
from logger.meter.description import from_toml
from logger.visit.model import Run
from logger.visit.setup import MeterFacts


def meter_of(run: Run) -> MeterFacts | None:
    """The facts of the kept meter that a run was recorded with; None without one, or where they cannot be read."""
    try:
        settings = json.loads(run.settings)
        name, text = settings["meter"], settings["description"]
        return MeterFacts.of(from_toml(text, Path(f"{name}.toml")))
    except (ValueError, TypeError, KeyError, StillvoltError):
        return None
