"""The plain rule switches off each circuit with which alone on more than 0.1 V is read (common practice, no source)."""

from __future__ import annotations

from logger.sweep.solver.plain_rule import plain_rule
from logger.sweep.solver.readings import sweep_of


def test_of_three_only_the_one_above_a_tenth_of_a_volt():
    sweep = sweep_of([("", 0.0, 0.005), ("A", 0.1, 0.005), ("B", 0.1, 0.005), ("C", 4.0, 0.005)])
    assert plain_rule(sweep) == ("C",)
    assert plain_rule(sweep, keep=frozenset({"C"})) == ()
