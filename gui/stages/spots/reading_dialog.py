"""One reading, opened: what it is, what it rests on, what speaks against it, its budget, its history, its corrections.

In: a reading of the visit. Out: what is known of it by now, and the dialogs that move it, correct what was on or what
it was read against, void it or make it valid again. It works by the keyboard alone and by the mouse alone.
"""

from __future__ import annotations

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import (
    QDialog,
    QDialogButtonBox,
    QFormLayout,
    QHBoxLayout,
    QHeaderView,
    QLabel,
    QPushButton,
    QScrollArea,
    QTableWidget,
    QTableWidgetItem,
    QTabWidget,
    QVBoxLayout,
    QWidget,
)

from gui.actions.tips import in_lines
from gui.model.undo_history import UndoableEdit
from gui.model.visit_controller import VisitController
from gui.model.wording import counted, day_at_time, reading_text, span_text
from gui.settings.form import dialog_buttons
from gui.stages.spots.correction_dialog import CorrectionDialog
from gui.stages.spots.correction_questions import CorrectionQuestions
from gui.trace.reading_interval import ReadingInterval
from gui.trace.trace_picture import TracePicture
from gui.widgets.appearance import Appearance, label, style_sheet
from gui.widgets.keyboard_return import KeyboardReturn
from gui.widgets.text_list import TextList
from logger.clock import NS_PER_S
from logger.metrology.checks import CheckKind
from logger.metrology.rounding import fixed, plain
from logger.metrology.uncertainty import COVERAGE_FACTOR, Budget
from logger.translation import tr, tr_kept
from logger.visit import Reading
from logger.visit.results.correction_history import footnote
from logger.visit.results.on_off_result import budget_of

USUAL_WIDTH, USUAL_HEIGHT = 46, 36
"""Size of the dialog, in heights of usual text; it never is larger than the screen."""

MAX_SCREEN_SHARE = 0.9
"""Of the width and height of the screen that it takes at most."""

NO_VALUE = "\N{EN DASH}"


class ReadingDialog(QDialog):
    """Shows a reading and corrects it.

    Args:
        controller: the visit.
        appearance: theme and sizes.
        reading: the reading.
        parent: the window that it belongs to.
    """

    made = Signal(object)
    """The edit of a correction that was made."""

    def __init__(
        self,
        controller: VisitController,
        appearance: Appearance,
        reading: Reading,
        parent: QWidget | None = None,
    ) -> None:
        super().__init__(parent)
        self._controller, self._appearance = controller, appearance
        self._corrections = controller.corrections
        self._questions = CorrectionQuestions(self._corrections, self._refusal, self)
        self.reading = reading
        self.asked: CorrectionDialog | None = None
        """The dialog that asks for a correction now; None while none does."""
        self._shown: object = None
        if parent is None:
            self.setObjectName("window")
            self.setStyleSheet(style_sheet(appearance.theme, appearance.sizes))
        self.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose, False)
        self.value = label("", "large")
        self.state = label("", "error")
        self.spot, self.condition, self.when, self.how_taken, self.against, self.checks, self.remarks = (
            _selectable() for _ in range(7)
        )
        self.doubt, self.corrected = label(""), label("")
        self.picture = TracePicture(controller, appearance)
        self.picture.set_appearance(appearance)
        self.picture.setAccessibleName(tr("Trace of this reading"))
        self.budget = _budget_table()
        self.history = TextList(tr("What became of this reading"))
        self.tabs = QTabWidget()
        self.tabs.setAccessibleName(tr("Parts of this reading"))
        self.message = label("")
        self.message.setTextInteractionFlags(_SELECT)
        self.move_button = QPushButton(tr("&Move to another spot..."))
        self.condition_button = QPushButton(tr("&Correct what was on..."))
        self.reference_button = QPushButton(tr("Correct what it was read a&gainst..."))
        self.void_button = QPushButton(tr("&Void..."))
        self.valid_button = QPushButton(tr("Make &valid again..."))
        self._lay_out()
        for button, run in (
            (self.move_button, self.ask_move),
            (self.condition_button, self.ask_condition),
            (self.reference_button, self.ask_reference),
            (self.void_button, self.ask_void),
            (self.valid_button, self.ask_valid),
        ):
            button.clicked.connect(run)
        size = appearance.sizes.normal
        room = self.screen().availableSize() * MAX_SCREEN_SHARE
        self.resize(min(USUAL_WIDTH * size, room.width()), min(USUAL_HEIGHT * size, room.height()))
        self.refresh()
        first = self.valid_button if self.reading.void_reason is not None else self.move_button
        first.setDefault(True)
        first.setFocus()

    # --- corrections ---------------------------------------------------------------------------------------------

    def why_not_move(self) -> str:
        """Why the reading can't be moved; empty where it can."""
        return self._corrections.why_not_move(self.reading)

    def why_not_condition(self) -> str:
        """Why what was on can't be corrected; empty where it can."""
        return self._corrections.why_not_set_condition(self.reading)

    def why_not_reference(self) -> str:
        """Why what it was read against can't be corrected; empty where it can."""
        return self._corrections.reference.why_not(self.reading)

    def why_not_void(self) -> str:
        """Why the reading can't be voided; empty where it can."""
        return self._corrections.why_not_void(self.reading)

    def why_not_valid(self) -> str:
        """Why the reading can't be made valid again; empty where it can."""
        return self._corrections.why_not_make_valid(self.reading)

    def ask_move(self) -> None:
        """Ask to which spot it is moved."""
        if not self.why_not_move():
            self._wait_for(self._questions.move(self.reading))

    def ask_condition(self) -> None:
        """Ask what was on."""
        if not self.why_not_condition():
            self._wait_for(self._questions.condition(self.reading))

    def ask_reference(self) -> None:
        """Ask what it was read against."""
        if not self.why_not_reference():
            self._wait_for(self._questions.reference(self.reading))

    def ask_void(self) -> None:
        """Ask why it is void."""
        if not self.why_not_void():
            self._wait_for(self._questions.void(self.reading))

    def ask_valid(self) -> None:
        """Ask why it is valid again."""
        if not self.why_not_valid():
            self._wait_for(self._questions.valid(self.reading))

    def _wait_for(self, dialog: CorrectionDialog) -> None:
        self.asked = dialog
        dialog.made.connect(self._made)
        dialog.finished.connect(self._answered)
        KeyboardReturn(dialog)

    def _made(self, edit: UndoableEdit) -> None:
        self.message.setText(self._controller.message.text)
        self.refresh()
        self.made.emit(edit)

    def _answered(self) -> None:
        self.asked = None
        self.refresh()

    def _refusal(self) -> str:
        """Why the last correction was refused; the reading is shown as it is by now."""
        refusal = self._controller.message.text
        self._controller.refresh(force=True)
        return refusal

    # --- what is shown -------------------------------------------------------------------------------------------

    def refresh(self) -> None:
        """Show the reading as the log has it now."""
        corrections, readings = self._corrections, self._controller.readings
        reading = self.reading = corrections.current(self.reading)
        history = [row.text for row in corrections.history(reading)]
        doubt, remarks = readings.doubt(reading), readings.remarks(reading)
        shown = (reading, history, doubt, remarks, self.why_not_move())
        if shown == self._shown:
            return
        self._shown = shown
        self.setWindowTitle(
            tr("Reading {number}: {value}").format(number=reading.id, value=reading_text(reading))
        )
        self.value.setText(reading_text(reading))
        void = tr("Void: {reason}").format(reason=tr_kept(reading.void_reason or ""))
        _show(self.state, void if reading.void_reason is not None else "")
        for part, name, text in (
            (self.spot, tr("Spot"), reading.spot_name),
            (self.condition, tr("What was on"), tr_kept(reading.condition) or tr("not stated")),
            (self.when, tr("When"), day_at_time(reading.utc_ns, self._controller.snapshot.zone)),
            (self.how_taken, tr("How it was taken"), how_taken_text(reading)),
            (self.against, tr("Read against"), against_text(reading)),
            (self.checks, tr("Checks"), checks_text(reading)),
            (self.remarks, tr("Remarks"), "; ".join(remarks) or NO_VALUE),
        ):
            part.setText(text)
            part.setAccessibleName(f"{name}: {text}")
        _show(self.doubt, tr("In doubt: {why}").format(why=doubt) if doubt else "")
        was = footnote(reading)
        _show(self.corrected, tr("Corrected: {what}.").format(what=was) if was else "")
        interval = ReadingInterval.of_reading(self._controller, reading, reading.spot_name)
        self.picture.show_values([interval] if interval is not None else [])
        self.picture.setVisible(interval is not None)
        _fill_budget(self.budget, budget_of(reading))
        self.history.clear()
        self.history.addItems(history)
        self.tabs.setTabText(
            2,
            tr("&History ({count})").format(count=len(reading.corrections))
            if reading.corrections
            else tr("&History"),
        )
        self._show_buttons()

    def _show_buttons(self) -> None:
        is_void = self.reading.void_reason is not None
        self.void_button.setVisible(not is_void)
        self.valid_button.setVisible(is_void)
        for button, why, what in (
            (self.move_button, self.why_not_move(), tr("Lets this reading count for another spot.")),
            (self.condition_button, self.why_not_condition(), tr("Corrects what was on when it was taken.")),
            (self.reference_button, self.why_not_reference(),
             tr("Corrects reference, laptop and link at this reading.")),
            (self.void_button, self.why_not_void(), tr("Declares this reading mistaken; it stays in the log.")),
            (self.valid_button, self.why_not_valid(), tr("Lets this reading count again.")),
        ):  # fmt: skip
            button.setEnabled(not why)
            tip = tr("Not now: {why}").format(why=why) if why else what
            button.setToolTip(in_lines(tip))
            button.setAccessibleDescription(tip)

    def _lay_out(self) -> None:
        column = QVBoxLayout(self)
        column.addWidget(self.value)
        column.addWidget(self.state)
        self.tabs.addTab(self._reading_tab(), tr("&Reading"))
        self.tabs.addTab(self.budget, tr("&Uncertainty"))
        self.tabs.addTab(self.history, tr("&History"))
        column.addWidget(self.tabs, 1)
        column.addWidget(self.message)
        corrections, row = QHBoxLayout(), QHBoxLayout()
        for button in (self.move_button, self.condition_button, self.reference_button):
            corrections.addWidget(button)
        corrections.addStretch(1)
        column.addLayout(corrections)
        for button in (self.void_button, self.valid_button):
            row.addWidget(button)
        row.addStretch(1)
        buttons = dialog_buttons((QDialogButtonBox.StandardButton.Close, tr("Close")))
        buttons.rejected.connect(self.reject)
        row.addWidget(buttons)
        column.addLayout(row)

    def _reading_tab(self) -> QWidget:
        body = QWidget()
        column = QVBoxLayout(body)
        column.addWidget(self.doubt)
        column.addWidget(self.corrected)
        form = QFormLayout()
        form.setRowWrapPolicy(QFormLayout.RowWrapPolicy.WrapLongRows)
        for name, part in (
            (tr("Spot"), self.spot),
            (tr("What was on"), self.condition),
            (tr("When"), self.when),
            (tr("How it was taken"), self.how_taken),
            (tr("Read against"), self.against),
            (tr("Checks"), self.checks),
            (tr("Remarks"), self.remarks),
        ):
            form.addRow(name, part)
        column.addLayout(form)
        column.addWidget(self.picture)
        column.addStretch(1)
        area = QScrollArea()
        area.setWidgetResizable(True)
        area.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        area.setAccessibleName(tr("The reading"))
        area.setWidget(body)
        return area


_SELECT = Qt.TextInteractionFlag.TextSelectableByMouse | Qt.TextInteractionFlag.TextSelectableByKeyboard


def _selectable() -> QLabel:
    part = label("")
    part.setTextInteractionFlags(_SELECT)
    return part


def _show(part: QLabel, text: str) -> None:
    part.setText(text)
    part.setVisible(bool(text))


def how_taken_text(reading: Reading) -> str:
    """How a reading was taken, in words: from settled samples, unsettled ones, or by hand."""
    if reading.taken == "by hand":
        return tr("typed by hand from the meter's display")
    start_ns, end_ns = reading.start_utc_ns, reading.end_utc_ns
    rested = counted(reading.samples, "sample")
    if start_ns is not None and end_ns is not None:
        rested += f", {span_text((end_ns - start_ns) / NS_PER_S)}"
    if reading.taken == "override":
        return tr("although it was not settled ({samples})").format(samples=rested)
    return tr("settled ({samples})").format(samples=rested)


def against_text(reading: Reading) -> str:
    """What a reading was read against, as it counts, in words."""
    return tr("nothing was kept of it") if reading.answers is None else reading.answers.words


def checks_text(reading: Reading) -> str:
    """What the checks prove for a reading, in words."""
    context = reading.context
    if context is None:
        return tr("nothing was kept of them")
    return "; ".join(map(context.check_text, CheckKind))


def _budget_table() -> QTableWidget:
    table = QTableWidget(0, 4)
    table.setHorizontalHeaderLabels([tr("Component"), tr("Type"), tr("u in V"), tr("It rests on")])
    table.setAccessibleName(tr("Uncertainty budget"))
    table.setEditTriggers(QTableWidget.EditTrigger.NoEditTriggers)
    table.setTabKeyNavigation(False)
    table.setWordWrap(True)
    table.verticalHeader().setVisible(False)
    header = table.horizontalHeader()
    for column in range(3):
        header.setSectionResizeMode(column, QHeaderView.ResizeMode.ResizeToContents)
    header.setSectionResizeMode(3, QHeaderView.ResizeMode.Stretch)
    table.verticalHeader().setSectionResizeMode(QHeaderView.ResizeMode.ResizeToContents)
    return table


def _fill_budget(table: QTableWidget, budget: Budget | None) -> None:
    rows: list[tuple[str, str, str, str]] = []
    if budget is not None:
        rows = [(c.shown_name(), c.kind, fixed(c.u_volts, 4), tr_kept(c.basis)) for c in budget.components]
        rows += [
            (tr("Combined standard uncertainty"), "", fixed(budget.u_volts, 4), ""),
            (
                tr("Expanded, k = {factor}").format(factor=plain(COVERAGE_FACTOR)),
                "",
                fixed(budget.expanded_volts, 4),
                "",
            ),
        ]
    table.setRowCount(len(rows))
    for row, texts in enumerate(rows):
        for column, text in enumerate(texts):
            item = QTableWidgetItem(text)
            if column == 2:
                item.setTextAlignment(Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignTop)
            table.setItem(row, column, item)
