"""A home of three floors: two panels with 42 circuits on three legs, 25 spots, 20 pictures, three sweeps, two nights.

All that a careful practitioner keeps: every check, every spot on and off and described, two beds and a desk swept until
tonight's list is confirmed, steps named, a night with everything on and one with the list switched off.
"""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

from logger.clock import ManualClock
from logger.metrology.checks import CheckKind
from logger.metrology.setup import MeterFacts, Setup
from logger.night.night_conditions import keep_night_entry
from logger.night.night_entries import NightEntry
from logger.night.night_spots import NightSpot, keep_night_spot
from logger.simulation.house.house import House
from logger.visit import VisitLog
from logger.visit.records.circumstances import Circumstances
from logger.visit.records.condition import EVERYTHING_OFF, EVERYTHING_ON
from logger.visit.records.fact_names import SCHEDULE
from logger.visit.records.home_details import SpotDetails
from logger.visit.records.mark_about import AboutKind, MarkAbout
from scripts.bench.homes.home_tables import METER, WHO_MEASURED, Circuit, Cord, Home, Place, begin
from tests.support.practitioner import Practitioner
from tests.support.recorded_home import SimulatedNight, ns_of, pack, record_night, spot_named

PREPARED = datetime(2026, 3, 11, 7, 40, tzinfo=UTC)
STARTS = datetime(2026, 3, 11, 8, 0, tzinfo=UTC)
ZONE = "Europe/Brussels"
NIGHTS = (datetime(2026, 3, 11, 21, 20, tzinfo=UTC), datetime(2026, 3, 12, 21, 35, tzinfo=UTC))
NIGHT_S = 8 * 3600.0
NIGHT_SCRIPT = """
every 47 min +- 1 min from 9 min: aquarium heater on
every 47 min +- 1 min from 30 min: aquarium heater off
"""
PLANNED = "23:30 Landing and stairs light off; 06:00 Landing and stairs light on"
TIMER = "at {off_s} s: breaker Landing and stairs light off\nat {on_s} s: breaker Landing and stairs light on"
TIMER_OFF_UTC, TIMER_ON_UTC = (22, 30), (5, 0)

BED, ATTIC_BED, DESK = "Bed, window side", "Attic bed, east", "Desk"
SWEPT = (BED, ATTIC_BED, DESK)
READ_TWICE = (BED, "Child's bed", ATTIC_BED, DESK, "Sofa, left end")
MISTAKEN = "Kitchen, at the worktop"
CHECKED_AT = "Parents' bedroom, centre"

GROUND, UPPER, ATTIC = "ground floor", "upper floor", "attic"
LIVING, DINING = f"Living room, {GROUND}", f"Dining room, {GROUND}"
KITCHEN, HALL = f"Kitchen, {GROUND}", f"Hall, {GROUND}"
PARENTS, CHILD = f"Parents' bedroom, {UPPER}", f"Child's room, {UPPER}"
STUDY, BATH, LANDING = f"Study, {UPPER}", f"Bathroom, {UPPER}", f"Landing, {UPPER}"
UNDER_ROOF = f"Room under the roof, {ATTIC}"

PERSON, OTHERS = "adult, 1.81 m, 78 kg", "one person at the laptop, 3 m away"


CHEST, HANDS = "chest", "hand with the probe"
AS_FOUND = "as the household left it; marks on the plugs up"
NOTHING = "nothing plugged in within 2 m"


def _details(posture: str, height_m: float, place: str, plugged: str, distances: str = "") -> SpotDetails:
    return SpotDetails(
        posture,
        height_m,
        place,
        plugged,
        PERSON,
        OTHERS,
        entered_by=WHO_MEASURED.name,
        height_of=CHEST if posture.startswith("lying") else HANDS,
        distances=distances,
        carried_by="wooden bed frame, no motor" if posture.startswith("lying") else "",
        cover="wool blanket, the arms above it" if posture.startswith("lying") else "",
        plug_side="" if plugged == NOTHING else AS_FOUND,
    )


def _lying(place: str, plugged: str = NOTHING, height_m: float = 0.55, distances: str = "") -> SpotDetails:
    return _details("lying on the back", height_m, place, plugged, distances)


def _sitting(place: str, plugged: str = NOTHING, distances: str = "") -> SpotDetails:
    return _details("sitting, feet on the floor", 0.5, place, plugged, distances)


def _standing(place: str, distances: str = "", plugged: str = NOTHING) -> SpotDetails:
    return _details("standing, bare feet", 1.2, place, plugged, distances)


MAIN, UPSTAIRS = "cellar", "landing"
CIRCUITS = (
    Circuit(MAIN, 1, "Living room outlets north", (1,), "B16", "30 mA, first", "outlets of the garden wall"),
    Circuit(MAIN, 2, "Living room outlets south", (2,), "B16", "30 mA, first", "outlets of the street wall"),
    Circuit(MAIN, 3, "Living room light", (3,), "B10", "30 mA, first", "ceiling lights of the living room"),
    Circuit(MAIN, 4, "Dining room outlets", (1,), "B16", "30 mA, first", "two outlets of the dining room"),
    Circuit(MAIN, 5, "Dining room light", (2,), "B10", "30 mA, first", "lamp above the table"),
    Circuit(MAIN, 6, "Kitchen outlets worktop", (3,), "B16", "30 mA, first", "outlets above the worktop"),
    Circuit(MAIN, 7, "Kitchen outlets island", (1,), "B16", "30 mA, first", "outlets of the island"),
    Circuit(MAIN, 8, "Kitchen light", (2,), "B10", "30 mA, first", "ceiling light and hood"),
    Circuit(MAIN, 9, "Cooker", (1, 2), "B20", "30 mA, first", "hob in the kitchen"),
    Circuit(MAIN, 10, "Oven", (3,), "B16", "30 mA, first", "oven in the kitchen"),
    Circuit(MAIN, 11, "Dishwasher", (1,), "B16", "30 mA, first", "kitchen, beside the sink"),
    Circuit(MAIN, 12, "Refrigerator and freezer", (2,), "B16", "none", "kitchen, both in one cabinet"),
    Circuit(MAIN, 13, "Hall light", (3,), "B10", "30 mA, second", "hall and front door"),
    Circuit(MAIN, 14, "Hall outlets", (1,), "B16", "30 mA, second", "hall, by the door and the stairs"),
    Circuit(MAIN, 15, "Guest toilet", (2,), "B16", "30 mA, second", "light and outlet of the guest toilet"),
    Circuit(MAIN, 16, "Cellar light", (3,), "B10", "30 mA, second", "all lights of the cellar"),
    Circuit(MAIN, 17, "Washing machine", (1,), "B16", "30 mA, second", "laundry room in the cellar"),
    Circuit(MAIN, 18, "Dryer", (2,), "B16", "30 mA, second", "laundry room in the cellar"),
    Circuit(MAIN, 19, "Heating pump and control", (3,), "B10", "30 mA, second", "boiler room in the cellar"),
    Circuit(MAIN, 20, "Sump pump", (1,), "B16", "30 mA, second", "sump in the cellar"),
    Circuit(MAIN, 21, "Router and telephone", (2,), "B16", "none", "shelf in the hall"),
    Circuit(MAIN, 22, "Smoke alarms", (3,), "B10", "none", "all alarms, from the hall to the attic"),
    Circuit(
        MAIN, 23, "Garage and door", (1,), "B16", "30 mA, second", "light, outlet and door of the garage"
    ),
    Circuit(MAIN, 24, "Garden outlets and light", (2,), "B16", "30 mA, second", "terrace and path"),
    Circuit(
        UPSTAIRS, 1, "Parents outlets window", (1,), "B16", "30 mA", "outlets left and right of the window"
    ),
    Circuit(
        UPSTAIRS, 2, "Parents outlets door", (2,), "B16", "30 mA", "outlets behind the door and wardrobe"
    ),
    Circuit(UPSTAIRS, 3, "Parents light", (3,), "B10", "30 mA", "ceiling light of the parents' bedroom"),
    Circuit(
        UPSTAIRS, 4, "Child's room outlets", (1,), "B16", "30 mA", "child's room, night light and desk lamp"
    ),
    Circuit(UPSTAIRS, 5, "Child's room light", (2,), "B10", "30 mA", "ceiling light of the child's room"),
    Circuit(
        UPSTAIRS, 6, "Study outlets", (3,), "B16", "30 mA", "outlets of the study, with computer and screen"
    ),
    Circuit(UPSTAIRS, 7, "Study light", (1,), "B10", "30 mA", "ceiling light of the study"),
    Circuit(UPSTAIRS, 8, "Bathroom outlets", (2,), "B16", "30 mA", "outlet at the mirror"),
    Circuit(UPSTAIRS, 9, "Bathroom light and fan", (3,), "B10", "30 mA", "ceiling light and fan"),
    Circuit(
        UPSTAIRS, 10, "Landing and stairs light", (1,), "B10", "30 mA", "on a timer: off 23:30, on 06:00"
    ),
    Circuit(UPSTAIRS, 11, "Landing outlets and aquarium", (2,), "B16", "30 mA", "landing, aquarium"),
    Circuit(UPSTAIRS, 12, "Roller shutters", (3,), "B10", "30 mA", "shutters of the upper floor"),
    Circuit(UPSTAIRS, 13, "Attic outlets east", (1,), "B16", "30 mA", "outlets along the east gable"),
    Circuit(UPSTAIRS, 14, "Attic outlets west", (2,), "B16", "30 mA", "outlets along the west gable"),
    Circuit(UPSTAIRS, 15, "Attic light", (3,), "B10", "30 mA", "lights under the ridge"),
    Circuit(UPSTAIRS, 16, "Attic bathroom", (1,), "B16", "30 mA", "light and outlet of the attic bathroom"),
    Circuit(UPSTAIRS, 17, "Stair lift", (2,), "B16", "30 mA", "chair on the stairs to the upper floor"),
    Circuit(UPSTAIRS, 18, "Attic air conditioner", (3,), "B16", "30 mA", "outdoor unit on the roof"),
)

CORDS = (
    Cord("bedside lamp", 25, "neutral", "left of the bed, window side"),
    Cord("clock radio", 26, "live", "behind the bed, door side"),
    Cord("night light", 28, "live", "under the child's bed"),
    Cord("computer and screen", 30, "live", "under the desk"),
    Cord("reading lamp", 1, "live", "behind the sofa"),
    Cord("foot warmer", 37, "live", "at the foot of the attic bed", on=False),
    Cord("aquarium heater", 35, "live", "behind the aquarium, landing", on=False),
    Cord("check lamp", 25, "live", ""),
)

PLACES = (
    Place("Sofa, left end", LIVING,
          _sitting("by the reading lamp", "reading lamp", "garden wall 0.4 m, hall wall 3.1 m; lamp 0.5 m"), 150,
          {1: 0.9, 3: 0.4, 2: 0.3, "reading lamp": 1.6, 4: 0.05, "outside": 0.06}, is_photographed=True,
          reminder="television off"),
    Place("Sofa, right end", LIVING,
          _sitting("by the window to the garden", NOTHING, "garden wall 0.4 m, east wall 0.8 m; lamp 2.2 m"), 150,
          {1: 0.4, 2: 0.6, 3: 0.3, "reading lamp": 0.3, "outside": 0.1}, is_photographed=True),
    Place("Armchair", LIVING,
          _sitting("back to the street wall", "floor lamp, unlit",
                   "street wall 0.6 m, east wall 1.2 m; floor lamp 0.7 m, unlit"), 150,
          {2: 1.1, 3: 0.3, 14: 0.1, "outside": 0.08}, is_photographed=True),
    Place("Living room, centre", LIVING, _standing("on the carpet", "garden wall 2.4 m, hall wall 2.5 m"), 120,
          {1: 0.2, 2: 0.25, 3: 0.9, "outside": 0.07}),
    Place("Head of the table", DINING,
          _sitting("under the lamp", NOTHING, "garden wall 1.1 m, kitchen wall 1.4 m; lamp 0.7 m above"), 150,
          {4: 0.5, 5: 0.7, 8: 0.05, "outside": 0.05}, is_photographed=True),
    Place("Bench", DINING,
          _sitting("against the wall of the hall", NOTHING, "hall wall 0.2 m, street wall 1.0 m; lamp 1.3 m"), 150,
          {4: 0.8, 5: 0.3, 14: 0.2, "outside": 0.04}, is_photographed=True),
    Place(MISTAKEN, KITCHEN, _standing("hands above the worktop", "street wall 0.5 m, sink 0.6 m; hood 0.8 m"), 120,
          {6: 1.4, 8: 0.5, 9: 0.3, 11: 0.2, 12: 0.1, "outside": 0.04}, is_photographed=True),
    Place("Kitchen, at the island", KITCHEN,
          _standing("side of the cooker", "street wall 2.0 m, hall wall 1.4 m; cooker 0.5 m"), 120,
          {7: 0.9, 8: 0.6, 9: 0.4, 10: 0.1, "outside": 0.04}, is_photographed=True),
    Place("Hall, centre", HALL, _standing("on the tiles", "front door 2.1 m, stairs 1.2 m"), 130,
          {13: 0.6, 14: 0.3, 22: 0.05, "outside": 0.03}),
    Place(BED, PARENTS,
          _lying("window side, head 30 cm from the wall", "bedside lamp",
          distances="window 0.9 m; lamp 0.5 m from the head"), 180,
          {25: 1.1, 26: 0.5, 27: 0.3, 34: 0.12, 28: 0.03, 32: 0.02, 22: 0.03, "bedside lamp": 2.4, "check lamp": 4.0,
           "clock radio": 0.1, "aquarium heater": 0.22, "outside": 0.04}, (60, 90, 250, 400), True,
          reminder="telephone off the bedside table"),
    Place("Bed, door side", PARENTS,
          _lying("door side, head 30 cm from the wall", "clock radio", distances="door wall 1.2 m; radio 0.6 m"), 175,
          {25: 0.5, 26: 1.2, 27: 0.4, 32: 0.05, 22: 0.03, "bedside lamp": 0.4, "clock radio": 0.9,
           "aquarium heater": 0.05, "outside": 0.04}, is_photographed=True),
    Place(CHECKED_AT, PARENTS,
          _standing("on the boards", "window 1.8 m, door wall 2.0 m; lamp 1.7 m", "bedside lamp"), 120,
          {25: 0.3, 26: 0.3, 27: 0.8, "bedside lamp": 0.15, 22: 0.05, "outside": 0.05}),
    Place("Child's bed", CHILD,
          _lying("head to the wall of the study", "night light", 0.4,
          "study wall 0.2 m, window 1.5 m; night light 0.5 m"), 140,
          {28: 0.9, 29: 0.3, 30: 0.6, "night light": 1.1, 22: 0.03, "outside": 0.05}, is_photographed=True),
    Place("Child's desk", CHILD,
          _sitting("hands on the desk", "desk lamp", "window 0.6 m, landing wall 1.9 m; lamp 0.5 m"), 110,
          {28: 0.7, 29: 0.5, "outside": 0.07}, is_photographed=True),
    Place("Play rug", CHILD,
          _details("sitting, legs crossed", 0.2, "middle of the rug", NOTHING, "window 1.7 m, study wall 1.6 m"), 130,
          {28: 0.2, 29: 0.3, 3: 0.1, "outside": 0.04}),
    Place(DESK, STUDY,
          _sitting("hands beside the keyboard", "computer, screen",
          "gable wall 0.7 m, window 1.1 m; screen 0.6 m"), 150,
          {30: 1.2, 31: 0.4, 28: 0.06, 36: 0.02, 22: 0.02, "computer and screen": 2.1, "outside": 0.05},
          (300, 60, 540, 180), True, reminder="computer and screen on"),
    Place("Study, armchair", STUDY,
          _sitting("back to the child's room", NOTHING, "child's wall 0.5 m, door 1.4 m; screen 2.1 m"), 150,
          {30: 0.4, 31: 0.3, 28: 0.2, "outside": 0.06}, is_photographed=True),
    Place("Study, centre", STUDY,
          _standing("on the carpet", "gable wall 1.9 m, door 1.6 m; screen 1.5 m", "computer, screen"), 120,
          {30: 0.4, 31: 0.8, "computer and screen": 0.2, "outside": 0.06}),
    Place("At the washbasin", BATH, _standing("on the bath mat", "mirror 0.5 m, tub 0.7 m; mirror light 0.6 m"), 130,
          {32: 0.6, 33: 0.7, "outside": 0.03}, is_photographed=True),
    Place("Landing, centre", LANDING,
          _standing("beside the aquarium", "stairs 1.1 m, bath wall 0.9 m; aquarium 0.5 m",
                    "pump and light of the aquarium; its heater by its thermostat"), 125,
          {34: 0.7, 35: 0.3, 41: 0.1, "aquarium heater": 0.2, "outside": 0.03}),
    Place(ATTIC_BED, UNDER_ROOF,
          _lying("under the east gable, head to the chimney", "foot warmer, plugged in and not on",
          distances="gable 0.8 m, chimney 0.3 m; foot warmer 1.6 m, off"), 180,
          {37: 0.9, 38: 0.4, 39: 0.3, 42: 0.05, 40: 0.03, 22: 0.04, "foot warmer": 1.5, "outside": 0.05},
          is_photographed=True),
    Place("Attic bed, west", UNDER_ROOF,
          _lying("under the west gable", distances="gable 0.7 m, roof window 1.2 m"), 180,
          {38: 1.0, 37: 0.2, 39: 0.4, 42: 0.3, 22: 0.04, "outside": 0.06}, is_photographed=True),
    Place("Attic desk", UNDER_ROOF,
          _sitting("at the roof window", "screen", "roof window 0.5 m, west gable 1.9 m; screen 0.6 m"), 150,
          {38: 0.7, 39: 0.5, "outside": 0.22}, is_photographed=True),
    Place("Attic sofa", UNDER_ROOF, _sitting("against the chimney", NOTHING, "chimney 0.2 m, east gable 2.2 m"), 150,
          {37: 0.5, 39: 0.3, 40: 0.1, "outside": 0.06}, is_photographed=True),
    Place("Attic, centre", UNDER_ROOF, _standing("under the ridge", "east gable 4.1 m, west gable 3.9 m"), 120,
          {37: 0.2, 38: 0.2, 39: 0.9, "outside": 0.07}),
)  # fmt: skip

HOME = Home(
    setup=Setup(
        household="House of three floors",
        reference="earth rod",
        soil="loam, front garden",
        moisture="moist",
        panel_distance_m=17.0,
        wire_length_m=40.0,
        supply="three-phase",
        mains_hz=50.0,
        on_battery=True,
        link_isolated=True,
        meter=MeterFacts.of(METER),
    ),
    circumstances=Circumstances(
        footwear="barefoot; cotton trousers and shirt",
        bedding="latex mattress, cotton sheet",
        person=PERSON,
        rod_length_m=0.9,
        rod_depth_m=0.7,
        rod_place="flower bed in the front garden, 3 m from the street wall; own earth electrode of the house 11 m "
        "away; steel, 14 mm",
        lead="40 m, insulated, through the stairwell",
        probe="hand-held steel tube, 12 cm long, 25 mm across",
        weather="dry, 9 °C, rain the day before",
        indoor_air="20 °C, 41 %",
        probe_held="right hand, dry; left hand on the belly when lying, else where the spot says, or hanging",
        probe_lead="2 m, shielded, shield at the reference socket of the meter",
        meter_place="on the floor, 1 m from the body; laptop 3 m away",
        meter_band="40 Hz to 1 kHz, no filter on",
        earthing="TT, as the electrician of the house says",
        supply_voltage="231 V from L1 to neutral, measured by the electrician of the house, 8:50",
        panel_places="cellar: at the foot of the stairs; landing: upper floor, behind the door of the study",
        main_panel="cellar, with the main switch; the landing's panel stands behind it",
        meter_averaging="averages over 0.4 s",
        input_lead="with the lead",
        wire_ways="ground floor through the front door, upper floor and attic through the stairwell",
        meter_range="automatic",
        meter_power="battery",
        in_use="all ceiling lights lit; bedside, reading and desk lamps, night light, clock radio, computer and "
        "screen, refrigerator, aquarium; foot warmer not on; no cooking, no washing",
        live_when_off="main switches on; refrigerator not running, heating pump running, aquarium lit; no solar; "
        "nobody next door",
        function_done="cord of the bedside lamp, plugged in, 10 cm from the forearm",
        reference_improved="ground at the rod wetted with 10 l of water",
        wire_moved="from the stairwell to the window of the landing",
        wire_back="laid back through the stairwell before the first reading",
        second_rod="flower bed, 5 m west of the first, 0.6 m deep",
        sweep_switched="the electrician of the house, at both panels",
        sweep_in_use="ceiling lights and bedside lamp lit, computer on, when their circuit was on",
        night_persons="adult, 1.81 m, 78 kg; nobody on the door side",
        night_probe="metal tube held to the left wrist by an elastic strap; same rod and wire as by day",
        night_equipment="meter on the floor, 1 m from the bed, laptop 3 m away; both on battery; dry, 4 °C",
        self_switching="refrigerator compressor not running with everything off; aquarium heater not known",
        night_air="19 °C, 48 %",
        night_rod="firm, soil damp, not wetted again before either night",
        night_posture="on the back at first, later mostly on the right side",
        night_cover="cotton pyjamas, wool blanket; the left arm above it",
        night_in_use="no lamp lit but those of the landing until 23:30; computer off; refrigerator, pumps, aquarium",
    ),
    supply="three",
    circuits=CIRCUITS,
    cords=CORDS,
    places=PLACES,
    start=BED,
)


def make(path: Path) -> None:
    """Record the visit.

    Args:
        path: must not exist.
    """
    person = begin(path, HOME, PREPARED, STARTS, ZONE, seed=42)
    house = person.run.simulation.scene.house
    _check(person)
    _rounds(person)
    for cord, spot in (("bedside lamp", BED), ("computer and screen", DESK)):
        source = next(s for s in person.log.circuits.all() if s.name == cord)
        person.name_steps(source, spot_named(person.log, spot))
    for name in SWEPT:
        person.sweep(spot_named(person.log, name))
    listed = person.confirm()
    person.log.facts.set("condition", listed.label)
    _mark(person.log, "The household was shown which breakers are on the list.", AboutKind.NONE)
    person.log.facts.set(SCHEDULE, PLANNED)
    person.check(CheckKind.ZERO, ("probe on reference wire",), at=spot_named(person.log, BED))
    person.end()
    as_listed = dict(house.breakers)
    _night(path, house, 0, EVERYTHING_ON, dict.fromkeys(house.breakers, True))
    _night(path, house, 1, listed.label, as_listed)
    pack(path)


def _check(person: Practitioner) -> None:
    """Every check, at the bed but for the one of the earth."""
    bed, centre = (spot_named(person.log, name) for name in (BED, CHECKED_AT))
    person.check(CheckKind.ZERO, ("probe on reference wire",), at=bed)
    person.check(
        CheckKind.REFERENCE, ("probe in hand", f"go to {CHECKED_AT}"), ("wet the soil", "move"), at=centre
    )
    lamp = (("move", "check lamp plug"), ("move", "check lamp unplug"))
    person.check(CheckKind.FUNCTION, (f"go to {BED}",), *lamp, at=bed)
    person.check(CheckKind.LEAD, ("move",), ("move the wire", "move"), at=bed)
    person.check(CheckKind.TWO_RODS, ("probe on second rod",), ("lay the wire back",), at=bed)
    person.send_commands("probe in hand")


def _rounds(person: Practitioner) -> None:
    """Every spot with everything on, some of them twice, then with everything off; one reading is mistaken."""
    log = person.log
    person.round_of(log.spots.all(), EVERYTHING_ON)
    for reading in [r for r in log.readings.all() if r.spot_name == MISTAKEN]:
        log.readings.void(reading.id, "the other hand lay on the metal sink")
        person.send_commands(f"go to {MISTAKEN}")
        person.wait(6.0)
        person.read(spot_named(log, MISTAKEN), condition=EVERYTHING_ON)
    person.round_of([spot_named(log, name) for name in READ_TWICE], EVERYTHING_ON)
    _mark(
        log,
        "For the round with everything off the electrician of the house has switched off all that may be, at both "
        "panels.",
        AboutKind.NONE,
    )
    person.round_of(log.spots.all(), EVERYTHING_OFF)
    _mark(log, "The neighbour's outdoor light was on all the time.", AboutKind.ALL)


def _mark(log: VisitLog, text: str, kind: AboutKind) -> None:
    """Put a mark, and enter which readings it is about."""
    log.marks.state_about(log.marks.add(text).id, MarkAbout(kind))


def _night(path: Path, house: House, number: int, condition: str, breakers: dict[int, bool]) -> None:
    """A night, and what is entered for it in the morning.

    Args:
        path: the visit log.
        house: as the day left it.
        number: which of the nights, from 0.
        condition: what is on, as it is kept.
        breakers: the same at the panel.
    """
    starts = NIGHTS[number]
    house.breakers = breakers
    off, on = (starts.replace(hour=hour, minute=minute) for hour, minute in (TIMER_OFF_UTC, TIMER_ON_UTC))
    off_s, on_s = (round((moment - starts).total_seconds()) % 86400 for moment in (off, on))
    script = NIGHT_SCRIPT + TIMER.format(off_s=off_s, on_s=on_s)
    night = SimulatedNight(starts, NIGHT_S, script, seed=51 + number)
    record_night(path, HOME.scene_text(), house, night, ZONE, METER)
    log = VisitLog.open(path, ManualClock(ns_of(starts) + round((NIGHT_S + 600.0) * 1e9)))
    run_id, bed = log.runs.all()[-1].id, spot_named(log, BED)
    keep_night_entry(log, NightEntry(condition, run_id, is_ahead=False))
    keep_night_spot(log, NightEntry(NightSpot(bed.id, bed.name), run_id, is_ahead=False))
    log.close()
