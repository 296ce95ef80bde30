"""Two values and their difference in one row are shown with figures that agree."""

from decimal import Decimal

import numpy as np
import pytest

from logger.metrology.rounding import MINUS, Rounded, rounded_change, share_of_shown


def number(text):
    return Decimal(text.replace(MINUS, "-"))


@pytest.mark.parametrize(
    "before, after, expanded, shown",
    [
        ((0.03, 0.02), (0.05, 0.02), 0.03, ("0.03", "0.05", "0.02")),
        ((0.0252, 0.011), (0.0533, 0.013), 0.02, ("0.025", "0.053", "0.028")),
        ((0.0291, 0.06), (0.2251, 0.06), 0.092, ("0.03", "0.23", "0.20")),
        ((0.0288, 0.06), (0.2249, 0.06), 0.092, ("0.03", "0.22", "0.19")),
        ((1.83, 0.15), (0.0452, 0.0081), 0.16, ("1.83", "0.045", "−1.78")),
        ((2.6, 1.2), (1.3, 0.5), 1.4, ("2.6", "1.30", "−1.3")),
        ((0.0604, 0.0081), (0.8051, 0.04), 0.05, ("0.060", "0.81", "0.75")),
    ],
)
def test_each_ends_where_its_uncertainty_does_and_the_difference_agrees(before, after, expanded, shown):
    figures = rounded_change(before, after, expanded)
    assert (figures.before.volts, figures.after.volts, figures.difference.volts) == shown


def test_the_figures_agree_whatever_the_values_are():
    draw = np.random.default_rng(20261127)
    for _ in range(500):
        before, after = draw.lognormal(-1, 1.5, 2)
        expanded = draw.lognormal(-3, 1.5, 3)
        figures = rounded_change((before, expanded[0]), (after, expanded[1]), expanded[2])
        printed = number(figures.after.volts) - number(figures.before.volts)
        places = {number(f.volts).as_tuple().exponent for f in figures}
        assert len(places) > 1 or number(figures.difference.volts) == printed
        shown = number(figures.difference.volts)
        # One unit at most, and half of one at a value's finer place.
        assert abs(float(shown) - (after - before)) <= 1.06 * 10.0 ** shown.as_tuple().exponent
        for one in figures:
            u = number(one.expanded)
            assert u > 0 and u.as_tuple().exponent == number(one.volts).as_tuple().exponent
            # At most two digits (JCGM 100, 7.2.6): 0.34, never 0.337; no place before the point is left out.
            assert len(u.as_tuple().digits) <= 2 or u.as_tuple().exponent == 0


def test_a_share_is_worked_out_of_the_figures_that_are_shown():
    """0.158 of 0.273 V is 57.9 %, and 0.16 of 0.27 V is 59 %."""
    assert share_of_shown(Rounded("0.16", ""), Rounded("0.27", "")) == "59%"
    assert share_of_shown(Rounded("0.28", ""), Rounded("0.27", "")) == "100%"
    assert share_of_shown(Rounded("0.01", ""), Rounded("0.00", "")) == ""
