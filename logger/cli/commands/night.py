"""`stillvolt night`: sums up a night of a visit."""

from __future__ import annotations

import argparse

from logger.night.night_text import tell_night


def run(arguments: argparse.Namespace) -> None:
    """Print the summary of a night, as text or as JSON."""
    print(tell_night(arguments.visit, arguments.night, arguments.against, as_json=arguments.json))
