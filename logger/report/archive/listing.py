"""What a search found, as text for a terminal and as JSON."""

from __future__ import annotations

from typing import Any

from logger.metrology.rounding import form_volts
from logger.plain_text import one_line
from logger.report.archive.entry import Highest
from logger.report.archive.search import Archive


def archive_text(archive: Archive) -> str:
    """Write a line for each visit, then what cannot be read."""
    lines = []
    for entry in archive.visits:
        what = ["DAMAGED OR CHANGED"] if entry.damage else []
        what += [entry.simulated.upper()] if entry.simulated else []
        what += ["SALVAGED"] if entry.salvaged else []
        what.append(f"{entry.readings} readings")
        what += [
            f"{word} up to {form_volts(highest.volts)} V ({highest.spot})"
            for word, highest in (("on", entry.highest_on), ("off", entry.highest_off))
            if highest
        ]
        what += [word for word, holds in (("sweep", entry.has_sweep), ("night", entry.has_night)) if holds]
        day = entry.day.isoformat() if entry.day else "no date   "
        last_day = max((ended for _, ended in entry.stretches), default=entry.day)
        day += f" to {last_day.isoformat()}" if last_day and last_day != entry.day else ""
        rooms = ", ".join(entry.rooms) or "no rooms"
        lines.append(
            f"{day}  {entry.household or '(no household)'}: {rooms}; {', '.join(what)}  [{entry.path}]"
        )
    lines.append(f"{len(archive.visits)} of {archive.visit_count} visits")
    lines += [f"left alone: {refused.path}: {refused.reason}" for refused in archive.refused]
    return "\n".join(map(one_line, lines))


def archive_json(archive: Archive) -> dict[str, Any]:
    """Return what other programs get."""

    def highest(value: Highest | None) -> dict[str, Any] | None:
        return {"volts": value.volts, "spot": value.spot} if value else None

    return {
        "visits": [
            {
                "path": str(entry.path),
                "version": entry.version,
                "household": entry.household,
                "date": entry.day.isoformat() if entry.day else None,
                "recorded_or_read": [
                    {"first": began.isoformat(), "last": ended.isoformat()}
                    for began, ended in entry.stretches
                ],
                "rooms": list(entry.rooms),
                "spots": list(entry.spots),
                "readings": entry.readings,
                "highest_on": highest(entry.highest_on),
                "highest_off": highest(entry.highest_off),
                "has_sweep": entry.has_sweep,
                "has_night": entry.has_night,
                "recording": entry.recording,
                "damage": entry.damage,
                "simulated": bool(entry.simulated),
                "simulated_part": entry.simulated,
                "salvaged": entry.salvaged,
            }
            for entry in archive.visits
        ],
        "refused": [{"path": str(refused.path), "reason": refused.reason} for refused in archive.refused],
        "looked_at": archive.visit_count,
    }
