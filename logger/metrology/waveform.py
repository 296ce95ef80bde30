"""What a meter that is not true rms may be off by, since the mains is no pure sine.

Such a meter takes the mean of the rectified voltage and shows it as the rms of a sine. The body is a high-pass: its
coupling passes harmonics better than the mains' own frequency, so what the meter sees is more distorted than the mains.
"""

from __future__ import annotations

from math import sqrt

from logger.body_circuit import Impedance, coupling_gain

MAINS_DISTORTION = 0.08
"""Total harmonic distortion of the mains, as a share of the fundamental: what EN 50160 allows (from memory)."""

HARMONIC = 3
"""All of it is counted as the third harmonic: of all odd ones it changes the mean of the rectified voltage most."""

BODY_FARADS = 100e-12
"""The body model of ANSI/ESDA/JEDEC JS-001; a larger body is less of a high-pass."""


def average_responding_share(meter: Impedance, mains_hz: float) -> float:
    """The largest error of an average-responding meter on the body, as a share of the reading (half-width).

    With a share h of an odd harmonic n, its phase unknown, the mean of the rectified voltage lies within h/n of the
    fundamental's, while the rms is larger by sqrt(1 + h^2). The two are worst together where the harmonic lowers the
    mean.

    Args:
        meter: its input.
        mains_hz: 50 or 60.
    """
    gain = coupling_gain(BODY_FARADS, meter, HARMONIC * mains_hz) / coupling_gain(
        BODY_FARADS, meter, mains_hz
    )
    share = MAINS_DISTORTION * gain
    return 1.0 - (1.0 - share / HARMONIC) / sqrt(1.0 + share**2)
