"""`stillvolt archive`: searches a folder of visits."""

from __future__ import annotations

import argparse
import json
from contextlib import nullcontext

from logger.report.archive.listing import archive_json, archive_text
from logger.report.archive.search import Search, read_day, search
from logger.translation import in_language


def run(arguments: argparse.Namespace) -> int:
    """Print the visits that were found, as text or as JSON; the exit status is 1 where some cannot be read."""
    # What other programs get is the same in every language.
    with in_language("en") if arguments.json else nullcontext():
        return _print(arguments)


def _print(arguments: argparse.Namespace) -> int:
    wanted = Search(
        household=arguments.household,
        room=arguments.room,
        spot=arguments.spot,
        text=arguments.text,
        first_day=read_day(arguments.first_day) if arguments.first_day else None,
        last_day=read_day(arguments.last_day) if arguments.last_day else None,
        open_remedies=arguments.open_remedies,
    )
    archive = search(arguments.folder, wanted)
    print(json.dumps(archive_json(archive)) if arguments.json else archive_text(archive))
    return 1 if archive.refused else 0
