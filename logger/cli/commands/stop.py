"""`stillvolt stop`: ends the recorder of a visit in order."""

from __future__ import annotations

import argparse

from logger.recording.registry import stop


def run(arguments: argparse.Namespace) -> None:
    """Stop the recorder, wait until it has ended, and print what became of it."""
    print(stop(arguments.visit))
