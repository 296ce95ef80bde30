"""When a check has lapsed: what it proved holds only for the reference and the meter's input that it was done with."""

from __future__ import annotations

from logger.metrology.setup import Setup


def check_still_holds(done_in: Setup | None, now: Setup) -> bool:
    """Whether a check still proves something in the set-up of now.

    Wetting the soil is part of the reference check itself and changes neither; another soil, panel distance, wire,
    reference or meter input does.

    Args:
        done_in: the set-up in which the check was done; None in logs that did not keep it, whose checks count.
        now: the present set-up.
    """
    return done_in is None or _what_it_proves(done_in) == _what_it_proves(now)


def _what_it_proves(setup: Setup) -> tuple[object, ...]:
    return (setup.reference, setup.soil, setup.panel_distance_m, setup.wire_length_m, setup.meter.inputs)
