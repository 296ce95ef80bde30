"""An average-responding meter on a body that passes harmonics: against waveforms that are drawn point by point."""

from __future__ import annotations

from math import pi, sqrt

import numpy as np
import pytest

from logger.body_circuit import Impedance, coupling_gain
from logger.metrology.waveform import HARMONIC, MAINS_DISTORTION, average_responding_share

JS001_FARADS = 100e-12
"""ANSI/ESDA/JEDEC JS-001, human body model."""


def test_the_gain_is_that_of_a_high_pass_of_first_order():
    """Textbook: |G| C = x / sqrt(1 + x^2) with x = w R C."""
    for frequency_hz in (50.0, 150.0, 1e6):
        x = 2 * pi * frequency_hz * 10e6 * (JS001_FARADS + 30e-12)
        found = coupling_gain(JS001_FARADS, Impedance(10e6, 30e-12), frequency_hz) * (JS001_FARADS + 30e-12)
        assert found == pytest.approx(x / sqrt(1 + x**2), rel=1e-12)


@pytest.mark.parametrize("mains_hz", [50.0, 60.0])
@pytest.mark.parametrize("meter", [Impedance(10e6, 30e-12), Impedance(1e6, 50e-12), Impedance(1e9, 10e-12)])
def test_the_worst_of_all_phases_is_what_the_budget_counts(mains_hz, meter):
    """Independent: the body as an RC filter of textbook form, each wave form rectified and averaged numerically."""
    time = np.arange(20_000) / 20_000

    def coupled(harmonic: int) -> complex:
        omega = 2 * pi * harmonic * mains_hz
        return 1j * omega / (1j * omega * (JS001_FARADS + meter.farads) + 1 / meter.ohms)

    fundamental, third = coupled(1), MAINS_DISTORTION * coupled(HARMONIC)
    errors = []
    for phase in np.linspace(0, 2 * pi, 73):
        wave = (fundamental * np.exp(2j * pi * time)).real
        wave += (third * np.exp(1j * (2 * pi * HARMONIC * time + phase))).real
        shown = np.abs(wave).mean() * pi / (2 * sqrt(2))
        errors.append(shown / sqrt(np.mean(wave**2)) - 1)
    share = average_responding_share(meter, mains_hz)
    assert max(abs(error) for error in errors) == pytest.approx(share, rel=0.02)
    assert max(abs(error) for error in errors) <= share * 1.001


def test_the_body_makes_it_worse_than_the_mains_itself():
    on_mains = 1 - (1 - MAINS_DISTORTION / 3) / sqrt(1 + MAINS_DISTORTION**2)
    assert average_responding_share(Impedance(10e6, 30e-12), 50.0) > 1.5 * on_mains
    assert average_responding_share(Impedance(1e12, 30e-12), 50.0) == pytest.approx(on_mains, rel=1e-3)
