"""The legs of a supply: what cancels, and what two phases add up to."""

from __future__ import annotations

from math import sqrt

import pytest

from logger.body_circuit import LEG_DEGREES, PICO, CoupledSource, Impedance, meter_volts, phasor, total

METER = Impedance(10e6, 30 * PICO)


def shown(sources: list[CoupledSource], frequency_hz: float) -> float:
    charge, coupling = total(sources)
    return meter_volts(charge, coupling, 150 * PICO, METER, frequency_hz)


def legs(supply: str, volts: float) -> list[complex]:
    return [phasor(volts, degrees) for degrees in LEG_DEGREES[supply]]


def test_split_phase_legs_are_240_volts_apart() -> None:
    """ANSI C84.1: 120/240 V, three-wire: two legs 180 degrees apart about a grounded neutral."""
    first, second = legs("split", 120.0)
    assert abs(first) == abs(second) == 120.0
    assert abs(first - second) == 240.0


def test_equal_couplings_on_opposite_legs_cancel() -> None:
    """ANSI C84.1 120/240 V."""
    first, second = legs("split", 120.0)
    both = [CoupledSource(first, 1.3 * PICO), CoupledSource(second, 1.3 * PICO)]
    assert shown(both[:1], 60.0) > 0.4
    assert shown(both, 60.0) < 1e-12


def test_switching_one_leg_off_can_raise_the_reading() -> None:
    """ANSI C84.1 120/240 V: magnitudes subtract, so less live wiring can read higher."""
    first, second = legs("split", 120.0)
    both = [CoupledSource(first, 1.0 * PICO), CoupledSource(second, 0.8 * PICO)]
    one_off = [CoupledSource(first, 1.0 * PICO), CoupledSource(0j, 0.8 * PICO)]
    assert shown(one_off, 60.0) == pytest.approx(5 * shown(both, 60.0), rel=1e-12)


def test_line_to_line_is_sqrt_3_of_line_to_neutral() -> None:
    """Three-phase 230/400 V (IEC 60038, from memory): 400 is sqrt(3) * 230 = 398.4, rounded."""
    one, two, three = legs("three", 230.0)
    for pair in (one - two, two - three, three - one):
        assert abs(pair) == pytest.approx(sqrt(3) * 230.0, rel=1e-12)
    assert abs(one - two) == pytest.approx(400.0, rel=0.005)


def test_three_equal_phases_cancel_and_two_give_the_third() -> None:
    """Three-phase 230/400 V: the phasors add to zero, so two of them make the negative of the third."""
    phases = legs("three", 230.0)
    live = [CoupledSource(volts, 0.9 * PICO) for volts in phases]
    dead = [CoupledSource(0j, 0.9 * PICO) for _ in phases]
    assert shown(live, 50.0) < 1e-12
    third = shown([dead[0], dead[1], live[2]], 50.0)
    assert third > 0.4
    assert shown([live[0], live[1], dead[2]], 50.0) == pytest.approx(third, rel=1e-12)
