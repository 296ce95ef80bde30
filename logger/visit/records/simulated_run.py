"""The one rule by which a run counts as simulated, for recorder, window, report, export, comparison and archive.

The rule reads what the recorder wrote when the run began, which is never changed or deleted. So a copy, a moved or a
salvaged visit, and a recording that goes on in another file keep it.
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from functools import lru_cache
from typing import Any

from logger.meter.port import is_simulated_port
from logger.plain_text import one_line
from logger.translation import marked

SIMULATED = "simulated"
"""Key in a run's settings and in the JSON of commands, column of the export, and the word beside each value."""

LIES_AT = "lies_at"
"""Key in the settings of a practice night's run: the place of the simulated house in which the sleeper lies."""

LONGEST_PLACE = 60
"""Characters of such a place that are shown; the log may come from somebody else."""

SIMULATED_IN_PART = "simulated in part"
"""What a visit is called of which some runs are."""

SIMULATED_WORDS = {SIMULATED: marked("simulated"), SIMULATED_IN_PART: marked("simulated in part")}
"""How much of a visit is simulated, for people; translated where it is shown."""

SIMULATED_NOTE = marked("Simulated: no meter was connected, and nothing was measured.")
"""For people: what the word means."""


def simulation_settings(url: str, *, is_origin: bool = False) -> dict[str, Any]:
    """The part of a run's settings that marks it as simulated; empty for one that is not.

    Args:
        url: of the port.
        is_origin: the lines come from a simulation, whatever the port; as a file of a simulated trace.
    """
    return {SIMULATED: True} if is_origin or is_simulated_port(url) else {}


@lru_cache(maxsize=256)
def is_simulated(port: str, settings: str) -> bool:
    """Whether a run was simulated.

    Args:
        port: URL of its port, as the log keeps it.
        settings: its settings, as the log keeps them; may be damaged or of any version.
    """
    if is_simulated_port(port):
        return True
    try:
        kept = json.loads(settings)
    except (ValueError, RecursionError):
        return False
    if not isinstance(kept, dict):
        return False
    return kept.get(SIMULATED) is True or is_simulated_port(str(kept.get("url", "")))


def lies_at(settings: str) -> str:
    """Where the sleeper of a practice night lies; empty for any other run.

    Args:
        settings: of the run, as the log keeps them; may be damaged or of any version.
    """
    try:
        kept = json.loads(settings)
    except (ValueError, RecursionError):
        return ""
    if not isinstance(kept, dict) or kept.get(SIMULATED) is not True:
        return ""
    place = kept.get(LIES_AT, "")
    return one_line(place)[:LONGEST_PLACE] if isinstance(place, str) else ""


def is_mark(cell: str) -> bool:
    """Whether the cell of a column `simulated` marks its row: anything but empty, 0, no and false does."""
    return cell.strip().lower() not in ("", "0", "no", "false")


def simulated_part(flags: Sequence[bool]) -> str:
    """Describe how much of a visit is simulated: empty, "simulated" or "simulated in part".

    Args:
        flags: for each of its runs or values, whether it is simulated.
    """
    if not any(flags):
        return ""
    return SIMULATED if all(flags) else SIMULATED_IN_PART
