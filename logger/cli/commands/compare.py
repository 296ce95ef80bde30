"""`stillvolt compare`: what has changed from one visit to another."""

from __future__ import annotations

import argparse
import json

from logger.report.compare.comparison import compare_visits
from logger.report.compare.listing import comparison_json, comparison_text
from logger.report.compare.spot_matching import read_matches


def run(arguments: argparse.Namespace) -> None:
    """Print the comparison of two visits, as text or as JSON."""
    comparison = compare_visits(
        arguments.before, arguments.after, read_matches(arguments.match), same_home=arguments.same_home
    )
    print(json.dumps(comparison_json(comparison)) if arguments.json else comparison_text(comparison))
