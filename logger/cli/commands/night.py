"""`stillvolt night`: sums up a night of a visit."""

from __future__ import annotations

import argparse

from logger.night.night_output import night_output


def run(arguments: argparse.Namespace) -> None:
    """Print the summary of a night, as text or as JSON."""
    print(night_output(arguments.visit, arguments.night, arguments.against, as_json=arguments.json))
