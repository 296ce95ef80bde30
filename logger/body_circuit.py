"""A body near live wiring as a circuit. Complex phasors of rms volts at one frequency; farads, ohms, hertz.

Live wires at `V_i` couple to the body through `C_i`; the body has `C_b` to earth; the meter (`R_m` parallel to
`C_m`) lies between the body and its reference. With a perfect reference the reading is the magnitude of

    V_body = sum(jw C_i V_i) / (jw (sum C_i + C_b + C_m) + 1/R_m)

Magnitudes therefore do not add. A reference that is not perfect is a source of its own (`Reference`).
tests/published/test_body_circuit.py holds these formulas against an independent circuit solver.
"""

from __future__ import annotations

import cmath
from collections.abc import Sequence
from dataclasses import dataclass
from math import pi
from typing import Any, overload

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]
Complexes = npt.NDArray[np.complexfloating[Any, Any]]

PICO = 1e-12

LEG_DEGREES: dict[str, tuple[float, ...]] = {
    "single": (0.0,),
    "split": (0.0, 180.0),
    "three": (0.0, 120.0, 240.0),
}
"""Angle of each leg against neutral, by kind of supply."""


def phasor(volts: float, degrees: float) -> complex:
    """The phasor of that magnitude and angle; exact at multiples of 180 degrees, so that legs cancel exactly."""
    if degrees % 180.0 == 0.0:
        return complex(volts if degrees % 360.0 == 0.0 else -volts)
    return cmath.rect(volts, degrees * pi / 180.0)


@dataclass(frozen=True, slots=True)
class CoupledSource:
    """A conductor that the body feels: its potential against earth and its capacitance to the body."""

    volts: complex
    farads: float


@dataclass(frozen=True, slots=True)
class Impedance:
    """The input of a meter with its leads: resistance parallel to capacitance."""

    ohms: float
    farads: float

    def siemens(self, frequency_hz: float) -> complex:
        """Its admittance."""
        return 1 / self.ohms + 2j * pi * frequency_hz * self.farads


@dataclass(frozen=True, slots=True)
class Reference:
    """What the meter calls zero, as seen from the meter: a source of `volts` behind `ohms`, against true earth."""

    volts: complex = 0j
    ohms: complex = 0j


PERFECT = Reference()


def total(sources: Sequence[CoupledSource]) -> tuple[complex, float]:
    """Sum of `C_i V_i` (coulombs) and of `C_i` (farads)."""
    return sum((s.farads * s.volts for s in sources), 0j), sum(s.farads for s in sources)


@overload
def meter_volts(
    charge: complex,
    coupling_farads: float,
    body_farads: float,
    meter: Impedance,
    frequency_hz: float,
    reference: Reference = ...,
) -> float: ...
@overload
def meter_volts(
    charge: Complexes,
    coupling_farads: Floats,
    body_farads: Floats,
    meter: Impedance,
    frequency_hz: float,
    reference: Reference = ...,
) -> Floats: ...
def meter_volts(
    charge: complex | Complexes,
    coupling_farads: float | Floats,
    body_farads: float | Floats,
    meter: Impedance,
    frequency_hz: float,
    reference: Reference = PERFECT,
) -> float | Floats:
    """What the meter shows, in rms volts.

    Args:
        charge: sum of `C_i V_i`, from `total`; an array for a body that moves.
        coupling_farads: sum of `C_i`, of the same shape.
        body_farads: `C_b`, of the same shape.
        meter: the meter's input.
        frequency_hz: of the mains.
        reference: what the meter's other lead is connected to.
    """
    omega = 2 * pi * frequency_hz
    admittance = meter.siemens(frequency_hz)
    # Meter and reference in series make one branch from the body to earth.
    branch = admittance / (1 + admittance * reference.ohms)
    body = (1j * omega * charge + branch * reference.volts) / (
        1j * omega * (coupling_farads + body_farads) + branch
    )
    # Only the meter's part of the branch's voltage is shown.
    across_meter: Any = (body - reference.volts) * (branch / admittance)
    shown: float | Floats = abs(across_meter)
    return shown


def coupling_gain(body_farads: float, meter: Impedance, frequency_hz: float) -> float:
    """Volts on the body for each coulomb of coupled charge (`meter_volts` by charge): a high-pass of first order.

    Args:
        body_farads: all of the body's capacitance, to earth and to wiring.
        meter: the meter's input.
        frequency_hz: of the source.
    """
    omega = 2 * pi * frequency_hz
    return omega / abs(1j * omega * body_farads + meter.siemens(frequency_hz))


def lead_reference(ohms: float, lead_farads: float, lead_volts: complex, frequency_hz: float) -> Reference:
    """An earth connection whose wire runs along live wiring.

    The wire's current lifts the reference by the drop over the earth connection: little on moist soil, much on dry.

    Args:
        ohms: resistance of the earth connection.
        lead_farads: capacitance between the wire and the live wiring beside it.
        lead_volts: complex amplitude of that wiring, rms.
        frequency_hz: of the mains.
    """
    omega = 2 * pi * frequency_hz
    impedance = 1 / (1 / ohms + 1j * omega * lead_farads)
    return Reference(volts=1j * omega * lead_farads * lead_volts * impedance, ohms=impedance)


def volts_at_other_input(
    volts: float, read_with: Impedance, as_if_with: Impedance, body_farads: float, frequency_hz: float
) -> float:
    """What another meter would have shown at the same spot; computed, to be marked as such.

    Args:
        volts: what was read.
        read_with: input of the meter that read it.
        as_if_with: input of the other meter.
        body_farads: all of the body's capacitance, to earth and to wiring (100 to 200 pF).
        frequency_hz: of the mains.
    """
    body_siemens = 2j * pi * frequency_hz * body_farads
    return (
        volts
        * abs(body_siemens + read_with.siemens(frequency_hz))
        / abs(body_siemens + as_if_with.siemens(frequency_hz))
    )
