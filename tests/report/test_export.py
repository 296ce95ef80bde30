"""CSV export: the same numbers and times come back through pandas."""

from __future__ import annotations

import re
import sqlite3
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from logger.clock import NS_PER_S, ManualClock
from logger.errors import StillvoltError
from logger.report.export import export, rfc3339
from logger.still.events import Motion, Now, Settled, State, Step
from logger.visit import VisitLog
from logger.visit.writer import Batch, Counts, Heartbeat, RunWriter

START_NS = 1_774_745_999 * NS_PER_S + 123_456_789
"""One second before clocks went forward in central Europe: 2026-03-29 00:59:59.123456789 UTC."""


@pytest.fixture
def visit(tmp_path: Path) -> Path:
    path = tmp_path / "night.visit"
    log = VisitLog.create(path, ManualClock(START_NS))
    writer = RunWriter(
        path, utc_ns=START_NS, zone="Europe/Vienna", utc_offset_s=3600, port="sim://", settings="{}",
        software="test", pid=1,
    )  # fmt: skip
    lines = [(START_NS + t, t, "volts", t / 7e9, b"v") for t in range(0, 5 * NS_PER_S, NS_PER_S)]
    lines.append((START_NS + 6 * NS_PER_S, 6 * NS_PER_S, "unreadable", None, b'\x00\xff,"\n'))
    events = [
        Step(1.5, 0.1, 0.4, 0.01, 3.0),
        Motion(1.0, 2.0, 2.5, 1.1),
        Settled(2.0, 4.0, 1 / 3, 0.01, 3.0, 3),
    ]
    beat = Heartbeat(
        START_NS, 6 * NS_PER_S, "open", "", Now(State.SETTLED, 2.0, 1 / 3, 0.01, 3), [], Counts(), ""
    )
    writer.write(Batch(lines, events, [(START_NS, 0, "port lost", "gone, for now")]), beat)
    bed = log.add_spot('Bed, "left"')
    log.void_reading(log.take_reading(bed.id, "everything on").id, "lamp fell")
    log.take_reading(bed.id, "everything off")
    log.add_mark("kettle; on")
    log.close()
    writer.close()
    return path


def test_every_table_comes_back_the_same(visit, tmp_path):
    files = export(visit, tmp_path / "out")
    tables = {path.stem: pd.read_csv(path) for path in files}
    samples = tables["samples"]
    assert samples.volts.tolist() == [t / 7 for t in range(5)], "every digit"
    utc = pd.to_datetime(samples.utc)
    assert str(utc.dt.tz) == "UTC"
    assert utc.astype("int64").tolist() == [START_NS + t * NS_PER_S for t in range(5)]
    events = tables["events"].set_index("kind")
    assert events.loc["settled", "volts"] == 1 / 3
    assert events.loc["step", ["before_volts", "after_volts", "u_volts"]].tolist() == [0.1, 0.4, 0.01]
    assert events.loc["motion", "peak_volts"] == 2.5 and np.isnan(events.loc["motion", "volts"])
    readings = tables["readings"]
    assert readings.spot.tolist() == ['Bed, "left"'] * 2
    assert readings.condition.tolist() == ["everything on", "everything off"]
    assert readings.void_reason.fillna("").tolist() == ["lamp fell", ""]
    assert tables["refused_lines"].raw.tolist() == [r"\x00\xff,\"\n".replace(r"\"", '"')]
    assert tables["marks"].text.tolist() == ["kettle; on"]
    assert tables["notices"].message.tolist() == ["gone, for now"]


def test_each_file_has_one_header_line_with_units_in_the_names(visit, tmp_path):
    for path in export(visit, tmp_path / "out"):
        header, *rows = path.read_text().splitlines()
        assert "utc" in header and rows
        assert not [name for name in header.split(",") if name in ("time", "value", "voltage")]


def test_times_are_rfc_3339_and_go_on_over_a_daylight_saving_change():
    """RFC 3339 section 5.6: date-time with a full offset; the clocks of central Europe went forward at 01:00 UTC."""
    form = re.compile(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d\.\d{9}Z")
    texts = rfc3339(np.array([START_NS, START_NS + NS_PER_S], np.int64)).tolist()
    assert all(form.fullmatch(text) for text in texts)
    assert texts == ["2026-03-29T00:59:59.123456789Z", "2026-03-29T01:00:00.123456789Z"]
    assert pd.to_datetime(texts).as_unit("ns").astype("int64").tolist() == [START_NS, START_NS + NS_PER_S]


def test_an_empty_visit_gives_files_with_headers(tmp_path):
    VisitLog.create(tmp_path / "empty.visit").close()
    for path in export(tmp_path / "empty.visit", tmp_path / "out"):
        assert pd.read_csv(path).empty


def test_a_folder_that_cannot_be_written_is_told_and_the_log_is_untouched(visit, tmp_path):
    (tmp_path / "file").write_text("in the way")
    with pytest.raises(StillvoltError, match="cannot be written"):
        export(visit, tmp_path / "file" / "out")
    with sqlite3.connect(visit) as db:
        assert db.execute("PRAGMA integrity_check").fetchone()[0] == "ok"


def test_no_unfinished_file_is_left(visit, tmp_path):
    written = export(visit, tmp_path / "out")
    export(visit, tmp_path / "out")
    assert sorted((tmp_path / "out").iterdir()) == sorted(written)
