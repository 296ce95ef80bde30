"""`stillvolt verify`: whether a visit log is whole."""

from __future__ import annotations

import argparse
import json

from logger.visit.storage.verification import verification_text, verify


def run(arguments: argparse.Namespace) -> int:
    """Print what was found; the exit status is 1 where something is damaged."""
    found = verify(arguments.visit)
    print(json.dumps(found.to_json()) if arguments.json else verification_text(found))
    return 0 if found.sound else 1
