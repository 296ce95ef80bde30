"""Rounding on the form (common practice, no source; values from the project's list of checks)."""

from __future__ import annotations

import pytest

from logger.metrology.rounding import form_pair, form_volts


@pytest.mark.parametrize(
    ("volts", "text"),
    [(1.27, "1.3"), (0.51, "0.5"), (0.72, "0.7"), (0.07, "0.07")],
)
def test_as_the_trade_rounds(volts, text):
    assert form_volts(volts) == text


@pytest.mark.parametrize(
    ("volts", "text"),
    [
        (0.0, "0.00"), (0.004, "0.00"), (0.005, "0.01"), (0.0949, "0.09"), (0.097, "0.1"), (0.0999, "0.1"),
        (0.1, "0.1"), (0.149, "0.1"), (0.15, "0.2"), (0.25, "0.3"), (0.35, "0.4"), (9.96, "10.0"), (12.34, "12.3"),
    ],
)  # fmt: skip
def test_at_the_edges_halves_go_up(volts, text):
    assert form_volts(volts) == text


def test_on_and_off_stand_together():
    assert form_pair(0.91, 0.049) == "0.9 (0.05)"
    assert form_pair(0.91, None) == "0.9"
    assert form_pair(None, 0.05) == "– (0.05)"
    assert form_pair(None, None) == ""
