"""`stillvolt compare`: what has changed from one visit to another."""

from __future__ import annotations

import argparse
import json

from logger.report.compare.comparison import as_json, compare_visits, in_words
from logger.report.compare.spot_matching import read_matches


def run(arguments: argparse.Namespace) -> None:
    """Print the comparison of two visits, as text or as JSON."""
    comparison = compare_visits(arguments.before, arguments.after, read_matches(arguments.match))
    print(json.dumps(as_json(comparison)) if arguments.json else in_words(comparison))
