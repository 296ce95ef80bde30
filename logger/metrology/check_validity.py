"""When a check has lapsed: what it proved holds only for the reference and the meter's input that it was done with."""

from __future__ import annotations

from enum import StrEnum

from logger.metrology.setup import Setup


class Lapse(StrEnum):
    """Why a check proves nothing any more, in the words that stand beside it."""

    REFERENCE = "lapsed: other reference"
    METER = "lapsed: other meter"
    SIMULATED = "does not count: it was simulated"
    MEASURED = "does not count here: it was measured, and this is simulated"


def lapse_of(done_in: Setup | None, now: Setup) -> Lapse | None:
    """Why a check has lapsed in the set-up of now; None while it still proves something.

    Wetting the soil is part of the reference check itself and changes neither; another soil, panel distance, wire,
    reference or meter input does.

    Args:
        done_in: the set-up in which the check was done; None in logs that did not keep it, whose checks count.
        now: the present set-up.
    """
    if done_in is None:
        return None
    if _reference(done_in) != _reference(now):
        return Lapse.REFERENCE
    return Lapse.METER if done_in.meter.inputs != now.meter.inputs else None


def _reference(setup: Setup) -> tuple[object, ...]:
    return (setup.reference, setup.soil, setup.panel_distance_m, setup.wire_length_m)
