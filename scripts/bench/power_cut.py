"""Power cuts, simulated: only what was synced survives for certain, of the rest any sectors, in any order.

python scripts/bench/power_cut.py [COUNT]     50 cuts: what opens, what is whole, what is lost

How: the recorder's own code writes through SQLite with a file layer of ours (a VFS by the library apsw), which passes
every write, truncation and sync of the log and its journal on and notes it with the time. A cut is a moment between
two of these. The file as the disk would have it then is built anew: everything up to the file's last sync; of each
later write a random choice of its 512-byte sectors (none, some, all); a journal that was never synced may be missing.
That file is opened as a user would, checked and recorded into again.
"""

from __future__ import annotations

import random
import sqlite3
import sys
import tempfile
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import apsw

from logger.clock import NS_PER_S, ManualClock
from logger.meter.reader import Arrival
from logger.recording.recorder import Recorder
from logger.visit import VisitLog
from logger.visit.storage import connection as visit_connection
from logger.visit.storage.run_writer import RunWriter

SECTOR_BYTES = 512
VFS_NAME = "noting"


@dataclass(frozen=True, slots=True)
class Op:
    """What was done to a file. `data` None: a truncation to `offset`; `offset` -1: a sync."""

    at_ns: int
    file: str
    offset: int
    data: bytes | None


class NotingVfs(apsw.VFS):
    """Passes everything on to the system's own layer and notes what happens to the log and its journal."""

    def __init__(self, clock: ManualClock) -> None:
        self.ops: list[Op] = []
        self.clock = clock
        super().__init__(VFS_NAME, "")

    def xOpen(self, name: Any, flags: list[int]) -> NotingFile:
        """Open a file of the log; see apsw."""
        return NotingFile(self, name, flags)

    def note(self, file: str, offset: int, data: bytes | None) -> None:
        """Keep one operation with its time."""
        self.ops.append(Op(self.clock.steady_ns(), file, offset, data))


class NotingFile(apsw.VFSFile):
    """A file of `NotingVfs`."""

    def __init__(self, vfs: NotingVfs, name: Any, flags: list[int]) -> None:
        path = name.filename() if isinstance(name, apsw.URIFilename) else name
        self._file = Path(path).name if path else ""
        self._vfs = vfs
        super().__init__("", name, flags)

    def xWrite(self, data: Any, offset: int) -> None:
        """Write, and note it; see apsw."""
        super().xWrite(data, offset)
        self._vfs.note(self._file, offset, bytes(data))

    def xTruncate(self, size: int) -> None:
        """Truncate, and note it; see apsw."""
        super().xTruncate(size)
        self._vfs.note(self._file, size, None)

    def xSync(self, flags: int) -> None:
        """Note that the file was synced; see apsw."""
        self._vfs.note(self._file, -1, b"")  # only noted: the real disk need not do it


class Row(tuple[Any, ...]):
    """A row whose values are also known by name, as those of the standard library."""

    names: tuple[str, ...] = ()

    def __getitem__(self, key: Any) -> Any:
        return super().__getitem__(self.names.index(key) if isinstance(key, str) else key)


class Connection:
    """As much of the standard library's connection as the recorder's writer uses, on apsw."""

    def __init__(self, path: Path) -> None:
        self._db = apsw.Connection(str(path), vfs=VFS_NAME)
        self.lastrowid: int | None = None
        self._rows: Iterator[tuple[Any, ...]] = iter(())

    def execute(self, sql: str, values: Sequence[Any] = ()) -> Connection:
        """Run one statement; its rows can be fetched."""
        cursor = self._db.execute(sql, values)
        try:
            names = tuple(column[0] for column in cursor.get_description())
        except apsw.ExecutionCompleteError:
            names = ()
        row = type("NamedRow", (Row,), {"names": names})
        self._rows = iter([row(values) for values in cursor])
        self.lastrowid = self._db.last_insert_rowid()
        return self

    def fetchone(self) -> Any:
        """The next row, or None."""
        return next(self._rows, None)

    def fetchall(self) -> list[Any]:
        """All remaining rows."""
        return list(self._rows)

    def __iter__(self) -> Iterator[Any]:
        return self._rows

    @property
    def in_transaction(self) -> bool:
        """Whether a transaction is open."""
        return self._db.in_transaction

    def set_progress_handler(self, handler: Callable[[], bool] | None, steps: int) -> None:
        """Ask a function every so many steps whether to interrupt; None asks no more."""
        self._db.set_progress_handler(handler, steps)

    def backup(self, target: sqlite3.Connection) -> None:
        """Refuse to copy: a copy against overwriting does not outlive a power cut."""
        raise sqlite3.OperationalError("no copy is made on this disk")

    def close(self) -> None:
        """Close the connection."""
        self._db.close()


def _connect(path: Path) -> Any:
    db = Connection(path)
    assert db.execute("PRAGMA journal_mode = WAL").fetchone()[0] == "wal"
    db.execute("PRAGMA synchronous = FULL")
    return db


@dataclass
class Disk:
    """What the disk holds for certain, and what it was given since."""

    sure: dict[str, bytes]
    later: dict[str, list[Op]] = field(default_factory=dict)
    """Files that were never synced are not in `sure`."""

    def take(self, op: Op) -> None:
        """Take one operation to the disk: a sync makes all before it sure."""
        if op.offset >= 0:
            self.later.setdefault(op.file, []).append(op)
            return
        content = bytearray(self.sure.get(op.file, b""))
        for earlier in self.later.pop(op.file, []):
            _apply(content, earlier)
        self.sure[op.file] = bytes(content)

    def after_a_cut(self, rng: random.Random) -> dict[str, bytes]:
        """Files as they may be found when the power is back."""
        files = {}
        for file in self.sure.keys() | self.later.keys():
            if file not in self.sure and rng.random() < 0.5:
                continue
            share = rng.choice((0.0, 0.3, 0.7, 1.0))
            content = bytearray(self.sure.get(file, b""))
            for op in self.later.get(file, []):
                if op.data is None:
                    if rng.random() < share:
                        _apply(content, op)
                    continue
                for start in range(0, len(op.data), SECTOR_BYTES):
                    if rng.random() < share:
                        piece = op.data[start : start + SECTOR_BYTES]
                        _apply(content, Op(op.at_ns, file, op.offset + start, piece))
            files[file] = bytes(content)
        return files


def _apply(content: bytearray, op: Op) -> None:
    if op.data is None:
        del content[op.offset :]
        content.extend(bytes(op.offset - len(content)))
        return
    if len(content) < op.offset:
        content.extend(bytes(op.offset - len(content)))
    content[op.offset : op.offset + len(op.data)] = op.data


@dataclass(frozen=True, slots=True)
class Cut:
    """What became of a log whose power was cut."""

    lost_s: float
    """Age of the oldest line that is missing, at the moment of the cut."""
    kept: int
    unsure_bytes: int
    """What the disk had been given since the last syncs."""


def recorded(
    folder: Path, seconds: float, rate_hz: float
) -> tuple[Path, dict[str, bytes], list[Op], list[int]]:
    """A recording on a manual clock through the noting layer.

    Returns the visit's path, its files before, what happened to them, and when each line was sent; line i carries i.
    """
    path = folder / "cut.visit"
    VisitLog.create(path).close()
    before = {path.name: path.read_bytes()}
    clock = ManualClock()
    vfs = NotingVfs(clock)
    stored, visit_connection._open = visit_connection._open, _connect
    try:
        writer = RunWriter(
            path, utc_ns=clock.utc_ns(), zone="UTC", utc_offset_s=0, port="bench", settings="{}", software="bench",
            pid=1,
        )  # fmt: skip
    finally:
        visit_connection._open = stored
    recorder = Recorder(writer, clock, clock.steady_ns(), lambda _: None)
    sent = []
    for number in range(round(seconds * rate_hz)):
        clock.advance_ns(round(NS_PER_S / rate_hz))
        sent.append(clock.steady_ns())
        recorder.handle(Arrival(clock.utc_ns(), clock.steady_ns(), b"%.6f VAC\r\n" % (number / 1e6)))
        if recorder.due_in_ns() <= 0:
            recorder.write()
    ops = list(vfs.ops)  # an orderly end is no power cut
    writer.close()
    vfs.unregister()
    return path, before, ops, sent


def cuts(seconds: float, rate_hz: float, count: int, seed: int) -> list[Cut]:
    """Cut the power of one recording at `count` random moments; raises AssertionError for a log that is not whole."""
    rng = random.Random(seed)
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        path, before, ops, sent = recorded(folder, seconds, rate_hz)
        # Half of them while the journal is copied into the log: rare, and the dangerous moments.
        copying = [i for i, op in enumerate(ops) if op.file == path.name]
        moments = sorted(
            rng.choice(copying) if copying and rng.random() < 0.5 else rng.randrange(len(ops))
            for _ in range(count)
        )
        disk = Disk(before)
        found = []
        done = 0
        for moment in moments:
            for op in ops[done:moment]:
                disk.take(op)
            done = max(done, moment)
            at_ns = ops[moment].at_ns
            unsure = sum(len(op.data or b"") for later in disk.later.values() for op in later)
            place = folder / "after"
            place.mkdir(exist_ok=True)
            for file, content in disk.after_a_cut(rng).items():
                (place / file).write_bytes(content)
            found.append(Cut(*_look(place / path.name, at_ns, sent), unsure))
            for left in place.iterdir():
                left.unlink()
    return found


def _look(path: Path, at_ns: int, sent: list[int]) -> tuple[float, int]:
    """Open a log as it was found; gives how much is lost and how many lines are kept."""
    VisitLog.open(path).close()
    with sqlite3.connect(path) as db:
        assert db.execute("PRAGMA integrity_check").fetchone()[0] == "ok"
        assert db.execute("PRAGMA foreign_key_check").fetchall() == []
        kept = [round(volts * 1e6) for (volts,) in db.execute("SELECT volts FROM line ORDER BY id")]
    db.close()
    assert kept == list(range(len(kept))), "a hole in the log"
    # The next recorder closes the run and goes on in the same file.
    again = RunWriter(
        path, utc_ns=0, zone="UTC", utc_offset_s=0, port="bench", settings="{}", software="bench", pid=2
    )
    again.close()
    missing = [at for at in sent[len(kept) :] if at <= at_ns]
    return (at_ns - missing[0]) / NS_PER_S if missing else 0.0, len(kept)


def main() -> None:
    """Simulate power cuts at three rates and print what was lost."""
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 50
    rates = (2.5, 10.0, 100.0)
    found = []
    for number, rate_hz in enumerate(rates):
        share = count // len(rates) + (number < count % len(rates))
        found += cuts(seconds=300.0, rate_hz=rate_hz, count=share, seed=number)
    worst_s = max(cut.lost_s for cut in found)
    print(
        f"{len(found)} power cuts at {', '.join(f'{rate:g}' for rate in rates)} lines/s: every log opens, passes "
        f"integrity_check and is gone on with; at most {worst_s:.2f} s lost "
        f"(up to {max(cut.unsure_bytes for cut in found):,} bytes were not yet synced, torn at random)"
    )


if __name__ == "__main__":
    main()
