"""The uncertainty budget against the GUM and against an independent library."""

from __future__ import annotations

import pytest
import uncertainties

from logger.meter.description import Accuracy
from logger.metrology.uncertainty import (
    ReferenceState,
    compare_with,
    difference_budget,
    reading_budget,
)

IDEAL = ReferenceState()


def test_a_voltmeters_specification_and_its_combination():
    """GUM 4.3.7 and 5.1.5 (data from memory, arithmetic recomputed): 8.7 uV for the meter, 15 uV combined.

    0.928571 V on the 1 V range, 14e-6 of reading and 2e-6 of range, rectangular; type A 12 uV.
    """
    budget = reading_budget(
        0.928571, 12e-6, Accuracy(1.0, percent_of_reading=14e-4, counts=1, resolution_volts=2e-6), IDEAL
    )
    assert [c.kind for c in budget.components] == ["A", "B"]
    assert budget.components[1].u_volts == pytest.approx(8.7e-6, abs=0.05e-6)
    assert budget.u_volts == pytest.approx(15e-6, abs=0.5e-6)  # to two digits, as given
    assert budget.expanded_volts == 2 * budget.u_volts


@pytest.mark.parametrize("volts", [0.004, 0.27, 3.1])
@pytest.mark.parametrize(
    "reference", [IDEAL, ReferenceState(building_earth=True), ReferenceState(True, True, False, 0.02)]
)
def test_the_budget_agrees_with_an_independent_library(volts, reference):
    """PyPI `uncertainties`, linear propagation, to 1e-12."""
    accuracy = Accuracy(6.0, 1.0, 3, 0.001)
    budget = reading_budget(volts, 0.0021, accuracy, reference)
    total = uncertainties.ufloat(volts, 0.0021)
    total += uncertainties.ufloat(0, (0.01 * volts + 0.003) / 3**0.5)
    if reference.building_earth:
        total += uncertainties.ufloat(0, 0.3 / 3**0.5)
    if reference.on_charger:
        total += uncertainties.ufloat(0, 0.3 / 3**0.5)
    if not reference.link_isolated:
        total += uncertainties.ufloat(0, 0.1 / 3**0.5)
    if reference.rod_volts:
        total += uncertainties.ufloat(0, 0.02 / 3**0.5)
    assert budget.u_volts == pytest.approx(total.std_dev, rel=1e-12)


def test_in_a_difference_the_share_of_reading_is_one_error():
    """The same library, which follows correlations by itself: gain is one variable in both readings."""
    gain = uncertainties.ufloat(1.0, 0.01 / 3**0.5)
    accuracy = Accuracy(6.0, 1.0, 0, 0.001)
    on, off = (reading_budget(v, u, accuracy, IDEAL) for v, u in ((0.9, 0.004), (0.05, 0.002)))
    reference = gain * uncertainties.ufloat(0.9, 0.004) - gain * uncertainties.ufloat(0.05, 0.002)
    difference = difference_budget(on, off, accuracy)
    assert difference.volts == pytest.approx(0.85)
    assert difference.u_volts == pytest.approx(reference.std_dev, rel=1e-12)


def test_building_earth_cannot_resolve_a_tenth_of_a_volt():
    """Common practice, no source: building earth is wrong by up to 0.2 to 0.3 V."""
    accuracy = Accuracy(6.0, 1.0, 3, 0.001)
    earthed = reading_budget(0.25, 0.002, accuracy, ReferenceState(building_earth=True))
    assert compare_with(earthed, 0.1) == "not distinguishable"
    assert earthed.expanded_volts > 0.2
    assert compare_with(reading_budget(0.25, 0.002, accuracy, IDEAL), 0.1) == "above"
    assert compare_with(reading_budget(0.04, 0.002, accuracy, IDEAL), 0.1) == "below"
    assert compare_with(reading_budget(0.104, 0.002, accuracy, IDEAL), 0.1) == "not distinguishable"


def test_what_spoils_the_reference_is_named():
    assert ReferenceState(True, True, False).remarks() == [
        "building earth as reference", "laptop on its charger", "link not isolated"
    ]  # fmt: skip
    assert IDEAL.remarks() == []
