"""`stillvolt archive`: searches a folder of visits."""

from __future__ import annotations

import argparse
import json

from logger.report.archive import Search, as_json, day_of, in_words, search


def run(arguments: argparse.Namespace) -> None:
    """Print the visits that were found, as text or as JSON."""
    wanted = Search(
        household=arguments.household,
        room=arguments.room,
        spot=arguments.spot,
        text=arguments.text,
        first_day=day_of(arguments.first_day) if arguments.first_day else None,
        last_day=day_of(arguments.last_day) if arguments.last_day else None,
    )
    archive = search(arguments.folder, wanted)
    print(json.dumps(as_json(archive)) if arguments.json else in_words(archive))
