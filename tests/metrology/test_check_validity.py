"""A check lapses with another reference or another meter input, and says which."""

from __future__ import annotations

from dataclasses import replace

import pytest

from logger.metrology.check_validity import Lapse, lapse_of
from logger.metrology.setup import UNKNOWN_METER, Setup

DONE_IN = Setup(reference="earth rod", soil="clay", panel_distance_m=8.0, wire_length_m=12.0)


@pytest.mark.parametrize(
    ("changes", "lapse"),
    [
        ({}, None),
        ({"moisture": "wetted"}, None),
        ({"target_volts": 0.2}, None),
        ({"meter": replace(UNKNOWN_METER, name="another of the same input")}, None),
        ({"reference": "building earth"}, Lapse.REFERENCE),
        ({"soil": "sand"}, Lapse.REFERENCE),
        ({"panel_distance_m": 3.0}, Lapse.REFERENCE),
        ({"wire_length_m": 30.0}, Lapse.REFERENCE),
        ({"meter": replace(UNKNOWN_METER, input_resistance_ohm=1e6)}, Lapse.METER),
        ({"soil": "sand", "meter": replace(UNKNOWN_METER, input_resistance_ohm=1e6)}, Lapse.REFERENCE),
    ],
)
def test_what_makes_a_check_lapse(changes, lapse):
    now = DONE_IN.with_changes(**changes)
    assert lapse_of(DONE_IN, now) is lapse


def test_a_check_whose_set_up_was_not_kept_counts():
    assert lapse_of(None, DONE_IN) is None
