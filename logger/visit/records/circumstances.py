"""What of person, body, home and equipment makes the readings of a visit repeatable. Kept as one fact, `circumstances`.

Soil and moisture are in the set-up. Everything is optional: an empty text and None are "not recorded". A new one is a
field of `Circumstances` and a row of `CIRCUMSTANCE_FIELDS`, which window, report, export and a later visit read.
"""

from __future__ import annotations

import json
from dataclasses import asdict, dataclass, replace
from typing import Any, Literal

from logger.translation import marked, tr
from logger.visit.records.kept_line import is_length, is_recorded, kept_line, kept_metres
from logger.visit.records.kept_object import kept_object
from logger.visit.records.practitioner import why_not_a_line

MAX_ROD_M = 10.0
"""Longest earth rod, metres: those that are carried have one or two."""

Subject = Literal["day", "home", "rod", "checks", "sweep", "night", "meter"]
"""Where in the report it stands, beside what it belongs to."""


@dataclass(frozen=True, slots=True)
class CircumstanceField:
    """How one of the circumstances is asked for and named.

    Args:
        label: what it is called; translated where it is shown.
        hint: what is meant, below the line in which it is typed; for a length the question.
        subject: what it belongs to.
        stays: it still holds on another day, so a later visit of the home begins with it.
        only_with_rod: it is only there with an earth rod as the reference.
        named_elsewhere: the report has it in a line of another part.
        is_length: it is a length, metres, and no text.
        exported: what it is called in the export, which is English; empty for the label in small letters.
    """

    label: str
    hint: str
    subject: Subject
    stays: bool = False
    only_with_rod: bool = False
    named_elsewhere: bool = False
    is_length: bool = False
    exported: str = ""


CIRCUMSTANCE_FIELDS = {
    "weather": CircumstanceField(
        marked("Weather"),
        marked(
            "The weather now: dry, 18 °C. Where the ground is wet from rain: that of the days before too."
        ),
        "day",
    ),
    "indoor_air": CircumstanceField(
        marked("Air indoors"), marked("Temperature and humidity: 21 °C, 45 %."), "day"
    ),
    "footwear": CircumstanceField(
        marked("Footwear and clothing"),
        marked("Of the person who is measured: barefoot, cotton; rubber soles, wool."),
        "day",
        exported="footwear",
    ),
    "bedding": CircumstanceField(
        marked("Bedding"),
        marked("And what else carries the body: foam mattress, cotton sheet, metal frame; wooden chair."),
        "day",
        stays=True,
    ),
    "person": CircumstanceField(
        marked("Person measured"), marked("No name is needed: adult, 1.75 m, 70 kg."), "day"
    ),
    "rod_length_m": CircumstanceField(
        marked("Length of the rod"),
        marked("How long is the rod?"),
        "rod",
        stays=True,
        only_with_rod=True,
        is_length=True,
    ),
    "rod_depth_m": CircumstanceField(
        marked("Depth of the rod"),
        marked("How deep is the rod in the ground?"),
        "rod",
        stays=True,
        only_with_rod=True,
        is_length=True,
    ),
    "rod_place": CircumstanceField(
        marked("Place of the rod"),
        marked(
            "How far from the house's own earth electrode too, and what kind of rod: in the lawn, 2 m north of the "
            "door, 6 m from the electrode; steel, 14 mm."
        ),
        "rod",
        stays=True,
        only_with_rod=True,
    ),
    "lead": CircumstanceField(
        marked("Lead and its length"),
        marked("From the rod to the meter: 10 m, insulated."),
        "rod",
        stays=True,
        only_with_rod=True,
        named_elsewhere=True,
        exported="lead",
    ),
    "wire_ways": CircumstanceField(
        marked("Wire to each floor"),
        marked(
            "How the reference wire ran to each floor or spot: ground floor through the window, upper floor by the "
            "stairs."
        ),
        "rod",
        stays=True,
    ),
    "probe": CircumstanceField(
        marked("Probe"),
        marked("What the person holds or touches, and its size: steel tube, 12 cm long, 25 mm across."),
        "day",
        stays=True,
    ),
    "probe_held": CircumstanceField(
        marked("How the probe is held"),
        marked("In which hand, dry or moist, and where the other hand lies: right, dry; left on the belly."),
        "day",
    ),
    "probe_lead": CircumstanceField(
        marked("Lead from the probe"),
        marked(
            "To the meter: its length, shielded or not, and to what the shield is connected: 1.5 m, shielded, shield "
            "at the meter's reference socket."
        ),
        "day",
        stays=True,
    ),
    "meter_place": CircumstanceField(
        marked("Place of meter and laptop"),
        marked("Such as: on the floor, 1 m from the body."),
        "day",
    ),
    "meter_band": CircumstanceField(
        marked("Frequency range and filter"),
        marked("Of the meter, by its data sheet: 40 Hz to 1 kHz, no filter on."),
        "meter",
        stays=True,
    ),
    "meter_range": CircumstanceField(
        marked("Range of the meter"),
        marked("As it was set for the readings: automatic, or fixed and up to which voltage."),
        "meter",
    ),
    "meter_power": CircumstanceField(
        marked("How the meter is fed"),
        marked("By battery, or from the mains, and then whether earthed: battery."),
        "meter",
        stays=True,
    ),
    "meter_averaging": CircumstanceField(
        marked("Averaging of the meter"),
        marked("By its data sheet, how long it averages, or takes to show a step: averages over 0.5 s."),
        "meter",
        stays=True,
    ),
    "input_lead": CircumstanceField(
        marked("Probe lead in the input"),
        marked(
            "Whether the stated input holds with the lead from the probe, and what the lead adds if known: without it; "
            "1.5 m shielded, 150 pF more."
        ),
        "meter",
        stays=True,
    ),
    "earthing": CircumstanceField(
        marked("Earthing system"),
        # IEC 60364-1, types of system earthing.
        marked("As it is known of the home: TN-S, TN-C-S, TT or IT."),
        "home",
        stays=True,
    ),
    "supply_voltage": CircumstanceField(
        marked("Supply voltage"),
        marked(
            "As supplied, or as an electrician has measured it, then between what and when: 231 V from L1 to neutral, "
            "10:20."
        ),
        "home",
        stays=True,
    ),
    "panel_places": CircumstanceField(
        marked("Place of each panel"),
        marked("Such as: A in the hall, beside the door."),
        "home",
        stays=True,
    ),
    "main_panel": CircumstanceField(
        marked("Main panel and main switch"),
        marked(
            "Which panel is the main one, which stand behind it, and where the main switch is: A is the main one, B "
            "behind it; main switch at the left of A."
        ),
        "home",
        stays=True,
    ),
    "in_use": CircumstanceField(
        marked("In use with everything on"),
        marked("Which lamps were lit, and what ran: all ceiling lights, bedside lamp, refrigerator."),
        "day",
    ),
    "live_when_off": CircumstanceField(
        marked("Live with everything off"),
        marked(
            "The main switch, what stayed on and whether it ran, another panel, solar, neighbours' circuits: main "
            "switch on; refrigerator, not running; no solar; a neighbour behind the north wall."
        ),
        "day",
    ),
    "self_switching": CircumstanceField(
        marked("Running by itself at low readings"),
        marked(
            "Of what stays on and starts by itself, whether it ran in the readings with everything off and with "
            "tonight's list off, if it is known: refrigerator compressor running, aquarium heater not known."
        ),
        "day",
    ),
    "reference_improved": CircumstanceField(
        marked("How the reference was improved"),
        marked("In the reference check: ground wetted with 5 l of water."),
        "checks",
    ),
    "wire_moved": CircumstanceField(
        marked("Where the wire was moved to"),
        marked("In the wire check: from the stairs to the window."),
        "checks",
    ),
    "wire_back": CircumstanceField(
        marked("Wire after the wire check"),
        marked("Whether it was laid back before the readings: laid back; or: left where it was moved to."),
        "checks",
    ),
    "second_rod": CircumstanceField(
        marked("Second rod"),
        marked("In the two-rod check, where, how far from the first, how deep: lawn, 4 m, 0.4 m."),
        "checks",
        stays=True,
        only_with_rod=True,
    ),
    "function_done": CircumstanceField(
        marked("How the function check was done"),
        marked("Which cord, how near, held where: an extension cord, plugged in, 10 cm from the forearm."),
        "checks",
    ),
    "sweep_switched": CircumstanceField(
        marked("Who switched in the sweep"),
        marked("And where they stood: a second person at panel A."),
        "sweep",
    ),
    "sweep_in_use": CircumstanceField(
        marked("In use in the sweep"),
        marked(
            "Which lamps were lit, and which only plugged in, when their circuit was on: ceiling lights and bedside "
            "lamp lit, computer on; floor lamp plugged in, not lit."
        ),
        "sweep",
    ),
    "night_persons": CircumstanceField(
        marked("Who lay there at night"),
        marked("No name is needed; a second person too: adult, alone in the bed."),
        "night",
    ),
    "night_probe": CircumstanceField(
        marked("Probe at night"),
        marked(
            "Where and how it was fixed, and whether rod and wire were those of the day: strap on the left wrist, same "
            "rod and wire."
        ),
        "night",
    ),
    "night_equipment": CircumstanceField(
        marked("Meter, laptop and weather at night"),
        marked(
            "Where they stood, and whether on battery all night: on the floor, 1 m from the bed; both on battery; dry, "
            "8 °C."
        ),
        "night",
    ),
    "night_air": CircumstanceField(
        marked("Air indoors at night"), marked("Temperature and humidity: 18 °C, 50 %."), "night"
    ),
    "night_rod": CircumstanceField(
        marked("Rod before the night"),
        marked(
            "Whether it still sat firmly, how the soil was, whether it was wetted again: firm, damp, not wetted."
        ),
        "night",
        only_with_rod=True,
    ),
    "night_posture": CircumstanceField(
        marked("Posture at night"),
        marked("How the person lay, as far as it is known: on the back at first, then on either side."),
        "night",
    ),
    "night_cover": CircumstanceField(
        marked("Cover at night"),
        marked(
            "Blanket and night clothes, and where the arm with the probe lay: wool blanket, arm above it."
        ),
        "night",
    ),
    "night_in_use": CircumstanceField(
        marked("In use at night"),
        marked(
            "What was lit or ran in the night, beside the breakers that were off: no lights, computer off, "
            "refrigerator."
        ),
        "night",
    ),
}
"""Each field of `Circumstances`, in the order in which they are asked for."""


@dataclass(frozen=True, slots=True)
class Circumstances:
    """The circumstances of a visit; `CIRCUMSTANCE_FIELDS` says what each is.

    Args:
        footwear, bedding, person: of who was measured: what was worn, what was lain on, who it was.
        rod_length_m, rod_depth_m: of the earth rod, and how much of it is in the ground, metres.
        rod_place: where it is.
        lead: the lead from the rod and its length.
        probe: what the person touched.
        weather: during the readings, and of the days before where the ground is wet of it.
        indoor_air: temperature and humidity.
        probe_held, probe_lead: how the person held the probe; the lead from it to the meter.
        meter_place, meter_band: where meter and laptop lay; the frequencies that the meter takes in.
        meter_range, meter_power: how its range was set; how it is fed.
        meter_averaging, input_lead: how long it averages; whether its input counts the lead from the probe.
        wire_ways: how the reference wire ran to each floor or spot.
        earthing, supply_voltage, panel_places, main_panel: of the home.
        in_use, live_when_off: what ran with everything on; what had voltage with everything off.
        self_switching: whether what starts by itself ran in the readings with everything, or tonight's list, off.
        reference_improved, wire_moved, wire_back, second_rod: of the checks; whether the wire was laid back.
        function_done: with which cord, and how near.
        sweep_switched, sweep_in_use: who switched, and where; which lamps were lit.
        night_persons, night_probe: who lay there in the night, and where and how the probe was fixed.
        night_equipment: where meter and laptop stood, and how they were fed.
        night_air: temperature and humidity in the night.
        night_rod: how rod and soil were before it.
        night_posture, night_cover: how the person lay, and below what.
        night_in_use: what was lit or ran.
    """

    footwear: str = ""
    bedding: str = ""
    person: str = ""
    rod_length_m: float | None = None
    rod_depth_m: float | None = None
    rod_place: str = ""
    lead: str = ""
    probe: str = ""
    weather: str = ""
    indoor_air: str = ""
    probe_held: str = ""
    probe_lead: str = ""
    meter_place: str = ""
    meter_band: str = ""
    meter_range: str = ""
    meter_power: str = ""
    meter_averaging: str = ""
    input_lead: str = ""
    wire_ways: str = ""
    earthing: str = ""
    supply_voltage: str = ""
    panel_places: str = ""
    main_panel: str = ""
    in_use: str = ""
    live_when_off: str = ""
    self_switching: str = ""
    reference_improved: str = ""
    wire_moved: str = ""
    wire_back: str = ""
    second_rod: str = ""
    function_done: str = ""
    sweep_switched: str = ""
    sweep_in_use: str = ""
    night_persons: str = ""
    night_probe: str = ""
    night_equipment: str = ""
    night_air: str = ""
    night_rod: str = ""
    night_posture: str = ""
    night_cover: str = ""
    night_in_use: str = ""

    @property
    def is_recorded(self) -> bool:
        """Whether anything is."""
        return is_recorded(self)

    def kept(self) -> Circumstances:
        """The same as it is kept; raises StillvoltError for a text or a length that cannot be."""
        kept: dict[str, Any] = {}
        for name, field in CIRCUMSTANCE_FIELDS.items():
            value, label = getattr(self, name), tr(field.label)
            kept[name] = kept_metres(value, label, MAX_ROD_M) if field.is_length else kept_line(value, label)
        return replace(self, **kept)

    def of_home_and_equipment(self) -> Circumstances:
        """What still holds on another day."""
        return Circumstances(
            **{name: getattr(self, name) for name, field in CIRCUMSTANCE_FIELDS.items() if field.stays}
        )

    def to_json(self) -> str:
        """As JSON text; `from_json` is the way back."""
        return json.dumps(asdict(self))

    @classmethod
    def from_json(cls, text: str) -> Circumstances:
        """From what `to_json` gave; a part that no window would have written is left out."""
        data = kept_object(text)
        known: dict[str, Any] = {}
        for name, field in CIRCUMSTANCE_FIELDS.items():
            value: Any = data.get(name)
            if field.is_length and is_length(value, MAX_ROD_M):
                known[name] = float(value)
            elif not field.is_length and isinstance(value, str) and not why_not_a_line(value):
                known[name] = value
        return cls(**known)
