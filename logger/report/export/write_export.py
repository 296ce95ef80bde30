"""A visit as files that any program reads: CSV (one a table, with the photos beside), `visit.xlsx`, Parquet.

The tables and their columns are in `logger.report.export.tables`; every export carries their description (`about`).
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from importlib.util import find_spec
from pathlib import Path
from typing import Any

import pandas as pd

from logger.errors import StillvoltError
from logger.name_list import listed
from logger.output_file import refuse_journal, refuse_outputs, write_whole
from logger.output_kind import JPEG_MARK, KNOWN_HEADERS
from logger.plain_text import inert_cell
from logger.report.export.table import ExportTable
from logger.report.export.tables import PARQUET, TABLES
from logger.report.export.tables.details import pictures
from logger.report.visit_name import visit_name
from logger.translation import in_language, marked, tr
from logger.visit.records.salvage_record import SalvageRecord, shown_lost
from logger.visit.records.simulated_run import SIMULATED
from logger.visit.results.simulated_readings import simulation_sentence
from logger.visit.storage.read_only import checked_log

FORMATS = ("csv", "xlsx", "parquet")
USUAL_FORMATS = ("csv", "xlsx")
WORKBOOK = "visit.xlsx"
UNCHANGED = marked("The visit log was not changed.")

_NEEDS = {"xlsx": ("xlsxwriter", "xlsxwriter"), "parquet": ("pyarrow", "stillvolt[parquet]")}
"""The library that writes a format, and what is to be installed for it."""


ABOUT_COLUMNS = ("table", "column", "unit", "meaning")

KNOWN_HEADERS.update((ABOUT_COLUMNS, *(tuple(column.name for column in table.columns) for table in TABLES)))

VISIT_ROW = ("visit", "visit")
"""Table and column of the row of `about` that names the visit which a folder holds."""


def export(
    visit: Path,
    folder: Path,
    formats: Sequence[str] = USUAL_FORMATS,
    *,
    replace: bool = False,
    on_progress: Callable[[str], object] = lambda _: None,
    on_damage: Callable[[str], object] = lambda _: None,
) -> list[Path]:
    """Write a visit as files.

    Args:
        visit: the visit log; a recorder may be at work on it.
        folder: made if missing; files of the same names are replaced only once the new ones are whole.
        formats: of `FORMATS`.
        replace: whether the user has asked to replace what somebody else has written, or the export of another visit.
        on_progress: is called with a few words on what is being done.
        on_damage: is called with a sentence where the visit does not agree with itself; `about` has it too.

    Returns:
        The files written.

    Raises:
        StillvoltError: a format is not known or its library is missing, the log cannot be read, the folder
            cannot be written, or it holds the export of another visit.
    """
    _refuse_what_cannot_be_written(formats)
    _make_folder(folder)
    on_progress(tr("reading the visit"))
    refuse_outputs(
        [folder / name for name in _file_names(formats)], [visit], replace=replace, folder_is_made=True
    )
    with checked_log(visit) as log, log.read_transaction():
        integrity = log.integrity()
        with in_language("en"):
            frames = [(table, table.frame(log)) for table in TABLES]
            simulation = simulation_sentence([run.simulated for run in log.runs.all()], log.readings.all())
            name = visit_name(log)
            described = about(frames, simulation, log.facts.salvage(), integrity.summary(), name)
        drawn = pictures(log) if "csv" in formats else {}
    refuse_outputs([folder / file for file in drawn], [visit], replace=replace, folder_is_made=True)
    if damage := integrity.summary():
        on_damage(damage)
    if not replace:
        _refuse_other_visit(folder, name)
    written: list[Path] = []
    count = len(list(_file_names(formats))) + len(drawn)
    contents: list[tuple[str, bytes | Callable[[Path], None]]] = [
        *_files(formats, frames, described),
        *((file, jpeg + JPEG_MARK) for file, jpeg in drawn.items()),
    ]
    for file_name, put in contents:
        on_progress(
            tr("writing file {number} of {count}, {file}").format(
                number=len(written) + 1, count=count, file=file_name
            )
        )
        write_whole(folder / file_name, put, tr(UNCHANGED))
        written.append(folder / file_name)
    return written


def _refuse_other_visit(folder: Path, name: str) -> None:
    """Refuse a folder with the export of another visit; an older one that does not name its visit is let pass."""
    try:
        there = pd.read_csv(folder / "about.csv", dtype=str, keep_default_na=False)
        rows = there[(there["table"] == VISIT_ROW[0]) & (there["column"] == VISIT_ROW[1])]
        other = str(rows["meaning"].iloc[0]) if len(rows) else ""
    except (OSError, ValueError, KeyError):
        return
    if other and other != name:
        raise StillvoltError(
            tr("{folder} holds the export of another visit ({visit}).").format(folder=folder, visit=other),
            tr("It was not changed."),
            tr("Choose another folder, or replace it with --replace."),
        )


def _make_folder(folder: Path) -> None:
    refuse_journal(folder)
    try:
        # What is in it is readable for its owner only, as the visit is.
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)
    except FileExistsError as error:
        raise StillvoltError(
            tr("{folder} is a file, not a folder.").format(folder=folder),
            tr(UNCHANGED),
            tr("Choose another name."),
        ) from error
    except (OSError, ValueError) as error:
        raise StillvoltError(
            tr("{file} cannot be written ({error}).").format(
                file=folder, error=getattr(error, "strerror", None) or error
            ),
            tr(UNCHANGED),
            tr("Choose another folder, or make room on the disk."),
        ) from error


def _file_names(formats: Sequence[str]) -> list[str]:
    names: list[str] = []
    if "csv" in formats:
        names += ["about.csv", *(f"{table.name}.csv" for table in TABLES)]
    if "xlsx" in formats:
        names.append(WORKBOOK)
    if "parquet" in formats:
        names += [f"{table.name}.parquet" for table in TABLES if table.name in PARQUET]
    return names


def _files(
    formats: Sequence[str], frames: Sequence[tuple[ExportTable[Any], pd.DataFrame]], described: pd.DataFrame
) -> Iterator[tuple[str, Callable[[Path], None]]]:
    """Give the name of each file and the function that writes it, in the order of `_file_names`.

    Args:
        formats: of `FORMATS`.
        frames: each table with its content.
        described: what `about` returned of them.
    """
    if "csv" in formats:
        yield "about.csv", _csv_of(described)
        for table, frame in frames:
            yield f"{table.name}.csv", _csv_of(frame)
    if "xlsx" in formats:
        from logger.report.export.xlsx import write_workbook  # noqa: PLC0415 - xlsxwriter takes a moment

        yield WORKBOOK, lambda path: write_workbook(path, frames, described)
    if "parquet" in formats:
        for table, frame in frames:
            if table.name in PARQUET:
                yield f"{table.name}.parquet", _parquet_of(frame)


def about(
    frames: Sequence[tuple[ExportTable[Any], pd.DataFrame]],
    simulation: str = "",
    salvage: SalvageRecord | None = None,
    damage: str = "",
    name: str = "",
) -> pd.DataFrame:
    """Describe the tables: a row for each table, then one for each of its columns.

    Args:
        frames: each table with its content.
        simulation: how much of the visit is simulated, for a first row of its own; empty where nothing is.
        salvage: what is not known since the visit was salvaged, for a row of its own; None where it never was.
        damage: what of the visit log does not agree with itself, likewise.
        name: of the visit (`visit_name`), likewise.
    """
    rows = [("visit", SIMULATED, "", simulation)] if simulation else []
    if salvage is not None:
        rows.append(("visit", "salvaged", "", f"{salvage.sentence} {shown_lost(salvage.lost)}".strip()))
    rows += [("visit", "damage", "", damage)] if damage else []
    rows += [(*VISIT_ROW, "", name)] if name else []
    for table, frame in frames:
        rows.append((table.name, "", "", f"{table.about} {len(frame)} rows."))
        rows += [(table.name, column.name, column.unit, column.meaning) for column in table.columns]
    return pd.DataFrame(rows, columns=list(ABOUT_COLUMNS))


def _refuse_what_cannot_be_written(formats: Sequence[str]) -> None:
    for name in formats:
        if name not in FORMATS:
            raise StillvoltError(
                tr("There is no format {name}.").format(name=repr(name)),
                tr("Nothing was written."),
                tr("There are: {names}.").format(names=listed(FORMATS)),
            )
        module, install = _NEEDS.get(name, ("", ""))
        if module and find_spec(module) is None:
            raise StillvoltError(
                tr("A {name} file needs {library}, which is not installed.").format(
                    name=name, library=module
                ),
                tr("Nothing was written."),
                tr("Install it with: pip install '{library}'; or leave {name} out: --format csv.").format(
                    library=install, name=name
                ),
            )


def _csv_of(frame: pd.DataFrame) -> Callable[[Path], None]:
    texts = [name for name in frame.columns if not pd.api.types.is_numeric_dtype(frame[name])]
    inert = frame.assign(**{name: frame[name].map(inert_cell) for name in texts})
    return lambda path: inert.to_csv(path, index=False, lineterminator="\n")


def _parquet_of(frame: pd.DataFrame) -> Callable[[Path], None]:
    """Write times as such, not as text: a columnar file has a type for them."""
    typed = frame.copy()
    for name in typed.columns:
        if name.endswith("utc"):
            typed[name] = pd.to_datetime(typed[name], format="ISO8601", utc=True).astype(
                "datetime64[ns, UTC]"
            )
    return lambda path: typed.to_parquet(path, engine="pyarrow", index=False)
