"""When a check has lapsed: what it proved holds only for the reference and the meter that it was done with."""

from __future__ import annotations

from collections.abc import Sequence
from enum import StrEnum

from logger.metrology.checks import WITHOUT_BODY, CheckKind
from logger.metrology.meter_connection import FormPair, MeterConnection, forms_agree
from logger.metrology.setup import UNKNOWN_METER, MeterFacts, Setup
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
    STEPS = "does not count: its steps were not read alike"
    AGE = "lapsed: more than 24 hours old"


CHECK_HOLDS_S = 24 * 3600.0
"""For so long a check proves something, so that an afternoon's checks hold for the night after it. No source, ours:
soil dries, clips loosen and batteries run down from one day to the next."""


class Apart(StrEnum):
    """In what the steps of one check were not read alike, so that they prove nothing together."""

    REFERENCE = "reference"
    METER = "meter"
    BATTERY = "battery"
    LINK = "link"
    SPOT = "spot"


TAKEN_BY: dict[Lapse, str] = {
    Lapse.REFERENCE: marked("with another reference than the one checked"),
    Lapse.METER: marked("by another meter than the one checked"),
    Lapse.PORT: marked("by a meter on another port than the one checked"),
    Lapse.PORT_SETTINGS: marked("with other port settings than the meter was checked with"),
    Lapse.LINE_FORM: marked("by a meter whose lines have another form than the one checked"),
    Lapse.SIMULATED: marked("after a check that was only simulated"),
    Lapse.MEASURED: marked("in a simulation"),
    Lapse.STEPS: marked("after a check whose steps were not read alike"),
    Lapse.AGE: marked("more than 24 hours after the check"),
}
"""How a reading was taken for which a check has lapsed, as the end of a sentence; translated where it is shown."""


TAKEN_APART: dict[Lapse | Apart, str] = {
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
    Apart.REFERENCE: marked(
        "The {check} was begun against another reference, so that its steps prove nothing together."
    ),
    Apart.METER: marked(
        "The {check} was begun with another meter or other data of it, so that its steps prove nothing together."
    ),
    Apart.BATTERY: marked(
        "The {check} was begun with the laptop powered in another way, so that its steps prove nothing together."
    ),
    Apart.LINK: marked(
        "The {check} was begun with another answer to whether the link is isolated, so that its steps prove nothing "
        "together."
    ),
    Apart.SPOT: marked("The {check} was begun at another spot, so that its steps prove nothing together."),
}
"""Why steps of a check prove nothing together, by how the earlier one was taken."""


FROM_FIRST_STEP = marked("Do it again from its first step.")
"""What is to be done where the steps of a check prove nothing together."""


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


def apart_in(kind: CheckKind, steps: Sequence[tuple[Setup | None, int | None]]) -> Apart | None:
    """In what the steps of one check were not read alike; None where they prove something together.

    Args:
        kind: which check. The reference check compares one kind of reference before and after it was improved: a rod
            that was moved or wetted stays one. In the checks that move the wire, its length may be stated anew.
        steps: the set-up that held when each was taken, and the id of its spot; None where that is not known.
    """
    if not steps:
        return None
    now, now_at = steps[-1]
    for setup, spot_id in steps[:-1]:
        if setup is not None and now is not None:
            if _compared_reference(kind, setup) != _compared_reference(kind, now):
                return Apart.REFERENCE
            if _is_other_meter(setup.meter, now.meter):
                return Apart.METER
            if setup.on_battery != now.on_battery:
                return Apart.BATTERY
            if setup.link_isolated != now.link_isolated:
                return Apart.LINK
        if kind not in WITHOUT_BODY and None not in (spot_id, now_at) and spot_id != now_at:
            return Apart.SPOT
    return None


def _compared_reference(kind: CheckKind, setup: Setup) -> tuple[object, ...]:
    if kind is CheckKind.REFERENCE:
        return (setup.reference,)
    moves_wire = kind in (CheckKind.LEAD, CheckKind.TWO_RODS)
    return _reference(setup)[: -1 if moves_wire else None]


def _is_other_meter(one: MeterFacts, other: MeterFacts) -> bool:
    """Whether two descriptions are of two meters, or give a value another uncertainty.

    A name, make or serial number that was entered first in between makes no other meter.
    """
    if _counted_facts(one) != _counted_facts(other):
        return True
    named = [
        ({one.name, other.name} - {UNKNOWN_METER.name}),
        *({getattr(one, name), getattr(other, name)} - {""} for name in ("make", "model", "serial_number")),
    ]
    return any(len(names) > 1 for names in named)


def _counted_facts(meter: MeterFacts) -> tuple[object, ...]:
    return (
        meter.inputs, meter.accuracy, meter.true_rms, meter.calibrated_on, meter.calibration_interval_months
    )  # fmt: skip


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
