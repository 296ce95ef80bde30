"""The remedies of a visit log: entered, decided, taken back, never changed; hostile and damaged content."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest

from logger.clock import NS_PER_S, ManualClock
from logger.errors import StillvoltError
from logger.visit import VisitLog
from logger.visit.records.remedy_records import Remedy, RemedyDecision, RemedyEntry, RemedyKind
from logger.visit.results.remedy_in_force import InForce
from logger.visit.storage.salvage import salvage
from logger.visit.storage.verification import verify

PLANNED = RemedyEntry(0, RemedyDecision.PLANNED, due="2026-02-01", by_whom="the household")


@pytest.fixture
def clock():
    return ManualClock()


@pytest.fixture
def log(tmp_path, clock):
    with closing(VisitLog.create(tmp_path / "home.visit", clock)) as log:
        yield log


def lamp(log):
    return log.circuits.add("cord", "Lamp").id


def test_history_stays_and_the_newest_decision_holds(log):
    remedy = log.remedies.add(RemedyKind.UNPLUG, PLANNED, [lamp(log)])
    log.remedies.decide(remedy.id, RemedyEntry(0, RemedyDecision.DONE, note="by hand"))
    (found,) = log.remedies.all()
    assert found.decision is RemedyDecision.DONE and found.is_open and found.note == "by hand"
    assert (found.due, found.by_whom) == ("2026-02-01", "the household"), "as stated last"
    log.remedies.decide(remedy.id, RemedyEntry(0, RemedyDecision.NOT_WANTED))
    (found,) = log.remedies.all()
    assert [entry.decision for entry in found.entries] == ["planned", "done", "not wanted"]
    assert found.done is None and not found.is_open


def test_taking_back_appends_and_can_be_taken_back_itself(log):
    remedy = log.remedies.add(RemedyKind.UNPLUG, PLANNED, [lamp(log)])
    done = log.remedies.decide(remedy.id, RemedyEntry(0, RemedyDecision.DONE))
    back = log.remedies.take_back(remedy.id, done.id, "A. Example")
    (found,) = log.remedies.all()
    assert found.decision is RemedyDecision.PLANNED and len(found.entries) == 3
    assert (back.decision, back.due, back.entered_by) == ("planned", "2026-02-01", "A. Example")
    log.remedies.take_back(remedy.id, back.id)
    assert log.remedies.all()[0].decision is RemedyDecision.DONE
    first = log.remedies.all()[0].entries[0]
    log.remedies.take_back(remedy.id, done.id)
    log.remedies.take_back(remedy.id, first.id)
    assert log.remedies.all()[0].newest is None, "as if nobody had ever entered it"


def test_nothing_is_undone_before_it_was_done(log, clock):
    remedy = log.remedies.add(RemedyKind.UNPLUG, PLANNED, [lamp(log)])
    today = datetime.fromtimestamp(clock.utc_ns() / NS_PER_S).astimezone().date()
    log.remedies.decide(remedy.id, RemedyEntry(0, RemedyDecision.DONE, done_on=today.isoformat()))
    earlier = (today - timedelta(days=8)).isoformat()
    with pytest.raises(StillvoltError, match=f"{earlier} lies before {today}"):
        log.remedies.decide(remedy.id, RemedyEntry(0, RemedyDecision.UNDONE, done_on=earlier))
    assert log.remedies.all()[0].done is not None
    log.remedies.decide(remedy.id, RemedyEntry(0, RemedyDecision.UNDONE, done_on=today.isoformat()))
    assert log.remedies.all()[0].done is None


@pytest.mark.parametrize(
    "verb", ["UPDATE remedy_entry SET decision = 'done'", "DELETE FROM remedy", "DELETE FROM remedy_baseline"]
)
def test_nothing_is_ever_changed_or_deleted(log, verb):
    log.remedies.add(RemedyKind.UNPLUG, PLANNED, [lamp(log)])
    with closing(sqlite3.connect(log.path)) as db:
        db.execute(
            "INSERT INTO remedy_baseline VALUES "
            "(1, 1, 1, 1, 1, '', '', '', 0.1, 0.1, '', '', 0.1, 4.0, NULL, NULL, NULL, NULL)"
        )
        with pytest.raises(sqlite3.IntegrityError):
            db.execute(verb)


@pytest.mark.parametrize(
    ("kind", "entry", "text", "what"),
    [
        (RemedyKind.OWN, PLANNED, "", "needs words"),
        (RemedyKind.OWN, PLANNED, "a" * 201, "201"),
        (RemedyKind.OWN, PLANNED, "a\u202eb", "cannot be seen"),
        (RemedyKind.MOVE, replace(PLANNED, distance_m=51.0), "", "50 m"),
        (RemedyKind.MOVE, replace(PLANNED, distance_m=float("nan")), "", "50 m"),
        (RemedyKind.MOVE, replace(PLANNED, due="next week"), "", "2026-03-31"),
        (RemedyKind.MOVE, replace(PLANNED, done_on="31.3.2026"), "", "2026-03-31"),
        (RemedyKind.MOVE, RemedyEntry(0, RemedyDecision.DONE, done_on="2026-01-05"), "", "yet to come"),
    ],
)
def test_what_cannot_be_kept_is_refused_whole(log, kind, entry, text, what):
    with pytest.raises(StillvoltError, match=what):
        log.remedies.add(kind, entry, text=text)
    assert log.remedies.all() == []


@pytest.mark.parametrize(
    ("change", "is_found"),
    [
        ("UPDATE remedy SET kind = 'pray'", True),
        ("UPDATE remedy SET sources = '[[[['", True),
        ("UPDATE remedy SET sources = '[true]'", True),
        ("UPDATE remedy_entry SET decision = 'sold'", True),
        ("UPDATE remedy_entry SET due = 'tomorrow'", True),
        ("UPDATE remedy SET text = 'changed'", True),
        ("UPDATE remedy SET text = text", False),
    ],
)
def test_a_changed_remedy_is_refused_or_told_and_salvage_reads_its_own_log(tmp_path, clock, change, is_found):
    path = tmp_path / "home.visit"
    with closing(VisitLog.create(path, clock)) as log:
        log.remedies.add(RemedyKind.UNPLUG, PLANNED, [lamp(log)])
    with closing(sqlite3.connect(path)) as db:
        for (name,) in db.execute("SELECT name FROM sqlite_schema WHERE type = 'trigger'").fetchall():
            db.execute(f"DROP TRIGGER {name}")
        db.execute(change)
        db.commit()
    with closing(VisitLog.create(tmp_path / "as it should be.visit", clock)):
        pass
    with (
        closing(sqlite3.connect(tmp_path / "as it should be.visit")) as sound,
        closing(sqlite3.connect(path)) as db,
    ):
        for (sql,) in sound.execute("SELECT sql FROM sqlite_schema WHERE type = 'trigger'").fetchall():
            db.execute(sql)
        db.commit()
    assert verify(path).sound is not is_found
    new = tmp_path / "new.visit"
    salvage(path, new)
    with closing(VisitLog.open(new)) as log:
        assert len(log.remedies.all()) <= 1 and log.circuits.all()[0].name == "Lamp"


def test_a_salvaged_remedy_keeps_a_place_for_its_lost_lamp(tmp_path, clock):
    path = tmp_path / "home.visit"
    with closing(VisitLog.create(path, clock)) as log:
        log.remedies.add(RemedyKind.UNPLUG, PLANNED, [lamp(log)])
    with closing(sqlite3.connect(path)) as db:
        db.execute("DELETE FROM source")
        db.commit()
    salvage(path, tmp_path / "new.visit")
    with closing(VisitLog.open(tmp_path / "new.visit")) as log:
        (remedy,) = log.remedies.all()
        (source,) = log.circuits.all()
        assert remedy.source_ids == (source.id,) and "lost" in source.name


def entry(decision, utc_ns, done_on="", number=1):
    return RemedyEntry(utc_ns, decision, done_on=done_on, id=number)


def test_a_remedy_is_in_force_from_when_it_was_done_until_it_was_undone():
    def day_of(utc_ns):
        return datetime.fromtimestamp(utc_ns // NS_PER_S, UTC).date()

    day = 86_400 * NS_PER_S
    entries = (
        entry(RemedyDecision.PLANNED, 10 * day, number=1),
        entry(RemedyDecision.DONE, 20 * day + 5, "1970-01-16", number=2),
        entry(RemedyDecision.UNDONE, 30 * day + 5, number=3),
    )
    in_force = InForce(Remedy(1, 0, RemedyKind.UNPLUG, entries=entries), day_of)
    assert [in_force.at(at * day + 1) for at in (9, 14)] == [False, False]
    assert in_force.at(15 * day + 1) is None, "which came first on that day is not known"
    assert [in_force.at(at * day) for at in (16, 20, 30)] == [True, True, True]
    assert in_force.at(30 * day + 6) is False and not in_force.is_after_done(40 * day)
