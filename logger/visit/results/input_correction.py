"""What a reading would have been with the other meter's input: computed by the divider, and always marked as such.

The body is a source behind its capacitance; a meter of lower impedance reads less of it. The ratio of two meters'
readings hangs on that capacitance, which nobody has measured: its limits are a component of the budget.
"""

from __future__ import annotations

from logger.body_circuit import Impedance, volts_at_other_input
from logger.metrology.setup import MeterFacts
from logger.metrology.uncertainty import Budget, Component, rectangular
from logger.visit.records.reading_records import Reading

BODY_FARADS = (100e-12, 200e-12)
"""A body's capacitance, from the human body model's 100 pF (ANSI/ESDA/JEDEC JS-001) to about 200 pF lying down near
walls and bed (common practice, no source)."""


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

    def computed_volts(body_farads: float) -> float:
        one, other = (Impedance(*meter.inputs) for meter in (read_with, as_if_with))
        return volts_at_other_input(budget.volts, one, other, body_farads, mains_hz)

    ends = sorted(map(computed_volts, BODY_FARADS))
    volts = (ends[0] + ends[1]) / 2
    scale = volts / budget.volts if budget.volts else 1.0
    scaled = [Component(c.name, c.kind, c.basis, c.u_volts * abs(scale)) for c in budget.components]
    picofarads = " to ".join(f"{farads * 1e12:.0f}" for farads in BODY_FARADS)
    doubt = rectangular(f"computed for another input: body of {picofarads} pF", (ends[1] - ends[0]) / 2)
    return Budget(volts, (*scaled, doubt))


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
