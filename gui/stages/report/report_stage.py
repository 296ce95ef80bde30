"""The page of the stage Report: three pages behind tabs. Each is a `TabPage`."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from PySide6.QtCore import Signal
from PySide6.QtGui import QResizeEvent
from PySide6.QtWidgets import QBoxLayout, QSizePolicy

from gui.actions.registry import ActionRegistry
from gui.actions.tips import in_lines
from gui.model.languages import AS_WINDOW, language_choices, system_languages
from gui.model.report_contents import ReportContent
from gui.model.report_controller import ReportController
from gui.model.written_report import written_report
from gui.shell.question import Choice, Question
from gui.stages.report.archive_page import ArchivePage
from gui.stages.report.visit_compare_page import VisitComparePage
from gui.widgets.appearance import Appearance, label
from gui.widgets.badge import GOOD, LEFT_OUT, UNCLEAR
from gui.widgets.choice_box import ChoiceBox
from gui.widgets.page import PrimaryAction, TabPage
from gui.widgets.paged_stage import PagedStage
from gui.widgets.row_list import RowList
from gui.widgets.row_model import ListRow
from gui.widgets.visit_file_dialog import choose_folder
from logger.report.paper import PAPER_NAMES, PAPERS, SYSTEM_PAPER, usual_paper
from logger.translation import marked, tr, tr_n


class WritePage(TabPage):
    """What will be in the report and what is missing; writes it, opens it, exports the data.

    Args:
        report_controller: what the window does on the stage Report.
        appearance: theme and sizes.
        actions: the actions of the window.
        tonight: works out what to switch off tonight, beside the window.
    """

    page_name = marked("Write")
    place = "report.write"

    def __init__(
        self,
        report_controller: ReportController,
        appearance: Appearance,
        actions: ActionRegistry,
        tonight: Callable[[], object],
    ) -> None:
        super().__init__(report_controller.controller, appearance, actions)
        self.report_controller = report_controller
        self._tonight = tonight
        self.choose_folder: Callable[[Path, str], Path | None] = choose_folder
        """Shows the system's dialog on a folder with a title; a test gives its own."""
        self.headline = label("", "title")
        self.rows = RowList(appearance, tr("Parts of the report"))
        self._shown: list[ReportContent] = []
        """What each row shows."""
        self._buttons = self.make_buttons(
            "report.open", "report.export", "report.practitioner", "report.compare", "report.archive"
        )
        self.rows.row_activated.connect(self._go_there)
        actions.bind("report.open", report_controller.open, report_controller.why_no_report)
        actions.bind("report.print", report_controller.print, report_controller.why_no_report)
        actions.bind("report.export", self._export, report_controller.why_busy)
        self.column.addWidget(self.headline)
        self.column.addWidget(self.rows, 1)
        self.language = self._language_box()
        self.paper = self._paper_box()
        self._choices = QBoxLayout(QBoxLayout.Direction.LeftToRight)
        for box in (self.language, self.paper):
            box.setSizeAdjustPolicy(ChoiceBox.SizeAdjustPolicy.AdjustToContents)
            box.setSizePolicy(QSizePolicy.Policy.Ignored, QSizePolicy.Policy.Fixed)
            self._choices.addWidget(box, 1)
        self.column.addLayout(self._choices)
        self.column.addWidget(self._buttons)
        self.restyles(self.rows)
        self.refresh()

    def refresh(self) -> None:
        """See `StyledWidget`."""
        if (question := self.report_controller.take_replace_question()) is not None:
            why, replace = question
            self.question_requested.emit(
                Question(
                    tr("Replace the file?"),
                    why,
                    (Choice(tr("Replace it"), replace),),
                    escape_text=tr("Keep it"),
                )
            )
        if self.isVisible():  # the stage Sources may not have been looked at since the window was opened
            self._tonight()
        self.language.setCurrentIndex(max(self.language.findData(self.report_controller.language), 0))
        self.paper.setCurrentIndex(max(self.paper.findData(self.report_controller.paper), 0))
        contents = self.report_controller.contents.all()
        missing = sum(bool(c.missing) for c in contents)
        self.headline.setText(self._state(missing, certain=not any(c.not_certain for c in contents)))
        self._shown = contents
        self.rows.show_rows([_row(content) for content in contents], None)

    def resizeEvent(self, event: QResizeEvent) -> None:
        """See Qt: what is chosen stands in one line where both have room, since on a low window each line counts."""
        super().resizeEvent(event)
        widest = max(self.language.sizeHint().width(), self.paper.sizeHint().width())
        has_room = 2 * widest + self._choices.spacing() <= self._buttons.width()
        way = QBoxLayout.Direction.LeftToRight if has_room else QBoxLayout.Direction.TopToBottom
        self._choices.setDirection(way)

    def primary_action(self) -> PrimaryAction:
        """See `Page`."""
        text = tr("Write the report beside the visit, and open it")
        return PrimaryAction(
            text, self.report_controller.write, self.report_controller.why_busy(), does="write"
        )

    def _language_box(self) -> ChoiceBox:
        """Where the language of the report is chosen, which may be another than the window's."""
        box = ChoiceBox()
        box.setAccessibleName(tr("Language of the report"))
        hint = tr("The report and the saved comparison are written in it.")
        box.currentTextChanged.connect(lambda text: box.setToolTip(in_lines(f"{text}\n{hint}")))
        box.addItem(tr("Language: as the window"), AS_WINDOW)
        for language, code in language_choices():
            box.addItem(tr("Language: {language}").format(language=language), code)
        box.activated.connect(lambda row: self.report_controller.choose_language(box.itemData(row)))
        return box

    def _paper_box(self) -> ChoiceBox:
        """Where the paper of the PDF is chosen."""
        box = ChoiceBox()
        box.setAccessibleName(tr("Paper of the PDF"))
        hint = tr("The PDF is made for it. The page is printed by a browser on the paper of the printer.")
        box.currentTextChanged.connect(lambda text: box.setToolTip(in_lines(f"{text}\n{hint}")))
        usual = usual_paper(system_languages())
        box.addItem(tr("Paper: the usual ({paper})").format(paper=tr(PAPER_NAMES[usual])), SYSTEM_PAPER)
        for paper in PAPERS:
            box.addItem(tr("Paper: {paper}").format(paper=tr(PAPER_NAMES[paper])), paper)
        box.activated.connect(lambda row: self.report_controller.choose_paper(box.itemData(row)))
        return box

    def _go_there(self, row: int) -> None:
        """Go where it can be seen to, if that is one place, where a line is double-clicked."""
        if action_id := self._shown[row].action_id:
            self.registry.trigger(action_id)

    def _export(self) -> None:
        """Ask in which folder, then export."""
        title = tr("In which folder shall the data be written?")
        folder = self.choose_folder(self.controller.log.path.resolve().parent, title)
        if folder is not None:
            self.report_controller.export(folder)

    def _state(self, missing: int, *, certain: bool) -> str:
        if self.report_controller.busy:
            return tr("At work: {busy} …").format(busy=self.report_controller.busy)
        written = written_report(self.controller)
        if written is not None:
            return (
                tr("The report is out of date: write it again")
                if written.is_outdated
                else tr("The report is written")
            )
        if missing:
            return tr_n("{n} part missing or incomplete", "{n} parts missing or incomplete", missing).format(
                n=missing
            )
        if certain:
            return tr("Nothing is missing")
        return tr("Nothing is missing. The marked rows are not certain yet and say what to do")


def _row(content: ReportContent) -> ListRow:
    if content.missing:
        return ListRow(content.name, content.amount, content.missing, badge=UNCLEAR)
    if content.not_certain:
        return ListRow(content.name, content.amount, note=content.not_certain, badge=UNCLEAR)
    badge = GOOD if content.is_expected else LEFT_OUT
    return ListRow(content.name, content.amount, content.hint, badge=badge)


WRITE, COMPARE, ARCHIVE = range(3)
"""The pages in their order."""


class ReportStage(PagedStage):
    """Write, then compare, then the archive.

    Args:
        report_controller: what the window does on the stage Report.
        appearance: theme and sizes.
        actions: the actions of the window.
        tonight: works out what to switch off tonight, beside the window.
    """

    place = "report"
    visit_requested = Signal(object)
    """Path of a visit that is to be shown in this window's place."""

    def __init__(
        self,
        report_controller: ReportController,
        appearance: Appearance,
        actions: ActionRegistry,
        tonight: Callable[[], object],
    ) -> None:
        self.write, self.compare, self.archive = (
            WritePage(report_controller, appearance, actions, tonight),
            VisitComparePage(report_controller, appearance, actions),
            ArchivePage(report_controller, appearance, actions),
        )
        super().__init__(
            report_controller.controller, appearance, actions, (self.write, self.compare, self.archive)
        )
        self.report_controller = report_controller
        self.archive.visit_requested.connect(self.visit_requested)

    def go_back(self) -> bool:
        """Go back to the first page; False when it is in sight already."""
        if self.page is self.write:
            return False
        self.show_page(WRITE)
        return True

    def show_compare(self) -> None:
        """Show the page that compares, and ask for the other visit."""
        self.show_page(COMPARE)
        self.compare.ask_visit()

    def show_archive(self) -> None:
        """Show the archive with every visit of its folder."""
        self.show_page(ARCHIVE)
        self.archive.begin()
