"""What the user answered about two visits, as the later one keeps it: spots matched by hand, and the same home."""

from __future__ import annotations

import json

from logger.report.compare.compared_visit import first_moment_ns
from logger.report.compare.spot_matching import Partners
from logger.visit.records.fact_names import MATCHED_SPOTS, SAME_HOME
from logger.visit.storage.visit_log import VisitLog

"""The fact in the later visit: JSON, {start of the earlier visit: {id of the spot before: id after, or null}}. Ids
outlast another name."""


def kept_matches(after: VisitLog, before: VisitLog) -> dict[int, int | None]:
    """Return which spots were matched by hand: id before to id after, or None for one that has no partner."""
    kept: dict[str, dict[str, int | None]] = json.loads(after.facts.get(MATCHED_SPOTS) or "{}")
    return {int(old_id): new_id for old_id, new_id in kept.get(_key(before), {}).items()}


def keep_matches(after: VisitLog, before: VisitLog, by_hand: Partners) -> None:
    """Keep what was matched by hand, in the later visit; a new match of a spot replaces an older one.

    Args:
        after: the later visit, which is written.
        before: the earlier visit.
        by_hand: id of a spot before to its id after, or None for one that has no partner.
    """
    kept: dict[str, dict[str, int | None]] = json.loads(after.facts.get(MATCHED_SPOTS) or "{}")
    rematched = set(by_hand.values()) - {None}
    older = {
        old_id: new_id for old_id, new_id in kept_matches(after, before).items() if new_id not in rematched
    }
    both = {str(old_id): new_id for old_id, new_id in (older | dict(by_hand)).items()}
    after.facts.set(MATCHED_SPOTS, json.dumps(kept | {_key(before): both}))


def is_same_home_by_hand(after: VisitLog, before: VisitLog) -> bool:
    """Return whether somebody has confirmed that both visits are of the same home."""
    return _key(before) in json.loads(after.facts.get(SAME_HOME) or "[]")


def keep_same_home(after: VisitLog, before: VisitLog) -> None:
    """Keep, in the later visit, that both are of the same home."""
    kept: list[str] = json.loads(after.facts.get(SAME_HOME) or "[]")
    if _key(before) not in kept:
        after.facts.set(SAME_HOME, json.dumps([*kept, _key(before)]))


def _key(log: VisitLog) -> str:
    """Return a key of a visit that holds wherever its file is and whatever its name."""
    return str(first_moment_ns(log) or "")
