"""`stillvolt plan`: what can be done about what was found, what was done, and what it brought."""

from __future__ import annotations

import argparse

from logger.plan.plan_output import plan_output


def run(arguments: argparse.Namespace) -> None:
    """Print the plan of remedies of a visit, as text or as JSON."""
    print(plan_output(arguments.visit, as_json=arguments.json))
