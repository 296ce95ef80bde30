"""Corrections of what readings were read against: reference, laptop and link, of one reading or of several at once.

In: readings as they are shown, the answers as they were in truth, and why. Out: rows in the log, a message, and one
edit that can be undone. Undoing is another correction back, with a row of its own.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from gui.model.undo_history import UndoableEdit, UndoHistory
from gui.model.visit_access import VisitAccess
from gui.model.wording import reading_text
from logger.errors import StillvoltError
from logger.metrology.reference_answers import OF_THE_ROD, ReferenceAnswers
from logger.metrology.rounding import grouped
from logger.metrology.setup import REFERENCES
from logger.translation import kept_text, tr, tr_n
from logger.visit import Reading

ENTERED_WRONGLY = kept_text("it was entered wrongly")
STATED_LATER = kept_text("it was the same when this was read, and was stated only later")
REFERENCE_REASONS = (ENTERED_WRONGLY, kept_text("it was changed before this reading and entered later"))
"""Why it is corrected, as it is offered and kept in English; any other reason can be typed."""


@dataclass(frozen=True, slots=True)
class AnswersChoice:
    """What a reading may have been read against.

    Args:
        answers: all of it.
        words: what differs from how the reading counts, for a person.
    """

    answers: ReferenceAnswers
    words: str


@dataclass(frozen=True, slots=True)
class KeptStatement:
    """Readings that keep what was stated before, once it is stated otherwise.

    Args:
        readings: since the newest reading with another statement, oldest first.
        corrected: what each would be corrected to.
        before: what they keep, for a person.
        now: what is stated now.
    """

    readings: tuple[Reading, ...]
    corrected: tuple[ReferenceAnswers, ...]
    before: str
    now: str


class ReferenceCorrections:
    """Corrects what readings of the visit were read against.

    Args:
        access: the visit.
        history: notes the corrections, so that they can be undone.
        undone_reason: the reason of a correction back.
    """

    def __init__(
        self, access: VisitAccess, history: UndoHistory, undone_reason: Callable[[str], str]
    ) -> None:
        self._access = access
        self._history = history
        self._undone_reason = undone_reason

    def why_not(self, reading: Reading) -> str:
        """Why what a reading was read against can't be corrected, in a sentence; empty where it can."""
        now = next((one for one in self._access.snapshot.readings if one.id == reading.id), reading)
        if now.void_reason is not None:
            return tr("This reading is void. Make it valid again first.")
        return "" if now.context else tr("Nothing was kept of what this reading was read against.")

    def choices(self, reading: Reading) -> list[AnswersChoice]:
        """What a reading may have been read against: all as it is stated now, then one answer otherwise.

        Args:
            reading: as the log has it now.
        """
        counted = reading.answers
        if counted is None:
            return []
        stated = ReferenceAnswers.of(self._access.snapshot.setup)
        found = [_as_stated(counted, stated)]
        found += [counted.against(one, stated) for one in REFERENCES if one != counted.reference]
        found += [replace(counted, on_battery=one) for one in (True, False) if one is not counted.on_battery]
        found += [
            replace(counted, link_isolated=one) for one in (True, False) if one is not counted.link_isolated
        ]
        return [
            AnswersChoice(one, one.words_of(counted.changes_to(one)))
            for one in dict.fromkeys(found)
            if one != counted
        ]

    def kept_since(self, was: ReferenceAnswers) -> KeptStatement | None:
        """The newest readings that keep what was stated until now; None where there are none.

        Whoever stated it at first in another way meant something else by that: what was read before counts no more.

        Args:
            was: what was stated until now.
        """
        now = ReferenceAnswers.of(self._access.log.setup.current())
        unstated = ReferenceAnswers()
        changed = [
            name
            for name in was.changes_to(now)
            if name not in OF_THE_ROD and getattr(was, name) != getattr(unstated, name)
        ]
        found: list[Reading] = []
        for reading in reversed(self._access.log.readings.all()):
            if reading.void_reason is not None:
                continue
            answers = reading.answers
            if answers is None or any(getattr(answers, name) != getattr(was, name) for name in changed):
                break
            found.insert(0, reading)
        if not (changed and found):
            return None
        corrected = []
        for reading in found:
            assert reading.answers is not None
            to = reading.answers
            if "reference" in changed and now.reference is not None:
                to = to.against(now.reference, now)
            others = {name: getattr(now, name) for name in changed if name != "reference"}
            corrected.append(replace(to, **others))
        return KeptStatement(tuple(found), tuple(corrected), was.words_of(changed), now.words_of(changed))

    def count_as_stated_now(self, reading_ids: Sequence[int], reason: str = STATED_LATER) -> bool:
        """Let readings count as read against what is stated now; False where it was refused (the message says why).

        Args:
            reading_ids: of readings of the visit.
            reason: why.
        """
        stated = ReferenceAnswers.of(self._access.snapshot.setup)
        readings = [r for r in self._access.log.present_readings() if r.id in reading_ids and r.answers]
        answers = [_as_stated(reading.answers, stated) for reading in readings if reading.answers]
        return bool(readings) and self.correct(readings, answers, reason) is not None

    def correct(
        self, readings: Sequence[Reading], answers: Sequence[ReferenceAnswers], reason: str
    ) -> UndoableEdit | None:
        """Correct what readings were read against: all of them or none.

        Args:
            readings: as they are shown.
            answers: of each, as they were in truth.
            reason: why.

        Returns:
            The edit, which the history holds; None when it was refused (the message says why).
        """
        before = [reading.answers for reading in readings]
        n = len(readings)

        def first() -> str:
            self._keep(readings, answers, reason)
            if n == 1:
                text = tr("{value} at “{spot}” now counts as read against: {answers}.")
                value, spot = reading_text(readings[0]), readings[0].spot_name
                return text.format(value=value, spot=spot, answers=answers[0].words)
            return tr_n(
                "{n} reading now counts as read against: {answers}.",
                "{n} readings now count as read against: {answers}.",
                n,
            ).format(n=grouped(n), answers=answers[-1].words)

        if not self._access.do(first):
            return None
        name = tr_n(
            "correct what {n} reading was read against", "correct what {n} readings were read against", n
        ).format(n=grouped(n))
        known = [one for one in before if one is not None]
        edit = UndoableEdit(
            name,
            lambda: self._turn(readings, answers, known, self._undone_reason(reason)),
            lambda: self._turn(readings, known, answers, reason),
        )
        self._history.remember_edit(edit)
        return edit

    def _turn(
        self,
        readings: Sequence[Reading],
        expected: Sequence[ReferenceAnswers],
        to: Sequence[ReferenceAnswers],
        reason: str,
    ) -> None:
        """Correct readings again.

        Raises:
            StillvoltError: one of them does not count as expected, or the correction is refused.
        """
        now = {reading.id: reading for reading in self._access.log.present_readings()}
        current = [now[reading.id] for reading in readings]
        if [reading.answers for reading in current] != list(expected):
            raise StillvoltError(
                tr("This reading was corrected otherwise meanwhile."), tr("Nothing was changed.")
            )
        self._keep(current, to, reason)

    def _keep(self, readings: Sequence[Reading], answers: Sequence[ReferenceAnswers], reason: str) -> None:
        log = self._access.log
        log.readings.corrections.set_references(
            list(zip(readings, answers, strict=True)), reason, log.practitioner.current().name
        )


def _as_stated(counted: ReferenceAnswers, stated: ReferenceAnswers) -> ReferenceAnswers:
    """How a reading counts, with everything that is stated now in the place of it."""
    if stated.reference is not None and stated.reference != counted.reference:
        counted = counted.against(stated.reference, stated)
    given = {name: getattr(stated, name) for name in ("on_battery", "link_isolated")}
    return replace(counted, **{name: value for name, value in given.items() if value is not None})
