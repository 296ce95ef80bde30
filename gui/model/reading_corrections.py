"""Corrections of readings: moved to another spot, given the right condition, voided, made valid again.

In: a reading as it is shown, and why. Out: rows in the log, a message, and an edit that can be undone. Undoing a
correction is another correction back, with a row of its own: nothing is taken out of the log.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

from gui.model.reference_corrections import ReferenceCorrections
from gui.model.undo_history import UndoableEdit, UndoHistory
from gui.model.visit_access import VisitAccess
from gui.model.wording import day_at_time, reading_text
from logger.errors import StillvoltError
from logger.sweep.sweep_progress import live_at_reading, live_with_everything, plain_sweep
from logger.translation import kept_text, tr, tr_kept
from logger.visit import Reading, Spot
from logger.visit.records.condition import EVERYTHING_OFF, EVERYTHING_ON, OUTSIDE_WALK, typed_condition
from logger.visit.records.fact_names import CONDITION
from logger.visit.records.reading_corrections import MAX_REASON_CHARACTERS, WRONG_SPOT, Placement
from logger.visit.results.correction_history import placement_of
from logger.visit.results.typed_value import looks_like_value

MOVE_REASONS = (kept_text("the wrong spot was chosen"), kept_text("the spot was moved or renamed"))
CONDITION_REASONS = (
    kept_text("what was on was not stated in time"),
    kept_text("a breaker or cord was not as stated"),
)
WRONG_CONDITION = kept_text("wrong about what was on")
VOID_REASONS = (
    kept_text("moved or touched something"),
    WRONG_SPOT,
    WRONG_CONDITION,
    kept_text("the lead or the meter was loose"),
)
VALID_REASONS = (kept_text("voided by mistake"), kept_text("the reason did not hold"))
"""Why a reading is corrected, as it is offered and kept in English; any other reason can be typed."""


MAX_CONDITION_CHARACTERS = 200
"""Longest name of what was on; the longest that the sweep makes names half of the circuits."""


@dataclass(frozen=True, slots=True)
class ConditionChoice:
    """What may have been on.

    Args:
        condition: in words.
        live: ids of what was live; None where that is not known one by one.
    """

    condition: str
    live: frozenset[int] | None


@dataclass(frozen=True, slots=True)
class HistoryRow:
    """A row of the history of a reading, in words.

    Args:
        when: date and time of day.
        what: what was done.
        why: the reason; empty for the taking itself.
        who: the practitioner; empty where that was not stated.
    """

    when: str
    what: str
    why: str = ""
    who: str = ""

    @property
    def text(self) -> str:
        """The row as one sentence."""
        texts = {
            (False, False): tr("{when}: {what}."),
            (True, False): tr("{when}: {what} ({why})."),
            (False, True): tr("{when}: {what}, {who}."),
            (True, True): tr("{when}: {what} ({why}), {who}."),
        }
        return texts[bool(self.why), bool(self.who)].format(
            when=self.when, what=self.what, why=self.why, who=self.who
        )


class ReadingCorrections:
    """Corrects readings of the visit.

    Args:
        access: the visit.
        history: notes the corrections, so that they can be undone.
    """

    def __init__(self, access: VisitAccess, history: UndoHistory) -> None:
        self._access = access
        self._history = history
        self.reference = ReferenceCorrections(access, history, _undone)
        """Of what readings were read against."""
        self.on_forgotten: Callable[[], object] = lambda: None
        """Is called once the present statement of what is on was called wrong: the window asks for it anew."""

    # --- what can be done ----------------------------------------------------------------------------------

    def current(self, reading: Reading) -> Reading:
        """The reading as the log has it now."""
        found = (r for r in self._access.snapshot.readings if r.id == reading.id)
        return next(found, reading)

    def why_not_move(self, reading: Reading) -> str:
        """Why a reading can't be moved to another spot, in a sentence; empty where it can."""
        now = self.current(reading)
        if now.void_reason is not None:
            return tr("This reading is void. Make it valid again first.")
        if not self.spot_choices(now):
            return tr("There is no other spot. Add one on the stage Spots first.")
        return ""

    def why_not_set_condition(self, reading: Reading) -> str:
        """Why what was on can't be corrected, in a sentence; empty where it can."""
        now = self.current(reading)
        if now.void_reason is not None:
            return tr("This reading is void. Make it valid again first.")
        if now.condition == OUTSIDE_WALK:
            return tr("On the outside walk you do not enter what is on in the house.")
        return ""

    def why_not_void(self, reading: Reading) -> str:
        """Why a reading can't be voided, in a sentence; empty where it can."""
        return tr("This reading is void already.") if self.current(reading).void_reason is not None else ""

    def why_not_make_valid(self, reading: Reading) -> str:
        """Why a reading can't be made valid again, in a sentence; empty where it can."""
        return tr("This reading is valid already.") if self.current(reading).void_reason is None else ""

    def spot_choices(self, reading: Reading) -> list[Spot]:
        """The spots that a reading can be moved to, along the route."""
        now = self.current(reading)
        return [spot for spot in self._access.snapshot.spots if spot.id != now.spot_id]

    def condition_choices(self, reading: Reading) -> list[ConditionChoice]:
        """What may have been on: everything, nothing, what other readings were taken with, the rows of the sweep."""
        now, snapshot = self.current(reading), self._access.snapshot
        found = [
            ConditionChoice(condition, live_with_everything(condition, snapshot.sources))
            for condition in (EVERYTHING_ON, EVERYTHING_OFF)
        ]
        found += [
            ConditionChoice(r.condition, live_at_reading(r, snapshot.sources))
            for r in snapshot.readings
            if r.condition not in ("", OUTSIDE_WALK)
        ]
        found += [ConditionChoice(c.label, c.live) for c in plain_sweep(snapshot.sources)]
        by_name = {choice.condition: choice for choice in reversed(found)}
        return [
            by_name[name]
            for name in dict.fromkeys(choice.condition for choice in found)
            if name != now.condition
        ]

    def why_not_condition(self, reading: Reading, condition: str) -> str:
        """Why a text does not say what was on, in a sentence; empty where it does.

        Args:
            reading: the reading.
            condition: as typed.
        """
        text = self._as_kept(reading, condition)
        if not any(letter.isalnum() for letter in text):
            return tr("Choose what was on, or type it, such as “only Kitchen on”.")
        if looks_like_value(text):
            return tr("This is a value, and names nothing that was on.")
        if len(text) > MAX_CONDITION_CHARACTERS:
            return tr("What was on is named in at most {most} letters.").format(most=MAX_CONDITION_CHARACTERS)
        if text == OUTSIDE_WALK:
            return tr("Assign the reading to a spot of the outside walk instead.")
        if text == self.current(reading).condition:
            return tr("The reading is entered as read with that already.")
        return ""

    def _as_kept(self, reading: Reading, text: str) -> str:
        """The condition that a typed text means, also where it was typed as it is shown in another language.

        Args:
            reading: the reading.
            text: as typed.
        """
        condition = typed_condition(text)
        known = [self.current(reading).condition, *(c.condition for c in self.condition_choices(reading))]
        return next((one for one in known if condition and condition == tr_kept(one)), condition)

    # --- corrections -----------------------------------------------------------------------------------------

    def move(self, reading: Reading, spot: Spot, reason: str) -> UndoableEdit | None:
        """Move a reading to another spot.

        Args:
            reading: as it is shown.
            spot: where it was taken in truth.
            reason: why.

        Returns:
            The edit, which the history holds; None when it was refused (the message says why).
        """

        def do() -> Reading:
            return self._access.log.readings.corrections.move(reading, spot.id, reason, self._entered_by())

        name = tr("move {value} to “{spot}”").format(value=reading_text(reading), spot=spot.name)
        done = tr("Moved {value} from “{old}” to “{spot}”.").format(
            value=reading_text(reading), old=reading.spot_name, spot=spot.name
        )
        return self._placed(reading, do, reason, name, done)

    def set_condition(
        self, reading: Reading, condition: str, reason: str, live: frozenset[int] | None = None
    ) -> UndoableEdit | None:
        """Correct what was on when a reading was taken.

        Args:
            reading: as it is shown.
            condition: what was on in truth.
            reason: why.
            live: ids of what was live; None takes what `condition_choices` knows of that condition.

        Returns:
            The edit, which the history holds; None when it was refused (the message says why).
        """
        condition = self._as_kept(reading, condition)
        if why := self.why_not_condition(reading, condition):
            self._access.refuse(" ".join((why, tr("Nothing was changed."))))
            return None
        if live is None:
            known = {choice.condition: choice.live for choice in self.condition_choices(reading)}
            live = known.get(condition)

        snapshot, log = self._access.snapshot, self._access.log
        newest = max((one.id for one in snapshot.readings), default=None)
        # The statement that the newest reading was taken with goes on until now.
        is_stated_now = reading.id == newest and bool(condition) and reading.condition == snapshot.condition

        def do() -> Reading:
            corrected = log.readings.corrections.set_condition(
                reading, condition, live, reason, self._entered_by()
            )
            if is_stated_now:
                log.facts.set(CONDITION, "")
            return corrected

        name = tr("correct what was on at {value} to “{condition}”").format(
            value=reading_text(reading), condition=tr_kept(condition)
        )
        done = tr("{value} at “{spot}” is now entered as read with “{condition}”.").format(
            value=reading_text(reading), spot=reading.spot_name, condition=tr_kept(condition)
        )
        if is_stated_now:
            done += " " + tr("What is on now is asked before the next reading.")
        return self._placed(reading, do, reason, name, done)

    def void(self, reading: Reading, reason: str) -> UndoableEdit | None:
        """Declare a reading mistaken; it stays in the log.

        Args:
            reading: as it is shown.
            reason: why.

        Returns:
            The edit, which the history holds; None when it was refused (the message says why).
        """
        name = tr("void {value} at “{spot}”").format(value=reading_text(reading), spot=reading.spot_name)
        what = {"value": reading_text(reading), "spot": reading.spot_name}
        edit = self._valid_or_void(
            reading,
            reason,
            True,
            name,
            undone_text=tr("The voiding is taken back: {value} at “{spot}” is valid again.").format(**what),
            undo_name=tr("take back the voiding of {value} at “{spot}”").format(**what),
        )
        snapshot = self._access.snapshot
        is_stated_now = snapshot.condition == reading.condition and snapshot.stated.utc_ns <= reading.utc_ns
        if edit is not None and reason == WRONG_CONDITION and is_stated_now:
            voided = self._access.message.text
            self._access.log.facts.set(CONDITION, "")
            self._access.do(lambda: " ".join((voided, tr("What is on is asked anew."))))
            self.on_forgotten()
        return edit

    def make_valid(self, reading: Reading, reason: str) -> UndoableEdit | None:
        """Withdraw the void of a reading: it is valid again, because of the reason.

        Args:
            reading: as it is shown.
            reason: why.

        Returns:
            The edit, which the history holds; None when it was refused (the message says why).
        """
        name = tr("make {value} at “{spot}” valid again").format(
            value=reading_text(reading), spot=reading.spot_name
        )
        return self._valid_or_void(reading, reason, False, name)

    def history(self, reading: Reading) -> list[HistoryRow]:
        """What became of a reading since it was taken, in words, oldest first."""
        now = self.current(reading)
        taken = tr("taken for {place}").format(place=now.as_taken.words)
        rows = [HistoryRow(day_at_time(now.utc_ns, self._access.snapshot.zone), taken)]
        return rows + [
            HistoryRow(
                day_at_time(c.utc_ns, self._access.snapshot.zone), c.words, tr_kept(c.reason), c.entered_by
            )
            for c in now.corrections
        ]

    # --- within ------------------------------------------------------------------------------------------------

    def _entered_by(self) -> str:
        return self._access.log.practitioner.current().name

    def _placed(
        self, reading: Reading, do: Callable[[], Reading], reason: str, name: str, done: str
    ) -> UndoableEdit | None:
        """Carry out a correction of spot or condition.

        Args:
            reading: as it is shown.
            do: makes it.
            reason: why.
            name: of the edit.
            done: the message once it is made.
        """
        before = placement_of(reading)
        made: list[Reading] = []

        def first() -> str:
            made.append(do())
            return done

        if not self._access.do(first):
            return None
        after = placement_of(made[0])
        return self._remembered(
            name,
            lambda: self._place(reading, after, before, _undone(reason)),
            lambda: self._place(reading, before, after, reason),
        )

    def _place(self, reading: Reading, expected: Placement, to: Placement, reason: str) -> None:
        """Let a reading count elsewhere.

        Args:
            reading: which.
            expected: where it counts now.
            to: where it is to count.
            reason: why.

        Raises:
            StillvoltError: it does not count for what is expected, or the correction is refused.
        """
        now = self._current_in_log(reading)
        here = placement_of(now)
        if not (here.same_spot(expected) and here.same_condition(expected)):
            raise StillvoltError(
                tr("This reading was corrected otherwise meanwhile."), tr("Nothing was changed.")
            )
        # What it was read against is another correction, with a way back of its own.
        to = replace(to, answers=None)
        self._access.log.readings.corrections.correct(now, to, reason, self._entered_by())

    def _valid_or_void(
        self,
        reading: Reading,
        reason: str,
        is_void: bool,
        name: str,
        *,
        undone_text: str = "",
        undo_name: str = "",
    ) -> UndoableEdit | None:
        """Void a reading or make it valid again.

        Args:
            reading: as it is shown.
            reason: why.
            is_void: whether it is void then.
            name: of the edit.
            undone_text: see `UndoableEdit`.
            undo_name: see `UndoableEdit`.
        """
        words = (
            tr("Voided: {value} at “{spot}” ({reason}). Undo takes the voiding back.")
            if is_void
            else tr("Valid again: {value} at “{spot}” ({reason}).")
        )

        def first() -> str:
            self._set_void(reading, reason, is_void)
            shown = tr_kept(" ".join(reason.split()))
            return words.format(value=reading_text(reading), spot=reading.spot_name, reason=shown)

        if not self._access.do(first):
            return None
        return self._remembered(
            name,
            lambda: self._set_void(self._current_in_log(reading), _undone(reason), not is_void),
            lambda: self._set_void(self._current_in_log(reading), reason, is_void),
            undone_text,
            undo_name,
        )

    def _set_void(self, reading: Reading, reason: str, is_void: bool) -> None:
        store = self._access.log.readings.corrections
        (store.void if is_void else store.make_valid)(reading, reason, self._entered_by())

    def _current_in_log(self, reading: Reading) -> Reading:
        """The reading as the log has it at this moment, not as it was last read."""
        return next(r for r in self._access.log.present_readings() if r.id == reading.id)

    def _remembered(
        self,
        name: str,
        undo: Callable[[], object],
        redo: Callable[[], object],
        undone_text: str = "",
        undo_name: str = "",
    ) -> UndoableEdit:
        edit = UndoableEdit(name, undo, redo, undone_text, undo_name)
        self._history.remember_edit(edit)
        return edit


def _undone(reason: str) -> str:
    return _short(kept_text("undone: {reason}").format(reason=reason))


def _short(reason: str) -> str:
    """A reason that a word before it may have made too long."""
    return " ".join(reason.split())[:MAX_REASON_CHARACTERS]
