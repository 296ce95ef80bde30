"""The questions that ask for a correction of a reading: each shows its dialog."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TypeVar

from PySide6.QtWidgets import QWidget

from gui.model.reading_corrections import (
    CONDITION_REASONS,
    MOVE_REASONS,
    VALID_REASONS,
    VOID_REASONS,
    ReadingCorrections,
)
from gui.model.reference_corrections import REFERENCE_REASONS
from gui.model.undo_history import UndoableEdit
from gui.model.wording import reading_text
from gui.stages.spots.correction_dialog import CorrectionDialog, Question
from logger.translation import tr, tr_kept
from logger.visit import Reading
from logger.visit.records.home_records import Spot

T = TypeVar("T")


@dataclass(frozen=True)
class CorrectionQuestions:
    """Asks for corrections; each dialog is open when its method returns.

    Args:
        corrections: of the visit.
        refusal: gives the sentence on why the last correction was refused.
        parent: the window that the dialogs belong to.
    """

    corrections: ReadingCorrections
    refusal: Callable[[], str]
    parent: QWidget | None = None

    def move(self, reading: Reading, to: Spot | None = None) -> CorrectionDialog:
        """Ask to which spot a reading is moved.

        Args:
            reading: the one to move.
            to: the spot that is chosen at first; None for none: the user chooses.
        """
        spots = self.corrections.spot_choices(reading)
        question = Question(
            tr("Move a reading"),
            tr("{reading} counts for “{spot}”. It stays in the log as it was taken, and counts elsewhere from now on.")
            .format(reading=_in_words(reading), spot=reading.spot_name),
            tr("&Move it"),
            MOVE_REASONS,
            tr("To which &spot?"),
            [_with_room(spot) for spot in spots],
        )  # fmt: skip
        dialog = self._opened(
            question, lambda row, _, reason: self.corrections.move(reading, _chosen(spots, row), reason)
        )
        if to in spots:
            dialog.choices.choose(spots.index(to))
        return dialog

    def condition(self, reading: Reading) -> CorrectionDialog:
        """Ask what was on when a reading was taken."""
        choices = self.corrections.condition_choices(reading)
        was_on = tr_kept(reading.condition) or tr("not stated")
        question = Question(
            tr("Correct what was on"),
            tr("{reading} at “{spot}” is entered as read with “{condition}”. A correction rests on your word, because "
               "the value was measured while that was entered. The reading is marked so.")
            .format(reading=_in_words(reading), spot=reading.spot_name, condition=was_on),
            tr("&Correct it"),
            CONDITION_REASONS,
            tr("What was &on?"),
            [tr_kept(choice.condition) for choice in choices],
            tr("Something &else:"),
            lambda text: self.corrections.why_not_condition(reading, text),
        )  # fmt: skip

        def make(row: int | None, other: str, reason: str) -> UndoableEdit | None:
            if row is None:
                return self.corrections.set_condition(reading, other, reason)
            return self.corrections.set_condition(reading, choices[row].condition, reason, choices[row].live)

        return self._opened(question, make)

    def reference(self, reading: Reading) -> CorrectionDialog:
        """Ask what a reading was read against."""
        reading = self.corrections.current(reading)
        choices = self.corrections.reference.choices(reading)
        counts = reading.answers.words if reading.answers else ""
        question = Question(
            tr("Correct what it was read against"),
            tr("{reading} at “{spot}” counts as read against: {answers}. A correction rests on your word. Its ± "
               "follows; what a check proved for the other reference does not count for it.")
            .format(reading=_in_words(reading), spot=reading.spot_name, answers=counts),
            tr("&Correct it"),
            REFERENCE_REASONS,
            tr("What was it in &truth?"),
            [choice.words for choice in choices],
        )  # fmt: skip
        correct = self.corrections.reference.correct
        return self._opened(
            question, lambda row, _, reason: correct([reading], [_chosen(choices, row).answers], reason)
        )

    def void(self, reading: Reading) -> CorrectionDialog:
        """Ask why a reading is void."""
        question = Question(
            tr("Void a reading"),
            tr("{reading} at “{spot}” counts nowhere once it is void. It stays in the log and in the report, with the "
               "reason.").format(reading=_in_words(reading), spot=reading.spot_name),
            tr("&Void it"),
            VOID_REASONS,
        )  # fmt: skip
        return self._opened(question, lambda _, __, reason: self.corrections.void(reading, reason))

    def valid(self, reading: Reading) -> CorrectionDialog:
        """Ask why a void reading is valid again."""
        question = Question(
            tr("Make a reading valid again"),
            tr("{reading} at “{spot}” was voided: {why}. If you make it valid again, it counts from now on. The log "
               "keeps that it was voided.")
            .format(reading=_in_words(reading), spot=reading.spot_name, why=tr_kept(reading.void_reason or "")),
            tr("Make it &valid again"),
            VALID_REASONS,
        )  # fmt: skip
        return self._opened(question, lambda _, __, reason: self.corrections.make_valid(reading, reason))

    def _opened(
        self, question: Question, make: Callable[[int | None, str, str], UndoableEdit | None]
    ) -> CorrectionDialog:
        dialog = CorrectionDialog(question, make, self.refusal, self.parent)
        dialog.open()
        return dialog


def _chosen(choices: Sequence[T], row: int | None) -> T:
    """What is chosen of a list without a field for something else: the dialog asks until one is."""
    assert row is not None
    return choices[row]


def _in_words(reading: Reading) -> str:
    return tr("Reading {number}, {value},").format(number=reading.id, value=reading_text(reading))


def _with_room(spot: Spot) -> str:
    """The name of a spot with its room, once."""
    is_named = not spot.room or spot.name.casefold().startswith(spot.room.casefold())
    return spot.name if is_named else f"{spot.name} ({tr_kept(spot.room)})"
