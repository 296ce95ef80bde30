"""`stillvolt salvage`: brings what can be read of a damaged visit log into a new one."""

from __future__ import annotations

import argparse
from datetime import datetime
from pathlib import Path

from logger.errors import StillvoltError
from logger.report.archive.entry import read_entry
from logger.report.document.html_page import report_html
from logger.report.document.read_report_data import read_report_data
from logger.report.export.tables import TABLES
from logger.translation import tr, tr_kept
from logger.visit.storage.read_only import checked_log
from logger.visit.storage.salvage import salvage


def run(arguments: argparse.Namespace) -> int:
    """Print what became of each table; the exit status is 1 where something was lost or is in doubt."""
    found = salvage(arguments.visit, arguments.out)
    print(arguments.out)
    if found.remarks:
        print(*map(tr_kept, found.remarks))
    for table in found.tables:
        if table.kept or not table.whole:
            print(table.in_words())
    for sentence in found.restored:
        print(tr_kept(sentence))
    if found.record.doubt_of_readings:
        print(tr("Each reading is in doubt. {why}").format(why=found.record.doubt_of_readings))
    unreadable = _why_unreadable(arguments.out)
    if unreadable:
        print(unreadable)
    if found.whole and not unreadable:
        print(tr("Nothing was lost, as far as can be known."))
        return 0
    print(tr("Something was lost or is in doubt: see above."))
    return 1


def _why_unreadable(made: Path) -> str:
    """What the other commands could not read of the new visit log, as a sentence; empty where they read all of it."""
    try:
        with checked_log(made) as log, log.read_transaction():
            data = read_report_data(log)
            report_html(data, datetime.now().astimezone(data.zone))
            for table in TABLES:
                table.frame(log)
        read_entry(made)
    except StillvoltError as error:
        return tr("The new visit log can't be opened: {what}").format(what=error.what)
    return ""
