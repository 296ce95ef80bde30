"""Copying: the chosen row, the selection of the trace or the value shown; the message line says what was copied."""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtCore import QModelIndex, Qt
from PySide6.QtGui import QGuiApplication
from PySide6.QtWidgets import QApplication, QLabel, QLineEdit

from gui.actions.registry import ActionRegistry
from gui.model.status import status, status_value_text
from gui.model.visit_access import Message
from gui.model.visit_controller import VisitController
from gui.stages.sources.circuit_table_view import CircuitTableView
from gui.widgets.row_list import RowList
from logger.translation import tr


class CopyActions:
    """Copies what is chosen, and says what it copied.

    Args:
        registry: the actions of the window.
        controller: the visit.
        trace_selection: gives the selection of the trace in a sentence; empty without one.
        why_no_selection: why that cannot be copied, in a whole sentence; empty where it can.
    """

    def __init__(
        self,
        registry: ActionRegistry,
        controller: VisitController,
        trace_selection: Callable[[], str],
        why_no_selection: Callable[[], str],
    ) -> None:
        self._controller = controller
        self._copied = ("", Message(""))
        """What was copied last, and the message that says so."""
        registry.bind("edit.copy", self.copy, self.why_not_copy)
        registry.bind("edit.copy_value", lambda: self._put(self.value()), self.why_not_copy_value)
        registry.bind("trace.copy", lambda: self._put(trace_selection()), why_no_selection)

    def copy(self) -> None:
        """Copy what is chosen."""
        self._put(self._chosen() or self.value() or self._message())

    def why_not_copy(self) -> str:
        """Why nothing can be copied, in a whole sentence; empty where something can."""
        return "" if self._chosen() or self.value() or self._message() else tr("There is nothing to copy.")

    def value(self) -> str:
        """The value that the readout shows, with its uncertainty, unit and state; empty while it shows none."""
        return status_value_text(status(self._controller.snapshot))

    def why_not_copy_value(self) -> str:
        """Why there is no value to copy, in a whole sentence; empty where there is one."""
        return "" if self.value() else tr("No value is shown.")

    def _chosen(self) -> str:
        """The selected letters of a field or text, else the chosen row of the list, that has the keyboard."""
        part = QApplication.focusWidget()
        if isinstance(part, QLineEdit | QLabel) and part.hasSelectedText():
            return part.selectedText()
        if isinstance(part, CircuitTableView):
            return part.copied_text()
        index = part.currentIndex() if isinstance(part, RowList) else QModelIndex()
        return str(index.data(Qt.ItemDataRole.AccessibleTextRole) or "").strip() if index.isValid() else ""

    def _message(self) -> str:
        copied, message = self._copied
        shown = self._controller.message
        return copied if shown is message else shown.text.strip()

    def _put(self, text: str) -> None:
        QGuiApplication.clipboard().setText(text)
        self._controller.message = Message(tr("Copied: {text}").format(text=text))
        self._copied = text, self._controller.message
