"""A trace that was logged elsewhere becomes a run of a visit log: what is refused leaves nothing."""

from __future__ import annotations

import dataclasses
import json
import sqlite3
import time
from contextlib import closing
from datetime import datetime, timedelta
from pathlib import Path

import pytest

from logger.cli.main import main
from logger.clock import NS_PER_S, ManualClock
from logger.errors import StillvoltError
from logger.meter.description import Accuracy, MeterDescription
from logger.metrology.setup import MeterFacts, Setup
from logger.night.night_analysis import analyse_as_stated
from logger.night.night_text import night_lines
from logger.night.recorded_nights import nights
from logger.recording.recorder_lock import sole_recorder
from logger.recording.trace_digits import MAX_SHOWN_DECIMALS, digits_of, replay_trace
from logger.recording.trace_file import MAX_TRACE_S, read_trace_file
from logger.recording.trace_import import IMPORTED_NOTICE, UNIT_ASSUMED, import_trace, read_began
from logger.settling.events import Gap, Settled, Step, as_fields
from logger.simulation.fast_forward import FastForward
from logger.simulation.house.scene import built_in_scene
from logger.visit import VisitLog
from logger.visit.records.imported_trace import imported_trace
from logger.visit.storage.run_meter import meter_of
from logger.visit.storage.verification import verify
from tests.support.without_triggers import without_triggers

EVENING = Path(__file__).parents[2] / "fixtures" / "traces" / "evening.csv"
BEGAN = read_began("2026-01-05T20:15:00+01:00")
NOW_NS = round(BEGAN.timestamp() + 30 * 86_400) * NS_PER_S
METER = MeterDescription(
    "bench meter",
    accuracy=(Accuracy(1.0, 0.5, 3.0, 0.0001),),
    assumed=frozenset({"true_rms", "calibrated_on"}),
)


@pytest.fixture
def clock() -> ManualClock:
    return ManualClock(NOW_NS)


@pytest.fixture
def trace(tmp_path):
    """Write a trace and return its path."""

    def write(content: str | bytes, name: str = "trace.csv") -> Path:
        path = tmp_path / name
        path.write_bytes(content if isinstance(content, bytes) else content.encode())
        return path

    return write


def level(volts: float = 0.25, *, seconds: int = 60, every_s: float = 0.4, start_s: float = 0.0) -> str:
    """A trace at one level."""
    count = round(seconds / every_s)
    rows = (f"{start_s + i * every_s:.3f},{volts + 0.0005 * (i % 3):.4f}\n" for i in range(count))
    return "time_s,volts\n" + "".join(rows)


def content(path: Path) -> list[str]:
    """Everything in a visit log, as SQL."""
    with sqlite3.connect(path) as db:
        return list(db.iterdump())


def events_of(path: Path):
    """The events of a log, in the order in which they became known."""
    log = VisitLog.open(path)
    found = [logged.event for logged in log.events.after()]
    log.close()
    return sorted(found, key=lambda event: event.known_at_s)


def values_of(events):
    """Of each event what is no time, to be compared exactly."""
    return [
        {name: value for name, value in as_fields(event).items() if not name.endswith("_s")}
        for event in events
    ]


def times_of(events):
    """All times of the events; the log keeps them in whole nanoseconds."""
    return [
        value for event in events for name, value in sorted(as_fields(event).items()) if name.endswith("_s")
    ]


def test_an_imported_trace_has_the_events_of_a_replay(tmp_path, clock):
    visit = tmp_path / "a.visit"
    done = import_trace(EVENING, visit, BEGAN, clock=clock)
    expected, found = replay_trace(read_trace_file(EVENING)), events_of(visit)
    assert len(expected) > 20 and any(isinstance(event, Gap) for event in expected)
    assert values_of(found) == values_of(expected)
    assert times_of(found) == pytest.approx(times_of(expected), rel=0, abs=2e-9)
    assert sum(done.events.values()) == len(expected)


def test_a_level_has_the_uncertainty_of_its_last_digit_as_written(tmp_path, clock, trace):
    """A display that rests on 0.3 V may be off by half of its digit; as 0.3000 V it is not."""
    u_volts = {}
    for decimals in (1, 4):
        rows = "".join(f"{i * 0.4:.1f},{0.3:.{decimals}f}\n" for i in range(150))
        visit = tmp_path / f"{decimals}.visit"
        import_trace(trace("time_s,volts\n" + rows), visit, BEGAN, clock=clock)
        (u_volts[decimals],) = (e.u_volts for e in events_of(visit) if isinstance(e, Settled))
    assert u_volts[1] == pytest.approx(0.1 / 12**0.5, rel=0.05) and u_volts[4] < 0.001


def test_numbers_that_were_computed_show_no_last_digit():
    assert digits_of(["0.2734", "0.28", "0.2750", "0.1"]) == pytest.approx([1e-4] * 4)
    assert digits_of(["0.5", "0.3" + "0" * MAX_SHOWN_DECIMALS]) == [0.0, 0.0]


def test_a_recorded_run_that_is_exported_and_imported_has_the_events_of_a_replay(tmp_path, clock, trace):
    recorded = tmp_path / "recorded.visit"
    VisitLog.create(recorded).close()
    run = FastForward(recorded, built_in_scene("lively"), NOW_NS)
    run.run(240.0)
    run.end()
    log = VisitLog.open(recorded)
    samples = log.samples.after()
    log.close()
    times_s = (samples.steady_utc_ns - NOW_NS) / NS_PER_S
    rows = (
        f"{time_s:.9f},{volts!r}\n" for time_s, volts in zip(times_s, samples.volts.tolist(), strict=True)
    )
    path = trace("time_s,volts\n" + "".join(rows))
    visit = tmp_path / "imported.visit"
    import_trace(path, visit, BEGAN, clock=clock)
    expected, found = replay_trace(read_trace_file(path)), events_of(visit)
    assert any(isinstance(event, Step) for event in expected)
    assert values_of(found) == values_of(expected)
    assert times_of(found) == pytest.approx(times_of(expected), rel=0, abs=2e-9)
    log = VisitLog.open(visit)
    imported = log.samples.after()
    log.close()
    assert imported.volts.tolist() == samples.volts.tolist()
    assert (imported.steady_utc_ns - samples.steady_utc_ns).tolist() == [
        round(BEGAN.timestamp()) * NS_PER_S - NOW_NS
    ] * len(samples.volts)


def test_the_run_is_marked_as_imported_in_its_port_settings_and_notices(tmp_path, clock, trace):
    path = trace(level(), "bed room.csv")
    done = import_trace(path, tmp_path / "a.visit", BEGAN, meter=METER, clock=clock)
    log = VisitLog.open(tmp_path / "a.visit")
    (run,), (notice, assumed), live = log.runs.all(), log.notices.after(), log.recorder.live()
    log.close()
    assert run.port == "file:bed room.csv" and "imported" in run.software
    mark = imported_trace(run)
    assert mark is not None
    assert (mark.file, mark.began) == ("bed room.csv", "2026-01-05T20:15:00+01:00")
    assert mark.sha256 == read_trace_file(path).sha256
    assert (notice.kind, notice.run_id) == (IMPORTED_NOTICE, run.id) and "bed room.csv" in notice.message
    assert assumed.message == UNIT_ASSUMED and UNIT_ASSUMED in done.messages
    assert meter_of(run) == MeterFacts.of(METER)
    assert run.started_utc_ns == round(BEGAN.timestamp()) * NS_PER_S and run.utc_offset_s == 3600
    assert run.ended_utc_ns == run.started_utc_ns + round(59.6 * NS_PER_S)
    assert live is not None and live.ended and live.count_volts == done.samples == 150
    assert (done.start, done.end) == (BEGAN, BEGAN + timedelta(seconds=59.6))


def test_each_line_keeps_its_text(tmp_path, clock, trace):
    rows = ["0,0.250,", " 0.4 , 2.51e-1 ,x", '"0.8","0.25","say, °C"', "1.2,+.25,"]
    path = trace("\r\n".join(["time_s,volts,note", *rows, "", ""]))
    import_trace(path, tmp_path / "a.visit", BEGAN, clock=clock)
    with sqlite3.connect(tmp_path / "a.visit") as db:
        kept = db.execute("SELECT t_ns, status, volts, raw FROM line ORDER BY id").fetchall()
    assert [raw.decode() for *_, raw in kept] == rows
    assert [(t_ns, volts) for t_ns, _, volts, _ in kept] == [
        (0, 0.25), (400_000_000, 0.251), (800_000_000, 0.25), (1_200_000_000, 0.25)
    ]  # fmt: skip
    assert {status for _, status, *_ in kept} == {"volts"}


def test_a_gap_of_the_trace_is_a_gap_of_the_run(tmp_path, clock, trace):
    later = level(start_s=100.0).removeprefix("time_s,volts\n")
    import_trace(trace(level() + later), tmp_path / "a.visit", BEGAN, clock=clock)
    gaps = [event for event in events_of(tmp_path / "a.visit") if isinstance(event, Gap)]
    assert [(gap.start_s, gap.end_s) for gap in gaps] == [(59.6, 100.0)]


HEADER = "time_s,volts\n"
BAD = {
    "an empty file": ("", 1, "the file is empty"),
    "no header": ("0,0.25\n0.4,0.25\n", 1, "the header time_s,volts is missing"),
    "another header": ("t,u\n0,0.25\n", 1, "the header time_s,volts is missing"),
    "semicolons": ("time_s;volts\n0;0.25\n", 1, "the header time_s,volts is missing"),
    "a header and no row": (HEADER, 1, "no row follows the header"),
    "words": (HEADER + "0,0.25\n0.4,high\n", 3, "volts is 'high', which is not a number"),
    "a word for the time": (HEADER + "noon,0.25\n", 2, "time_s is 'noon', which is not a number"),
    "NaN": (HEADER + "0,NaN\n", 2, "volts is 'NaN', which is not finite"),
    "infinite": (HEADER + "0,-inf\n", 2, "volts is '-inf', which is not finite"),
    "too large for a number": (HEADER + "0,1e999\n", 2, "volts is '1e999', which is not finite"),
    "more than any meter shows": (HEADER + "0,1e9\n", 2, "volts is 1e9, which is above 1000 V"),
    "a negative voltage": (HEADER + "0,0.25\n\n0.4,-0.25\n", 4, "volts is -0.25, and cannot be negative"),
    "a negative time": (HEADER + "-1,0.25\n", 2, "time_s is -1, and cannot be negative"),
    "times that go back": (HEADER + "0,0.25\n0.8,0.25\n0.4,0.25\n", 4, "time_s goes back from 0.8 to 0.4"),
    "a duplicate row": (HEADER + "0,0.25\n0.4,0.25\n0.4,0.25\n", 4, "the row repeats line 3"),
    "two values at one time": (HEADER + "0,0.25\n0.4,0.25\n0.4,0.26\n", 4, "the row has the time of line 3"),
    "an empty voltage": (HEADER + "0,0.25\n0.4,\n", 3, "volts is empty"),
    "an empty time": (HEADER + ",0.25\n", 2, "time_s is empty"),
    "a missing cell": (HEADER + "0\n", 2, "1 cells where the header names 2"),
    "decimal commas": (HEADER + "0,4,0,25\n", 2, "4 cells where the header names 2"),
    "digits of another script": (HEADER + "0,٣\n", 2, "volts is '٣', which is not a number"),
    "digits in groups": (HEADER + "0,1_0\n", 2, "volts is '1_0', which is not a number"),
    "a hexadecimal number": (HEADER + "0,0x1F\n", 2, "volts is '0x1F', which is not a number"),
    "a last line that is cut off": (HEADER + "0,0.25\n0.4,0.2", 3, "the last line has no line end"),
    "a column that stands twice": ("time_s,volts,volts\n0,0.25,9\n", 1, "the column 'volts' stands twice"),
    "an open quotation mark": (HEADER + '0,"0.25\n', 2, "the quotation marks are wrong"),
    "Unix time": (
        HEADER + "1767225600,0.25\n",
        2,
        "time_s is 1767225600, more than a year after",
    ),
    "a line without end": (HEADER + "0," + "1" * 5000, 2, "the line has more than 1024 bytes"),
    "bytes that are no text": (HEADER.encode() + b"0,0.25\n0.4,\xff\xfe\n", 3, "the bytes are no text"),
    "UTF-16": ((HEADER + "0,0.25\n").encode("utf-16"), 1, "the bytes are no text"),
    "another unit": ("time_s,volts,unit\n0,900,V\n1,901,mV\n", 3, "the unit is 'mV'"),
    "megavolts": ("time_s,volts,Unit\n0,900,MV\n", 2, "the unit is 'MV'"),
    "no unit": ("time_s,volts,unit\n0,0.9,\n", 2, "the unit is ''"),
    "zeros": (bytes(100), 1, "the bytes are no text"),
}


@pytest.mark.parametrize("name", BAD)
@pytest.mark.parametrize("existing", [False, True], ids=["a new visit", "a visit that is there"])
def test_what_cannot_be_read_is_refused_by_line_and_nothing_is_written(
    tmp_path, clock, trace, name, existing
):
    text, line, reason = BAD[name]
    path, visit = trace(text), tmp_path / "a.visit"
    if existing:
        VisitLog.create(visit, clock).close()
    before = content(visit) if existing else []
    with pytest.raises(StillvoltError) as refused:
        import_trace(path, visit, BEGAN, clock=clock)
    assert refused.value.what.startswith(f"{path}, line {line}: {reason}")
    assert refused.value.kept == "Nothing was written." and refused.value.next_step
    assert content(visit) == before if existing else sorted(tmp_path.iterdir()) == [path]


@pytest.mark.parametrize("name", BAD)
def test_a_replay_refuses_what_an_import_refuses_and_writes_nothing(tmp_path, trace, capsys, name):
    text, line, reason = BAD[name]
    path, events = trace(text), tmp_path / "events.jsonl"
    assert main(["replay", str(path), "--events", str(events)]) == 1
    assert f"{path}, line {line}: {reason}" in capsys.readouterr().err
    assert not events.exists()


def test_a_replay_takes_its_volts_in_the_unit_that_is_stated(tmp_path, trace, capsys):
    """Bare 250 is asked about, as at an import; 250 mV settle at 0.25 V with the events of the same trace in volts."""
    bare, events = trace(level(250.0)), tmp_path / "events.jsonl"
    assert main(["replay", str(bare), "--events", str(events)]) == 1
    assert "in volts or in millivolts?" in capsys.readouterr().err and not events.exists()
    assert main(["replay", str(bare), "--events", str(events), "--unit", "mV"]) == 0
    (settled,) = [json.loads(line) for line in events.read_text().splitlines()]
    assert settled["kind"] == "settled" and settled["volts"] == pytest.approx(0.25, abs=1e-5)


def test_a_column_that_is_not_known_is_named_and_volts_as_unit_are_taken(tmp_path, clock, trace):
    path = trace("time_s,volts,unit,note,simulated\n0,0.9,V,a,\n1,0.9,V,b,\n")
    done = import_trace(path, tmp_path / "a.visit", BEGAN, clock=clock)
    assert done.samples == 2
    assert [m for m in done.messages if "column" in m] == [
        "The column 'note' is not known: nothing was read from it."
    ]


def test_a_visit_log_is_no_trace(tmp_path, clock):
    log = tmp_path / "house.visit"
    VisitLog.create(log, clock).close()
    before = log.read_bytes()
    for visit in (tmp_path / "new.visit", log):
        with pytest.raises(StillvoltError, match="line 1: this is a visit log or another database"):
            import_trace(log, visit, BEGAN, clock=clock)
    assert log.read_bytes() == before and sorted(tmp_path.iterdir()) == [log]


@pytest.mark.parametrize("missing", ["none.csv", "."])
def test_a_file_that_cannot_be_opened_is_refused(tmp_path, clock, missing):
    with pytest.raises(StillvoltError, match="cannot be read"):
        import_trace(tmp_path / missing, tmp_path / "a.visit", BEGAN, clock=clock)
    assert list(tmp_path.iterdir()) == []


def test_a_trace_of_a_year_is_taken_and_a_longer_one_refused(trace):
    assert read_trace_file(trace(f"{HEADER}{MAX_TRACE_S:.0f},0.25\n")).rows[0].volts == 0.25
    with pytest.raises(StillvoltError, match="more than a year"):
        read_trace_file(trace(f"{HEADER}{MAX_TRACE_S + 1:.0f},0.25\n"))


def test_a_file_with_a_byte_order_mark_and_old_line_ends_is_read(trace):
    path = trace(b"\xef\xbb\xbftime_s,volts\r0,0.25\r0.4,-0\r")
    assert [(row.t_ns, str(row.volts)) for row in read_trace_file(path).rows] == [
        (0, "0.25"),
        (400_000_000, "0.0"),
    ]


@pytest.mark.parametrize(
    "text",
    [
        "2026-01-05T20:15:00", "2026-01-05", "2026-01-05T20:15+01:00", "20260105T201500Z", "2026-W02-1T20:15:00Z",
        "2026-13-05T20:15:00Z", "2026-01-05T20:15:00+0100", "2026-01-05T20:15:00+25:00", "1969-12-31T23:59:59Z",
        "0001-01-01T00:00:00+12:00", "9999-12-31T23:59:59Z", "yesterday", "",
    ],
)  # fmt: skip
def test_a_beginning_that_is_no_moment_is_refused(text):
    with pytest.raises(StillvoltError, match="RFC 3339") as refused:
        read_began(text)
    assert "Nothing was written." in str(refused.value)


@pytest.mark.parametrize(
    ("text", "utc"),
    [
        ("2026-01-05T20:15:00+01:00", "2026-01-05T19:15:00+00:00"),
        ("2026-01-05t20:15:00z", "2026-01-05T20:15:00+00:00"),
        ("2026-01-05 20:15:00.5-08:30", "2026-01-06T04:45:00.500000+00:00"),
    ],
)
def test_a_beginning_with_its_offset_is_that_moment(text, utc):
    assert read_began(text) == datetime.fromisoformat(utc)


def test_a_second_trace_of_a_later_time_is_a_second_run(tmp_path, clock, trace):
    visit, path = tmp_path / "a.visit", trace(level())
    import_trace(path, visit, BEGAN, clock=clock)
    done = import_trace(path, visit, BEGAN + timedelta(seconds=59.6), clock=clock)
    log = VisitLog.open(visit)
    runs, samples = log.runs.all(), log.samples.after()
    log.close()
    assert done.run_id == runs[1].id and len(runs) == 2
    assert samples.run_id.tolist() == [runs[0].id] * 150 + [runs[1].id] * 150


@pytest.mark.parametrize(
    ("later_s", "reason"),
    [
        (0, "overlaps recording 1"),
        (59, "overlaps recording 1"),
        (-59, "overlaps recording 1"),
        (-120, "lies before recording 1"),
    ],
)
def test_a_time_that_is_taken_is_refused(tmp_path, clock, trace, later_s, reason):
    visit, path = tmp_path / "a.visit", trace(level())
    import_trace(path, visit, BEGAN, clock=clock)
    before = content(visit)
    with pytest.raises(StillvoltError, match=reason):
        import_trace(
            path, visit, BEGAN + timedelta(seconds=later_s), meter=METER, reference="earth rod", clock=clock
        )
    assert content(visit) == before


def test_a_visit_at_which_a_recorder_is_at_work_is_refused(tmp_path, clock, trace):
    visit, path = tmp_path / "a.visit", trace(level())
    VisitLog.create(visit, clock).close()
    before = content(visit)
    with sole_recorder(visit), pytest.raises(StillvoltError, match="Another recorder is at work"):
        import_trace(path, visit, BEGAN, clock=clock)
    assert content(visit) == before


def test_a_run_that_was_cut_off_ends_at_its_last_heartbeat(tmp_path, clock, trace):
    visit = tmp_path / "a.visit"
    VisitLog.create(visit, clock).close()
    killed = FastForward(visit, built_in_scene("lively"), NOW_NS)
    killed.run(60.0)
    killed._writer.close()
    clock.advance_ns(86_400 * NS_PER_S)
    began = datetime.fromtimestamp(NOW_NS / NS_PER_S, BEGAN.tzinfo)
    with pytest.raises(StillvoltError, match="overlaps recording 1"):
        import_trace(trace(level()), visit, began + timedelta(seconds=30), clock=clock)
    import_trace(trace(level()), visit, began + timedelta(seconds=61), clock=clock)
    log = VisitLog.open(visit)
    first, second = log.runs.all()
    log.close()
    assert "cut off" in first.end_reason
    assert first.ended_utc_ns == pytest.approx(NOW_NS + 60 * NS_PER_S, abs=NS_PER_S)
    assert second.started_utc_ns == NOW_NS + 61 * NS_PER_S


@pytest.mark.parametrize("existing", [False, True], ids=["a new visit", "a visit that is there"])
def test_a_disk_that_is_full_leaves_nothing(tmp_path, clock, trace, monkeypatch, existing):
    visit, path = tmp_path / "a.visit", trace(level())
    if existing:
        VisitLog.create(visit, clock).close()
    before = content(visit) if existing else []
    opened = VisitLog.open if existing else VisitLog.create

    def on_a_full_disk(*words):
        log = opened(*words)
        pages = log._connection.one("PRAGMA page_count")[0]
        log._connection.db.execute(f"PRAGMA max_page_count = {pages}")
        return log

    monkeypatch.setattr(VisitLog, "open" if existing else "create", on_a_full_disk)
    with pytest.raises(StillvoltError, match="full"):
        import_trace(path, visit, BEGAN, reference="earth rod", clock=clock)
    assert content(visit) == before if existing else sorted(tmp_path.iterdir()) == [path]


def test_meter_and_reference_become_those_of_a_visit_that_has_none(tmp_path, clock, trace):
    visit = tmp_path / "a.visit"
    done = import_trace(
        trace(level()), visit, BEGAN, meter=METER, reference="earth rod", clock=clock, unit="V"
    )
    log = VisitLog.open(visit)
    setup = log.setup.current()
    log.close()
    assert setup == Setup(reference="earth rod", meter=MeterFacts.of(METER)) and done.messages == ()


def test_what_is_stated_in_the_visit_stays(tmp_path, clock, trace):
    visit = tmp_path / "a.visit"
    stated = Setup(household="17", reference="earth rod", meter=MeterFacts.of(MeterDescription("other")))
    log = VisitLog.create(visit, clock)
    log.setup.set(stated)
    log.close()
    done = import_trace(
        trace(level()), visit, BEGAN, meter=METER, reference="earth rod", clock=clock, unit="V"
    )
    log = VisitLog.open(visit)
    setup = log.setup.current()
    log.close()
    assert setup == stated
    (message,) = done.messages
    assert "stays 'other'" in message


@pytest.mark.parametrize("stated", ["building earth", None])
def test_a_trace_against_another_reference_than_what_the_visit_holds_is_refused(
    tmp_path, clock, trace, stated
):
    visit, path = tmp_path / "a.visit", trace(level())
    import_trace(path, visit, BEGAN, reference=stated, clock=clock, unit="V")
    before = content(visit)
    with pytest.raises(StillvoltError, match="building earth" if stated else "no reference is stated"):
        import_trace(path, visit, BEGAN + timedelta(days=1), reference="earth rod", clock=clock, unit="V")
    assert content(visit) == before


def test_a_meter_of_the_visits_name_with_other_data_is_refused(tmp_path, clock, trace):
    visit, path = tmp_path / "a.visit", trace(level())
    import_trace(path, visit, BEGAN, meter=METER, clock=clock, unit="V")
    before = content(visit)
    changed = dataclasses.replace(METER, make="another one")
    with pytest.raises(StillvoltError, match="has other data"):
        import_trace(path, visit, BEGAN + timedelta(days=1), meter=changed, clock=clock, unit="V")
    assert content(visit) == before


def test_a_trace_that_ends_in_the_future_is_taken_on_the_users_word_only(tmp_path, clock, trace):
    began = datetime.fromtimestamp(NOW_NS / NS_PER_S + 3600, BEGAN.tzinfo)
    with pytest.raises(StillvoltError, match="ends in the future"):
        import_trace(trace(level()), tmp_path / "a.visit", began, clock=clock)
    assert not (tmp_path / "a.visit").exists()
    done = import_trace(trace(level()), tmp_path / "a.visit", began, clock=clock, is_future=True)
    assert any("future" in message for message in done.messages)


def test_a_recorded_run_is_not_marked_as_imported(tmp_path, clock):
    visit = tmp_path / "a.visit"
    VisitLog.create(visit, clock).close()
    run = FastForward(visit, built_in_scene("lively"), NOW_NS)
    run.run(1.0)
    run.end()
    log = VisitLog.open(visit)
    (recorded,) = log.runs.all()
    log.close()
    assert imported_trace(recorded) is None
    assert imported_trace(dataclasses.replace(recorded, settings="no JSON")) is None
    assert imported_trace(dataclasses.replace(recorded, settings="[]")) is None


@pytest.mark.parametrize(
    ("content", "line", "reason"),
    [
        ("time_s,volts\n0,12.345\n1,12.345\n2,12", 4, "no line end"),
        ("time_s,volts\n0,0.2\n1,1000.1\n", 3, "above 1000 V"),
        ("time_s,volts,volts\n0,0.2,0.3\n", 1, "stands twice"),
    ],
)
def test_a_trace_that_is_cut_off_or_in_another_unit_is_refused_whole(
    trace, tmp_path, clock, content, line, reason
):
    visit = tmp_path / "home.visit"
    with pytest.raises(StillvoltError, match=f"line {line}: .*{reason}"):
        import_trace(trace(content), visit, BEGAN, clock=clock)
    assert not visit.exists()


def test_values_that_may_be_millivolts_are_taken_on_the_users_word_only(tmp_path, clock, trace):
    visit = tmp_path / "a.visit"
    with pytest.raises(StillvoltError, match=r"Is 500 in .* in volts or in millivolts"):
        import_trace(trace("time_s,volts\n0,0.2\n1,500\n"), visit, BEGAN, clock=clock)
    assert not visit.exists()
    stated = trace("time_s,volts,unit\n0,0.2,V\n1,500,V\n")
    assert import_trace(stated, tmp_path / "b.visit", BEGAN, clock=clock).samples == 2
    done = import_trace(trace("time_s,volts\n0,500\n"), visit, BEGAN, clock=clock, unit="V")
    assert done.samples == 1


@pytest.mark.parametrize("unit", [None, "V", "mV"])
def test_the_unit_of_a_trace_is_the_stated_one_or_said_to_be_assumed(tmp_path, clock, trace, unit):
    visit = tmp_path / "a.visit"
    rows = "".join(f"{i * 0.4:.1f},{8.2 + 0.01 * (i % 3):.2f}\n" for i in range(100))
    done = import_trace(trace(f"time_s,volts\n{rows}"), visit, BEGAN, clock=clock, unit=unit)
    assert (UNIT_ASSUMED in done.messages) == (unit is None)
    log = VisitLog.open(visit)
    (settled,) = [one.event for one in log.events.after() if isinstance(one.event, Settled)]
    connection = log.meters.at(1, 100)
    log.close()
    assert settled.volts == pytest.approx(8.21 * (1e-3 if unit == "mV" else 1.0), abs=1e-3)
    assert connection is not None and connection.is_unit_assumed == (unit is None)
    assert verify(visit).sound


def test_the_end_of_a_trace_over_the_change_of_the_clocks_has_the_offset_of_then(
    trace, tmp_path, clock, monkeypatch
):
    monkeypatch.setenv("TZ", "Europe/Vienna")
    time.tzset()
    try:
        began = read_began("2025-10-25T23:00:00+02:00")
        done = import_trace(
            trace(level(seconds=9 * 3600, every_s=60.0)), tmp_path / "a.visit", began, clock=clock
        )
        assert done.start.isoformat() == "2025-10-25T23:00:00+02:00"
        assert done.end.isoformat() == "2025-10-26T06:59:00+01:00"
    finally:
        monkeypatch.undo()
        time.tzset()


@pytest.mark.parametrize(("volts", "kind"), [("0.512", "frozen"), ("0.050", "constant value")])
def test_a_trace_that_never_changes_is_doubted_in_the_import_and_in_the_night(
    tmp_path, clock, trace, volts, kind
):
    visit = tmp_path / "a.visit"
    rows = "".join(f"{2 * i},{volts}\n" for i in range(450))
    done = import_trace(trace("time_s,volts\n" + rows), visit, BEGAN, clock=clock)
    assert [message for message in done.messages if "HOLD" in message and f"exactly {volts} V" in message]
    log = VisitLog.open(visit)
    assert kind in [notice.kind for notice in log.notices.after(0)]
    (night,) = nights(log)
    log.close()
    assert (night.frozen if kind == "frozen" else night.doubted) == ((0.0, 898.0),)
    said = "\n".join(night_lines(analyse_as_stated(visit, None)))
    assert ("20:15:00 to 20:29:58: not counted" if kind == "frozen" else "may have been on HOLD") in said


def test_rows_that_are_too_far_apart_are_stated_once(tmp_path, clock, trace):
    visit = tmp_path / "a.visit"
    rows = "".join(f"{60 * i},0.2{i % 7}\n" for i in range(100))
    done = import_trace(trace("time_s,volts\n" + rows), visit, BEGAN, clock=clock)
    assert [message for message in done.messages if "about 60 s apart" in message]
    lines = [line for line in night_lines(analyse_as_stated(visit, None)) if "not recorded: " in line]
    assert len(lines) == 1 and "too rarely" in lines[0]


def test_values_of_tens_of_volts_without_a_unit_may_be_millivolts(tmp_path, clock, trace):
    with pytest.raises(StillvoltError, match=r"Is 98.5 in .* in volts or in millivolts"):
        import_trace(trace("time_s,volts\n0,97.1\n1,98.5\n"), tmp_path / "a.visit", BEGAN, clock=clock)


def test_a_damaged_visit_is_told_in_words_whatever_meets_the_damage(tmp_path, clock, trace):
    """A page that is another one's copy shows only where something is written into it."""
    visit = tmp_path / "house.visit"
    import_trace(trace(level()), visit, BEGAN, clock=clock)
    with closing(sqlite3.connect(visit)) as db:
        index, size = db.execute(
            "SELECT rootpage, (SELECT page_size FROM pragma_page_size) FROM sqlite_schema WHERE name = ?",
            ("event_by_run",),
        ).fetchone()
    content = bytearray(visit.read_bytes())
    content[(index - 1) * size : index * size] = content[size : 2 * size]
    visit.write_bytes(content)
    with pytest.raises(StillvoltError, match="is damaged"):
        import_trace(trace(level(start_s=0.0)), visit, BEGAN + timedelta(hours=1), clock=clock)


def test_what_was_changed_in_a_visit_is_told_when_a_trace_comes_into_it(tmp_path, clock, trace):
    visit = tmp_path / "house.visit"
    import_trace(trace(level()), visit, BEGAN, clock=clock)
    with closing(VisitLog.open(visit, clock)) as log:
        log.spots.add("Bed")
    with without_triggers(visit) as db:
        db.execute("UPDATE spot SET name = 'Desk'")
    done = import_trace(trace(level()), visit, BEGAN + timedelta(hours=1), clock=clock)
    assert any("damaged or was changed" in message for message in done.messages)
