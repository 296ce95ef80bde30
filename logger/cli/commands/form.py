"""`stillvolt form`: writes an empty form for the planned spots of a visit."""

from __future__ import annotations

import argparse

from logger.report.blank_form import write_form


def run(arguments: argparse.Namespace) -> None:
    """Write the form and print its path."""
    write_form(arguments.visit, arguments.out, replace=arguments.replace)
    print(arguments.out)
