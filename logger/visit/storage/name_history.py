"""What is on, as words of the log, by the present names of circuits and cords: the names of then are looked up.

What was stated, entered for a night or planned for it is kept in words, with the names that held at that moment. Names
change afterwards, or are exchanged, as where the labels of a panel are put right: the words must go on to mean the same
breakers. Each other name is a fact. Logs of versions that kept none still have the order of all entries, and readings
of which the circuits are known one by one: between two changes of a circuit its name was the same.
"""

from __future__ import annotations

import json
import re
from bisect import bisect_right
from collections.abc import Callable, Container, Iterator, Sequence
from typing import Any, NamedTuple

from logger.translation import kept_text
from logger.visit.records.condition import EVERYTHING_OFF, EVERYTHING_ON, OUTSIDE_WALK, unlisted_on
from logger.visit.records.essential_circuits import why_it_stays
from logger.visit.records.fact_names import (
    CONDITION,
    CONDITION_BEGUN,
    CONDITION_ENDED,
    NIGHT_CONDITION,
    RENAMED,
    SCHEDULE,
)
from logger.visit.records.name_key import name_key
from logger.visit.records.named_condition import NAMED
from logger.visit.storage.correction_rows import live_and_listed
from logger.visit.storage.log_connection import LogConnection

NAMES_OF_THEN = kept_text("{condition}, by the names of that time")
"""Where a name has changed since, and the log does not say when: nobody knows which circuit it was."""

_SWITCHED = re.compile(
    r"(?P<names>.+?)(?: (?:on|off|ein|an|aus|encendid[oa]s?|apagad[oa]s?|allumée?s?|éteinte?s?))",
    re.IGNORECASE,
)
"""What somebody types of circuits, in the languages of the program: 'Kitchen off'."""

_PLANNED = re.compile(r"(?P<time>\s*\d{1,2}[:.h]\d{2}\s*:?\s+)(?P<what>.*\S)(?P<rest>\s*)", re.DOTALL)

_JSON_FACTS = (CONDITION_BEGUN, CONDITION_ENDED, NIGHT_CONDITION)
FACTS_WITH_NAMES = (CONDITION, SCHEDULE, *_JSON_FACTS)
"""Facts whose words may name circuits and cords."""

MOST_NAMES = 200
"""A text with more parts than that is no list of circuits."""


class _Named(NamedTuple):
    """Ids of the circuits and cords of a name at an entry.

    Args:
        sure: that had it.
        likely: that had it, as far as the log shows: it shows no other name of theirs, and none of then.
        perhaps: that had it before or after.
    """

    sure: list[int]
    likely: list[int]
    perhaps: list[int]


class NameHistory:
    """The names of the circuits and cords of a visit at each of its entries.

    Args:
        connection: the open log.
    """

    def __init__(self, connection: LogConnection) -> None:
        self._connection = connection
        self._now: dict[int, str] = {}
        self._kinds: dict[int, str] = {}
        self._may_stay: frozenset[int] = frozenset()
        self._removed: dict[int, int] = {}
        self._changes: dict[int, list[int]] = {}
        self._came: dict[int, int] = {}
        self._known: dict[int, dict[int, set[str]]] = {}
        self._read_to = -1

    def present(self, fact: str, fact_id: int, value: str) -> str:
        """The value of a fact by the present names; as it is where it names none, or none has changed.

        Args:
            fact: its name.
            fact_id: of its row.
            value: as it is kept.
        """
        if fact not in FACTS_WITH_NAMES or not value or not self._read():
            return value
        place = self._place("fact", fact_id)
        if fact in _JSON_FACTS:
            return _with_condition(value, lambda text: self._present_words(text, place))
        if fact == SCHEDULE:
            return "".join(self._present_entry(part, place) for part in re.split(r"([;\n])", value))
        return self._present_words(value, place)

    def present_condition(self, table: str, entry_id: int, condition: str) -> str:
        """What was on by the present names, where it has words only; see `present`.

        Args:
            table: of the entry that has the words: "reading", or "reading_correction".
            entry_id: of its row.
            condition: as it is kept.
        """
        if condition in ("", EVERYTHING_ON, EVERYTHING_OFF, OUTSIDE_WALK) or not self._read():
            return condition
        return self._present_words(condition, self._place(table, entry_id))

    def live_in_words(
        self, condition: str, entry: tuple[str, int] | None = None, utc_ns: int = 0
    ) -> tuple[frozenset[int], frozenset[int]] | None:
        """What was live, and what was listed, by words that name it wholly; None where they leave anything open.

        Words that name what was on leave open what must stay on, and what an older version listed nobody knows when.

        Args:
            condition: as it is kept, by the names of then.
            entry: table and id of the row that has the words; None: they are entered now.
            utc_ns: when they were entered.
        """
        match = NAMED.fullmatch(condition)
        if match is None or (match["circuits"], match["out"]) == (None, None):
            return None
        self._read()
        place = self._read_to if entry is None else self._checked_place(*entry)
        if not place:
            return None
        listed = {
            one
            for one in self._now
            if self._came.get(one, 0) <= place
            and (one not in self._removed or (entry is not None and self._removed[one] > utc_ns))
        }
        circuits = {one for one in listed if self._kinds[one] == "circuit"}
        named = self._sure_ids(match["circuits"], place, circuits)
        out = self._sure_ids(match["out"], place, listed - circuits)
        if named is None or out is None:
            return None
        if unlisted_on(condition):
            return frozenset(listed - named - out), frozenset(listed)
        off = circuits - named
        # Whoever switches off all but some may leave on what must stay, and a mark set later does not tell what was.
        if off & self._may_stay or not all(self._came.get(one) for one in self._now):
            return None
        return frozenset(listed - off - out), frozenset(listed)

    def _sure_ids(self, text: str | None, place: int, of: Container[int]) -> frozenset[int] | None:
        """The circuits or cords that a list of names surely means; nothing without a list, None where it is not sure.

        Args:
            text: names with commas between them.
            place: of the entry in the order of all.
            of: ids of those that it may name.
        """
        if text is None:
            return frozenset()
        then, parts = self._names_at(place), text.split(", ")
        lists = list(_lists_of(parts, then)) if len(parts) <= MOST_NAMES else []
        if len(lists) != 1:
            return None
        found = []
        for name in lists[0]:
            ids = [one for one in (*then[name].sure, *then[name].likely, *then[name].perhaps) if one in of]
            if len(ids) != 1 or ids[0] not in then[name].sure or ids[0] in found:
                return None
            found.append(ids[0])
        return frozenset(found)

    def _present_entry(self, text: str, place: int) -> str:
        match = _PLANNED.fullmatch(text)
        if match is None:
            return text
        return match["time"] + self._present_words(match["what"], place) + match["rest"]

    def _present_words(self, text: str, place: int) -> str:
        """A text by the present names; as it is where it is not known whether its words are names.

        Args:
            text: as it was entered.
            place: of its entry in the order of all.
        """
        # Of a label the last part first: the places before it stay.
        parts = ("out", "circuits") if (match := NAMED.fullmatch(text)) is not None else ("names",)
        if match is None and (match := _SWITCHED.fullmatch(text)) is None:
            return text
        found = text
        for part in parts:
            if match[part] is None:
                continue
            names = self._present_list(match[part], place)
            if names is None:
                return NAMES_OF_THEN.format(condition=text)
            found = found[: match.start(part)] + names + found[match.end(part) :]
        return found

    def _present_list(self, text: str, place: int) -> str | None:
        """A list of names by the present ones; as it is where it is none, None where nobody knows which are meant.

        Args:
            text: names with commas between them, each of which may have commas itself.
            place: of the entry in the order of all.
        """
        then = self._names_at(place)
        parts = text.split(", ")
        if len(parts) > MOST_NAMES:
            return text
        lists = [found for _, found in zip(range(2), _lists_of(parts, then), strict=False)]
        if not lists:
            return text
        present = [self._present_name(then[name]) for name in lists[0]]
        return None if len(lists) > 1 or None in present else ", ".join(filter(None, present))

    def _names_at(self, place: int) -> dict[str, _Named]:
        """Which circuits and cords had a name at an entry, by the key of the name.

        Args:
            place: of the entry in the order of all.
        """
        found: dict[str, _Named] = {}
        for source_id, known in self._known.items():
            if self._came.get(source_id, 0) > place:
                continue
            names = known.get(self._epoch(source_id, place), set())
            ever = {name for of_epoch in known.values() for name in of_epoch}
            for name in names or ever:
                of_name = found.setdefault(name_key(name), _Named([], [], []))
                surest = (
                    of_name.sure if len(names) == 1 else of_name.likely if len(ever) == 1 else of_name.perhaps
                )
                surest.append(source_id)
        return found

    def _present_name(self, named: _Named) -> str | None:
        """The present name of what had one at an entry; None where nobody knows what that was.

        Args:
            named: what had it, and what may have had it.
        """
        # Two of the list never have one name: one of two was taken off before the other came.
        for ids in (named.sure, [*named.sure, *named.likely, *named.perhaps]):
            listed = [one for one in ids if one not in self._removed]
            if len(listed) == 1 and (ids is named.sure or not named.perhaps):
                return self._now[listed[0]]
        names = {self._now[one] for one in (*named.sure, *named.likely)}
        return next(iter(names)) if len(names) == 1 and not named.perhaps else None

    def _epoch(self, source_id: int, place: int) -> int:
        """How often a circuit or cord had been changed at an entry."""
        return max(bisect_right(self._changes[source_id], place) - 1, 0)

    # --- what the log holds -------------------------------------------------------------------------------

    def _place(self, table: str, entry_id: int) -> int:
        row = self._connection.one(
            "SELECT coalesce(min(id), 0) FROM entry_checksum WHERE entry_table = ? AND entry_id = ?",
            (table, entry_id),
        )
        return int(row[0])

    def _checked_place(self, table: str, entry_id: int) -> int:
        """The place of an entry; 0 where an older version wrote it, whose place in the order is none in time."""
        row = self._connection.one(
            "SELECT coalesce(min(id), 0) FROM entry_checksum WHERE entry_table = ? AND entry_id = ? "
            "AND length(digest) > 0",
            (table, entry_id),
        )
        return int(row[0])

    def _read(self) -> bool:
        """Read what is new; False where nothing on the list was ever changed."""
        newest = int(self._connection.one("SELECT coalesce(max(id), 0) FROM entry_checksum")[0])
        if newest != self._read_to:
            self._read_to = newest
            self._read_changes()
        return any(len(changes) > 1 for changes in self._changes.values())

    def _read_changes(self) -> None:
        rows = self._connection.all("SELECT * FROM source ORDER BY position, id")
        self._now = {row["id"]: row["name"] for row in rows}
        self._kinds = {row["id"]: row["kind"] for row in rows}
        self._may_stay = frozenset(row["id"] for row in rows if row["stays"] or why_it_stays(row["name"]))
        self._removed = {
            row["id"]: row["removed_utc_ns"] for row in rows if row["removed_utc_ns"] is not None
        }
        self._changes = {source_id: [] for source_id in self._now}
        self._came = {}
        for row in self._connection.all(
            "SELECT id, entry_id, length(digest) AS length FROM entry_checksum WHERE entry_table = 'source' ORDER BY id"
        ):
            self._changes.setdefault(row["entry_id"], []).append(row["id"])
            # What an older version wrote has no checksum, and its place is none in time.
            self._came.setdefault(row["entry_id"], row["id"] if row["length"] else 0)
        self._known = {
            source_id: {max(len(self._changes[source_id]) - 1, 0): {name}}
            for source_id, name in self._now.items()
        }
        of_facts = self._read_renamed()
        for source_id, place, name in self._names_in_readings():
            epoch = self._epoch(source_id, place)
            last = len(self._changes[source_id]) - 1
            if epoch < last and epoch < of_facts.get(source_id, last):
                self._known[source_id].setdefault(epoch, set()).add(name)

    def _read_renamed(self) -> dict[int, int]:
        """Take over the facts of other names; return from which change on they tell the name, by circuit or cord."""
        rows = self._connection.all(
            "SELECT min(entry_checksum.id) AS place, value FROM fact JOIN entry_checksum "
            "ON entry_table = 'fact' AND entry_id = fact.id WHERE name = ? GROUP BY fact.id ORDER BY fact.id",
            (RENAMED,),
        )
        since: dict[int, int] = {}
        told: dict[int, tuple[int, str]] = {}
        for row in rows:
            change = _renamed(row["value"])
            if change is None or change[0] not in self._now:
                continue
            source_id, before, after = change
            known, epoch = self._known[source_id], self._epoch(source_id, row["place"])
            from_epoch, name = told.get(source_id, (epoch - 1, before))
            # Another name before than after the last change: a version that keeps no such fact was at work between.
            for earlier in range(from_epoch if name == before else epoch - 1, epoch):
                if earlier >= 0:
                    known[earlier] = {before}
                    since.setdefault(source_id, earlier)
            known[epoch] = {after}
            told[source_id] = epoch, after
        for source_id, (epoch, name) in told.items():
            if name == self._now[source_id]:
                for later in range(epoch, len(self._changes[source_id])):
                    self._known[source_id][later] = {name}
        return since

    def _names_in_readings(self) -> Iterator[tuple[int, int, str]]:
        """Names that readings prove: of which circuit or cord, at which place in the order of entries, which name."""
        rows = self._connection.all(
            "SELECT condition, live, min(entry_checksum.id) AS place FROM reading JOIN entry_checksum "
            "ON entry_table = 'reading' AND entry_id = reading.id WHERE live != '' GROUP BY reading.id"
        )
        for row in rows:
            match = NAMED.fullmatch(row["condition"])
            live, listed = live_and_listed(row["live"])
            if match is None or live is None:
                continue
            off = listed - live
            circuits = {
                one for one in (live if match["state"] == "on" else off) if self._kinds.get(one) == "circuit"
            }
            for names, ids in (
                (match["circuits"], circuits),
                (match["out"], {one for one in off if self._kinds.get(one) == "cord"}),
            ):
                if names is not None and len(ids) == 1:
                    yield next(iter(ids)), row["place"], names


def _lists_of(parts: Sequence[str], then: Container[str]) -> Iterator[list[str]]:
    """Each way in which parts between commas are names, as the keys of these.

    Args:
        parts: of the text.
        then: the names, by their keys.
    """
    ends: list[list[list[str]]] = [[[]]]
    for end in range(1, len(parts) + 1):
        here: list[list[str]] = []
        for start in range(end):
            key = name_key(", ".join(parts[start:end]))
            if key in then:
                here += [[*found, key] for found in ends[start]]
        ends.append(here[:2])
    yield from ends[-1]


def _renamed(value: str) -> tuple[int, str, str] | None:
    """Which circuit or cord was renamed, from what and to what; None where the text is no such fact."""
    try:
        kept = json.loads(value)
        return int(kept["source_id"]), str(kept["before"]), str(kept["after"])
    except (ValueError, KeyError, TypeError, RecursionError):
        return None


def _with_condition(value: str, present: Callable[[str], str]) -> str:
    """A fact in JSON with another wording of its condition; as it is where it is none.

    Args:
        value: as it is kept.
        present: gives the condition by the present names.
    """
    try:
        kept: Any = json.loads(value)
        condition = kept["condition"]
    except (ValueError, KeyError, TypeError, RecursionError):
        return value
    if not isinstance(condition, str) or not condition:
        return value
    return json.dumps({**kept, "condition": present(condition)})
