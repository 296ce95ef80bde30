"""`stillvolt night`: sums up a night of a visit."""

from __future__ import annotations

import argparse
import sys

from logger.errors import StillvoltError
from logger.night.night_analysis import find_edges_again, move_edges
from logger.night.night_output import night_output
from logger.translation import tr


def run(arguments: argparse.Namespace) -> None:
    """Move the edges of a night where that is asked for, and print its summary, as text or as JSON."""
    if arguments.found_edges:
        if arguments.begins or arguments.until:
            raise StillvoltError(
                tr("Give --found-edges or moved edges, not both."), tr("Nothing was changed.")
            )
        find_edges_again(arguments.visit, arguments.night)
    elif arguments.begins or arguments.until:
        for note in move_edges(arguments.visit, arguments.night, arguments.begins, arguments.until):
            print(f"stillvolt: {note}", file=sys.stderr)
    print(night_output(arguments.visit, arguments.night, arguments.against, as_json=arguments.json))
