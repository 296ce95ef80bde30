"""The work of the stage Report: write the report, export the data, compare with another visit, search the archive.

What is slow is done in a process of its own, one job after the other.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from functools import partial
from importlib.util import find_spec
from pathlib import Path
from typing import Any

from gui.model.languages import AS_WINDOW, system_languages
from gui.model.report_contents import ReportContents
from gui.model.report_jobs import (
    HomeQuestion,
    ReplaceQuestion,
    compare_with,
    export_files,
    search_folder,
    write_files,
    write_plan_files,
)
from gui.model.visit_access import Message
from gui.model.visit_controller import VisitController
from gui.model.wording import named_all
from gui.model.worker_process import Job, Work, WorkerProcess
from gui.model.written_report import written_report
from logger.metrology.rounding import grouped
from logger.report.archive.search import Archive
from logger.report.compare.comparison import Comparison
from logger.report.compare.write_comparison import write_comparison
from logger.report.output_paths import export_folder, plan_path, report_path
from logger.report.paper import SYSTEM_PAPER, usual_paper
from logger.translation import marked, shown_language, tr, tr_n
from logger.visit.storage.visit_brief import visit_title

NOT_WRITTEN = marked("The report is not written yet. Write it first.")


# long: each long work of the stage is begun here, and answered when it is done
class ReportController:
    """The work of the stage Report.

    Args:
        controller: the visit.
        start: begins a job (a test gives its own).
        opens: opens a file with the system's program; where that fails it calls, then or later, what it was given.
    """

    def __init__(
        self,
        controller: VisitController,
        start: Callable[[Work], Job] = WorkerProcess,
        opens: Callable[[Path, Callable[[], None]], object] = lambda path, on_failure: on_failure(),
    ) -> None:
        self.controller = controller
        self.contents = ReportContents(controller)
        self._opens = opens
        self.before_writing: list[Callable[[], object]] = []
        """Called before each report is written."""
        self.language = AS_WINDOW
        """The code of the language that the report and the comparison are written in."""
        self.on_language: list[Callable[[str], object]] = []
        """Called with the code when another one is chosen."""
        self.paper = SYSTEM_PAPER
        """That the PDF is for: of `PAPERS`, or `SYSTEM_PAPER`."""
        self.on_paper: list[Callable[[str], object]] = []
        """Called with it when another one is chosen."""
        self.exported: tuple[Path, ...] = ()
        self.comparison: Comparison | None = None
        self.home_question: HomeQuestion | None = None
        """Is asked before the visits are compared; None where nothing has to be asked."""
        self._replace_question: tuple[str, Callable[[], None]] | None = None
        self.archive: Archive | None = None
        self.searched = ""
        """What was looked for in the archive, as typed."""
        self.folder = controller.log.path.resolve().parent
        """Where other visits are looked for."""
        self._start = start
        self._job: Job | None = None
        self._unfinished = ""
        """What the job is, in a sentence that its progress follows; empty where nothing of it would be missed."""
        self._on_done: Callable[[Any], str] = str
        self._opens_next: Path | None = None
        """The report that was just written, until it is opened."""

    # --- long work ---------------------------------------------------------------------------------------

    @property
    def busy(self) -> str:
        """What is being done; empty when nothing is."""
        return (self._job.progress or tr("starting")) if self._job is not None else ""

    def has_news(self) -> bool:
        """Take in the progress of the job; True when anything is new."""
        job = self._job
        if job is None or not job.poll():
            return False
        if job.done:
            self._job, self.controller.report_is_being_written = None, False
            self.controller.message = (
                Message(job.refusal, True) if job.refusal else Message(self._on_done(job.result))
            )
            if (page := self._opens_next) is not None:
                self._opens_next = None
                self._open(page, self.controller.message.text)
        return True

    def unfinished(self) -> str:
        """What would be lost if the window went now, with its progress; empty where nothing would."""
        return f"{self._unfinished}: {self.busy}." if self._job is not None and self._unfinished else ""

    @property
    def has_question(self) -> bool:
        """Whether the last job ended with a question that is not asked yet."""
        return self.home_question is not None or self._replace_question is not None

    def give_up(self) -> None:
        """End the job before it is done."""
        if self._job is not None:
            self._job.kill()
            self._job, self.controller.report_is_being_written = None, False
            self.controller.message = Message(tr("Given up: it was not done."))

    def close(self) -> None:
        """End the job, since the window closes."""
        self.give_up()

    def _begin(self, work: Work, on_done: Callable[[Any], str], unfinished: str = "") -> None:
        """Begin a job, unless one is at work.

        Args:
            work: what is done.
            on_done: takes its result, and returns the message.
            unfinished: see `_unfinished`.
        """
        if self._job is not None:
            self.controller.message = Message(tr("First this: {busy}").format(busy=self.busy), refused=True)
            return
        self._on_done, self._unfinished = on_done, unfinished
        self._job = self._start(work)

    def why_busy(self) -> str:
        """Why nothing else can be begun now, in a whole sentence; empty where something can."""
        return tr("Wait until this is done: {busy}.").format(busy=self.busy) if self.busy else ""

    def choose_language(self, language: str) -> None:
        """Choose what the report and the comparison are written in.

        Args:
            language: its code; `AS_WINDOW` for the one of the window.
        """
        self.language = language
        for call in self.on_language:
            call(language)

    def choose_paper(self, paper: str) -> None:
        """Choose what the PDF is for.

        Args:
            paper: of `PAPERS`; `SYSTEM_PAPER` for the one that is usual where the system is set to be.
        """
        self.paper = paper
        for call in self.on_paper:
            call(paper)

    def _code(self) -> str:
        return shown_language() if self.language == AS_WINDOW else self.language

    def write(self, *, replace: bool = False) -> None:
        """Write the report beside the visit: a page, and a PDF where that can be made.

        Args:
            replace: whether the user wants to replace what may be somebody else's work.
        """
        for call in self.before_writing:
            call()
        visit = self.controller.log.path.resolve()
        out = report_path(visit)
        pdf = out.with_suffix(".pdf") if find_spec("weasyprint") is not None else None
        self.controller.message = Message(tr("The report is being written …"))

        def on_done(found: Any) -> str:
            if isinstance(found, ReplaceQuestion):
                return self._ask_to_replace(found, partial(self.write, replace=True))
            written, without_pdf = found
            self._opens_next = out
            names = named_all([path.name for path in written])
            text = tr("Written: {names}, in {folder}").format(names=names, folder=out.parent)
            return f"{text}\n{without_pdf}".strip()

        work = partial(
            write_files,
            visit,
            out,
            pdf,
            language=self._code(),
            replace=replace,
            lengths=self.controller.length_unit,
            in_feet=frozenset(self.controller.typed_in_feet),
            paper=usual_paper(system_languages()) if self.paper == SYSTEM_PAPER else self.paper,
        )
        self._begin(work, on_done, tr("The report is still being written"))
        self.controller.report_is_being_written = self._on_done is on_done  # nothing else was at work

    def print_plan(self, *, replace: bool = False) -> None:
        """Write the plan alone beside the visit and open it to be printed, as PDF where that can be made.

        Args:
            replace: whether the user wants to replace what may be somebody else's work.
        """
        for call in self.before_writing:
            call()
        visit = self.controller.log.path.resolve()
        out = plan_path(visit)
        pdf = out.with_suffix(".pdf") if find_spec("weasyprint") is not None else None
        self.controller.message = Message(tr("The plan is being written …"))

        def on_done(found: Any) -> str:
            if isinstance(found, ReplaceQuestion):
                return self._ask_to_replace(found, partial(self.print_plan, replace=True))
            written, without_pdf = found
            self._opens_next = written[-1]
            names = named_all([path.name for path in written])
            text = tr("Written: {names}, in {folder}").format(names=names, folder=out.parent)
            return f"{text}\n{without_pdf}".strip()

        work = partial(
            write_plan_files,
            visit,
            out,
            pdf,
            language=self._code(),
            replace=replace,
            paper=usual_paper(system_languages()) if self.paper == SYSTEM_PAPER else self.paper,
        )
        self._begin(work, on_done, tr("The plan is still being written"))

    def why_no_report(self) -> str:
        """Why there is no report to open, in a whole sentence; empty where there is one."""
        return "" if written_report(self.controller) is not None else tr(NOT_WRITTEN)

    def open(self) -> None:
        """Open the report of the visit, whenever it was written."""
        self._open_file(first=True)

    def print(self) -> None:
        """Open the report as it is printed best: as PDF where there is one."""
        self._open_file(first=False)

    def _open_file(self, first: bool) -> None:
        """Open one file of the report.

        Args:
            first: the page, which is read on a screen; else the last file, which is the PDF where there is one.
        """
        written = written_report(self.controller)
        if written is None:
            self.controller.message = Message(tr(NOT_WRITTEN), refused=True)
            return
        page = written.files[0 if first else -1]
        before = tr("Opening {name}, in {folder}.").format(name=page.name, folder=page.parent)
        if written.is_outdated:
            before += " " + tr("It does not hold everything that is entered by now. Write it again.")
        self.controller.message = Message(before)
        self._open(page, before)

    def _open(self, page: Path, before: str) -> None:
        """Open the report.

        Args:
            page: its file.
            before: the message so far, which stays where it cannot be opened.
        """

        def on_failure() -> None:
            why = tr(
                "It could not be opened from here: no program on this computer opened it. Open it in a browser."
            )
            self.controller.message = Message(f"{before}\n{why}", refused=True)

        self._opens(page, on_failure)

    def export(self, parent: Path | None = None, *, replace: bool = False) -> None:
        """Write the visit's data as files that other programs read.

        Args:
            parent: in which a folder of their own is made for them; None for that of the visit.
            replace: whether the user wants to replace what may be somebody else's work.
        """
        visit = self.controller.log.path.resolve()
        folder = (parent or visit.parent) / export_folder(visit).name
        self.controller.message = Message(tr("The data are being exported …"))

        def on_done(paths: Any) -> str:
            if isinstance(paths, ReplaceQuestion):
                return self._ask_to_replace(paths, partial(self.export, parent, replace=True))
            self.exported, count = tuple(paths), len(paths)
            return tr_n("Exported: {n} file in {folder}", "Exported: {n} files in {folder}", count).format(
                n=grouped(count), folder=folder
            )

        work = partial(export_files, visit, folder, replace=replace)
        self._begin(work, on_done, tr("The data are still being exported"))

    def _ask_to_replace(self, question: ReplaceQuestion, replace: Callable[[], None]) -> str:
        """Have the page ask whether a file is to be replaced; returns the message meanwhile.

        Args:
            question: what is to be asked.
            replace: begins the work once more, and replaces it.
        """
        self._replace_question = (question.why, replace)
        return question.why

    def take_replace_question(self) -> tuple[str, Callable[[], None]] | None:
        """Which file may be somebody else's work, in a sentence, and what replaces it all the same; once."""
        question, self._replace_question = self._replace_question, None
        return question

    def compare(
        self, other: Path, by_hand: Mapping[str, str] | None = None, *, same_home: bool = False
    ) -> None:
        """Compare this visit with another one, the earlier first.

        Args:
            other: the other visit log.
            by_hand: spots of the later visit by those of the earlier, as matched by the user; kept in the later one.
            same_home: the user confirms that both are of the same home; kept in the later one.
        """
        here = self.controller.log.path.resolve()

        def on_done(found: Any) -> str:
            if isinstance(found, HomeQuestion):
                self.home_question = found
                return found.why
            self.comparison = found
            before, after = (visit_title(v.household, v.path) for v in (found.before, found.after))
            return tr("Compared: {before}; then {after}").format(before=before, after=after)

        self.controller.message = Message(tr("The visits are being compared …"))
        work = partial(compare_with, here, other, dict(by_hand or {}), same_home)
        self._begin(work, on_done, tr("The visits are still being compared"))

    def save_comparison(self, path: Path) -> None:
        """Write the comparison that is shown as text, and open it to be printed.

        Args:
            path: the file; whether one that is there is replaced was asked before.
        """
        comparison = self.comparison
        if comparison is None:
            return

        def do() -> str:
            write_comparison(comparison, path, language=self._code(), replace=True)
            return tr("Saved: {name}, in {folder}").format(name=path.name, folder=path.parent)

        if self.controller.do(do):
            self._open(path, self.controller.message.text)

    def take_home_question(self) -> HomeQuestion | None:
        """The question whether both visits are of the same home, once."""
        question, self.home_question = self.home_question, None
        return question

    def match(self, before: str, after: str) -> None:
        """Match a spot of the earlier visit with one of the later; an empty name: it has no partner there."""
        if self.comparison is not None:
            here = self.controller.log.path.resolve()
            paths = (self.comparison.before.path, self.comparison.after.path)
            other = next((path for path in paths if path.resolve() != here), paths[0])
            self.compare(other, {before: after})

    def search(self, typed: str, folder: Path | None = None) -> None:
        """Look through a folder of visits."""
        self.folder = folder or self.folder

        def on_done(found: Any) -> str:
            self.archive, self.searched = found, typed
            text = tr_n("Found: {found} of {n} visit", "Found: {found} of {n} visits", found.visit_count)
            return text.format(found=len(found.visits), n=grouped(found.visit_count))

        self._begin(partial(search_folder, self.folder, typed), on_done)
