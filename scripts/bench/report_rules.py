"""The rules that every number of a report keeps, held against visits: `python scripts/bench/report_rules.py VISIT...`.

The rules are those of `tests/report/test_report_numbers.py`, which the tests hold against the demo and a home of one
room. A row for each rule that a report breaks; exit status 1 where there is one.
"""

from __future__ import annotations

import argparse
import shutil
import sys
import tempfile
import traceback
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))  # so that the tree itself can be imported

from tests.report.test_report_numbers import RULES, page_of


def main() -> int:
    """Hold the rules against what the command line names."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").split("\n", 1)[0])
    parser.add_argument("visits", nargs="+", type=Path, metavar="VISIT")
    broken = 0
    for visit in parser.parse_args().visits:
        with tempfile.TemporaryDirectory() as folder:
            page = page_of(Path(shutil.copy(visit, folder)))  # opening a log leaves its mark in the folder
        for rule in RULES:
            try:
                rule(page)
            except Exception as error:
                broken += 1
                at = traceback.extract_tb(error.__traceback__)[-1]
                print(f"{visit.name}: {rule.__name__}, line {at.lineno}: {at.line} ({error})"[:400])
        print(f"{visit.name}: {len(RULES)} rules held against {len(page.data.readings)} readings")
    return 1 if broken else 0


if __name__ == "__main__":
    sys.exit(main())
