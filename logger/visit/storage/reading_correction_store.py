"""Corrections of readings: spot, what was on, reference, void, valid again. Each is a row; the reading stays as it was.

Whoever corrects a reading says how it looked: where it was corrected elsewhere meanwhile, the second correction is
refused, so that two windows never undo each other unseen.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

from logger.errors import StillvoltError
from logger.metrology.check_words import check_name
from logger.metrology.checks import WITHOUT_BODY
from logger.metrology.reference_answers import ReferenceAnswers
from logger.translation import tr, tr_kept
from logger.visit.records.condition import OUTSIDE_WALK
from logger.visit.records.reading_corrections import (
    CONDITION,
    REFERENCE,
    SPOT,
    VALID,
    VOID,
    Placement,
    why_not_reason,
)
from logger.visit.records.reading_records import Reading, UsedStep
from logger.visit.results.correction_history import placement_of, same_stretch_as, sharing_lines
from logger.visit.storage.check_store import CheckStore
from logger.visit.storage.correction_rows import live_json
from logger.visit.storage.log_connection import LogConnection
from logger.visit.storage.name_history import NameHistory


class ReadingCorrectionStore:
    """The corrections.

    Args:
        connection: the open log.
        readings: reads all readings as they count now, with what was live as it is kept.
        checks: gives the steps that rest on lines of the trace.
        names: tells what words name.
    """

    def __init__(
        self,
        connection: LogConnection,
        readings: Callable[[], list[Reading]],
        checks: CheckStore,
        names: NameHistory,
    ) -> None:
        self._connection = connection
        self._readings = readings
        self._checks = checks
        self._names = names

    def move(self, reading: Reading, spot_id: int, reason: str, entered_by: str = "") -> Reading:
        """Let a reading count for another spot.

        On the outside walk what is on is always the walk: it is corrected with the spot, and not stated for a reading
        that comes indoors.

        Args:
            reading: as the caller sees it.
            spot_id: of a spot on the list.
            reason: why; may not be empty.
            entered_by: the practitioner's name; empty where it is not stated.

        Returns:
            The reading as it counts now.

        Raises:
            StillvoltError: no such spot, it is void or was corrected meanwhile, no reason, or another reading of that
                spot rests on the same stretch.
        """
        # What was on stays as it is kept: the caller may see it by other names, and with what its words name.
        kept = self._by_id(reading.id)
        to = Placement(spot_id, "", kept.condition, kept.live, kept.listed)
        outside = self._is_outside(spot_id)
        if outside != (reading.condition == OUTSIDE_WALK):
            to = Placement(spot_id, "", OUTSIDE_WALK if outside else "")
        return self.correct(reading, to, reason, entered_by)

    def set_condition(
        self,
        reading: Reading,
        condition: str,
        live: frozenset[int] | None,
        reason: str,
        entered_by: str = "",
    ) -> Reading:
        """Correct what was on when a reading was taken. It is the practitioner's word, and is marked so.

        Args:
            reading: as the caller sees it.
            condition: what was on.
            live: ids of the circuits that were live and the cords that were plugged in, where that is stated.
            reason: why; may not be empty.
            entered_by: the practitioner's name; empty where it is not stated.

        Returns:
            The reading as it counts now.

        Raises:
            StillvoltError: as `move`; or nothing is stated, or the spot is on the outside walk.
        """
        condition = " ".join(condition.split())
        if not condition:
            raise StillvoltError(
                tr("It is not stated what was on."), tr("Nothing was changed."), tr("Choose it, or type it.")
            )
        listed = frozenset(self._listed()) if live is not None else frozenset[int]()
        if live is None and (named := self._names.live_in_words(condition)) is not None:
            live, listed = named
        to = Placement(reading.spot_id, reading.spot_name, condition, live, listed)
        return self.correct(reading, to, reason, entered_by)

    def set_references(
        self, corrected: Sequence[tuple[Reading, ReferenceAnswers]], reason: str, entered_by: str = ""
    ) -> list[Reading]:
        """Correct what readings were read against: reference, laptop and link. All of them or none.

        Args:
            corrected: each reading as the caller sees it, with the answers as they were in truth.
            reason: why; may not be empty.
            entered_by: the practitioner's name; empty where it is not stated.

        Returns:
            The readings as they count now.

        Raises:
            StillvoltError: as `move`; or nothing was kept of what one was read against.
        """
        reason = clean_reason(reason)
        with self._connection.writing():
            for reading, answers in corrected:
                to = replace(placement_of(self._by_id(reading.id)), answers=answers)
                self._correct(reading, to, reason, entered_by)
        return [self._by_id(reading.id) for reading, _ in corrected]

    def correct(self, reading: Reading, to: Placement, reason: str, entered_by: str = "") -> Reading:
        """Let a reading count for a spot, with something on, against a reference; each that differs is a correction.

        Args:
            reading: as the caller sees it.
            to: where it is to count; the spot's name is looked up. Without answers what it was read against stays.
            reason: why; may not be empty.
            entered_by: the practitioner's name; empty where it is not stated.

        Returns:
            The reading as it counts now.

        Raises:
            StillvoltError: as `move` and `set_condition`.
        """
        reason = clean_reason(reason)
        with self._connection.writing():
            self._correct(reading, to, reason, entered_by)
        return self._by_id(reading.id)

    def _correct(self, reading: Reading, to: Placement, reason: str, entered_by: str) -> None:
        """Correct a reading within a transaction; as `correct`, with a reason as it is kept."""
        now = self._as_seen(reading)
        if now.void_reason is not None:
            raise StillvoltError(
                tr("This reading is void."),
                tr("Nothing was changed."),
                tr("Make it valid again first, then correct it."),
            )
        here = placement_of(now)
        if here.live is None and to.condition == here.condition:
            # The caller sees what the words name; that corrects nothing.
            to = replace(to, live=None, listed=here.listed)
        moves, changes = not to.same_spot(here), not to.same_condition(here)
        if to.answers is not None and here.answers is None:
            raise StillvoltError(
                tr("Nothing was kept of what this reading was read against."), tr("Nothing was changed.")
            )
        refers = to.answers is not None and to.answers != here.answers
        if not (moves or changes or refers):
            raise StillvoltError(
                tr("The reading counts for {place} already.").format(place=here.words),
                tr("Nothing was changed."),
            )
        if moves:
            to = replace(to, spot_name=self._name_of_spot(to.spot_id))
        if moves or changes:
            self._refuse_outside(to)
            there = replace(now, spot_id=to.spot_id, condition=to.condition, live=to.live, listed=to.listed)
            self._refuse_same_stretch(there, to)
        if moves:
            self._keep(now.id, SPOT, here, to, reason, entered_by)
        if changes:
            self._keep(now.id, CONDITION, here, to, reason, entered_by)
        if refers:
            self._keep(now.id, REFERENCE, here, to, reason, entered_by)

    def void(self, reading: Reading, reason: str, entered_by: str = "") -> Reading:
        """Declare a reading mistaken; it stays in the log, with the reason.

        Args:
            reading: as the caller sees it.
            reason: why; may not be empty.
            entered_by: the practitioner's name; empty where it is not stated.

        Raises:
            StillvoltError: it is void already, was corrected meanwhile, or there is no reason.
        """
        reason = clean_reason(reason)
        with self._connection.writing():
            now = self._as_seen(reading)
            if now.void_reason is not None:
                raise StillvoltError(tr("This reading is void already."), tr("Nothing was changed."))
            self.insert_void(now.id, reason, entered_by)
        return self._by_id(now.id)

    def insert_void(self, reading_id: int, reason: str, entered_by: str = "") -> None:
        """Keep a void of a valid reading, within a transaction: the first in the list of voids, others as corrections.

        Args:
            reading_id: of the reading.
            reason: why.
            entered_by: the practitioner's name; empty where it is not stated.
        """
        db = self._connection.db
        # A void in the list of voids is the first one, and has no name beside it.
        voided_before = db.execute(
            "SELECT 1 FROM reading_void WHERE reading_id = ? UNION ALL "
            "SELECT 1 FROM reading_correction WHERE reading_id = ? AND kind = ?",
            (reading_id, reading_id, VOID),
        ).fetchone()
        if entered_by or voided_before:
            self._keep(reading_id, VOID, None, None, reason, entered_by)
            return
        utc_ns = self._connection.clock.utc_ns()
        self._connection.execute(
            "INSERT INTO reading_void (reading_id, utc_ns, reason) VALUES (?, ?, ?)",
            (reading_id, utc_ns, reason),
        )

    def make_valid(self, reading: Reading, reason: str, entered_by: str = "") -> Reading:
        """Withdraw the void of a reading.

        Args:
            reading: as the caller sees it.
            reason: why it is valid again; may not be empty.
            entered_by: the practitioner's name; empty where it is not stated.

        Raises:
            StillvoltError: it is valid, was corrected meanwhile, there is no reason, or something else rests on its
                lines by now.
        """
        reason = clean_reason(reason)
        with self._connection.writing():
            now = self._as_seen(reading)
            if now.void_reason is None:
                raise StillvoltError(tr("This reading is valid already."), tr("Nothing was changed."))
            self._refuse_used_lines(now)
            self._refuse_same_stretch(now, placement_of(now))
            self._keep(now.id, VALID, None, None, reason, entered_by)
        return self._by_id(now.id)

    # --- what stands in the way --------------------------------------------------------------------------

    def _as_seen(self, reading: Reading) -> Reading:
        """The reading as it is now; refused where it is not as the caller sees it."""
        now = self._by_id(reading.id)
        # By their rows: the caller may see them with the present names of spots and circuits.
        if [(c.id, c.utc_ns) for c in now.corrections] == [(c.id, c.utc_ns) for c in reading.corrections]:
            return now
        newest = (now.corrections or reading.corrections)[-1]
        raise StillvoltError(
            tr("This reading was corrected in another window meanwhile: {correction} ({reason}).").format(
                correction=newest.words, reason=newest.reason
            ),
            tr("Nothing was changed."),
            tr("Look at it as it is now, and correct it again if it is still wrong."),
        )

    def _refuse_outside(self, to: Placement) -> None:
        outside = self._is_outside(to.spot_id)
        if outside and to.condition != OUTSIDE_WALK:
            raise StillvoltError(
                tr("On the outside walk you do not enter what is on in the house."), tr("Nothing was changed."),
                tr("Assign the reading to a spot indoors first."),
            )  # fmt: skip
        if not outside and to.condition == OUTSIDE_WALK:
            raise StillvoltError(
                tr("This spot is not on the outside walk."), tr("Nothing was changed."),
                tr("Assign the reading to a spot of the outside walk."),
            )  # fmt: skip

    def _refuse_used_lines(self, reading: Reading) -> None:
        """Refuse to make a reading valid where another value rests on its lines by now: a line gives one value."""
        other = sharing_lines(reading, self._readings())
        if other is not None:
            raise StillvoltError(
                tr("Reading {number} at “{spot}” uses this same part of the recording.").format(
                    number=other.id, spot=other.spot_name
                ),
                tr("Nothing was changed."),
                tr("Void that one first, if this one is the right one."),
            )
        # Who holds still with the probe in the hand may do a check and be read at once.
        steps = [step for step in self._checks.used_steps() if step.kind in WITHOUT_BODY]
        step = _step_on(reading, steps)
        if step is not None:
            raise StillvoltError(
                tr("The step “{step}” of the {check} uses this same part of the recording.").format(
                    step=tr_kept(step.name), check=check_name(step.kind)
                ),
                tr("Nothing was changed."),
                tr("Take a new reading instead."),
            )

    def _refuse_same_stretch(self, reading: Reading, to: Placement) -> None:
        """Refuse where one still stretch would count as two values of a spot.

        Args:
            reading: as it would count.
            to: where it would count, with the spot's name.
        """
        other = same_stretch_as(reading, self._readings())
        if other is not None:
            raise StillvoltError(
                tr(
                    "Nothing moved between this reading and reading {number}, which counts for {place}: both "
                    "would be one value, counted twice."
                ).format(number=other.id, place=to.words),
                tr("Nothing was changed."),
                tr("Void this one instead."),
            )

    def _by_id(self, reading_id: int) -> Reading:
        found = next((reading for reading in self._readings() if reading.id == reading_id), None)
        if found is None:
            raise StillvoltError(tr("That reading is not in this visit."), tr("Nothing was changed."))
        return found

    def _name_of_spot(self, spot_id: int) -> str:
        rows = self._connection.all(
            "SELECT name FROM spot WHERE id = ? AND removed_utc_ns IS NULL", (spot_id,)
        )
        if not rows:
            raise StillvoltError(
                tr("That spot is not on the list."), tr("Nothing was changed."), tr("Choose another spot.")
            )
        return str(rows[0]["name"])

    def _is_outside(self, spot_id: int) -> bool:
        rows = self._connection.all("SELECT room FROM spot WHERE id = ?", (spot_id,))
        return bool(rows) and rows[0]["room"] == OUTSIDE_WALK

    def _listed(self) -> list[int]:
        rows = self._connection.all("SELECT id FROM source WHERE removed_utc_ns IS NULL ORDER BY id")
        return [row["id"] for row in rows]

    def _keep(
        self,
        reading_id: int,
        kind: str,
        before: Placement | None,
        after: Placement | None,
        reason: str,
        entered_by: str,
    ) -> None:
        """Keep a correction within a transaction.

        Args:
            reading_id: of the reading.
            kind: one of `CORRECTION_KINDS`.
            before: where it counted; None for a void and its withdrawal.
            after: where it counts since.
            reason: why.
            entered_by: the practitioner's name.
        """
        spots: tuple[object, ...] = (None,) * 4
        conditions: tuple[object, ...] = (None,) * 4
        if before is not None and after is not None and kind == SPOT:
            spots = before.spot_id, before.spot_name, after.spot_id, after.spot_name
        elif before is not None and after is not None and kind == CONDITION:
            conditions = (
                before.condition, live_json(before.live, before.listed),
                after.condition, live_json(after.live, after.listed),
            )  # fmt: skip
        utc_ns = self._connection.clock.utc_ns()
        correction_id = self._connection.insert(
            "INSERT INTO reading_correction (utc_ns, reading_id, kind, from_spot_id, from_spot_name, to_spot_id, "
            "to_spot_name, from_condition, from_live, to_condition, to_live, reason, entered_by) "
            "VALUES (?,?,?,?,?,?,?,?,?,?,?,?,?)",
            (utc_ns, reading_id, kind, *spots, *conditions, reason, " ".join(entered_by.split())),
        )
        if kind == REFERENCE and before is not None and after is not None:
            assert before.answers is not None and after.answers is not None
            self._connection.insert(
                "INSERT INTO reference_correction (correction_id, from_answers, to_answers) VALUES (?,?,?)",
                (correction_id, before.answers.to_json(), after.answers.to_json()),
            )


def _step_on(reading: Reading, steps: Sequence[UsedStep]) -> UsedStep | None:
    """A step of a check that rests on lines of a reading; None where none does."""
    first, last = reading.first_line_id, reading.last_line_id
    if first is None or last is None:
        return None
    return next(
        (step for step in steps if step.span.first_line_id <= last and first <= step.span.last_line_id), None
    )


def clean_reason(reason: str) -> str:
    """A reason as it is kept, on one line.

    Raises:
        StillvoltError: it is none.
    """
    if why := why_not_reason(reason):
        raise StillvoltError(why, tr("Nothing was changed."))
    return " ".join(reason.split())
