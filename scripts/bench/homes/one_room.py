"""A home of one room, and a practitioner who wandered about in it and left before anything was finished.

One bed read on and off, an armchair read once, a sweep of which one circuit was read, a check of which one step was
taken, no night. What the report must not do with it is to answer.
"""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

from logger.metrology.checks import CheckKind
from logger.metrology.setup import MeterFacts, Setup
from logger.sweep.sweep_progress import combination_of
from logger.visit.records.circumstances import Circumstances
from logger.visit.records.condition import EVERYTHING_OFF, EVERYTHING_ON
from logger.visit.records.home_details import SpotDetails
from logger.visit.records.mark_about import AboutKind, MarkAbout
from scripts.bench.homes.home_tables import METER, WHO_MEASURED, Circuit, Cord, Home, Place, begin
from tests.support.practitioner import Practitioner
from tests.support.recorded_home import pack, spot_named

PREPARED = datetime(2026, 4, 9, 13, 20, tzinfo=UTC)
STARTS = datetime(2026, 4, 9, 13, 30, tzinfo=UTC)
ZONE = "Europe/Brussels"
BED, CHAIR = "Bed", "Armchair"
READ_ALONE = "Outlets"

HOME = Home(
    setup=Setup(
        household="One room under the roof",
        reference="earth rod",
        soil="lawn beside the house",
        moisture="moist",
        panel_distance_m=6.0,
        wire_length_m=20.0,
        supply="single phase",
        mains_hz=50.0,
        on_battery=True,
        link_isolated=True,
        meter=MeterFacts.of(METER),
    ),
    circumstances=Circumstances(
        person="adult, 64 kg",
        lead="20 m, insulated, through the window",
        weather="dry, 12 °C",
        bedding="spring mattress, metal frame",
        rod_length_m=0.8,
        rod_depth_m=0.6,
        rod_place="lawn, 1.5 m from the south wall; own earth electrode of the house 5 m away; steel, 12 mm",
        probe="hand-held metal tube",
        probe_held="right hand, dry; left hand on the belly",
        probe_lead="1.5 m, shielded, shield at the reference socket of the meter",
        meter_place="on the floor, 1 m from the bed; laptop on the table, 2 m away",
        meter_power="battery",
        meter_band="40 Hz to 1 kHz, no filter on",
        earthing="TT, as the landlord says",
        panel_places="hall, beside the door of the room",
        main_panel="cellar, with the main switch; the hall's panel stands behind it",
        meter_averaging="averages over 0.4 s",
        input_lead="without the lead",
        in_use="ceiling light and reading lamp lit, refrigerator; kitchenette and shower not in use",
        live_when_off="main switch on; refrigerator, not running; no solar; a neighbour's flat behind the north wall",
        sweep_switched="a neighbour at the panel in the hall",
        sweep_in_use="reading lamp lit when its circuit was on",
    ),
    supply="single",
    circuits=(
        Circuit("hall", 1, READ_ALONE, (1,), "B16", "30 mA", "all outlets of the room"),
        Circuit("hall", 2, "Light", (1,), "B10", "30 mA", "ceiling light of the room"),
        Circuit("hall", 3, "Kitchenette", (1,), "B16", "30 mA", "two hot plates and the outlet above"),
        Circuit("hall", 4, "Shower and water heater", (1,), "B16", "30 mA"),
        Circuit("hall", 5, "Refrigerator", (1,), "B16", ""),
    ),
    cords=(Cord("reading lamp", 1, "neutral", "left of the bed"),),
    places=(
        Place(
            BED,
            "Room, attic",
            SpotDetails(
                "lying on the back", 0.5, "head to the wall of the stairs", "reading lamp", "adult, 64 kg", "nobody",
                entered_by=WHO_MEASURED.name, height_of="chest",
                distances="wall of the stairs 0.2 m, south wall 1.8 m; lamp 0.7 m from the head",
                plug_side="lamp lit; mark on its plug up", carried_by="metal bed frame, no motor",
            ),
            180,
            {1: 0.9, 2: 0.3, 3: 0.1, 5: 0.03, "reading lamp": 1.4, "outside": 0.05},
        ),
        Place(CHAIR, "Room, attic", None, 150, {1: 0.3, 2: 0.4, 3: 0.2, 5: 0.05, "outside": 0.06}),
    ),
)  # fmt: skip


def make(path: Path) -> None:
    """Record the visit.

    Args:
        path: must not exist.
    """
    person = begin(path, HOME, PREPARED, STARTS, ZONE, seed=31)
    log = person.log
    bed = spot_named(log, BED)
    person.check(CheckKind.ZERO, ("probe on reference wire",), at=bed)
    person.check(CheckKind.REFERENCE, ("probe in hand",), at=bed)
    _wander(person)
    person.round_of([bed, spot_named(log, CHAIR)], EVERYTHING_ON)
    _wander(person)
    person.round_of([bed], EVERYTHING_OFF)
    sources = log.circuits.all()
    outlets = next(source for source in sources if source.name == READ_ALONE)
    person.read(bed, combination_of([outlets.id], sources))
    mark = log.marks.add("called away; the rest at another visit")
    log.marks.state_about(mark.id, MarkAbout(AboutKind.NONE))
    person.end()
    pack(path)


def _wander(person: Practitioner) -> None:
    """Walk about, without a value."""
    person.send_commands("walk")
    person.wait(20.0)
    person.send_commands("lie still")
    person.wait(5.0)
