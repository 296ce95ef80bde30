"""When a check has lapsed: what it proved holds only for the reference and the meter that it was done with."""

from __future__ import annotations

from collections.abc import Sequence
from enum import StrEnum

from logger.metrology.meter_connection import FormPair, MeterConnection, forms_agree
from logger.metrology.setup import Setup
from logger.translation import marked


class Lapse(StrEnum):
    """Why a check proves nothing any more, as files and the log have it; `check_words` shows it."""

    REFERENCE = "lapsed: other reference"
    METER = "lapsed: other meter"
    PORT = "lapsed: other port"
    PORT_SETTINGS = "lapsed: other port settings"
    LINE_FORM = "lapsed: the meter's lines have another form"
    SIMULATED = "does not count: it was simulated"
    MEASURED = "does not count here: it was measured, and this is simulated"


TAKEN_BY: dict[Lapse, str] = {
    Lapse.REFERENCE: marked("with another reference than the one checked"),
    Lapse.METER: marked("by another meter than the one checked"),
    Lapse.PORT: marked("by a meter on another port than the one checked"),
    Lapse.PORT_SETTINGS: marked("with other port settings than the meter was checked with"),
    Lapse.LINE_FORM: marked("by a meter whose lines have another form than the one checked"),
    Lapse.SIMULATED: marked("after a check that was only simulated"),
    Lapse.MEASURED: marked("in a simulation"),
}
"""How a reading was taken for which a check has lapsed, as the end of a sentence; translated where it is shown."""


TAKEN_APART: dict[Lapse, str] = {
    Lapse.METER: marked("The {check} was begun by another meter, so that its steps prove nothing together."),
    Lapse.PORT: marked("The {check} was begun over another port, so that its steps prove nothing together."),
    Lapse.PORT_SETTINGS: marked(
        "The {check} was begun with other port settings, so that its steps prove nothing together."
    ),
    Lapse.LINE_FORM: marked(
        "The {check} was begun with lines of another form, so that its steps prove nothing together."
    ),
    Lapse.SIMULATED: marked(
        "The {check} was begun from a simulation, so that its steps prove nothing together."
    ),
    Lapse.MEASURED: marked(
        "The {check} was begun from a meter, not from the simulation, so that its steps prove nothing together."
    ),
}
"""Why steps of a check prove nothing together, by how the earlier one was taken."""


def lapse_between_steps(
    steps: Sequence[tuple[MeterConnection | None, bool]], same_forms: Sequence[FormPair] = ()
) -> Lapse | None:
    """Why the steps of one check prove nothing together; None where all come from one connection.

    Args:
        steps: how the meter was connected in each, None where that is not known, and whether it was simulated.
        same_forms: forms of lines that the user called those of one meter.
    """
    if not steps:
        return None
    now, is_simulated = steps[-1]
    for connection, was_simulated in steps[:-1]:
        if was_simulated != is_simulated:
            return Lapse.SIMULATED if was_simulated else Lapse.MEASURED
        if lapse := lapse_by_connection(connection, now, same_forms):
            return lapse
    return None


def lapse_of(done_in: Setup | None, now: Setup, unstated_holds: bool = False) -> Lapse | None:
    """Why a check has lapsed in the set-up of now; None while it still proves something.

    Wetting the soil is part of the reference check itself and changes neither; another soil, panel distance, wire,
    reference or meter input does.

    Args:
        done_in: the set-up in which the check was done; None in logs that did not keep it, whose checks count.
        now: the present set-up.
        unstated_holds: what was not stated in the check and is stated now is the same reference, unless it is the
            building's earth.
    """
    if done_in is None:
        return None
    if unstated_holds and now.reference != "building earth":
        done_in = done_in.with_changes(
            reference=done_in.reference or now.reference,
            soil=done_in.soil or now.soil,
            panel_distance_m=done_in.panel_distance_m or now.panel_distance_m,
            wire_length_m=done_in.wire_length_m or now.wire_length_m,
        )
    if _reference(done_in) != _reference(now):
        return Lapse.REFERENCE
    return Lapse.METER if done_in.meter.inputs != now.meter.inputs else None


def lapse_by_connection(
    done_over: MeterConnection | None, now: MeterConnection | None, same_forms: Sequence[FormPair] = ()
) -> Lapse | None:
    """Why a check has lapsed by how the meter is connected; None while it still proves something.

    Args:
        done_over: how the meter was connected in the check; None where that is not known, and the check counts.
        now: how it is connected now; None where nothing is being recorded.
        same_forms: forms of lines that the user called those of one meter.
    """
    if done_over is None or now is None:
        return None
    if done_over.meter != now.meter:
        return Lapse.METER
    if done_over.port != now.port:
        return Lapse.PORT
    if done_over.settings != now.settings:
        return Lapse.PORT_SETTINGS
    agree = forms_agree(done_over.line_form, now.line_form, same_forms)
    return None if agree else Lapse.LINE_FORM


def _reference(setup: Setup) -> tuple[object, ...]:
    return (setup.reference, setup.soil, setup.panel_distance_m, setup.wire_length_m)
