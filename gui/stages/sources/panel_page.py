"""The page Panel of the stage Sources: the circuits of the panel as a table, typed or pasted from a spreadsheet."""

from __future__ import annotations

from PySide6.QtCore import Signal
from PySide6.QtGui import QGuiApplication, QResizeEvent
from PySide6.QtWidgets import QWidget

from gui.actions.menus import add_context_menu
from gui.actions.registry import ActionRegistry
from gui.model.circuit_list_edits import CircuitListEdits
from gui.model.circuit_paste import paste_plan, pasted_cells
from gui.model.sweep_controller import SweepController
from gui.model.visit_access import Message
from gui.stages.sources.circuit_table_model import NEW, CircuitTableModel
from gui.stages.sources.circuit_table_view import ROWS, SCARCE_ROWS, CircuitTableView
from gui.stages.sources.paste_prompt import paste_prompt
from gui.widgets.appearance import Appearance, label
from gui.widgets.foldable_text import FoldableText
from gui.widgets.page import PrimaryAction, TabPage
from logger import cautions
from logger.errors import StillvoltError
from logger.sweep.sweep_progress import circuits_of
from logger.translation import marked, tr, tr_all, tr_n
from logger.visit.records.home_records import Source

CAUTION = (cautions.BREAKERS_ONLY, cautions.PANEL, cautions.ESSENTIAL_CIRCUITS)
SHORT_CAUTION = CAUTION[:2]

HOW = marked(
    "Read it off the front of the panel. Type in the last row: Tab goes to the next cell, Enter to the next circuit. "
    "Panel and number go on by themselves."
)


class PanelPage(TabPage):
    """The table of circuits and cords.

    Args:
        sweep_controller: what the window does on the stage Sources.
        appearance: theme and sizes.
        actions: the actions of the window.
    """

    page_name = marked("Panel")
    place = "sources.panel"
    breakers_wanted = Signal()
    """The list is done: the page Breakers is next."""

    def __init__(
        self, sweep_controller: SweepController, appearance: Appearance, actions: ActionRegistry
    ) -> None:
        super().__init__(sweep_controller.controller, appearance, actions)
        self.sweep_controller = sweep_controller
        self.edits = CircuitListEdits(self.controller, sweep_controller.source_list.forget_chosen)
        self.rows = CircuitTableModel(self.controller, self.edits, appearance.theme, self)
        self.how = FoldableText("small")
        self.table = CircuitTableView(self.rows, appearance)
        self.why = label("", "error")
        """Why a cell holds what is not kept."""
        self.caution = FoldableText("quiet")
        self._fitted: tuple[object, ...] = ()
        self._buttons = self.make_buttons("panel.paste", more=("panel.copy", "", "panel.remove"))
        actions.bind("panel.paste", self._paste, self._why_no_paste)
        actions.bind("panel.copy", self._copy, self._why_no_rows)
        actions.bind("panel.remove", self._remove, self._why_no_row)
        add_context_menu(
            self.table, actions, "panel.paste", "panel.copy", "edit.copy", "", "panel.remove",
            beside_rows=("panel.paste", "panel.copy"),
        )  # fmt: skip
        self.column.addLayout(self.how)
        self.column.addWidget(self.table, 1)
        self.column.addWidget(self.why)
        self.column.addLayout(self.caution)
        self.column.addWidget(self._buttons)
        self.rows.entered.connect(self._show_why)
        self.table.selectionModel().currentChanged.connect(lambda *_: self._cell_chosen())
        self.refresh()

    # --- what is shown -----------------------------------------------------------------------------------

    def refresh(self) -> None:
        """See `StyledWidget`."""
        self.table.refresh()
        self._show_why()
        self._make_room()

    def resizeEvent(self, event: QResizeEvent) -> None:
        """See Qt."""
        super().resizeEvent(event)
        self._make_room()

    def set_appearance(self, appearance: Appearance) -> None:
        """See `StyledWidget`."""
        self.table.set_appearance(appearance)
        super().set_appearance(appearance)

    def focus_part(self) -> QWidget:
        """See `Page`."""
        return self.table

    def primary_action(self) -> PrimaryAction:
        """See `Page`."""
        why_not = "" if circuits_of(self.sweep_controller.sources) else tr("No circuit is listed yet.")
        return PrimaryAction(tr("Go on to the breakers"), self.breakers_wanted.emit, why_not, does="breakers")

    def _cell_chosen(self) -> None:
        """What may be done depends on the row."""
        self._show_why()
        self.registry.refresh()

    def _show_why(self) -> None:
        index = self.table.currentIndex()
        here = self.rows.why_refused(index.row(), index.column()) if index.isValid() else ""
        reasons = self.rows.reasons()
        self.why.setText(here or next(iter(reasons), ""))
        self.why.setVisible(bool(reasons))

    def _make_room(self) -> None:
        """Where the page is too low, how the table is filled in is cut, then what the caution says of what stays on."""
        fitted = (self.width(), self.room_height(), self.appearance, self.why.text())
        if fitted == self._fitted:
            return
        self._fitted = fitted
        self.how.show_whole(tr(HOW))
        self.caution.show_whole(tr_all(CAUTION))
        self.table.keep_rows(ROWS)
        self.give_way(
            [
                lambda: self.how.cut(tr("Type in the last row.")),
                lambda: self.caution.cut(tr_all(SHORT_CAUTION)),
                lambda: self.table.keep_rows(SCARCE_ROWS),
            ]
        )

    # --- actions -----------------------------------------------------------------------------------------

    def _source(self) -> Source | None:
        """The circuit or cord of the current row."""
        row = self.table.currentIndex().row()
        return self.rows.sources[row] if self.rows.id_at(row) != NEW else None

    def _why_no_row(self) -> str:
        return "" if self._source() is not None else tr("Choose a circuit or a cord first.")

    def _why_no_rows(self) -> str:
        return "" if self.rows.sources else tr("No circuit is listed yet.")

    def _why_no_paste(self) -> str:
        return "" if QGuiApplication.clipboard().text().strip() else tr("The clipboard has no text.")

    def _remove(self) -> None:
        if (source := self._source()) is not None:
            self.sweep_controller.source_list.remove(source)
            self.refresh()

    def _copy(self) -> None:
        QGuiApplication.clipboard().setText(self.rows.table_text())
        count = len(self.rows.sources)
        self.controller.message = Message(
            tr_n("Copied the table: {n} row.", "Copied the table: {n} rows.", count).format(n=count)
        )

    def _paste(self) -> None:
        """Paste one cell where the keyboard is, else ask about a table."""
        text = QGuiApplication.clipboard().text()
        try:
            cells = pasted_cells(text)
            index = self.table.currentIndex()
            if len(cells) == 1 and len(cells[0]) == 1 and index.isValid():
                self.table.take(index, cells[0][0])
                self.refresh()
                return
            snapshot = self.controller.snapshot
            plan = paste_plan(text, snapshot.sources, snapshot.source_details)
        except StillvoltError as error:
            self.controller.message = Message(str(error), refused=True)
            return
        if not plan.wanted:
            said = [tr("All of it is in the table already."), *plan.notes]
            self.controller.message = Message(" ".join(said))
            return
        self.question_requested.emit(paste_prompt(plan, self.edits, self.refresh))
