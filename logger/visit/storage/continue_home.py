"""Begins a new visit of a home from an earlier one: what describes home and equipment, and nothing that was measured.

In: an earlier visit log. Out: a new one with its spots, circuits and cords, their details and photos, the set-up and
the circumstances but for those of the day, the practitioner, and the remedies that are open, each with what was read
before it was done. Readings, checks, conditions and nights stay in the earlier visit, which the new one names.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Iterable, Mapping, Sequence
from contextlib import closing, suppress
from dataclasses import replace
from pathlib import Path

from logger.clock import Clock, SystemClock
from logger.errors import StillvoltError
from logger.metrology.setup import Setup
from logger.visit.records.continued_home import ContinuedHome
from logger.visit.records.fact_names import CIRCUMSTANCES, CONTINUES_VISIT, PRACTITIONER, SETUP
from logger.visit.records.remedy_records import Remedy, RemedyBaseline
from logger.visit.storage import connection as _connection
from logger.visit.storage.detail_stores import insert_source_details, insert_spot_details
from logger.visit.storage.entry_checksum import keeping_checksums
from logger.visit.storage.photo_store import insert_photo
from logger.visit.storage.read_only import checked_log
from logger.visit.storage.remedy_store import insert_baseline, insert_entry, insert_remedy
from logger.visit.storage.visit_log import VisitLog

OpenRemedies = Callable[[VisitLog], Sequence[tuple[Remedy, Sequence[RemedyBaseline]]]]
"""Returns the open remedies of an earlier visit, each with what was read before it was done, by the ids there."""


def continue_home(before: Path, new: Path, open_remedies: OpenRemedies, clock: Clock | None = None) -> None:
    """Make a new visit log of the home of an earlier one.

    Args:
        before: the earlier visit; it stays as it is.
        new: the new visit log; must not exist.
        open_remedies: what is taken over of the plan (`logger.plan.continued_plan.open_remedies`).
        clock: injected time.

    Raises:
        StillvoltError: the earlier visit is damaged or none, or the new one cannot be made; then none is left.
    """
    clock = clock or SystemClock()
    with checked_log(before) as earlier:
        VisitLog.create(new, clock).close()
        try:
            with (
                closing(_connection.open_existing(new)) as db,
                _connection.transaction(db),
                keeping_checksums(db),
            ):
                _copy_home(earlier, before.name, db, clock.utc_ns(), open_remedies(earlier))
        except BaseException:
            for suffix in ("", "-wal", "-shm"):
                new.with_name(new.name + suffix).unlink(missing_ok=True)
            raise


def _copy_home(
    earlier: VisitLog,
    name: str,
    db: sqlite3.Connection,
    utc_ns: int,
    remedies: Sequence[tuple[Remedy, Sequence[RemedyBaseline]]],
) -> None:
    """Write the home within a transaction.

    Args:
        earlier: the earlier visit.
        name: of its file.
        db: connection to the new log.
        utc_ns: when it is begun: what is copied is stated anew then.
        remedies: that are open, with what was read before.
    """
    spot_ids = _copy_spots(earlier, db, utc_ns)
    _copy_photos(earlier, db, utc_ns, spot_ids)
    source_ids = _copy_circuits(earlier, db, utc_ns)
    source_ids |= _copy_removed(earlier, db, utc_ns, [remedy for remedy, _ in remedies], source_ids)
    _copy_remedies(remedies, db, utc_ns, name, spot_ids, source_ids)
    started = min((run.started_utc_ns for run in earlier.runs.all()), default=None)
    for fact, value in (
        (SETUP, _of_home(earlier.setup.current()).to_json()),
        (CIRCUMSTANCES, earlier.circumstances.current().of_home_and_equipment().to_json()),
        (PRACTITIONER, earlier.practitioner.current().to_json()),
        (CONTINUES_VISIT, ContinuedHome(name, started).as_fact()),
    ):
        db.execute("INSERT INTO fact (utc_ns, name, value) VALUES (?,?,?)", (utc_ns, fact, value))


def _of_home(setup: Setup) -> Setup:
    """What of the set-up still holds on another day: not how wet the ground is, nor what the laptop is plugged into."""
    return replace(setup, moisture="", on_battery=None, link_isolated=None)


def _copy_spots(earlier: VisitLog, db: sqlite3.Connection, utc_ns: int) -> dict[int, int]:
    """Copy the spots of the route; returns their new ids by their old ones."""
    ids, details = {}, earlier.spot_details.all()
    for position, spot in enumerate(earlier.spots.all(), 1):
        ids[spot.id] = new_id = _inserted(
            db,
            "INSERT INTO spot (name, position, room, reminder) VALUES (?,?,?,?)",
            (spot.name, float(position), spot.room, spot.reminder),
        )
        if spot.id in details and (of_spot := details[spot.id].of_spot()).is_recorded:
            insert_spot_details(db, utc_ns, new_id, of_spot)
    return ids


def _copy_photos(earlier: VisitLog, db: sqlite3.Connection, utc_ns: int, spot_ids: Mapping[int, int]) -> None:
    """Copy the photos of these spots, each with the moment at which it was first added; a damaged one stays behind."""
    for photo in earlier.photos.all().values():
        spot_id = spot_ids.get(photo.spot_id) if photo.spot_id is not None else None
        if spot_id is not None:
            with suppress(StillvoltError):
                jpeg = earlier.photos.picture(photo.id)
                insert_photo(db, replace(photo, spot_id=spot_id), jpeg, utc_ns)


def _copy_circuits(earlier: VisitLog, db: sqlite3.Connection, utc_ns: int) -> dict[int, int]:
    """Copy the circuits and cords of the list; returns their new ids by their old ones."""
    sources, details = earlier.circuits.all(), earlier.source_details.all()
    ids: dict[int, int] = {}
    positions = {source.id: float(position) for position, source in enumerate(sources, 1)}
    # A cord refers to its circuit, which may come after it in the list.
    for source in sorted(sources, key=lambda source: source.circuit_id is not None):
        ids[source.id] = new_id = _inserted(
            db,
            "INSERT INTO source (kind, name, position, circuit_id, two_pole, stays) VALUES (?,?,?,?,?,?)",
            (
                source.kind,
                source.name,
                positions[source.id],
                ids.get(source.circuit_id) if source.circuit_id is not None else None,
                source.two_pole,
                source.stays,
            ),
        )
        if source.id in details and details[source.id].is_recorded:
            insert_source_details(db, utc_ns, new_id, details[source.id])
    return ids


def _copy_removed(
    earlier: VisitLog,
    db: sqlite3.Connection,
    utc_ns: int,
    remedies: Sequence[Remedy],
    source_ids: Mapping[int, int],
) -> dict[int, int]:
    """Copy what remedies are about that is off the list by now, and stays off it; returns new ids by old ones."""
    wanted = {id_ for remedy in remedies for id_ in remedy.source_ids} - set(source_ids)
    removed = [source for source in earlier.circuits.with_removed().values() if source.id in wanted]
    return {
        source.id: _inserted(
            db,
            "INSERT INTO source (kind, name, position, two_pole, stays, removed_utc_ns) VALUES (?,?,?,?,?,?)",
            (source.kind, source.name, float(source.id), source.two_pole, source.stays, utc_ns),
        )
        for source in removed
    }


def _copy_remedies(
    remedies: Sequence[tuple[Remedy, Sequence[RemedyBaseline]]],
    db: sqlite3.Connection,
    utc_ns: int,
    visit: str,
    spot_ids: Mapping[int, int],
    source_ids: Mapping[int, int],
) -> None:
    """Enter the open remedies as they are decided now, with what was read before them.

    Args:
        remedies: of the earlier visit, by its ids.
        db: connection to the new log.
        utc_ns: when it is begun, UTC ns.
        visit: name of the earlier visit's file.
        spot_ids: new ids of spots by their old ones.
        source_ids: new ids of circuits and cords by their old ones.
    """

    def present(ids: Iterable[int]) -> frozenset[int]:
        return frozenset(source_ids[id_] for id_ in ids if id_ in source_ids)

    for remedy, baselines in remedies:
        new_id = insert_remedy(
            db,
            replace(
                remedy,
                source_ids=tuple(sorted(present(remedy.source_ids))),
                spot_id=spot_ids.get(remedy.spot_id) if remedy.spot_id is not None else None,
                from_visit=visit,
            ),
        )
        for entry in remedy.standing:
            insert_entry(db, new_id, replace(entry, corrects=None))
        for baseline in baselines:
            if baseline.spot_id in spot_ids:
                moved = replace(
                    baseline,
                    remedy_id=new_id,
                    spot_id=spot_ids[baseline.spot_id],
                    live=None if baseline.live is None else present(baseline.live),
                    listed=present(baseline.listed),
                )
                insert_baseline(db, utc_ns, moved)


def _inserted(db: sqlite3.Connection, sql: str, values: tuple[object, ...]) -> int:
    row_id = db.execute(sql, values).lastrowid
    assert row_id is not None
    return row_id
