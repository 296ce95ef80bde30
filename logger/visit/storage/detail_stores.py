"""Details of spots, and of circuits and cords: each change is a row of its own, and the newest one of each holds."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Mapping, Sequence
from dataclasses import replace

from logger.visit.records.fact_names import CORRECTS_DESCRIPTION, FURTHER_OF_DESCRIPTION, FURTHER_OF_SOURCE
from logger.visit.records.held_fields import completes, described_at
from logger.visit.records.home_details import (
    FURTHER_FIELDS,
    FURTHER_OF_SOURCES,
    MAX_HEIGHT_M,
    SourceDetails,
    SpotDetails,
)
from logger.visit.records.kept_line import is_length
from logger.visit.records.kept_object import kept_object
from logger.visit.records.practitioner import why_not_a_line
from logger.visit.storage.fact_store import FactStore
from logger.visit.storage.log_connection import LogConnection

ROW = "description"
"""Key of the id of the row that a fact belongs to."""


class SpotDetailStore:
    """The details of the spots.

    Args:
        connection: the open log.
        facts: which entries correct the one before.
    """

    def __init__(self, connection: LogConnection, facts: FactStore) -> None:
        self._connection = connection
        self._facts = facts

    def all(self) -> dict[int, SpotDetails]:
        """What holds now, by the id of the spot; a spot of which nothing was ever entered is missing."""
        further = self._further()
        rows = self._connection.all("SELECT * FROM spot_detail ORDER BY id")
        return {r["spot_id"]: _spot(r, further) for r in rows}

    def history(self, spot_id: int) -> list[SpotDetails]:
        """All that was ever entered of a spot, oldest first."""
        rows = self._connection.all("SELECT * FROM spot_detail WHERE spot_id = ? ORDER BY id", (spot_id,))
        further = self._further()
        return [_spot(r, further) for r in rows]

    def at(self, spot_id: int, utc_ns: int) -> SpotDetails:
        """What held at a moment; what was not recorded by then is what was recorded of it first.

        Args:
            spot_id: of the spot.
            utc_ns: the moment, UTC ns.
        """
        return self.at_moments([(spot_id, utc_ns)])[0]

    def at_moments(self, moments: Sequence[tuple[int, int]]) -> list[SpotDetails]:
        """What held of spots at moments, as `at` has it.

        Args:
            moments: each a spot's id and the moment, UTC ns.
        """
        entered: dict[int, list[tuple[int, SpotDetails]]] = {}
        corrections = {
            int(value) for _, value in self._facts.values_of(CORRECTS_DESCRIPTION) if value.isdecimal()
        }
        further = self._further()
        for r in self._connection.all("SELECT * FROM spot_detail ORDER BY id"):
            of_spot = entered.setdefault(r["spot_id"], [])
            since_ns = r["utc_ns"]
            if r["id"] in corrections and of_spot:
                # It was so already when the description before was entered, which may have been completed since.
                since_ns, corrected = of_spot.pop()
                while of_spot and completes(corrected, of_spot[-1][1], SpotDetails()):
                    since_ns, corrected = of_spot.pop()
            of_spot.append((since_ns, _spot(r, further)))
        return [described_at(entered.get(spot_id, []), utc_ns, SpotDetails()) for spot_id, utc_ns in moments]

    def correct_earlier(self, spot_id: int) -> None:
        """State that the newest description corrects the one before: it was so at the readings of then already."""
        with self._connection.writing():
            rows = self._connection.all(
                "SELECT id FROM spot_detail WHERE spot_id = ? ORDER BY id DESC LIMIT 1", (spot_id,)
            )
            if rows:
                self._facts.insert(CORRECTS_DESCRIPTION, str(rows[0]["id"]))

    def set(self, spot_id: int, details: SpotDetails) -> None:
        """Enter what holds of a spot from now on; what is as it was is not entered again.

        Raises:
            StillvoltError: a text or the height cannot be kept; nothing is entered.
        """
        details = details.kept()
        with self._connection.writing():
            if details == self.all().get(spot_id, SpotDetails()):
                return
            insert_spot_details(self._connection.db, self._connection.clock.utc_ns(), spot_id, details)

    def _further(self) -> dict[int, dict[str, str]]:
        return _further_of(self._facts, FURTHER_OF_DESCRIPTION, FURTHER_FIELDS)


def _further_of(facts: FactStore, name: str, fields: Sequence[str]) -> dict[int, dict[str, str]]:
    """What details have besides their rows, by the id of the row; what no window would write is left out."""
    found: dict[int, dict[str, str]] = {}
    for _, value in facts.values_of(name):
        data = kept_object(value)
        row_id = data.get(ROW)
        if isinstance(row_id, int) and not isinstance(row_id, bool):
            found[row_id] = {
                field: text
                for field in fields
                if isinstance(text := data.get(field), str) and not why_not_a_line(text)
            }
    return found


class SourceDetailStore:
    """The details of the circuits and cords.

    Args:
        connection: the open log.
        facts: what they have besides their rows.
    """

    def __init__(self, connection: LogConnection, facts: FactStore) -> None:
        self._connection = connection
        self._facts = facts

    def all(self) -> dict[int, SourceDetails]:
        """What holds now, by the id of the circuit or cord; one of which nothing was ever entered is missing."""
        rows = self._connection.all("SELECT * FROM source_detail ORDER BY id")
        further = _further_of(self._facts, FURTHER_OF_SOURCE, FURTHER_OF_SOURCES)
        return {r["source_id"]: _source(r, further) for r in rows}

    def history(self, source_id: int) -> list[SourceDetails]:
        """All that was ever entered of a circuit or cord, oldest first."""
        rows = self._connection.all(
            "SELECT * FROM source_detail WHERE source_id = ? ORDER BY id", (source_id,)
        )
        further = _further_of(self._facts, FURTHER_OF_SOURCE, FURTHER_OF_SOURCES)
        return [_source(r, further) for r in rows]

    def at(self, source_id: int, utc_ns: int) -> SourceDetails:
        """What held at a moment; before the first entry, that one. Nothing where there is none.

        Args:
            source_id: of the circuit or cord.
            utc_ns: the moment, UTC ns.
        """
        entered = self.history(source_id)
        before = [details for details in entered if details.utc_ns <= utc_ns]
        return before[-1] if before else entered[0] if entered else SourceDetails()

    def set(self, source_id: int, details: SourceDetails) -> None:
        """Enter what holds of a circuit or cord from now on; what is as it was is not entered again.

        Raises:
            StillvoltError: a text cannot be kept; nothing is entered.
        """
        details = details.kept()
        with self._connection.writing():
            if details == self.all().get(source_id, SourceDetails()):
                return
            insert_source_details(self._connection.db, self._connection.clock.utc_ns(), source_id, details)


def insert_spot_details(db: sqlite3.Connection, utc_ns: int, spot_id: int, details: SpotDetails) -> None:
    """Enter details of a spot as they are, within a transaction.

    Args:
        db: connection to the log.
        utc_ns: when they are entered, UTC ns.
        spot_id: of the spot.
        details: as they are kept.
    """
    row_id = db.execute(
        "INSERT INTO spot_detail (utc_ns, spot_id, posture, height_m, place, plugged, person, others, "
        "entered_by) VALUES (?,?,?,?,?,?,?,?,?)",
        (
            utc_ns, spot_id, details.posture, details.height_m, details.place, details.plugged, details.person,
            details.others, details.entered_by,
        ),
    ).lastrowid  # fmt: skip
    _insert_further(db, utc_ns, FURTHER_OF_DESCRIPTION, row_id, details, FURTHER_FIELDS)


def insert_source_details(
    db: sqlite3.Connection, utc_ns: int, source_id: int, details: SourceDetails
) -> None:
    """Enter details of a circuit or cord as they are, within a transaction.

    Args:
        db: connection to the log.
        utc_ns: when they are entered, UTC ns.
        source_id: of the circuit or cord.
        details: as they are kept.
    """
    row_id = db.execute(
        "INSERT INTO source_detail (utc_ns, source_id, panel, number, rating, leg, residual_current_device, "
        "feeds, outlet, entered_by) VALUES (?,?,?,?,?,?,?,?,?,?)",
        (
            utc_ns, source_id, details.panel, details.number, details.rating, details.leg,
            details.residual_current_device, details.feeds, details.outlet, details.entered_by,
        ),
    ).lastrowid  # fmt: skip
    _insert_further(db, utc_ns, FURTHER_OF_SOURCE, row_id, details, FURTHER_OF_SOURCES)


def _insert_further(
    db: sqlite3.Connection,
    utc_ns: int,
    fact: str,
    row_id: int | None,
    details: SpotDetails | SourceDetails,
    fields: Sequence[str],
) -> None:
    """Enter what details have besides their row; nothing where they have nothing."""
    if further := {name: text for name in fields if (text := getattr(details, name))}:
        value = json.dumps({ROW: row_id, **further})
        db.execute("INSERT INTO fact (utc_ns, name, value) VALUES (?,?,?)", (utc_ns, fact, value))


def _spot(r: sqlite3.Row, further: Mapping[int, Mapping[str, str]]) -> SpotDetails:
    details = SpotDetails(
        r["posture"], r["height_m"], r["place"], r["plugged"], r["person"], r["others"], r["entered_by"], r["utc_ns"],
        **further.get(r["id"], {}),
    )  # fmt: skip
    # A height that nobody can have entered is none.
    return details if is_length(details.height_m, MAX_HEIGHT_M) else replace(details, height_m=None)


def _source(r: sqlite3.Row, further: Mapping[int, Mapping[str, str]]) -> SourceDetails:
    return SourceDetails(
        r["panel"], r["number"], r["rating"], r["leg"], r["residual_current_device"], r["feeds"], r["outlet"],
        r["entered_by"], r["utc_ns"], **further.get(r["id"], {}),
    )  # fmt: skip
