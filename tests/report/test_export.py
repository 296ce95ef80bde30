"""Exports: the same numbers and times come back through pandas, whatever the file is."""

from __future__ import annotations

import re
import sqlite3
from contextlib import closing
from dataclasses import replace
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from openpyxl import load_workbook
from PIL import Image

from logger.cli.main import main
from logger.clock import NS_PER_S, ManualClock
from logger.errors import StillvoltError
from logger.metrology.checks import CheckKind
from logger.metrology.setup import Setup
from logger.plain_text import inert_cell
from logger.report.document.read_report_data import read_report_data
from logger.report.export import write_export as export_module
from logger.report.export import xlsx
from logger.report.export.table import rfc3339
from logger.report.export.tables import PARQUET, TABLES
from logger.report.export.write_export import export
from logger.settling.events import Event, Motion, Now, Settled, State, Step
from logger.visit import VisitLog
from logger.visit.results.on_off_result import budget_of
from logger.visit.storage.run_checksum import LineRow
from logger.visit.storage.run_writer import Batch, Counts, Heartbeat, RunWriter
from tests.visit.test_photos import jpeg

START_NS = 1_774_745_999 * NS_PER_S + 123_456_789
"""One second before clocks went forward in central Europe: 2026-03-29 00:59:59.123456789 UTC."""

TIMES = tuple(c.name for table in TABLES for c in table.columns if c.name.endswith("utc"))


@pytest.fixture
def visit(tmp_path: Path) -> Path:
    path = tmp_path / "night.visit"
    clock = ManualClock(START_NS)
    log = VisitLog.create(path, clock)
    writer = RunWriter(
        path, utc_ns=START_NS, zone="Europe/Vienna", utc_offset_s=3600, port="/dev/ttyUSB0", settings="{}",
        software="test", pid=1,
    )  # fmt: skip
    lines: list[LineRow] = [
        (START_NS + t, t, "volts", t / 7e9, b"v") for t in range(0, 5 * NS_PER_S, NS_PER_S)
    ]
    lines.append((START_NS + 6 * NS_PER_S, 6 * NS_PER_S, "unreadable", None, b'\x00\xff,"\n'))
    events: list[Event] = [
        Step(1.5, 0.1, 0.4, 0.01, 3.0),
        Motion(1.0, 2.0, 2.5, 1.1),
        Settled(2.0, 4.0, 1 / 3, 0.01, 3.0, 3),
    ]
    beat = Heartbeat(
        START_NS, 6 * NS_PER_S, "open", "", Now(State.SETTLED, 2.0, 1 / 3, 0.01, 3), [], Counts(), ""
    )
    writer.write(Batch(lines, events, [(START_NS, 0, "port lost", "/home/anna/a b/gone, for now")]), beat)
    log.setup.set(Setup(household="Flat", reference="earth rod", mains_hz=50.0, on_battery=True))
    bedroom, lamp = log.circuits.add("circuit", "Bedroom"), log.circuits.add("cord", "Lamp, old")
    log.circuits.add("circuit", "Refrigerator")
    log.circuits.set_circuit(lamp.id, bedroom.id)
    bed = log.spots.add('Bed, "left"', "Bedroom", "lamp on")
    log.readings.void(log.readings.take(bed.id, "everything on").id, "lamp fell")
    log.readings.take(bed.id, "only Bedroom on", live=frozenset({bedroom.id, lamp.id}))
    clock.advance_ns(2 * NS_PER_S)
    # A still span of its own for each value: nothing is taken twice from the same lines.
    writer.write(Batch(), replace(beat, now=replace(beat.now, since_s=5.5)))
    log.readings.take(bed.id, "everything off")
    log.readings.enter(bed.id, "everything on", 2 / 3, 0.02)
    log.checks.add(CheckKind.ZERO, [log.current_value.settled_span()])
    log.checks.skip(CheckKind.FUNCTION, "nobody to hold the cord")
    log.step_labels.add(1, Step(1.5, 0.3, 0.6, 0.01, 3.0), bed.id, "on", lamp.id)
    log.marks.add("kettle; on")
    log.marks.add("=1+1")
    log.close()
    writer.close()
    return path


def csv_tables(visit: Path, folder: Path) -> dict[str, pd.DataFrame]:
    return {path.stem: pd.read_csv(path) for path in export(visit, folder, ["csv"])}


def test_every_table_comes_back_the_same_from_csv(visit, tmp_path):
    tables = csv_tables(visit, tmp_path / "out")
    samples = tables["samples"]
    assert samples.volts.tolist() == [t / 7 for t in range(5)], "every digit"
    assert ns_of(samples.utc) == [START_NS + t * NS_PER_S for t in range(5)]
    assert str(pd.to_datetime(samples.utc).dt.tz) == "UTC"
    events = tables["events"].set_index("kind")
    assert events.loc["settled", "volts"] == 1 / 3
    steps = events.loc[["step"], ["before_volts", "after_volts", "u_volts"]]
    assert steps.to_numpy().tolist() == [[0.1, 0.4, 0.01]]
    assert events.loc["motion", "peak_volts"] == 2.5 and events.volts.isna()["motion"]
    readings = tables["readings"]
    assert readings.spot.tolist() == ['Bed, "left"'] * 4 and readings.room.tolist() == ["Bedroom"] * 4
    assert readings.void_reason.fillna("").tolist() == ["lamp fell", "", "", ""]
    assert tables["refused_lines"].raw.tolist() == [r"\x00\xff,\"\n".replace(r"\"", '"')]
    assert set(tables["night_conditions"].night) == {1} and tables["night_conditions"].condition.isna().all()
    assert tables["marks"].text.tolist() == ["kettle; on", "'=1+1"], "no spreadsheet runs it"
    assert tables["notices"].message.tolist() == ["gone, for now"]


def test_a_picture_is_a_file_beside_the_tables_that_replaces_its_own_only(visit, tmp_path):
    out = tmp_path / "out"
    with closing(VisitLog.open(visit)) as log:
        photo = log.photos.add(log.spots.all()[0].id, jpeg(), caption="from the door")
        kept = log.photos.picture(photo.id)
    picture = out / "photo_1.jpg"
    assert picture in export(visit, out, ["csv"]) and picture.read_bytes().startswith(kept)
    with Image.open(picture) as opened:
        opened.load()
    assert pd.read_csv(out / "photos.csv").file.tolist() == [picture.name]
    assert picture in export(visit, out, ["csv"]), "its own is replaced"
    picture.write_bytes(kept)
    with pytest.raises(StillvoltError, match="photo_1"):
        export(visit, out, ["csv"])
    assert "photo_1.jpg" not in [path.name for path in export(visit, tmp_path / "other", ["xlsx"])]


def test_names_that_look_like_something_else_come_back_as_documented(visit, tmp_path):
    names = ["NA", "1e5", "true", "00123"]
    log = VisitLog.open(visit)
    for name in names:
        log.spots.add(name)
    log.close()
    export(visit, tmp_path / "out", ["csv"])
    path = tmp_path / "out" / "spots.csv"
    read = pd.read_csv(path, dtype=str, keep_default_na=False)
    assert read.spot.tolist()[1:] == names
    assert pd.to_numeric(read.on_volts).isna().tolist()[1:] == [True] * 4
    path.write_text("".join(line for n, line in enumerate(path.open()) if n != 1))
    by_default = pd.read_csv(path).spot
    assert by_default.isna().tolist() == [True, False, False, False], (
        "pandas takes NA for missing, as documented"
    )


def test_the_doubts_of_the_export_are_those_of_the_report(visit, tmp_path):
    log = VisitLog.open(visit)
    expected = read_report_data(log).doubts
    log.close()
    doubts = csv_tables(visit, tmp_path / "out")["readings"].set_index("reading_id").doubt.dropna()
    assert expected and doubts.to_dict() == expected


def test_what_was_stated_checked_named_and_swept_is_there(visit, tmp_path):
    tables = csv_tables(visit, tmp_path / "out")
    setup = tables["setup"].set_index("item").value
    assert setup[["household", "reference", "mains frequency", "laptop on battery"]].tolist() == [
        "Flat", "earth rod", "50.0", "yes",
    ]  # fmt: skip
    spot = tables["spots"].iloc[0]
    assert (spot.room, spot.reminder, spot.on_volts, spot.off_volts) == ("Bedroom", "lamp on", 2 / 3, 1 / 3)
    assert spot.form == "0.7 (0.3)"
    checks = tables["checks"]
    assert checks.verdict.tolist() == ["failed", "skipped"] and checks.volts.tolist()[0] == 1 / 3
    assert "nobody to hold" in checks.sentence[1]
    sources = tables["sources"].set_index("name")
    assert sources.loc["Lamp, old", "circuit"] == "Bedroom"
    assert sources.loc["Refrigerator", "stays_because"]
    step = tables["steps"].iloc[0]
    assert (step.source, step.meaning, step.spot) == ("Lamp, old", "on", 'Bed, "left"')
    assert step.change_volts == 0.4 - 0.1
    sweep = tables["sweep"].set_index("reading_id")
    assert sweep.loc[2, "live"] == "Bedroom; Lamp, old" and sweep.loc[2, "not_live"] == "Refrigerator"
    assert sweep.loc[2, "stated"] == "one by one" and sweep.listed_later.isna().all()
    with closing(VisitLog.open(visit)) as log:
        log.circuits.add("circuit", "Hall")
    later = csv_tables(visit, tmp_path / "later")["sweep"].set_index("reading_id").listed_later.fillna("")
    assert later[2] == later[3] == "Hall", "also where it was stated as a whole"
    assert sweep.loc[3, "stated"] == "as a whole" and sweep.loc[3, "not_live"] == "Bedroom"


def test_the_budget_adds_up_to_the_combined_uncertainty_of_each_reading(visit, tmp_path):
    tables = csv_tables(visit, tmp_path / "out")
    combined = tables["budget"].groupby("reading_id").u_volts.apply(lambda u: np.sqrt((u**2).sum()))
    readings = tables["readings"].set_index("reading_id")
    assert combined.to_numpy() == pytest.approx(readings.u_combined_volts.to_numpy(), rel=1e-15)
    log = VisitLog.open(visit)
    assert [budget_of(r).expanded_volts for r in log.readings.all()] == readings.expanded_volts.tolist()
    log.close()


def test_the_spreadsheet_gives_the_same_as_the_csv(visit, tmp_path):
    tables = csv_tables(visit, tmp_path / "out")
    (book,) = export(visit, tmp_path / "out", ["xlsx"])
    sheets = pd.read_excel(book, sheet_name=None)
    assert list(sheets) == ["about", *(table.name for table in TABLES)]
    for table in TABLES:
        sheet = sheets[table.name]
        units = [f"{c.name}, {c.unit}" if c.unit else c.name for c in table.columns]
        assert list(sheet.columns) == units
        sheet.columns = [c.name for c in table.columns]
        if table.name == "marks":  # a sheet's text is a text; only a CSV cell needs to be made inert
            sheet["text"] = sheet["text"].map(inert_cell)
        if table.name == "setup":  # its numbers are texts there, and numbers once they have been through CSV
            tables["setup"]["value"] = (
                tables["setup"]["value"].astype(str).where(tables["setup"].value.notna())
            )
        pd.testing.assert_frame_equal(sheet, tables[table.name], check_dtype=False, check_exact=True)


def test_the_spreadsheet_is_made_to_be_read(visit, tmp_path):
    (book,) = export(visit, tmp_path / "out", ["xlsx"])
    sheets = load_workbook(book)
    for sheet in sheets:
        assert sheet.freeze_panes == "A2" and sheet["A1"].font.bold
        widths = [sheet.column_dimensions[c[0].column_letter].width for c in sheet.columns]
        assert min(widths) >= 4 and max(widths) < 61
    texts = [cell for row in sheets["marks"] for cell in row if cell.value == "=1+1"]
    assert [cell.data_type for cell in texts] == ["s"], "typed text is never a formula"
    local = pd.read_excel(book, "readings").local[3]
    assert local == "2026-03-29T03:00:01+02:00", "the clock had gone forward by then"


def test_parquet_keeps_times_as_times_to_the_nanosecond(visit, tmp_path):
    files = {path.stem: path for path in export(visit, tmp_path / "out", ["parquet"])}
    assert tuple(sorted(files)) == tuple(sorted(PARQUET))
    samples = pd.read_parquet(files["samples"])
    assert str(samples.utc.dtype) == "datetime64[ns, UTC]"
    assert samples.utc.astype("int64").tolist() == [START_NS + t * NS_PER_S for t in range(5)]
    assert samples.volts.tolist() == [t / 7 for t in range(5)]
    tables = csv_tables(visit, tmp_path / "out")
    events = pd.read_parquet(files["events"])
    assert ns_of(tables["events"].start_steady_utc) == events.start_steady_utc.astype("int64").tolist()
    assert events.volts.dropna().tolist() == [1 / 3]


def test_times_are_the_same_in_all_three(visit, tmp_path):
    files = export(visit, tmp_path / "out", ["csv", "xlsx", "parquet"])
    book = next(path for path in files if path.suffix == ".xlsx")
    csv = pd.read_csv(tmp_path / "out" / "samples.csv")
    sheet = pd.read_excel(book, "samples")
    assert ns_of(sheet.steady_utc) == ns_of(csv.steady_utc) == [START_NS + t * NS_PER_S for t in range(5)]


def test_the_folder_is_not_named_like_the_journal_of_the_visit(visit, tmp_path):
    journal = visit.with_name(f"{visit.name}-wal")
    with pytest.raises(StillvoltError, match="as its journal"):
        export(visit, journal, ["csv"])
    assert not journal.is_dir()


def test_samples_that_a_sheet_does_not_hold_are_named_instead(visit, tmp_path, monkeypatch):
    monkeypatch.setattr(xlsx, "MAX_ROWS", 5)
    (book,) = export(visit, tmp_path / "out", ["xlsx"])
    sheets = pd.read_excel(book, sheet_name=None)
    assert "samples" not in sheets and "readings" in sheets
    about = sheets["about"]
    (line,) = about[(about.table == "samples") & about.column.isna()].meaning
    assert "5 rows. More than a sheet holds: they are in the CSV" in line


def test_every_column_is_documented_in_the_file_itself(visit, tmp_path):
    tables = csv_tables(visit, tmp_path / "out")
    about = tables.pop("about")
    for name, frame in tables.items():
        told = about[(about.table == name) & about.column.notna()]
        assert told.column.tolist() == list(frame.columns) and told.meaning.notna().all()
        volts = told[told.column.str.endswith("volts")]
        assert volts.unit.eq("V").all()


def test_times_are_rfc_3339_and_go_on_over_a_daylight_saving_change():
    """RFC 3339 section 5.6: date-time with a full offset; the clocks of central Europe went forward at 01:00 UTC."""
    form = re.compile(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d\.\d{9}Z")
    texts = rfc3339(np.array([START_NS, START_NS + NS_PER_S], np.int64)).tolist()
    assert all(form.fullmatch(text) for text in texts)
    assert texts == ["2026-03-29T00:59:59.123456789Z", "2026-03-29T01:00:00.123456789Z"]
    assert ns_of(texts) == [START_NS, START_NS + NS_PER_S]


def test_every_time_of_every_table_is_rfc_3339_in_utc(visit, tmp_path):
    form = re.compile(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d\.\d{9}Z")
    seen = 0
    for frame in csv_tables(visit, tmp_path / "out").values():
        for name in set(TIMES) & set(frame.columns):
            texts = frame[name].dropna()
            assert texts.map(lambda text: bool(form.fullmatch(text))).all(), name
            seen += len(texts)
    assert seen > 20


def test_an_empty_visit_gives_files_with_headers(tmp_path):
    VisitLog.create(tmp_path / "empty.visit").close()
    files = export(tmp_path / "empty.visit", tmp_path / "out", ["csv", "xlsx", "parquet"])
    for path in files:
        if path.suffix == ".csv" and path.stem not in ("about", "setup"):
            assert pd.read_csv(path).empty
    assert pd.read_parquet(tmp_path / "out" / "samples.parquet").empty
    assert pd.read_excel(tmp_path / "out" / "visit.xlsx", "readings").empty


def test_the_command_writes_csv_and_a_spreadsheet_unless_told_otherwise(visit, tmp_path, capsys):
    assert main(["export", str(visit), "--out", str(tmp_path / "out")]) == 0
    told = capsys.readouterr().out.splitlines()
    assert {Path(line).suffix for line in told} == {".csv", ".xlsx"}
    assert main(["export", str(visit), "--out", str(tmp_path / "two"), "--format", "parquet"]) == 0
    assert {path.suffix for path in (tmp_path / "two").iterdir()} == {".parquet"}
    assert main(["export", str(visit), "--out", str(tmp_path / "three"), "--format", "pdf"]) == 1
    assert "There are: csv, xlsx, parquet" in capsys.readouterr().err and not (tmp_path / "three").exists()


@pytest.mark.parametrize(("name", "install"), [("parquet", "stillvolt[parquet]"), ("xlsx", "xlsxwriter")])
def test_a_missing_library_is_told_before_anything_is_written(visit, tmp_path, monkeypatch, name, install):
    monkeypatch.setattr(export_module, "find_spec", lambda module: None)
    with pytest.raises(StillvoltError, match="not installed") as told:
        export(visit, tmp_path / "out", ["csv", name])
    assert install in str(told.value) and not (tmp_path / "out").exists()
    assert export(visit, tmp_path / "out", ["csv"])


def test_a_folder_that_cannot_be_written_is_told_and_the_log_is_untouched(visit, tmp_path):
    (tmp_path / "file").write_text("in the way")
    with pytest.raises(StillvoltError, match="cannot be written"):
        export(visit, tmp_path / "file" / "out")
    with sqlite3.connect(visit) as db:
        assert db.execute("PRAGMA integrity_check").fetchone()[0] == "ok"


def test_no_unfinished_file_is_left(visit, tmp_path):
    formats = ["csv", "xlsx", "parquet"]
    written = export(visit, tmp_path / "out", formats)
    export(visit, tmp_path / "out", formats)
    assert sorted((tmp_path / "out").iterdir()) == sorted(written)


def ns_of(texts) -> list[int]:
    return pd.to_datetime(pd.Series(texts)).astype("datetime64[ns, UTC]").astype("int64").tolist()


@pytest.mark.parametrize(
    ("text", "cell"),
    [
        ("=HYPERLINK(1)", "'=HYPERLINK(1)"),
        ("+1+cmd|' /C calc'!A0", "'+1+cmd|' /C calc'!A0"),
        ("-2+3", "'-2+3"),
        ("@SUM(1)", "'@SUM(1)"),
        ("\t=1", "'\t=1"),
        ("\r=1", r"\r=1"),
        ("Bed \x1b[31m\x9b2J\u202e", r"Bed \x1b[31m\x9b2J\u202e"),
        ("Bed\nleft", "Bed\nleft"),
        ("-0.273 V", "-0.273 V"),
        ("+2.73E-01", "+2.73E-01"),
        ("Bed - left", "Bed - left"),
        ("'=quoted", "'=quoted"),
    ],
)
def test_a_text_that_a_spreadsheet_would_run_is_made_inert(text, cell):
    assert inert_cell(text) == cell
    assert inert_cell(-0.5) == -0.5


def test_a_hostile_name_reads_back_by_the_documented_rule(tmp_path):
    path = tmp_path / "a.visit"
    name = "=cmd|' /C calc'!A0"
    with closing(VisitLog.create(path)) as log:
        log.spots.add(name)
    export(path, tmp_path / "out", ["csv"])
    read = pd.read_csv(tmp_path / "out" / "spots.csv")["spot"][0]
    assert read == f"'{name}"
    assert re.sub(r"^'(?=[=+\-@\t\r])", "", read) == name
