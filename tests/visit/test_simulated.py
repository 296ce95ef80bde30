"""A simulated run is marked by one rule, and the mark stays with each reading."""

from __future__ import annotations

import json

import pytest

from logger.visit.records.simulated_run import is_simulated, simulation_settings
from logger.visit.results.simulated_readings import simulation_sentence


@pytest.mark.parametrize(
    ("port", "settings"),
    [
        ("sim://house", "{}"),
        ("SIM://House?seed=4", "not JSON"),
        ("  sim://house ", "[]"),
        ("/dev/ttyUSB0", json.dumps({"url": " Sim://house"})),
        ("file:trace.csv", json.dumps(simulation_settings("file:trace.csv", is_origin=True))),
    ],
)
def test_what_is_simulated_is_known_however_it_is_written(port: str, settings: str) -> None:
    assert is_simulated(port, settings)


@pytest.mark.parametrize(
    ("port", "settings"),
    [("/dev/ttyUSB0", "{}"), ("/dev/sim", '{"meter": "sim://"}'), ("socket://sim:1", '{"simulated": 0}')],
)
def test_a_meter_is_not_taken_for_a_simulation(port: str, settings: str) -> None:
    assert not is_simulated(port, settings)


def test_how_much_is_simulated_is_a_sentence() -> None:
    assert simulation_sentence([False], []) == "" and simulation_sentence([], []) == ""
    assert simulation_sentence([True, True], []).startswith("Simulated: no meter")
    assert "1 of 2 recordings" in simulation_sentence([True, False], [])
