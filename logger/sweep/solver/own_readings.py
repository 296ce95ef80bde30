"""What each circuit's own reading allows by itself, and whether the common fit may claim to know it better.

Together the readings know a circuit better than its own reading does, as long as the model holds: directions of the
supply that was entered, and nothing that changes during the sweep. A misfit larger than expected speaks against that
long before it is a contradiction (the ratio of R. T. Birge, 1932). With no more than one reading to spare even that
says nothing: the redundancy which would show a mistake is missing (W. Baarda, "A testing procedure for use in geodetic
networks", 1968), and the phase of the background follows from a single reading. Then what is stated is no narrower
than a circuit's own reading allows with the phase of the background unknown.

In: the model fitted to a sweep. Out: whether the fit is unchecked, and a standard uncertainty for each circuit.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from logger.sweep.solver.sweep_design import SweepDesign
from logger.sweep.solver.sweep_fit import Misfit

STRAINED_CHI2 = 1.5
"""A fit is strained where chi-square is so many times its degrees of freedom (a Birge ratio above 1.2). No source,
ours; what it costs and saves is in fixtures/figures/single_mistakes.md."""

MIN_SPARE = 1.1
"""With no more readings to spare than this nothing shows whether the model holds: one, and what weak priors add."""


def is_strained(misfit: Misfit) -> bool:
    """Whether the readings agree clearly less with the model than they claim, contradiction or not."""
    return misfit.chi2 > STRAINED_CHI2 * misfit.degrees_of_freedom


def is_unchecked(misfit: Misfit) -> bool:
    """Whether the fit may claim no more than each circuit's own reading: strained, or hardly a reading to spare."""
    return is_strained(misfit) or misfit.degrees_of_freedom <= MIN_SPARE


def own_u_volts(design: SweepDesign) -> NDArray[np.float64]:
    """Standard uncertainty of what each circuit gives by its own reading and that of the background alone, V.

    The background adds to it at any phase: its part along it has the arcsine distribution, of standard deviation the
    background over the root of two (JCGM 101:2008, 6.4.6, from memory).

    Args:
        design: of the sweep, n circuits and cords.

    Returns:
        Shape (n,); 0 for what was not read alone, and for what reads alone like nothing, of which limits are stated.
    """
    u_volts = np.zeros(len(design.names))
    for k, row in design.solo_row.items():
        if not design.is_null[k]:
            scatter = np.hypot(design.u_volts[row], design.background_u)
            u_volts[k] = np.hypot(scatter, design.background_volts / 2**0.5)
    return u_volts
