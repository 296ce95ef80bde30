"""How long the disk lasts: told before it ends, at the rate of the recording itself."""

from __future__ import annotations

import pytest

from logger.recording.watch.disk_space import (
    RESERVE_BYTES,
    ROW_BYTES,
    USUAL_BYTES_PER_S,
    DiskSpaceWatch,
    lasts_s,
    warning,
)
from logger.recording.watch.disk_space import warning_before_start as before_start
from logger.visit import VisitLog
from logger.visit.storage.connection import transaction
from logger.visit.storage.run_checksum import LineRow
from logger.visit.storage.run_writer import Batch, RunWriter, insert_batch


class Disk:
    """A disk that a test fills."""

    def __init__(self, hours: float) -> None:
        self.free = RESERVE_BYTES + round(hours * 3600 * USUAL_BYTES_PER_S)
        self.watch = DiskSpaceWatch(lambda: self.free)


def test_before_the_start_it_is_said_how_long_it_lasts(tmp_path, monkeypatch):
    monkeypatch.setattr("logger.recording.watch.disk_space.free_bytes", lambda folder: Disk(9).free)
    assert before_start(tmp_path / "night.visit").startswith("The disk has room for 9 h at this rate.")
    monkeypatch.setattr("logger.recording.watch.disk_space.free_bytes", lambda folder: Disk(1000).free)
    assert before_start(tmp_path / "night.visit") == ""


def test_no_room_at_all_is_called_full():
    assert "full" in warning(lasts_s(100_000))


def test_enough_for_a_night_says_nothing():
    assert Disk(13).watch.poll(0.0, 0) == []


def test_it_is_told_at_the_start_and_again_when_it_becomes_short():
    disk = Disk(9)
    start, told = disk.free, []
    for minute in range(9 * 60):
        written = minute * 60 * USUAL_BYTES_PER_S
        disk.free = start - written
        told += [(minute, change.message) for change in disk.watch.poll(minute * 60.0, written)]
    assert [minute for minute, _ in told] == [0, 5 * 60 + 1, 8 * 60 + 1, 8 * 60 + 46]
    assert "room for 9 h " in told[0][1] and "room for 3 h 59 min" in told[1][1] and "59 min" in told[2][1]


def test_a_faster_meter_counts_with_its_own_rate():
    disk = Disk(20)
    assert disk.watch.poll(0.0, 0) == []
    (change,) = disk.watch.poll(60.0, 60 * 4 * USUAL_BYTES_PER_S)
    assert change.kind == "disk short" and "5 h" in change.message


def test_a_disk_that_cannot_be_asked_costs_nothing():
    def gone() -> int:
        raise OSError

    assert DiskSpaceWatch(gone).poll(0.0, 0) == []


@pytest.mark.parametrize("raw_bytes", [10, 40])
def test_a_row_takes_as_many_bytes_as_are_planned_for(tmp_path, raw_bytes):
    path = tmp_path / "a.visit"
    VisitLog.create(path).close()
    empty = path.stat().st_size
    writer = RunWriter(path, utc_ns=0, zone="UTC", utc_offset_s=0, port="", settings="{}", software="", pid=1)
    rows: list[LineRow] = [
        (1_767_225_600_000_000_000 + i, 10**13 + i, "volts", 0.2731, b"0" * raw_bytes) for i in range(20_000)
    ]
    with transaction(writer._db):
        insert_batch(writer._db, writer.run_id, Batch(lines=rows))
    writer.close()
    each = (path.stat().st_size - empty) / len(rows)
    assert each <= ROW_BYTES + raw_bytes <= 1.2 * each
