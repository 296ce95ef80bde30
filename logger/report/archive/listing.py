"""What a search found, as text for a terminal and as JSON."""

from __future__ import annotations

from typing import Any

from logger.metrology.rounding import DECIMALS_WITHOUT_UNCERTAINTY, fixed
from logger.name_list import listed
from logger.plain_text import one_line
from logger.report.archive.entry import ArchiveEntry, Highest
from logger.report.archive.search import Archive
from logger.translation import marked, tr, tr_kept, tr_n
from logger.visit.records.simulated_run import SIMULATED, SIMULATED_IN_PART

DAY_LETTERS = 10
"""A date has so many."""

_SIMULATED_WORDS = {
    SIMULATED: marked("SIMULATED"),
    SIMULATED_IN_PART: marked("SIMULATED IN PART"),
}
"""How much of a visit is simulated, as it stands in a line."""


def archive_text(archive: Archive) -> str:
    """Write a line for each visit, then what cannot be read."""
    lines = []
    for entry in archive.visits:
        household = entry.household or tr("(no household)")
        rooms, facts = listed([*map(tr_kept, entry.rooms)]) or tr("no rooms"), listed(_facts(entry))
        lines.append(f"{_days(entry)}  {household}: {rooms}; {facts}  [{entry.path}]")
    n = archive.visit_count
    lines.append(
        tr_n("{found} of {n} visit", "{found} of {n} visits", n).format(found=len(archive.visits), n=n)
    )
    lines += [
        tr("left alone: {file}: {reason}").format(file=refused.path, reason=refused.reason)
        for refused in archive.refused
    ]
    return "\n".join(map(one_line, lines))


def _facts(entry: ArchiveEntry) -> list[str]:
    """What there is of a visit, in a few words each."""
    facts = [tr("DAMAGED OR CHANGED")] if entry.damage else []
    facts += [tr(_SIMULATED_WORDS[entry.simulated])] if entry.simulated else []
    facts += [tr("SALVAGED")] if entry.salvaged else []
    facts.append(tr_n("{n} reading", "{n} readings", entry.readings).format(n=entry.readings))
    facts += [
        text.format(volts=fixed(highest.volts, DECIMALS_WITHOUT_UNCERTAINTY), spot=highest.spot)
        for sure, contradicted, highest in (
            (
                tr("highest on {volts} V ({spot})"),
                tr("highest on {volts} V ({spot}, READINGS CONTRADICT EACH OTHER)"),
                entry.highest_on,
            ),
            (
                tr("highest off {volts} V ({spot})"),
                tr("highest off {volts} V ({spot}, READINGS CONTRADICT EACH OTHER)"),
                entry.highest_off,
            ),
        )
        if highest
        for text in [contradicted if highest.contradicted else sure]
    ]
    facts += [tr("sweep")] if entry.has_sweep else []
    facts += [tr("night")] if entry.has_night else []
    n = entry.open_remedies
    facts += [tr_n("{n} open remedy", "{n} open remedies", n).format(n=n)] if n else []
    return facts


def _days(entry: ArchiveEntry) -> str:
    """The first day of a visit, and its last one where that is another."""
    if entry.day is None:
        return tr("no date").ljust(DAY_LETTERS)
    last_day = max((ended for _, ended in entry.stretches), default=entry.day)
    if last_day == entry.day:
        return entry.day.isoformat()
    return tr("{day} to {last_day}").format(day=entry.day.isoformat(), last_day=last_day.isoformat())


def archive_json(archive: Archive) -> dict[str, Any]:
    """Return what other programs get."""

    def highest(value: Highest | None) -> dict[str, Any] | None:
        if value is None:
            return None
        return {"volts": value.volts, "spot": value.spot, "contradicted": value.contradicted}

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
                "open_remedies": entry.open_remedies,
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
