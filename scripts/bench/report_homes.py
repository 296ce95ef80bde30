"""Homes that the report is tried on, from one room to three floors: each recorded, and reported in two languages.

    python scripts/bench/report_homes.py --out FOLDER [--home one_room|three_floors ...]

FOLDER gets of each home its visit, and its report as HTML and PDF in English and German; older ones are replaced. The
visits are recorded from simulated houses by the recorder's own code and are the same each time. A row for each home
says how long the recording and each report took, and how large they are.
"""

from __future__ import annotations

import argparse
import sys
import time
from collections.abc import Callable
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))  # so that the tree itself can be imported

from logger.report.document.write_report import write_report
from scripts.bench.homes import one_room, three_floors

HOMES: dict[str, Callable[[Path], None]] = {"one_room": one_room.make, "three_floors": three_floors.make}
LANGUAGES = ("en", "de")


def make_home(name: str, folder: Path) -> Path:
    """Record a home anew; returns the visit.

    Args:
        name: of `HOMES`.
        folder: where it is put.
    """
    path = folder / f"{name}.visit"
    unfinished = path.with_suffix(".part")
    unfinished.unlink(missing_ok=True)
    HOMES[name](unfinished)
    return unfinished.replace(path)


def main() -> None:
    """Make what the command line names."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").split("\n", 1)[0])
    parser.add_argument("--out", type=Path, required=True, help="the folder that everything is written to")
    parser.add_argument("--home", choices=list(HOMES), nargs="+", default=list(HOMES))
    options = parser.parse_args()
    options.out.mkdir(parents=True, exist_ok=True)
    for name in options.home:
        started = time.perf_counter()
        visit = make_home(name, options.out)
        print(f"{name}: {_size(visit)} in {time.perf_counter() - started:.0f} s")
        for language in LANGUAGES:
            started = time.perf_counter()
            page, pdf = (options.out / f"{name}_{language}.{ending}" for ending in ("html", "pdf"))
            write_report(visit, page, pdf, language=language, replace=True)
            print(
                f"  report, {language}: {_size(page)} HTML, {_size(pdf)} PDF, "
                f"in {time.perf_counter() - started:.0f} s"
            )


def _size(path: Path) -> str:
    return f"{path.stat().st_size / 1e6:.2f} MB"


if __name__ == "__main__":
    main()
