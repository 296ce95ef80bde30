"""`stillvolt compare`: what has changed from one visit to another."""

from __future__ import annotations

import argparse
import json

from logger.report.compare.comparison import Comparison, compare_visits
from logger.report.compare.listing import comparison_json, comparison_text
from logger.report.compare.spot_matching import read_matches
from logger.translation import in_language


def run(arguments: argparse.Namespace) -> None:
    """Print the comparison of two visits, as text or as JSON."""
    print(_json(arguments) if arguments.json else comparison_text(_compared(arguments)))


@in_language("en")
def _json(arguments: argparse.Namespace) -> str:
    """The output for other programs, whose texts are the same in every language."""
    return json.dumps(comparison_json(_compared(arguments)))


def _compared(arguments: argparse.Namespace) -> Comparison:
    return compare_visits(
        arguments.before, arguments.after, read_matches(arguments.match), same_home=arguments.same_home
    )
