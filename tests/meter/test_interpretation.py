"""The interpretation of a line: the same in every process, and the same stages for every line."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

from logger.meter.interpretation import Value, interpret
from logger.meter.interpretation.items import items_of
from logger.meter.interpretation.name_binding import bind_names
from logger.meter.interpretation.segments import segment
from logger.meter.interpretation.unit_binding import bind_units
from logger.meter.tokens import tokens_of

CONTRADICTORY = ("0.273 V AC DC PEAK", "0.273 V AC DC AC+DC", "AC+DC AC DC 0.273 V")
ROOT = Path(__file__).parents[2]


@pytest.mark.parametrize("line", CONTRADICTORY)
def test_a_line_is_read_alike_whatever_the_hash_seed(line: str) -> None:
    code = f"from logger.meter.lines import read_any_line; print(read_any_line({line.encode()!r}))"
    readings = {
        subprocess.run(
            [sys.executable, "-c", code],
            capture_output=True, text=True, check=True, cwd=ROOT, env={**os.environ, "PYTHONHASHSEED": str(seed)},
        ).stdout
        for seed in range(6)
    }  # fmt: skip
    assert len(readings) == 1


def test_each_stage_leaves_what_it_was_given() -> None:
    tokens = tokens_of("17 RANGE 4 V, 0.273 mV AC HOLD")
    items = items_of(tokens, None, frozenset())
    segmented = segment(items, frozenset())
    named = bind_names(segmented, None, frozenset())
    measured = bind_units(named)
    assert (tokens_of("17 RANGE 4 V, 0.273 mV AC HOLD"), items_of(tokens, None, frozenset())) == (
        tokens,
        items,
    )
    assert (segment(items, frozenset()), bind_names(segmented, None, frozenset())) == (segmented, named)
    assert bind_units(named) == measured
    found = interpret(tokens)
    assert isinstance(found, Value)
    assert (found.token.text, found.exponent) == ("0.273", -3)
