"""`stillvolt export`: writes a visit as CSV, spreadsheet or Parquet files."""

from __future__ import annotations

import argparse
import sys

from logger.name_list import names_in
from logger.report.export.write_export import USUAL_FORMATS, export


def run(arguments: argparse.Namespace) -> None:
    """Write the files and print the path of each."""
    formats = USUAL_FORMATS if arguments.format is None else names_in(arguments.format)

    def tell(damage: str) -> None:
        print(f"stillvolt: {damage}", file=sys.stderr)

    for path in export(arguments.visit, arguments.out, formats, replace=arguments.replace, on_damage=tell):
        print(path)
