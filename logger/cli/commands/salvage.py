"""`stillvolt salvage`: brings what can be read of a damaged visit log into a new one."""

from __future__ import annotations

import argparse

from logger.visit.storage.salvage import salvage


def run(arguments: argparse.Namespace) -> int:
    """Print what became of each table; the exit status is 1 where something was lost or is in doubt."""
    found = salvage(arguments.visit, arguments.out)
    print(arguments.out)
    if found.remark:
        print(found.remark)
    for table in found.tables:
        if table.kept or not table.whole:
            print(table.in_words())
    for sentence in found.restored:
        print(sentence)
    if found.record.doubt_of_readings:
        print(f"Each reading is in doubt. {found.record.doubt_of_readings}")
    lost = "Something was lost or is in doubt: see above."
    print("Nothing was lost, as far as can be known." if found.whole else lost)
    return 0 if found.whole else 1
