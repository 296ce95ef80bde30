"""The page Archive of the stage Report: a folder of visits, searched by household, date, room and everything typed."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from PySide6.QtCore import Signal

from gui.actions.registry import ActionRegistry
from gui.model.report_controller import ReportController
from gui.model.wording import counted, date_text
from gui.shell.question import Question
from gui.widgets.appearance import Appearance, label
from gui.widgets.badge import GOOD, UNCLEAR
from gui.widgets.page import PrimaryAction, TabPage
from gui.widgets.row_list import RowList
from gui.widgets.row_model import ListHeading, ListRow
from gui.widgets.visit_file_dialog import choose_folder
from logger.metrology.rounding import DECIMALS_WITHOUT_UNCERTAINTY, fixed, grouped
from logger.name_list import listed
from logger.report.archive.entry import ArchiveEntry, Highest
from logger.report.archive.search import UnreadableVisit
from logger.translation import marked, tr, tr_kept, tr_n
from logger.visit.records.simulated_run import SIMULATED_WORDS


class ArchivePage(TabPage):
    """The visits that were found, the newest first; Enter opens one.

    Args:
        report_controller: what the window does on the stage Report.
        appearance: theme and sizes.
        actions: the actions of the window.
    """

    page_name = marked("Archive")
    place = "report.archive"
    visit_requested = Signal(object)
    """Path of a visit that is to be shown in this window's place."""

    def __init__(
        self, report_controller: ReportController, appearance: Appearance, actions: ActionRegistry
    ) -> None:
        super().__init__(report_controller.controller, appearance, actions)
        self.report_controller = report_controller
        self.choose_folder: Callable[[Path, str], Path | None] = choose_folder
        """Shows the system's dialog on a folder with a title; a test gives its own."""
        self.chosen = 0
        self.head = label("", "small")
        self.rows = RowList(appearance, tr("Visits"))
        self.rows.row_chosen.connect(self._choose)
        self.rows.row_activated.connect(lambda _: actions.trigger("archive.open"))
        actions.bind("archive.open", self._open, self._why_not_open)
        actions.bind("archive.folder", self._ask_folder)
        self._buttons = self.make_buttons("archive.open", "archive.folder", "edit.find", "view.back")
        self.column.addWidget(self.head)
        self.column.addWidget(self.rows, 1)
        self.column.addWidget(self._buttons)
        self.restyles(self.rows)
        self.refresh()

    def begin(self) -> None:
        """Show all visits of the folder."""
        self.chosen = 0
        self.report_controller.search("")

    def refresh(self) -> None:
        """See `StyledWidget`."""
        found = self.report_controller.archive
        if found is None:
            busy = self.report_controller.busy
            self.head.setText(
                tr("Working: {what} …").format(what=busy)
                if busy
                else tr("The folder {folder} has not been searched for visits yet.").format(
                    folder=self.report_controller.folder
                )
            )
            self.rows.show_rows([], None)
            return
        self.head.setText(self._found_text(len(found.visits), found.visit_count))
        rows: list[ListRow | ListHeading] = [self._row(entry) for entry in found.visits]
        if found.refused:
            rows += [ListHeading(tr("Could not be read")), *map(_left_alone, found.refused)]
        self.chosen = min(self.chosen, max(len(rows) - 1, 0))
        self.rows.show_rows(rows, self.chosen if found.visits else None)

    def _found_text(self, found: int, count: int) -> str:
        """How many visits of the folder were found, and for what.

        Args:
            found: so many.
            count: of so many.
        """
        asked, folder = self.report_controller.searched, self.report_controller.folder
        if not asked:
            text = tr_n("{found} of {n} visit, in {folder}", "{found} of {n} visits, in {folder}", count)
        else:
            text = tr_n(
                "{found} of {n} visit for “{asked}”, in {folder}",
                "{found} of {n} visits for “{asked}”, in {folder}",
                count,
            )
        return text.format(found=found, n=grouped(count), asked=asked, folder=folder)

    def primary_action(self) -> PrimaryAction:
        """See `Page`."""
        return PrimaryAction(
            tr("Search the visits of the folder"),
            self.ask_search,
            self.report_controller.why_busy(),
            does="search",
        )

    def _open(self) -> None:
        found = self.report_controller.archive
        if found is not None and found.visits:
            self.visit_requested.emit(found.visits[self.chosen].path)

    def _why_not_open(self) -> str:
        found = self.report_controller.archive
        return (
            ""
            if found is not None and self.chosen < len(found.visits)
            else tr("Choose a visit of the list first.")
        )

    def ask_search(self) -> None:
        """Ask what is looked for."""
        self.question_requested.emit(
            Question(
                tr("Search the visits"),
                tr(
                    "Household, room, spot or anything typed in a visit; a date such as 2026-05-16, or a month such as "
                    "2026-05. All of it has to fit. To see all visits again, type only a dash (-)."
                ),
                on_text=self._search,
                prefilled=self.report_controller.searched,
                enter_text=tr("Search"),
            )
        )

    def _search(self, typed: str) -> None:
        self.chosen = 0
        self.report_controller.search("" if typed.strip() == "-" else typed)

    def _ask_folder(self) -> None:
        """Ask in which folder the visits are, then look through it and the folders in it."""
        title = tr("Which folder are the visits in? The folders in it are looked through, too.")
        folder = self.choose_folder(self.report_controller.folder, title)
        if folder is not None:
            self.report_controller.search(self.report_controller.searched, folder)

    def _choose(self, row: int) -> None:
        self.chosen = row
        self.refresh()

    def _row(self, entry: ArchiveEntry) -> ListRow:
        here = entry.path.resolve() == self.controller.log.path.resolve()
        on, off = entry.highest_on, entry.highest_off
        value = _volts(on) if on else ""
        value += f" ({_volts(off)})" if off else ""
        holds = [
            word for word, holds in ((tr("sweep"), entry.has_sweep), (tr("night"), entry.has_night)) if holds
        ]
        simulated = tr(SIMULATED_WORDS.get(entry.simulated, ""))
        small = listed([*filter(None, [simulated]), counted(entry.readings, "reading"), *holds])
        rooms = listed(list(map(tr_kept, entry.rooms))) or tr("no rooms")
        return ListRow(
            entry.household or entry.path.stem,
            f"{value} V" if value else "",
            " · ".join((date_text(entry.day) if entry.day else tr("no date"), small)),
            tr("open now") if here else (tr("being recorded") if entry.recording else ""),
            note="\n".join(
                filter(
                    None,
                    (_highest_text(entry), f"{entry.path.name}: {rooms}"),
                )
            ),
            badge=GOOD if here else None,
        )


def _volts(highest: Highest) -> str:
    return fixed(highest.volts, DECIMALS_WITHOUT_UNCERTAINTY)


def _highest_text(entry: ArchiveEntry) -> str:
    """The spots of the highest values, which may be two, in sentences; empty where nothing was read."""
    texts = (
        (tr("Highest with everything on: {volts} V at “{spot}”."), entry.highest_on),
        (tr("Highest with everything off: {volts} V at “{spot}”."), entry.highest_off),
    )
    return " ".join(
        text.format(volts=_volts(highest), spot=highest.spot) for text, highest in texts if highest
    )


def _left_alone(refused: UnreadableVisit) -> ListRow:
    return ListRow(refused.path.name, quiet=True, note=refused.reason, badge=UNCLEAR)
