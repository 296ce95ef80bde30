"""`stillvolt meters`: lists the kept meter descriptions."""

from __future__ import annotations

import argparse
import sys

from logger.errors import StillvoltError
from logger.meter.description_folder import folder, list_descriptions, load


def run(_: argparse.Namespace) -> None:
    """Print the name and the port settings of each description; what is wrong with one that cannot be read."""
    for name in list_descriptions():
        try:
            port = load(name).port
            print(f"{name}\t{port.framing()}" + (f", asked {port.query!r}" if port.query else ""))
        except StillvoltError as error:  # one that is wrong must not hide the others
            print(f"{name}\t{error}")
    print(f"in {folder()}", file=sys.stderr)
