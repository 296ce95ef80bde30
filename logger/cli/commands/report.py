"""`stillvolt report`: writes the report of a visit."""

from __future__ import annotations

import argparse
import sys

from logger.report.document.write_report import write_report
from logger.report.paper import SYSTEM_PAPER, usual_paper
from logger.translation import shown_language


def run(arguments: argparse.Namespace) -> None:
    """Write the report, as a PDF too where one is asked for, and print the paths."""

    def progress(doing: str) -> None:
        print(f"{doing} …", file=sys.stderr)

    simulation = write_report(
        arguments.visit,
        arguments.out,
        arguments.pdf,
        progress,
        language=shown_language(),
        replace=arguments.replace,
        paper=usual_paper() if arguments.paper == SYSTEM_PAPER else arguments.paper,
    )
    print(*filter(None, (arguments.out, arguments.pdf)), sep="\n")
    if simulation:
        print(f"stillvolt: {simulation}", file=sys.stderr)
