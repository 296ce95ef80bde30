"""The work of the stage Report, without a widget: the record as a page, as data, beside another visit, in the archive.
What is slow is done in a process of its own, one thing after the other."""

from __future__ import annotations

from calendar import monthrange
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import date
from functools import partial
from importlib.util import find_spec
from pathlib import Path
from typing import Any

from gui.model.visit_access import Message
from gui.model.visit_controller import VisitController
from gui.model.wording import counted
from gui.model.worker_process import CancelRequested, Job, ProgressCallback, Work, WorkerProcess
from logger.errors import StillvoltError
from logger.metrology.checks import CheckKind
from logger.report.archive import Archive, ArchiveEntry, Search, look_at
from logger.report.compare.comparison import Comparison
from logger.report.output_paths import export_folder, report_path
from logger.visit.records.records import Reading
from logger.visit.results.on_off_result import EVERYTHING_OFF, EVERYTHING_ON, OUTSIDE_WALK


@dataclass(frozen=True, slots=True)
class ReportContent:
    """One thing that a report tells of."""

    name: str
    says: str
    """How much of it there is."""
    missing: str = ""
    """What is missing and which key leads there; empty when nothing is."""
    asked_for: bool = True
    """False for what a visit may well do without."""


class ReportController:
    """The work of the stage Report.

    Args:
        controller: the visit.
        start: begins long work (a test gives its own).
        opens: opens a file with the system's program; False where there is none.
    """

    def __init__(
        self,
        controller: VisitController,
        start: Callable[[Work], Job] = WorkerProcess,
        opens: Callable[[Path], bool] = lambda path: False,
    ) -> None:
        self.controller = controller
        self._opens = opens
        self.written: tuple[Path, ...] = ()
        """The report's files, as last written."""
        self.exported: tuple[Path, ...] = ()
        self.comparison: Comparison | None = None
        self.archive: Archive | None = None
        self.searched = ""
        """What was looked for in the archive, as typed."""
        self.folder = controller.log.path.resolve().parent
        """Where other visits are looked for."""
        self._start = start
        self._job: Job | None = None
        self._then: Callable[[Any], str] = str
        self._entry: tuple[object, ArchiveEntry | None] = (None, None)

    # --- what will be in it ------------------------------------------------------------------------------

    def contents(self) -> list[ReportContent]:
        """What the report tells of, and what is missing."""
        controller, entry = self.controller, self._look()
        return [
            self._setup(),
            self._checks(),
            self._round(EVERYTHING_ON, "4: Space takes a value"),
            self._round(EVERYTHING_OFF, "4: O begins that round"),
            self._causes(entry),
            _whether("Tonight's list", entry is not None and entry.has_sweep, "from the sweep", "5: a breaker sweep"),
            _whether("Night", entry is not None and entry.has_night, "recorded", "6: a night's recording"),
            *self._besides(controller.snapshot.readings),
        ]  # fmt: skip

    def _look(self) -> ArchiveEntry | None:
        """What the archive says of this visit; looked at again only when something differs."""
        snapshot = self.controller.snapshot
        ended = snapshot.live is not None and snapshot.live.ended
        key = (len(snapshot.readings), snapshot.live.run_id if snapshot.live else 0, ended)
        if self._entry[0] != key:
            try:
                self._entry = (key, look_at(self.controller.log.path))
            except StillvoltError:
                self._entry = (key, None)
        return self._entry[1]

    def _setup(self) -> ReportContent:
        open_ = self.controller.setup.stated.missing()
        if not open_:
            return ReportContent("Set-up", "stated")
        return ReportContent("Set-up", f"{len(open_)} not stated", "2: Space asks for it")

    def _checks(self) -> ReportContent:
        passed = self.controller.checks.passed_count()
        says = f"{passed} of {len(CheckKind)} passed"
        return ReportContent("Checks", says, "" if passed == len(CheckKind) else "3: Space takes the steps")

    def _round(self, condition: str, how: str) -> ReportContent:
        spots, read = (
            len(self.controller.route.indoor_spots()),
            self.controller.readings.count_read(condition),
        )
        name = condition[:1].upper() + condition[1:]
        if spots and read == spots:
            return ReportContent(name, f"all {counted(spots, 'spot')}")
        return ReportContent(name, f"{read} of {counted(spots, 'spot')}" if spots else "no spot", how)

    def _causes(self, entry: ArchiveEntry | None) -> ReportContent:
        named = sum(known.name is not None for known in self.controller.snapshot.known_steps())
        says = [f"{named} named"] if named else []
        says += ["sweep"] if entry is not None and entry.has_sweep else []
        return ReportContent(
            "What causes what", ", ".join(says) or "none", "" if says else "5: steps, or breakers"
        )

    def _besides(self, readings: list[Reading]) -> list[ReportContent]:
        found = []
        outside = sum(r.condition == OUTSIDE_WALK and r.void_reason is None for r in readings)
        if outside:
            found.append(ReportContent("Outside walk", counted(outside, "point"), asked_for=False))
        voided = sum(r.void_reason is not None for r in readings)
        if voided:
            found.append(ReportContent("Voided, with reasons", counted(voided, "reading"), asked_for=False))
        return found

    # --- long work ---------------------------------------------------------------------------------------

    @property
    def busy(self) -> str:
        """What is being done; empty when nothing is."""
        return (self._job.says or "it begins") if self._job is not None else ""

    def has_news(self) -> bool:
        """Look how far it is; tells whether anything is new."""
        job = self._job
        if job is None or not job.poll():
            return False
        if job.done:
            self._job = None
            self.controller.message = (
                Message(job.refusal, True) if job.refusal else Message(self._then(job.result))
            )
        return True

    def close(self) -> None:
        """The window closes."""
        if self._job is not None:
            self._job.kill()
            self._job = None

    def _begin(self, work: Work, then: Callable[[Any], str]) -> None:
        if self._job is not None:
            self.controller.message = Message(f"First this: {self.busy}", refused=True)
            return
        self._then = then
        self._job = self._start(work)

    def write(self) -> None:
        """Write the report beside the visit: a page, and a PDF where that can be made."""
        visit = self.controller.log.path.resolve()
        out = report_path(visit)
        pdf = out.with_suffix(".pdf") if find_spec("weasyprint") is not None else None
        self.controller.message = Message("The report is being written …")

        def then(found: Any) -> str:
            self.written, without_pdf = found
            names = " and ".join(path.name for path in self.written)
            hint = "" if self._opens(out) else ". Open it in a browser"
            return f"Written: {names}, in {out.parent}{hint}\n{without_pdf}".strip()

        self._begin(partial(_write, visit, out, pdf), then)

    def open(self) -> None:
        """Open the report that was written last."""
        if not self.written:
            self.controller.message = Message("It is not written yet: Space writes it.", refused=True)
        elif not self._opens(self.written[0]):
            self.controller.message = Message(f"It is in {self.written[0]}; open it in a browser.")

    def export(self) -> None:
        """Write the visit's data as files that other programs read."""
        visit = self.controller.log.path.resolve()
        folder = export_folder(visit)
        self.controller.message = Message("The data are being exported …")

        def then(paths: Any) -> str:
            self.exported = tuple(paths)
            return f"Exported: {counted(len(self.exported), 'file')} in {folder}"

        self._begin(partial(_export, visit, folder), then)

    def compare(self, other: Path, by_hand: Mapping[str, str] | None = None) -> None:
        """Lay this visit beside another one, the earlier first; matches by hand are kept in the later one."""
        here = self.controller.log.path.resolve()

        def then(found: Any) -> str:
            self.comparison = found
            return f"Compared: {found.before.path.stem}, then {found.after.path.stem}"

        self.controller.message = Message("The visits are being compared …")
        self._begin(partial(_compare, here, other, dict(by_hand or {})), then)

    def match(self, before: str, after: str) -> None:
        """Say that a spot of the earlier visit is one of the later; empty: it has no partner there."""
        if self.comparison is not None:
            here = self.controller.log.path.resolve()
            paths = (self.comparison.before.path, self.comparison.after.path)
            other = next((path for path in paths if path.resolve() != here), paths[0])
            self.compare(other, {before: after})

    def search(self, typed: str, folder: Path | None = None) -> None:
        """Look through a folder of visits."""
        self.folder = folder or self.folder

        def then(found: Any) -> str:
            self.archive, self.searched = found, typed
            return f"Found: {len(found.visits)} of {counted(found.looked_at, 'visit')}"

        self._begin(partial(_search, self.folder, typed), then)


def _whether(name: str, holds: bool, says: str, how: str) -> ReportContent:
    return ReportContent(name, says) if holds else ReportContent(name, "none", how)


# ---- in a process of its own


def _write(
    visit: Path, out: Path, pdf: Path | None, told: ProgressCallback, _: CancelRequested
) -> tuple[tuple[Path, ...], str]:
    """The files, and why there is no PDF: the page is worth having without it."""
    from logger.report.document.write_report import write_report

    before_ns = out.stat().st_mtime_ns if out.exists() else 0
    try:
        write_report(visit, out, pdf, told)
    except StillvoltError as error:
        if pdf is None or not out.is_file() or out.stat().st_mtime_ns == before_ns:
            raise
        return (out,), str(error)
    return (out,) if pdf is None else (out, pdf), ""


def _export(visit: Path, folder: Path, told: ProgressCallback, _: CancelRequested) -> list[Path]:
    from logger.report.export.export import FORMATS, USUAL_FORMATS, export

    told("writing the tables")
    return export(visit, folder, FORMATS if find_spec("pyarrow") is not None else USUAL_FORMATS)


def _compare(
    here: Path, other: Path, by_hand: dict[str, str], told: ProgressCallback, _: CancelRequested
) -> Comparison:
    from logger.report.compare.comparison import compare_visits

    told("comparing spot by spot")
    days = [_day_of(path) for path in (here, other)]
    here_is_later = days[0] is None or days[1] is None or days[0] > days[1]
    if days[0] == days[1]:
        found = compare_visits(other, here)
        starts = found.before.first_utc_ns, found.after.first_utc_ns
        here_is_later = None in starts or starts[0] <= starts[1]  # type: ignore[operator]
    before, after = (other, here) if here_is_later else (here, other)
    return compare_visits(before, after, by_hand or None)


def _day_of(visit: Path) -> date | None:
    """The local day of a visit; a refusal names it."""
    try:
        return look_at(visit).day
    except StillvoltError as error:
        raise StillvoltError(f"{visit.name}: {error.what}", "Nothing was changed.") from error


def _search(folder: Path, typed: str, told: ProgressCallback, _: CancelRequested) -> Archive:
    from logger.report.archive import search

    told("looking through the folder")
    return search(folder, wanted(typed))


def wanted(typed: str) -> Search:
    """What a line asks for: words, of which a date (2026-05-16) or a month (2026-05) limits the days.

    Everything else is looked for in household, rooms, spots and all that was typed.
    """
    first, last = date.min, date.max
    words = []
    for word in typed.split():
        days = _days(word)
        if days is None:
            words.append(word)
        else:
            first, last = days
    limited = first != date.min
    return Search(
        text=" ".join(words), first_day=first if limited else None, last_day=last if limited else None
    )


def _days(word: str) -> tuple[date, date] | None:
    """The days of a date or a month; None for another word."""
    try:
        if len(word) == len("2026-05"):
            first = date.fromisoformat(f"{word}-01")
            return first, first.replace(day=monthrange(first.year, first.month)[1])
        if len(word) == len("2026-05-16"):
            return date.fromisoformat(word), date.fromisoformat(word)
    except ValueError:  # a word that is as long
        return None
    return None
