"""The help in a window of its own, which stays beside the work: pages to choose, to search and to print."""

from __future__ import annotations

from PySide6.QtCore import QRegularExpression, QSize
from PySide6.QtGui import QColor, QKeySequence, QShortcut, QTextCharFormat, QTextCursor, QTextDocument
from PySide6.QtWidgets import (
    QDialog,
    QDialogButtonBox,
    QHBoxLayout,
    QLineEdit,
    QListWidgetItem,
    QTextBrowser,
    QTextEdit,
    QVBoxLayout,
    QWidget,
)

from gui.shell.help.action_list import TITLE as ALL_ACTIONS
from gui.shell.help.action_list import action_list_html
from gui.shell.help.help_pages import PAGES, HelpPage, page_markdown
from gui.widgets.appearance import Appearance, label
from gui.widgets.keyboard_return import KeyboardReturn
from gui.widgets.text_list import TextList
from gui.widgets.window_size import fit_dialog
from logger.translation import tr, tr_n

SIZE = QSize(52, 32)
"""Width and height in heights of a letter."""


class HelpWindow(QDialog):
    """The pages on the left, the text of the chosen one on the right, above both what is looked for.

    Args:
        parent: the window, which goes on meanwhile.
        appearance: its theme and sizes.
    """

    def __init__(self, parent: QWidget, appearance: Appearance) -> None:
        super().__init__(parent)
        self.setWindowTitle(tr("Help"))
        self._appearance = appearance
        self._texts: tuple[tuple[str, QTextDocument], ...] = (
            *((tr(page.title), _document(page, appearance)) for page in PAGES),
            (tr(ALL_ACTIONS), _document(None, appearance)),
        )
        self.search = QLineEdit()
        self.search.setPlaceholderText(tr("Search the help"))
        self.search.setAccessibleName(tr("Search the help"))
        self.search.setClearButtonEnabled(True)
        self.found = label("", "quiet", wrap=False)
        self.list = TextList(tr("Pages of the help"))
        self.text = QTextBrowser()
        self.text.setAccessibleName(tr("Help"))
        self.text.setOpenLinks(False)
        buttons = QDialogButtonBox()
        self.print_button = buttons.addButton(tr("&Print..."), QDialogButtonBox.ButtonRole.ActionRole)
        self.print_button.setAutoDefault(False)
        close = buttons.addButton(tr("Close"), QDialogButtonBox.ButtonRole.RejectRole)
        close.setAutoDefault(False)
        buttons.rejected.connect(self.reject)
        self.print_button.clicked.connect(self._print)
        top, middle, column = QHBoxLayout(), QHBoxLayout(), QVBoxLayout(self)
        top.addWidget(self.search, 1)
        top.addWidget(self.found)
        middle.addWidget(self.list, 2)
        middle.addWidget(self.text, 5)
        for part in (top, middle):
            column.addLayout(part, part is middle)
        column.addWidget(buttons)
        for title, _ in self._texts:
            self.list.addItem(QListWidgetItem(title))
        self.list.currentRowChanged.connect(self._show)
        self.search.textChanged.connect(self._look_for)
        self.search.returnPressed.connect(self.next_match)
        QShortcut(QKeySequence.StandardKey.Find, self, self.search.setFocus)
        QShortcut(QKeySequence.StandardKey.FindNext, self, self.next_match)
        QShortcut(QKeySequence.StandardKey.Print, self, self._print)
        KeyboardReturn(self)

    def show_page(self, page: HelpPage | None) -> None:
        """Bring a page into sight, and the window to the front.

        Args:
            page: which one; None for all actions.
        """
        self.search.clear()
        self.list.choose(PAGES.index(page) if page is not None else len(PAGES))
        if not self.isVisible():
            fit_dialog(self, SIZE)
            self.show()
        self.raise_()
        self.activateWindow()
        self.list.setFocus()

    def next_match(self) -> None:
        """Go to the next place in the page that has what is looked for; after the last one to the first."""
        words = self.search.text().strip()
        if words and not self.text.find(words):
            self.text.moveCursor(QTextCursor.MoveOperation.Start)
            self.text.find(words)

    def _look_for(self, typed: str) -> None:
        """List the pages that have what is typed, and mark it in the page in sight."""
        words = typed.strip().casefold()
        has = [words in f"{title}\n{text.toPlainText()}".casefold() for title, text in self._texts]
        for row, it_has in enumerate(has):
            self.list.item(row).setHidden(not it_has)
        n = sum(has)
        self.found.setText(tr_n("on {n} page", "on {n} pages", n).format(n=n) if words else "")
        if n and not has[max(self.list.chosen_row(), 0)]:
            self.list.choose(has.index(True))
        else:
            self._mark()

    def _show(self, row: int) -> None:
        if row >= 0:
            self.text.setDocument(self._texts[row][1])
            self.text.moveCursor(QTextCursor.MoveOperation.Start)
            self._mark()

    def _mark(self) -> None:
        """Mark what is looked for, and go to the first place that has it."""
        theme, words, marks = self._appearance.theme, self.search.text().strip(), []
        shape = QTextCharFormat()
        shape.setBackground(QColor(theme.chosen))
        shape.setForeground(QColor(theme.on_chosen))
        pattern = QRegularExpression(
            QRegularExpression.escape(words), QRegularExpression.PatternOption.CaseInsensitiveOption
        )
        cursor = self.text.document().find(pattern) if words else QTextCursor()
        while not cursor.isNull():
            mark = QTextEdit.ExtraSelection()
            mark.cursor, mark.format = cursor, shape
            marks.append(mark)
            cursor = self.text.document().find(pattern, cursor)
        self.text.setExtraSelections(marks)
        if marks:
            first = QTextCursor(marks[0].cursor)
            first.clearSelection()
            self.text.setTextCursor(first)

    def _print(self) -> None:
        """Let the page in sight be printed, or written as a PDF, by the system's own dialog."""
        from PySide6.QtPrintSupport import QPrintDialog, QPrinter  # noqa: PLC0415  start-up time

        printer = QPrinter()
        if QPrintDialog(printer, self).exec() == QDialog.DialogCode.Accepted:
            self.text.print_(printer)


def show_help(window: QWidget, appearance: Appearance, page: HelpPage | None) -> HelpWindow:
    """Show a page of the help beside the window; where the help is open already, it comes to the front.

    Args:
        window: goes on meanwhile.
        appearance: its theme and sizes.
        page: which one; None for all actions.
    """
    shown = next((found for found in window.findChildren(HelpWindow) if found.isVisible()), None)
    dialog = shown or HelpWindow(window, appearance)
    dialog.show_page(page)
    return dialog


def _document(page: HelpPage | None, appearance: Appearance) -> QTextDocument:
    """The text of a page as Qt lays it out.

    Args:
        page: which one; None for all actions.
        appearance: theme and sizes.
    """
    document = QTextDocument()
    font = document.defaultFont()
    font.setPixelSize(appearance.sizes.small)
    document.setDefaultFont(font)
    document.setDocumentMargin(appearance.sizes.small)
    if page is None:
        document.setHtml(action_list_html(appearance))
    else:
        document.setMarkdown(page_markdown(page))
        _part(document, appearance.sizes.small)
    return document


def _part(document: QTextDocument, letter: float) -> None:
    """Leave room above headings and below entries of a list.

    Args:
        document: a page.
        letter: height of its text, in pixels.
    """
    cursor = QTextCursor(document)
    block = document.firstBlock()
    while block.isValid():
        shape = block.blockFormat()
        if shape.headingLevel() > 1:
            shape.setTopMargin(letter)
        shape.setBottomMargin(letter / 3)
        cursor.setPosition(block.position())
        cursor.setBlockFormat(shape)
        block = block.next()
