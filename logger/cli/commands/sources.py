"""`stillvolt sources`: which circuit gives how much, and what to switch off."""

from __future__ import annotations

import argparse
import json

from logger.cli.name_list import names_in
from logger.metrology.target import TARGET_VOLTS
from logger.sweep.solver.answer import solve_sweep
from logger.sweep.solver.answer_text import answer_text
from logger.sweep.solver.readings import read_sweep


def run(arguments: argparse.Namespace) -> None:
    """Print the answer of a sweep, as text or as JSON."""
    sweep = read_sweep(arguments.readings, names_in(arguments.circuits))
    essential = frozenset(names_in(arguments.keep))
    target_volts = TARGET_VOLTS if arguments.target is None else arguments.target
    answer = solve_sweep(sweep, arguments.supply, essential, target_volts)
    if arguments.json:
        print(json.dumps(answer.as_json()))
    else:
        print(answer_text(answer, sweep, essential, target_volts))
