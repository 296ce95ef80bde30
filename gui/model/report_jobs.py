"""The long work of the stage Report: functions for a process of their own, which know no window."""

from __future__ import annotations

from calendar import monthrange
from dataclasses import dataclass
from datetime import date
from importlib.util import find_spec
from pathlib import Path

from gui.model.worker_process import CancelRequested, ProgressCallback
from logger.catalogue import SOURCE_LANGUAGE
from logger.errors import StillvoltError
from logger.metrology.lengths import LengthUnit, lengths_in
from logger.output_file import ReplaceRefusedError
from logger.report.archive.entry import read_entry
from logger.report.archive.search import Archive, Search, search
from logger.report.compare.comparison import Comparison
from logger.report.paper import A4
from logger.translation import tr


@dataclass(frozen=True, slots=True)
class ReplaceQuestion:
    """A file is there that may be somebody else's work, which has to be asked before it is replaced.

    Args:
        why: which one, in one sentence.
    """

    why: str


def write_files(
    visit: Path,
    out: Path,
    pdf: Path | None,
    report_progress: ProgressCallback,
    _: CancelRequested,
    language: str = SOURCE_LANGUAGE,
    replace: bool = False,
    lengths: LengthUnit = LengthUnit.METRES,
    in_feet: frozenset[float] = frozenset(),
    paper: str = A4,
) -> tuple[tuple[Path, ...], str] | ReplaceQuestion:
    """Write the report of a visit.

    Args:
        visit: the visit log.
        out: file of the page.
        pdf: file of the PDF; None for none.
        report_progress: takes what is being done, in a few words.
        language: the code of the one that the report is written in.
        replace: whether the user wants to replace what may be somebody else's work.
        lengths: the unit that lengths are shown in.
        in_feet: the lengths, metres, that are shown in feet whatever that is, as in the window.
        paper: that the PDF is for.

    Returns:
        The files, and why there is no PDF: the page is worth having without it. Or what has to be asked before.

    Raises:
        StillvoltError: the page could not be written.
    """
    from logger.report.document.write_report import write_report  # noqa: PLC0415 needed in the worker process only; it would delay the window's start

    before_ns = out.stat().st_mtime_ns if out.exists() else 0
    try:
        steps = numbered(report_progress, REPORT_STEPS + (pdf is not None))
        with lengths_in(lengths, in_feet):
            write_report(visit, out, pdf, steps, language=language, replace=replace, paper=paper)
    except ReplaceRefusedError as error:
        return ReplaceQuestion(error.what)
    except StillvoltError as error:
        if pdf is None or not out.is_file() or out.stat().st_mtime_ns == before_ns:
            raise
        return (out,), str(error)
    return (out,) if pdf is None else (out, pdf), ""


def write_plan_files(
    visit: Path,
    out: Path,
    pdf: Path | None,
    report_progress: ProgressCallback,
    _: CancelRequested,
    language: str = SOURCE_LANGUAGE,
    replace: bool = False,
    paper: str = A4,
) -> tuple[tuple[Path, ...], str] | ReplaceQuestion:
    """Write the plan of a visit alone; see `write_files`.

    Args:
        visit: the visit log.
        out: file of the page.
        pdf: file of the PDF; None for none.
        report_progress: takes what is being done, in a few words.
        language: the code of the one that the plan is written in.
        replace: whether the user wants to replace what may be somebody else's work.
        paper: that the PDF is for.

    Raises:
        StillvoltError: nothing is planned, or the page could not be written.
    """
    from logger.report.document.write_plan import write_plan  # noqa: PLC0415 needed in the worker process only; it would delay the window's start

    before_ns = out.stat().st_mtime_ns if out.exists() else 0
    report_progress(tr("writing the plan"))
    try:
        write_plan(visit, out, pdf, language=language, replace=replace, paper=paper)
    except ReplaceRefusedError as error:
        return ReplaceQuestion(error.what)
    except StillvoltError as error:
        if pdf is None or not out.is_file() or out.stat().st_mtime_ns == before_ns:
            raise
        return (out,), str(error)
    return (out,) if pdf is None else (out, pdf), ""


REPORT_STEPS = 7
"""How many steps `write_report` reports until the page is written; the PDF is one more."""


def numbered(report_progress: ProgressCallback, count: int) -> ProgressCallback:
    """Put before what is being done which step it is: 'step 2 of 7, reading the nights'.

    Args:
        report_progress: takes the words.
        count: how many steps there are.
    """
    steps = iter(range(1, count + 1))
    text = tr("step {step} of {count}, {what}")
    return lambda what: report_progress(text.format(step=next(steps, count), count=count, what=what))


def export_files(
    visit: Path,
    folder: Path,
    report_progress: ProgressCallback,
    _: CancelRequested,
    replace: bool = False,
) -> list[Path] | ReplaceQuestion:
    """Write the tables of a visit.

    Args:
        visit: the visit log.
        folder: where the files go.
        report_progress: takes what is being done, in a few words.
        replace: whether the user wants to replace what may be somebody else's work.

    Returns:
        The files, or what has to be asked before.
    """
    from logger.report.export.write_export import FORMATS, USUAL_FORMATS, export  # noqa: PLC0415 needed in the worker process only; it would delay the window's start

    formats = FORMATS if find_spec("pyarrow") is not None else USUAL_FORMATS
    try:
        return export(visit, folder, formats, replace=replace, on_progress=report_progress)
    except ReplaceRefusedError as error:
        return ReplaceQuestion(error.what)


@dataclass(frozen=True, slots=True)
class HomeQuestion:
    """The visits may be of two homes, which has to be asked before they are compared.

    Args:
        other: the visit that is to be compared with.
        why: in one sentence.
    """

    other: Path
    why: str


def compare_with(
    here: Path,
    other: Path,
    by_hand: dict[str, str],
    same_home: bool,
    report_progress: ProgressCallback,
    _: CancelRequested,
) -> Comparison | HomeQuestion:
    """Compare two visits spot by spot, the earlier one first.

    Args:
        here: the visit of this window.
        other: the visit that it is compared with.
        by_hand: spots of the later visit by those of the earlier, as matched by the user.
        same_home: the user confirms that both are of the same home.
        report_progress: takes what is being done, in a few words.

    Raises:
        StillvoltError: one of them cannot be read.
    """
    from logger.report.compare.comparison import OtherHomeError, compare_visits  # noqa: PLC0415 needed in the worker process only; it would delay the window's start

    report_progress(tr("comparing spot by spot"))
    days = [_day_of(path) for path in (here, other)]
    here_is_later = days[0] is None or days[1] is None or days[0] > days[1]
    try:
        if days[0] == days[1]:
            found = compare_visits(other, here, same_home=same_home)
            starts = found.before.first_utc_ns, found.after.first_utc_ns
            here_is_later = None in starts or starts[0] <= starts[1]  # type: ignore[operator]
        before, after = (other, here) if here_is_later else (here, other)
        return compare_visits(before, after, by_hand or None, same_home=same_home)
    except OtherHomeError as error:
        return HomeQuestion(other, error.what)


def _day_of(visit: Path) -> date | None:
    """The local day of a visit; a refusal names it."""
    try:
        return read_entry(visit).day
    except StillvoltError as error:
        raise StillvoltError(f"{visit.name}: {error.what}", tr("Nothing was changed.")) from error


def search_folder(folder: Path, typed: str, report_progress: ProgressCallback, _: CancelRequested) -> Archive:
    """Search a folder of visits.

    Args:
        folder: where they are.
        typed: what is looked for; see `parse_search`.
        report_progress: takes what is being done, in a few words.
    """
    report_progress(tr("looking through the folder"))
    return search(folder, parse_search(typed))


def parse_search(typed: str) -> Search:
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
