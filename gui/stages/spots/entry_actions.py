"""What can be done with the chosen reading of the list: open, move, correct, void it, make it valid again.

In: the entry that is chosen. Out: the dialogs. Each action has a method and a sentence on why it can't run.
"""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtWidgets import QDialog, QWidget

from gui.model.visit_access import Message
from gui.model.visit_controller import VisitController
from gui.stages.spots.correction_dialog import CorrectionDialog
from gui.stages.spots.correction_questions import CorrectionQuestions
from gui.stages.spots.reading_dialog import ReadingDialog
from gui.widgets.appearance import Appearance
from gui.widgets.keyboard_return import KeyboardReturn
from logger.translation import tr
from logger.visit import Mark, Reading
from logger.visit.records.home_records import Spot


class EntryActions:
    """Opens and corrects the chosen reading.

    Args:
        controller: the visit.
        appearance: gives theme and sizes as they are.
        chosen: gives the entry that is chosen; None while none is.
        parent: gives the window that the dialogs belong to.
        redraw: shows in the window what is known after a correction.
        ask_void: asks why a reading is void.
    """

    def __init__(
        self,
        controller: VisitController,
        appearance: Callable[[], Appearance],
        chosen: Callable[[], Reading | Mark | None],
        parent: Callable[[], QWidget],
        redraw: Callable[[], None],
        ask_void: Callable[[Reading], None],
    ) -> None:
        self._controller, self._appearance = controller, appearance
        self._chosen, self._parent, self._redraw = chosen, parent, redraw
        self._ask_void = ask_void
        self.dialog: QDialog | None = None
        """The dialog that is open; None while none is."""

    # --- why not -----------------------------------------------------------------------------------------------

    def why_not_open(self) -> str:
        """Why no reading can be opened; empty where one can."""
        return self._why_not(lambda _: "")

    def why_not_move(self) -> str:
        """Why the chosen reading can't be moved; empty where it can."""
        return self._why_not(self._controller.corrections.why_not_move)

    def why_not_condition(self) -> str:
        """Why what was on can't be corrected; empty where it can."""
        return self._why_not(self._controller.corrections.why_not_set_condition)

    def why_not_reference(self) -> str:
        """Why what the chosen reading was read against can't be corrected; empty where it can."""
        return self._why_not(self._controller.corrections.reference.why_not)

    def why_not_void(self) -> str:
        """Why the chosen reading can't be voided; empty where it can."""
        return self._why_not(self._controller.corrections.why_not_void)

    def why_not_valid(self) -> str:
        """Why the chosen reading can't be made valid again; empty where it can."""
        return self._why_not(self._controller.corrections.why_not_make_valid)

    def _why_not(self, why_not: Callable[[Reading], str]) -> str:
        entry = self._chosen()
        if isinstance(entry, Mark):
            return tr("A mark is chosen. Choose a reading in the list.")
        return why_not(entry) if entry is not None else tr("Choose a reading in the list first.")

    # --- what is done ------------------------------------------------------------------------------------------

    def open(self) -> None:
        """Open the chosen reading."""
        reading = self._chosen()
        if isinstance(reading, Reading) and self.dialog is None:
            self._follow(ReadingDialog(self._controller, self._appearance(), reading, self._parent()))

    def move(self) -> None:
        """Ask to which spot the chosen reading is moved."""
        self._ask(self._questions().move, self.why_not_move())

    def move_to(self, entry: Reading | Mark, spot: Spot) -> None:
        """Ask whether a reading is moved to a spot that it was dragged onto.

        Args:
            entry: a mark is not moved, which is said.
            spot: where it was let go.
        """
        if isinstance(entry, Mark):
            why_not = tr("A mark is chosen. Choose a reading in the list.")
        elif self._controller.corrections.current(entry).spot_id == spot.id:
            why_not = tr("This reading counts for “{spot}” already.").format(spot=spot.name)
        else:
            why_not = self._controller.corrections.why_not_move(entry)
        if why_not:
            self._controller.message = Message(why_not, refused=True)
            self._redraw()
        elif isinstance(entry, Reading) and self.dialog is None:
            self._follow(self._questions().move(entry, to=spot))

    def correct_condition(self) -> None:
        """Ask what was on at the chosen reading."""
        self._ask(self._questions().condition, self.why_not_condition())

    def correct_reference(self) -> None:
        """Ask what the chosen reading was read against."""
        self._ask(self._questions().reference, self.why_not_reference())

    def void(self) -> None:
        """Ask why the chosen reading is void, as after Undo."""
        reading = self._chosen()
        if isinstance(reading, Reading) and not self.why_not_void() and self.dialog is None:
            self._ask_void(reading)

    def make_valid(self) -> None:
        """Ask why the chosen reading is valid again."""
        self._ask(self._questions().valid, self.why_not_valid())

    def refresh(self) -> None:
        """Show in the open dialog what is known now."""
        if isinstance(self.dialog, ReadingDialog):
            self.dialog.refresh()

    # --- within ------------------------------------------------------------------------------------------------

    def _questions(self) -> CorrectionQuestions:
        return CorrectionQuestions(self._controller.corrections, self._refusal, self._parent())

    def _ask(self, ask: Callable[[Reading], CorrectionDialog], why_not: str) -> None:
        reading = self._chosen()
        if isinstance(reading, Reading) and not why_not and self.dialog is None:
            self._follow(ask(reading))

    def _refusal(self) -> str:
        """Why the last correction was refused; the list is read again."""
        refusal = self._controller.message.text
        self._controller.refresh(force=True)
        return refusal

    def _follow(self, dialog: ReadingDialog | CorrectionDialog) -> None:
        self.dialog = dialog
        dialog.made.connect(lambda _: self._redraw())
        dialog.finished.connect(self._closed)
        KeyboardReturn(dialog)
        if not dialog.isVisible():
            dialog.open()

    def _closed(self) -> None:
        self.dialog = None
