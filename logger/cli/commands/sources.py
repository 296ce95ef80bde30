"""`stillvolt sources`: which circuit gives how much, and what to switch off."""

from __future__ import annotations

import argparse
import json
import sys

from logger.metrology.target import TARGET_VOLTS
from logger.name_list import names_in
from logger.sweep.readings_csv import read_readings
from logger.sweep.solver.answer import solve_sweep
from logger.sweep.solver.answer_text import answer_text
from logger.translation import tr
from logger.visit.records.name_key import name_key
from logger.visit.records.simulated_run import SIMULATED, SIMULATED_NOTE


def run(arguments: argparse.Namespace) -> None:
    """Print the answer of a sweep, as text or as JSON."""
    found = read_readings(arguments.readings, names_in(arguments.circuits))
    for remark in found.remarks:
        print(f"stillvolt: {remark}", file=sys.stderr)
    sweep = found.sweep
    by_key = {name_key(name): name for name in sweep.circuits}
    essential = frozenset(by_key.get(name_key(name), name) for name in names_in(arguments.keep))
    target_volts = TARGET_VOLTS if arguments.target is None else arguments.target
    answer = solve_sweep(sweep, arguments.supply, essential, target_volts)
    if found.simulated:
        print(f"stillvolt: {tr(SIMULATED_NOTE)}", file=sys.stderr)
    if arguments.json:
        print(json.dumps(answer.as_json() | ({SIMULATED: True} if found.simulated else {})))
    else:
        print(answer_text(answer, sweep, essential, target_volts))
