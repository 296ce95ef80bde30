"""The page of the stage Report: three pages, one after the other by Tab. Each is a `TabPage`."""

from __future__ import annotations

from PySide6.QtCore import Signal

from gui.model.report_contents import ReportContent
from gui.model.report_controller import ReportController
from gui.model.visit_access import Message
from gui.model.wording import counted
from gui.stages.report.archive_page import ArchivePage
from gui.stages.report.visit_compare_page import VisitComparePage
from gui.widgets.appearance import Appearance, label
from gui.widgets.badge import GOOD, LEFT_OUT, UNCLEAR
from gui.widgets.keys import ACTION_OF
from gui.widgets.page import TabPage
from gui.widgets.paged_stage import PagedStage
from gui.widgets.row_list import RowList
from gui.widgets.row_painter import ListRow


class WritePage(TabPage):
    """What will be in the report and what is missing; writes it, opens it, exports the data.

    Args:
        report_controller: what the window does on the stage Report.
        appearance: theme and sizes.
    """

    page_name = "Write"

    def __init__(self, report_controller: ReportController, appearance: Appearance) -> None:
        super().__init__(report_controller.controller, appearance)
        self.report_controller = report_controller
        self.headline = label("", "title")
        self.rows = RowList(appearance)
        self._hints = self.make_shortcuts(
            ("Space", "write and open it"),
            ("O", "open it again"),
            ("X", "export the data"),
            ("C", "compare with another visit"),
            ("A", "archive"),
        )
        self.column.addWidget(self.headline)
        self.column.addWidget(self.rows, 1)
        self.column.addWidget(self._hints)
        self.restyles(self.rows)
        self.refresh()

    def refresh(self) -> None:
        """See `StyledWidget`."""
        contents = self.report_controller.contents.all()
        self.headline.setText(self._state(sum(bool(c.missing) for c in contents)))
        self.rows.show_rows([_row(content) for content in contents], None)

    def primary_action(self) -> Message | None:
        """See `Page`."""
        if self.report_controller.busy:
            return Message(f"{self.report_controller.busy}", refused=True)
        return Message("write the report beside the visit, and open it")

    def handle(self, name: str) -> bool:
        """See `Page`."""
        bar = self.rows.verticalScrollBar()
        if ACTION_OF.get(name) == "take" or name == "Return":
            self.report_controller.write()
        elif name == "O":
            self.report_controller.open()
        elif name == "X":
            self.report_controller.export()
        elif name in ("Up", "Down"):
            bar.setValue(bar.value() + (1 if name == "Down" else -1))
        else:
            return False
        return True

    def _state(self, missing: int) -> str:
        if self.report_controller.busy:
            return f"{self.report_controller.busy[:1].upper()}{self.report_controller.busy[1:]} …"
        if self.report_controller.written:
            return "The report is written"
        if missing:
            return f"{counted(missing, 'part')} missing or not whole"
        return "Nothing is missing"


def _row(content: ReportContent) -> ListRow:
    if content.missing:
        return ListRow(content.name, content.amount, content.missing, badge=UNCLEAR)
    badge = GOOD if content.is_expected else LEFT_OUT
    return ListRow(content.name, content.amount, badge=badge)


WRITE, COMPARE, ARCHIVE = range(3)
"""The pages in their order."""


class ReportStage(PagedStage):
    """Write, then compare, then the archive; C and A hold on every page.

    Args:
        report_controller: what the window does on the stage Report.
        appearance: theme and sizes.
    """

    visit_requested = Signal(object)
    """Path of a visit that is to be shown in this window's place."""

    def __init__(self, report_controller: ReportController, appearance: Appearance) -> None:
        self.write, self.compare, self.archive = (
            WritePage(report_controller, appearance),
            VisitComparePage(report_controller, appearance),
            ArchivePage(report_controller, appearance),
        )
        super().__init__(report_controller.controller, appearance, (self.write, self.compare, self.archive))
        self.report_controller = report_controller
        self.archive.visit_requested.connect(self.visit_requested)

    def handle(self, name: str) -> bool:
        """See `Page`."""
        if self.page is not self.write and name == "Esc":
            self.show_page(WRITE)
        elif name == "C":
            self.show_page(COMPARE)
            self.compare.ask_visit()
        elif name == "A":
            self.show_page(ARCHIVE)
            self.archive.begin()
        else:
            return super().handle(name)
        return True
