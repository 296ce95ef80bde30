"""A reading is moved, given its right condition, voided and made valid again: each as a row, the reading untouched."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable
from contextlib import closing
from pathlib import Path

import pytest

from logger.errors import StillvoltError
from logger.visit import Reading, VisitLog
from logger.visit.records.condition import EVERYTHING_OFF, EVERYTHING_ON, OUTSIDE_WALK
from logger.visit.records.reading_corrections import MAX_REASON_CHARACTERS
from logger.visit.results.correction_history import doubt_by_correction, footnote
from logger.visit.results.on_off_result import SpotResult
from logger.visit.results.posture_repeats import repeat_groups
from logger.visit.storage.salvage import salvage
from logger.visit.storage.verification import verify
from tests.support.visit_fixtures import exchange_names
from tests.visit.test_integrity import edit


@pytest.fixture
def readings(log: VisitLog, recording) -> list[Reading]:
    """Bed with everything on, desk with everything on, bed with everything off."""
    bed, desk = log.spots.add("Bed"), log.spots.add("Desk")
    for spot, on, volts in (
        (bed, EVERYTHING_ON, 0.27),
        (desk, EVERYTHING_ON, 0.40),
        (bed, EVERYTHING_OFF, 0.05),
    ):
        recording.samples([volts] * 5)
        log.readings.take(spot.id, on)
    return log.readings.all()


def rows(path: Path, sql: str) -> list[tuple[object, ...]]:
    with closing(sqlite3.connect(path)) as db:
        return db.execute(sql).fetchall()


def test_a_moved_reading_counts_at_its_new_spot_and_its_own_row_is_untouched(log, readings):
    before = rows(log.path, "SELECT * FROM reading")
    moved = log.readings.corrections.move(readings[0], 2, "  the wrong\n spot ", "A. Example")
    assert (moved.spot_id, moved.spot_name, moved.condition) == (2, "Desk", EVERYTHING_ON)
    assert moved.moved and not moved.condition_corrected and not doubt_by_correction(moved)
    assert moved.as_taken.spot_name == "Bed"
    (correction,) = moved.corrections
    assert correction.text == "moved from “Bed” to “Desk” (the wrong spot)"
    assert correction.entered_by == "A. Example"
    assert rows(log.path, "SELECT * FROM reading") == before
    now = log.readings.all()
    assert SpotResult.of(now, 1).on is None and SpotResult.of(now, 1).off == readings[2]
    assert SpotResult.of(now, 2).on == readings[1], "the newest of both counts"
    assert footnote(moved) == "read as “Bed”, corrected to “Desk”"


def test_a_corrected_condition_counts_and_is_the_practitioners_word(log, readings):
    found = log.readings.corrections.set_condition(
        readings[1], EVERYTHING_OFF, None, "the breakers were off already"
    )
    result = SpotResult.of(log.readings.all(), 2)
    assert result.on is None and result.off == found
    assert found.condition_corrected and found.by_word
    assert "while “everything on” was entered" in doubt_by_correction(found)
    assert "practitioner's word" in doubt_by_correction(found)
    back = log.readings.corrections.set_condition(found, EVERYTHING_ON, None, "they were on after all")
    assert not back.condition_corrected and not doubt_by_correction(back)
    assert len(back.corrections) == 2 and footnote(back) == ""


def test_a_chain_of_corrections_is_kept_whole(log, readings):
    store = log.readings.corrections
    kitchen = log.spots.add("Kitchen")
    found = store.move(readings[0], 2, "wrong spot")
    found = store.move(found, kitchen.id, "wrong again")
    found = store.set_condition(found, "kettle on", None, "the kettle boiled")
    found = store.void(found, "moved")
    assert found.void_reason == "moved"
    found = store.make_valid(found, "it was another one")
    assert found.void_reason is None and found.void_utc_ns is None
    found = store.void(found, "moved after all")
    assert found.void_reason == "moved after all"
    found = store.make_valid(found, "no", "A. Example")
    found = store.move(found, 1, "back")
    assert [c.words for c in found.corrections] == [
        "moved from “Bed” to “Desk”",
        "moved from “Desk” to “Kitchen”",
        "what was on was corrected from “everything on” to “kettle on”",
        "voided",
        "valid again",
        "voided",
        "valid again",
        "moved from “Kitchen” to “Bed”",
    ]
    assert not found.moved and found.as_taken.condition == EVERYTHING_ON
    assert rows(log.path, "SELECT count(*) FROM reading_void") == [(1,)], "the first void, as ever"
    assert log.integrity().sound, log.integrity().sentences()


@pytest.mark.parametrize("void_first", [True, False])
def test_a_void_with_a_name_is_withdrawn_as_one_without(log, readings, void_first):
    store = log.readings.corrections
    found = store.void(readings[0], "first", "" if void_first else "A. Example")
    found = store.make_valid(found, "valid")
    log.readings.void(found.id, "by number")
    log.readings.void(found.id, "a second reason does not replace the first")
    assert log.readings.all()[0].void_reason == "by number"
    assert [c.reason for c in log.readings.all()[0].corrections] == ["first", "valid", "by number"]


def test_two_windows_that_correct_one_reading_at_once(log, readings, clock):
    with closing(VisitLog.open(log.path, clock)) as other:
        seen_there = other.readings.all()[0]
        log.readings.corrections.move(readings[0], 2, "wrong spot")
        for correct in (
            lambda: other.readings.corrections.move(seen_there, 2, "wrong spot"),
            lambda: other.readings.corrections.set_condition(seen_there, EVERYTHING_OFF, None, "off"),
            lambda: other.readings.corrections.void(seen_there, "moved"),
        ):
            with pytest.raises(
                StillvoltError, match="corrected in another window meanwhile: moved from “Bed”"
            ):
                correct()
        assert len(other.readings.all()[0].corrections) == 1


def refusals(log: VisitLog, readings: list[Reading]) -> dict[str, tuple[str, Callable[[], object]]]:
    store, first = log.readings.corrections, readings[0]
    return {
        "no such spot": ("not on the list", lambda: store.move(first, 99, "x")),
        "the same spot": ("counts for “Bed”, everything on already", lambda: store.move(first, 1, "x")),
        "the same condition": (
            "already",
            lambda: store.set_condition(first, EVERYTHING_ON, None, "x"),
        ),
        "no condition": ("not stated what was on", lambda: store.set_condition(first, "  ", None, "x")),
        "no reason": ("Enter why", lambda: store.move(first, 2, " ")),
        "only signs": ("Enter why", lambda: store.void(first, "\u202e\t..!")),
        "a long reason": ("10,000 characters", lambda: store.void(first, "x" * 10_000)),
        "valid already": ("valid already", lambda: store.make_valid(first, "x")),
        "outside": (
            "not on the outside walk",
            lambda: store.set_condition(first, OUTSIDE_WALK, None, "x"),
        ),
    }


@pytest.mark.parametrize(
    "case",
    [
        "no such spot", "the same spot", "the same condition", "no condition", "no reason", "only signs",
        "a long reason", "valid already", "outside",
    ],
)  # fmt: skip
def test_what_is_no_correction_is_refused_with_a_sentence(log, readings, case):
    sentence, correct = refusals(log, readings)[case]
    with pytest.raises(StillvoltError, match=sentence):
        correct()
    assert log.readings.all() == readings


def test_the_longest_reason_is_kept(log, readings):
    reason = "x" * MAX_REASON_CHARACTERS
    assert log.readings.corrections.void(readings[0], reason).void_reason == reason


def test_a_void_reading_is_not_moved(log, readings):
    void = log.readings.corrections.void(readings[0], "moved")
    with pytest.raises(StillvoltError, match="This reading is void"):
        log.readings.corrections.move(void, 2, "wrong spot")
    with pytest.raises(StillvoltError, match="void already"):
        log.readings.corrections.void(void, "again")


def test_a_spot_that_was_removed_takes_no_reading(log, readings):
    log.spots.remove(2)
    with pytest.raises(StillvoltError, match="not on the list"):
        log.readings.corrections.move(readings[0], 2, "wrong spot")


def test_what_is_on_follows_a_reading_to_the_outside_walk_and_is_open_when_it_comes_back(log, readings):
    garden = log.spots.add("Garden", room=OUTSIDE_WALK)
    found = log.readings.corrections.move(readings[0], garden.id, "it was the garden")
    assert (found.spot_id, found.condition) == (garden.id, OUTSIDE_WALK)
    with pytest.raises(StillvoltError, match="On the outside walk"):
        log.readings.corrections.set_condition(found, EVERYTHING_ON, None, "x")
    back = log.readings.corrections.move(found, 1, "no, the bed")
    assert (back.spot_id, back.condition) == (1, "")
    was = readings[0]
    restored = log.readings.corrections.set_condition(back, was.condition, None, "as it was")
    assert not restored.moved and not restored.condition_corrected


def test_a_circuit_that_was_renamed_is_no_correction_of_what_was_on(log, recording):
    bed, beta = log.spots.add("Bed"), log.circuits.add("circuit", "Beta")
    recording.samples([0.05] * 5)
    taken = log.readings.take(bed.id, "only Beta off", live=frozenset())
    other = log.readings.corrections.set_condition(taken, EVERYTHING_ON, frozenset({beta.id}), "mistaken")
    log.readings.corrections.set_condition(other, taken.condition, taken.live, "no")
    log.circuits.rename(beta.id, "Gamma")
    present = log.present_readings()
    assert present[0].condition == "only Gamma off" and not present[0].by_word
    assert not doubt_by_correction(present[0]) and not footnote(present[0])


def test_a_reading_is_not_made_valid_again_where_its_lines_gave_another_value(log, recording):
    bed, desk = log.spots.add("Bed"), log.spots.add("Desk")
    recording.samples([0.27] * 5)
    wrong = log.readings.take(bed.id, EVERYTHING_ON)
    void = log.readings.corrections.void(wrong, "wrong spot")
    right = log.readings.take(desk.id, EVERYTHING_ON, stated_unchanged=True)
    with pytest.raises(StillvoltError, match=f"Reading {right.id} at “Desk” uses this same part"):
        log.readings.corrections.make_valid(void, "it was right")
    log.readings.void(right.id, "no")
    assert log.readings.corrections.make_valid(void, "it was right").void_reason is None


def test_one_still_stretch_does_not_become_two_values_of_a_spot(log, recording):
    """They would count as a posture that repeats, and as a confirmation."""
    bed, desk = log.spots.add("Bed"), log.spots.add("Desk")
    recording.samples([0.27] * 10)
    first = log.readings.take(bed.id, EVERYTHING_ON)
    recording.samples([0.27] * 20, since_s=recording.t_s() - 3.6)
    second = log.readings.take(
        desk.id, EVERYTHING_ON, switched_utc_ns=first.end_utc_ns + 1, stated_unchanged=True
    )
    with pytest.raises(StillvoltError, match="counted twice"):
        log.readings.corrections.move(second, bed.id, "it was the bed")
    with pytest.raises(StillvoltError, match="counted twice"):
        log.readings.corrections.move(first, desk.id, "it was the desk")
    assert repeat_groups(log.readings.all()) == []


# --- what damage and strangers put there ---------------------------------------------------------------------

_INSERT = (
    "INSERT INTO reading_correction (utc_ns, reading_id, kind, from_spot_id, from_spot_name, to_spot_id, to_spot_name,"
    " from_condition, from_live, to_condition, to_live, reason, entered_by) VALUES "
)
STRANGE = {
    "to no spot": "(1, 1, 'spot', 1, 'Bed', 77, 'Roof', NULL, NULL, NULL, NULL, 'x', '')",
    "from elsewhere": "(1, 1, 'spot', 2, 'Desk', 1, 'Bed', NULL, NULL, NULL, NULL, 'x', '')",
    "no spots at all": "(1, 1, 'spot', NULL, NULL, NULL, NULL, NULL, NULL, NULL, NULL, 'x', '')",
    "other condition": "(1, 1, 'condition', NULL, NULL, NULL, NULL, 'party', '', 'off', '', 'x', '')",
    "nothing": "(1, 1, 'condition', NULL, NULL, NULL, NULL, 'everything on', '', 'everything on', '', 'x', '')",
    "no void": "(1, 1, 'valid', NULL, NULL, NULL, NULL, NULL, NULL, NULL, NULL, 'x', '')",
    "no kind": "(1, 1, 'miracle', NULL, NULL, NULL, NULL, NULL, NULL, NULL, NULL, 'x', '')",
}


@pytest.mark.parametrize("case", STRANGE)
def test_a_correction_that_does_not_fit_changes_nothing_and_is_named(log, readings, case):
    edit(log.path, _INSERT + STRANGE[case])
    found = log.readings.all()
    assert found == readings
    assert "Correction 1 was not applied: " in log.integrity().readings[1]
    assert "The correction 1 has no checksum" in " ".join(log.integrity().others)
    assert not verify(log.path).sound


def test_a_correction_that_fits_and_was_inserted_by_a_stranger_is_named(log, readings):
    edit(log.path, _INSERT + "(1, 1, 'spot', 1, 'Bed', 2, 'Desk', NULL, NULL, NULL, NULL, 'x', '')")
    assert log.readings.all()[0].spot_name == "Desk"
    assert "The correction 1 has no checksum" in " ".join(log.integrity().others)


@pytest.mark.parametrize(
    ("sql", "sentence"),
    [
        (
            "UPDATE reading_correction SET to_spot_id = 1 WHERE id = 2",
            "correction 2: it is not as it was entered",
        ),
        (
            "UPDATE reading_correction SET reason = 'y' WHERE id = 1",
            "correction 1: it is not as it was entered",
        ),
        ("DELETE FROM reading_correction WHERE id = 2", "correction 2: it was entered and is gone"),
    ],
)
def test_a_correction_that_was_changed_or_removed_is_missed(log, readings, sql, sentence):
    found = log.readings.corrections.move(readings[0], 2, "wrong spot")
    log.readings.corrections.move(found, log.spots.add("Kitchen").id, "wrong again")
    assert log.integrity().sound
    edit(log.path, sql)
    assert sentence in " ".join(log.integrity().others)
    assert not verify(log.path).sound


def test_what_was_corrected_cannot_be_changed_even_by_a_program_error(log, readings):
    log.readings.corrections.move(readings[0], 2, "wrong spot")
    with sqlite3.connect(log.path) as db:
        for sql in ("UPDATE reading_correction SET reason = 'y'", "DELETE FROM reading_correction"):
            with pytest.raises(sqlite3.IntegrityError, match="never changed"):
                db.execute(sql)


def test_salvage_brings_the_corrections_over(log, readings, tmp_path):
    store = log.readings.corrections
    store.set_condition(store.move(readings[0], 2, "wrong spot"), EVERYTHING_OFF, None, "was off")
    store.make_valid(store.void(readings[1], "moved"), "not moved")
    expected = log.readings.all()
    found = salvage(log.path, tmp_path / "out.visit")
    assert found.record.corrections_known and found.record.doubt_of_readings == ""
    with closing(VisitLog.open(tmp_path / "out.visit")) as new:
        assert new.readings.all() == expected
        assert new.integrity().readings == {}


def test_a_salvaged_log_without_its_list_of_corrections_says_so(log, readings, tmp_path):
    log.readings.corrections.move(readings[0], 2, "wrong spot")
    with closing(sqlite3.connect(log.path)) as db:
        db.execute("DROP TABLE reading_correction")
        db.commit()
    found = salvage(log.path, tmp_path / "out.visit")
    assert not found.record.corrections_known
    assert "may have been corrected" in found.record.doubt_of_readings
    with closing(VisitLog.open(tmp_path / "out.visit")) as new:
        assert new.facts.salvage().doubt_of_readings == found.record.doubt_of_readings
        assert [r.spot_name for r in new.readings.all()] == ["Bed", "Desk", "Bed"]


def test_another_name_of_a_circuit_is_no_correction_and_a_correction_has_the_present_names(log, recording):
    bed = log.spots.add("Bed")
    alpha, beta, gamma = (log.circuits.add("circuit", name) for name in ("Alpha", "Beta", "Gamma"))
    recording.samples([0.4] * 5)
    reading = log.readings.take(bed.id, "only Beta off", live=frozenset({alpha.id, gamma.id}))
    others = frozenset({beta.id, gamma.id})
    log.readings.corrections.set_condition(reading, "only Alpha off", others, "wrong breaker")
    exchange_names(log, alpha.id, beta.id)
    (now,) = log.present_readings()
    assert now.condition == "only Beta off" and now.condition_corrected
    assert now.corrections[0].words == "what was on was corrected from “only Alpha off” to “only Beta off”"
    assert footnote(now) == "read with “only Alpha off”, corrected to “only Beta off”"
    log.readings.corrections.correct(now, now.as_taken, "undone")
    (now,) = log.present_readings()
    assert now.condition == "only Alpha off" and not now.condition_corrected and not doubt_by_correction(now)
    log.circuits.rename(beta.id, "Kitchen")
    (now,) = log.present_readings()
    assert (
        now.condition == "only Kitchen off" and not now.condition_corrected and not doubt_by_correction(now)
    )
    desk = log.spots.add("Desk")
    moved = log.readings.corrections.move(now, desk.id, "wrong spot")
    assert moved.moved and not moved.condition_corrected, (
        "a moved one has no other condition for its new names"
    )
    assert log.integrity().sound, log.integrity().sentences()
