"""How long it takes to look through a folder of visits, and an export.

python scripts/bench/archive.py search [VISITS]     500 small visits (asked: a few seconds)
python scripts/bench/archive.py export VISIT        CSV, spreadsheet and Parquet of a visit, each by itself
"""

from __future__ import annotations

import shutil
import sys
import tempfile
import time
from pathlib import Path

from logger.clock import NS_PER_S, ManualClock
from logger.metrology.setup import Setup
from logger.report.archive.search import Search, search
from logger.report.export.write_export import FORMATS, export
from logger.visit import VisitLog
from logger.visit.records.condition import EVERYTHING_OFF, EVERYTHING_ON

DAY_NS = 86_400 * NS_PER_S


def small_visits(folder: Path, count: int) -> None:
    """Ten spots, twenty readings each. Of ten, nine are copies, which cost as much to read."""
    for number in range(count):
        path = folder / f"{number:04d}.visit"
        if number % 10:
            shutil.copy(folder / f"{number - number % 10:04d}.visit", path)
            continue
        log = VisitLog.create(path, ManualClock(1_767_225_600 * NS_PER_S + number * DAY_NS))
        log.setup.set(Setup(household=f"Household {number}"))
        for place in range(10):
            spot = log.spots.add(f"Spot {place}", f"Room {place % 3}")
            log.readings.enter(spot.id, EVERYTHING_ON, 0.5 + place / 10, 0.01)
            log.readings.enter(spot.id, EVERYTHING_OFF, 0.05, 0.01)
        log.close()


def bench_search(count: int) -> None:
    """Print how long a search among so many visits takes."""
    with tempfile.TemporaryDirectory() as folder:
        small_visits(Path(folder), count)
        started, used = time.perf_counter(), time.process_time()
        found = search(Path(folder), Search(household="household", room="room 2"))
        took_s, used_s = time.perf_counter() - started, time.process_time() - used
    print(f"{count} visits: {len(found.visits)} found in {took_s:.2f} s ({used_s:.2f} s of the processor)")


def bench_export(visit: Path) -> None:
    """Print how long each format of the export of a visit takes."""
    for name in FORMATS:
        with tempfile.TemporaryDirectory() as folder:
            started, used = time.perf_counter(), time.process_time()
            written = export(visit, Path(folder), [name])
            took_s, used_s = time.perf_counter() - started, time.process_time() - used
            size = sum(path.stat().st_size for path in written) / 1e6
        print(f"{name}: {size:.1f} MB in {took_s:.1f} s ({used_s:.1f} s of the processor)")


def main() -> None:
    """Run what the command line names."""
    what, *rest = sys.argv[1:] or [""]
    if what == "search":
        bench_search(int(rest[0]) if rest else 500)
    elif what == "export" and rest:
        bench_export(Path(rest[0]))
    else:
        sys.exit(__doc__)


if __name__ == "__main__":
    main()
