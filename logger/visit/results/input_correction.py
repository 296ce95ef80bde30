"""What a reading would have been with the other meter's input: computed by the divider, and always marked as such.

The body is a source behind its capacitance; a meter of lower impedance reads less of it. The ratio of two meters'
readings hangs on that capacitance, which nobody has measured, and on what the meters and their leads have. Both are
uncertain without hard limits; since the ratio bends with them, they are propagated as distributions (JCGM 101), which
gives a component of the budget.
"""

from __future__ import annotations

import numpy as np

from logger.body_circuit import Floats, Impedance, volts_at_other_input
from logger.metrology.propagation import log_normal, propagate
from logger.metrology.setup import MeterFacts
from logger.metrology.uncertainty import Budget, Component
from logger.translation import kept_text
from logger.visit.records.reading_records import Reading

BODY_FARADS = 150e-12
BODY_U_SHARE = 0.25
"""A body's capacitance and its standard uncertainty as a share: between the human body model's 100 pF
(ANSI/ESDA/JEDEC JS-001) and about 200 pF lying down near walls and bed (common practice, no source) lie about five of
six bodies, and some lie beyond."""

STATED_INPUT_U_SHARE = 0.15
ASSUMED_INPUT_U_SHARE = 0.4
"""Standard uncertainty of a meter's input capacitance with its leads, as a share: of one from a data sheet, that leaves
out how leads are held, and of one that nobody has stated. No source; ours."""

RESISTANCE_U_SHARE = 0.01
"""The same of its input resistance, a stated one (dividers of 1 % are usual; no source)."""


def corrected_budget(
    budget: Budget, read_with: MeterFacts, as_if_with: MeterFacts, mains_hz: float
) -> Budget:
    """The budget of a value as another meter would have read it.

    Args:
        budget: of the value as it was read.
        read_with: the meter that read it.
        as_if_with: the other meter.
        mains_hz: 50 or 60.
    """

    def ratios(
        body: Floats, ohms: Floats, farads: Floats, other_ohms: Floats, other_farads: Floats
    ) -> Floats:
        return np.array(
            [
                volts_at_other_input(1.0, Impedance(r, c), Impedance(other_r, other_c), body_farads, mains_hz)
                for body_farads, r, c, other_r, other_c in zip(
                    *(a.tolist() for a in (body, ohms, farads, other_ohms, other_farads)), strict=True
                )
            ]
        )

    inputs = [log_normal(BODY_FARADS, BODY_U_SHARE)]
    for meter in (read_with, as_if_with):
        assumed = "input_capacitance_farad" in meter.assumed
        inputs.append(log_normal(meter.input_resistance_ohm, RESISTANCE_U_SHARE))
        share = ASSUMED_INPUT_U_SHARE if assumed else STATED_INPUT_U_SHARE
        inputs.append(log_normal(meter.input_capacitance_farad, share))
    ratio = propagate(ratios, inputs)
    scaled = [Component(c.name, c.kind, c.basis, c.u_volts * ratio.mean) for c in budget.components]
    basis = kept_text(
        "body of {picofarads} pF, u = {percent}%, and both inputs, propagated (JCGM 101)"
    ).format(picofarads=f"{BODY_FARADS * 1e12:.0f}", percent=f"{100 * BODY_U_SHARE:.0f}")
    doubt = Component(kept_text("computed for another input"), "B", basis, ratio.u * abs(budget.volts))
    return Budget(budget.volts * ratio.mean, (*scaled, doubt))


def corrected_reading(reading: Reading, like: Reading) -> Budget | None:
    """A reading as the meter of another one would have read it.

    None where nothing has to be computed (same input), or nothing can be: no context is kept, the references differ,
    or the mains frequency was not stated.
    """
    if reading.context is None or like.context is None:
        return None
    setup, other = reading.context.setup, like.context.setup
    mains_hz = setup.mains_hz or other.mains_hz
    if setup.reference != other.reference or setup.meter.inputs == other.meter.inputs or mains_hz is None:
        return None
    budget = reading.context.budget(reading.volts, reading.u_volts)
    return corrected_budget(budget, setup.meter, other.meter, mains_hz)
