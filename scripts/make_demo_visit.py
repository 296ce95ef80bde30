"""Makes the finished demo visit, fixtures/demo/garden_flat.visit, and one a year later to be compared with it.

Both are packed into gui/model/examples too, with which they are installed.

A whole visit of an invented garden flat, from the set-up to the night, recorded from the simulated house through the
recorder's own code. The same content each time.
And garden_flat_later.visit, the same spots a year later, to be compared with it.

python scripts/make_demo_visit.py [FOLDER]      about a minute; fixtures/demo if not given; both files are replaced
"""

from __future__ import annotations

import lzma
import sys
import time
from collections.abc import Sequence
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))  # so that the tree itself can be imported

from logger.clock import ManualClock
from logger.meter.description import Accuracy, MeterDescription
from logger.metrology.checks import CheckKind
from logger.metrology.setup import MeterFacts, Setup
from logger.night.night_conditions import keep_night_entry
from logger.night.night_entries import NightEntry
from logger.night.night_spots import NightSpot, keep_night_spot
from logger.plan.continued_plan import continue_home
from logger.simulation.house.house import House
from logger.simulation.house.scene import Scene, load_scene
from logger.sweep.sweep_progress import combination_as_at_night
from logger.sweep.switch_off_plan import switch_off_plan
from logger.visit import VisitLog
from logger.visit.records.circumstances import Circumstances
from logger.visit.records.condition import EVERYTHING_OFF, EVERYTHING_ON
from logger.visit.records.home_details import SourceDetails, SpotDetails
from logger.visit.records.mark_about import AboutKind, MarkAbout
from logger.visit.records.remedy_records import RemedyDecision, RemedyEntry, RemedyKind
from tests.support.practitioner import Practitioner
from tests.support.recorded_home import SimulatedNight, drawn_sketch, ns_of, pack, record_night, spot_named

DEMO = Path(__file__).parents[1] / "fixtures" / "demo"
EXAMPLES = Path(__file__).parents[1] / "gui" / "model" / "examples"
SCENE = DEMO / "garden_flat.toml"
VISIT = DEMO / "garden_flat.visit"
LATER_VISIT = DEMO / "garden_flat_later.visit"

PREPARED = datetime(2025, 5, 16, 15, 10, tzinfo=UTC)
START = datetime(2025, 5, 16, 15, 30, tzinfo=UTC)
A_YEAR_LATER = timedelta(days=363)
ZONE = "Europe/Vienna"
NIGHT_STARTS = datetime(2025, 5, 16, 20, 45, tzinfo=UTC)
NIGHT_S = 9 * 3600.0

CORDS = {"Bedside lamp": "Bedroom outlets", "Aquarium heater": "Router and aquarium"}
"""Cords that the household listed, with the circuit they are plugged into."""

PANEL = "A"
LIGHTS_RATING, OUTLETS_RATING, COOKER_RATING = "B10", "B16", "B20"
BEFORE_THE_DEVICE = ("Smoke alarms", "Refrigerator")
"""Circuits of the invented panel that are not behind its residual-current device."""
FEEDS = {
    "Bedroom outlets": "bedroom, by the bed and by the door",
    "Bedroom light": "bedroom, ceiling light and the switch by the door",
    "Study outlets": "study, four outlets: computer, screen, desk lamp",
    "Study light": "study, ceiling light",
    "Living room outlets": "living room, outlets of both walls; reading lamp, television",
    "Living room light": "living room and hall, ceiling lights",
    "Kitchen outlets": "kitchen, worktop",
    "Cooker": "kitchen, cooker",
    "Router and aquarium": "shelf in the hall",
    "Bathroom": "bathroom, light and outlets",
    "Washing machine": "bathroom, washing machine",
    "Refrigerator": "kitchen, refrigerator",
    "Smoke alarms": "bedroom, study, hall",
}
"""Of the garden light nobody has looked where it leads."""
OUTLETS = {"Bedside lamp": "left of the bed", "Aquarium heater": "behind the shelf"}

PLUGS = {
    "Bedside lamp": "flat plug without earth contact; switch in the cord, one pole; metal lamp",
    "Aquarium heater": "moulded plug with earth contact; no switch",
}

SLEEPS_AT = "Bed, left"
SWEPT = (SLEEPS_AT, "Bed, right")
READ_TWICE = ("Bed, left", "Desk", "Sofa, left end")
"""After getting up, to find out how well the posture repeats."""
MISTAKEN = "Bedroom, centre"
SEEN_OUTSIDE = "Window seat"
"""Where a light outside is noticed with everything off, and written down."""
REMINDERS = {"Desk": "computer and screen on", "Sofa, left end": "television off"}

PERSON, OTHERS = "adult, 72 kg", "one person at the laptop, 3 m away"
LYING, SITTING, STANDING = "lying on the back", "sitting, feet on the floor", "standing, bare feet"
CHEST, HANDS = "chest", "hand with the probe"
DETAILS = {
    "Bed, left": SpotDetails(
        LYING, 0.55, "left half seen from the foot, head 30 cm from the north wall", "bedside lamp", PERSON, OTHERS,
        height_of=CHEST, distances="window wall 1.4 m; lamp 0.6 m from the head, its cord 0.3 m from the frame",
        plug_side="lamp lit; mark on its plug to the left; taken away by the plug",
        carried_by="beech bed frame, wooden slats, no motor",
    ),
    "Bed, right": SpotDetails(
        LYING, 0.55, "right half seen from the foot, head 30 cm from the north wall", "bedside lamp", PERSON, OTHERS,
        height_of=CHEST, distances="door wall 1.1 m; lamp 1.5 m from the head",
        plug_side="lamp lit; mark on its plug to the left; taken away by the plug",
        carried_by="beech bed frame, wooden slats, no motor",
    ),
    "Bedroom, centre": SpotDetails(
        STANDING, 1.2, "on the boards, facing the window", "bedside lamp", PERSON, OTHERS,
        height_of=HANDS, distances="window 1.6 m, door wall 1.9 m; lamp 1.7 m", plug_side="lamp lit",
        carried_by="wooden boards",
    ),
    "Desk": SpotDetails(
        SITTING, 0.75, "hands beside the keyboard", "computer, screen, desk lamp", PERSON, OTHERS,
        height_of=HANDS, distances="east wall 0.5 m, window 1.2 m; screen 0.6 m, desk lamp 0.4 m",
        plug_side="computer and screen on, desk lamp lit; all in one strip, its plug with the cord down",
        carried_by="swivel chair with a steel foot; wool rug under the feet",
    ),
    "Study, centre": SpotDetails(
        STANDING, 1.2, "on the rug, facing the desk", "computer, screen, desk lamp", PERSON, OTHERS,
        height_of=HANDS, distances="east wall 1.8 m, door wall 1.5 m; screen 1.4 m",
        plug_side="as at the desk", carried_by="wool rug on wooden boards",
    ),
    "Window seat": SpotDetails(
        SITTING, 0.5, "back to the window", "", PERSON, OTHERS,
        height_of=HANDS, distances="window 0.2 m, east wall 1.1 m; desk lamp 1.6 m",
        plug_side="nothing plugged in here", carried_by="wooden bench, cushion; boards under the feet",
    ),
    "Sofa, left end": SpotDetails(
        SITTING, 0.6, "back to the garden wall", "reading lamp", PERSON, OTHERS,
        height_of=HANDS, distances="garden wall 0.4 m, terrace door 2.1 m; lamp 0.5 m from the head",
        plug_side="lamp lit; its plug with the cord up",
        carried_by="sofa on a wooden frame; wool carpet under the feet",
    ),
    "Armchair": SpotDetails(
        SITTING, 0.6, "facing the sofa", "", PERSON, OTHERS,
        height_of=HANDS, distances="hall wall 0.5 m, terrace door 1.3 m; reading lamp 2.4 m",
        carried_by="armchair on wooden legs; wool carpet under the feet",
    ),
}  # fmt: skip
"""How the person was at the spots; of the last one nothing is recorded."""
LATER_DETAILS = {
    "Bed, left": replace(DETAILS["Bed, left"], plugged="", plug_side=""),
    "Bed, right": replace(DETAILS["Bed, right"], plugged="", plug_side=""),
    "Desk": replace(DETAILS["Desk"], posture="sitting, feet on a stool"),
    "Sofa, left end": replace(DETAILS["Sofa, left end"], plugged="", plug_side=""),
}
"""A year later: another posture, and the lamps are gone."""
CIRCUMSTANCES = Circumstances(
    footwear="barefoot",
    bedding="foam mattress, cotton sheet",
    person=PERSON,
    rod_length_m=0.6,
    rod_depth_m=0.45,
    rod_place="under the hedge, 2 m from the terrace door",
    lead="20 m, insulated, through the terrace door",
    probe="hand-held metal tube",
    weather="dry, 17 °C, rain the day before",
    indoor_air="21 °C, 48 %",
    probe_held="right hand, dry; left hand on the belly when lying, else where the spot says, or on the thigh",
    probe_lead="1.5 m, shielded, shield at the reference socket of the meter, along the right arm",
    meter_place="on a wooden stool 1 m from the body; laptop 3 m away",
    meter_band="40 Hz to 1 kHz, no filter on",
    meter_range="automatic",
    meter_power="battery",
    live_when_off="refrigerator running, router and aquarium with its heater; the flats around are not known",
    sweep_in_use="wall switches of the ceiling lights on, computer, screen and desk lamp on, bedside lamp lit",
    function_done="cord of the bedside lamp, lit, 10 cm from the right forearm, then away",
    night_equipment="meter on the stool 1 m from the bed, laptop 3 m away, both on battery; dry, 14 °C",
    earthing="TN-S, as the panel's label says",
    supply_voltage="230 V between phase and neutral, as supplied; not measured",
    panel_places="A in the hall, left of the flat's door",
    in_use="all ceiling lights lit, computer, screen, refrigerator; cooker and washing machine off",
    self_switching="not known: nobody looked whether the compressor or the aquarium heater ran",
    reference_improved="ground at the rod wetted with 5 l of water",
    wire_moved="from the terrace door to the kitchen window",
    wire_back="laid back through the terrace door before the first reading",
    second_rod="lawn, 4 m east of the first, 0.4 m deep",
    sweep_switched="a second person at panel A, called from the bedroom",
    night_persons="adult, 72 kg, alone in the bed",
    night_probe="metal tube held to the left wrist by an elastic strap; same rod and wire as by day",
    night_air="18 °C, 52 %",
    night_rod="firm, soil still damp, not wetted again",
    night_posture="on the back and on the left side in turn",
    night_cover="cotton pyjamas, cotton quilt; the left arm above it",
    night_in_use="refrigerator, router, aquarium with its heater; no lamp lit, computer off",
)
SKETCHES = {"Bed, left": (60, 90, 250, 400), "Desk": (300, 60, 540, 180)}
"""Where the spot is on its drawn sketch, pixels: left, top, right, bottom."""

RENAMED = ("Armchair", "Arm chair")
"""How a spot is spelled before and after."""
NOT_READ_LATER = "Study, centre"
BRIGHTER_OUTSIDE = 1.8
"""The light next door, a year later."""

METER = MeterDescription(
    name="Demo meter",
    make="Sample",
    model="AC-1",
    serial_number="0001",
    certificate="no. 0001 of the Sample Laboratory",
    accuracy=(Accuracy(6.0, 0.8, 5, 0.001), Accuracy(60.0, 0.8, 5, 0.01)),
    input_resistance_ohm=10e6,
    input_capacitance_farad=100e-12,
    true_rms=True,
    isolated_link=True,
    calibrated_on=date(2025, 2, 3),
    assumed=frozenset(),
)

SETUP = Setup(
    household="Garden flat",
    reference="earth rod",
    soil="loam, under the hedge",
    moisture="moist",
    panel_distance_m=14.0,
    wire_length_m=20.0,
    supply="three-phase",
    mains_hz=50.0,
    on_battery=True,
    link_isolated=True,
    meter=MeterFacts.of(METER),
)

OFF_AT_NIGHT = ("Bedroom outlets", "Bedroom light", "Study outlets")
"""Breakers of tonight's list."""
GONE_LAMP = "Bedside lamp"
PLANNED = datetime(2025, 5, 17, 7, 30, tzinfo=UTC)

NIGHT_SCRIPT = """
every 43 min +- 1 min from 11 min: aquarium heater on
every 43 min +- 1 min from 28 min: aquarium heater off
"""


def make(
    path: Path,
    spots: Sequence[str] | None = None,
    swept: Sequence[str] = SWEPT,
    night_s: float = NIGHT_S,
) -> None:
    """Make the visit.

    Args:
        path: must not exist.
        spots: those of the scene that are read; None: all.
        swept: where the breakers are swept, of those; none for a short visit.
        night_s: length of the night.
    """
    scene = load_scene(SCENE)
    house = scene.house
    person = begin(path, scene, list(house.spots) if spots is None else spots)
    check(person)
    rounds(person)
    name_lamp_steps(person)
    for name in swept:
        person.sweep(spot_named(person.log, name))
    if swept:
        person.confirm()
        enter_night(person.log)
    person.end()
    night = SimulatedNight(NIGHT_STARTS, night_s, NIGHT_SCRIPT, seed=9)
    record_night(path, SCENE.read_text(encoding="utf-8"), house, night, ZONE, METER)
    if swept:
        plan_remedies(path)
    pack(path)


def enter_night(log: VisitLog) -> None:
    """What is on in the night to come, as the readings name it that the answer was confirmed by, and who lies where."""
    names = [(s.id, s.name) for s in log.spots.all()]
    found = switch_off_plan(log.readings.all(), names, log.circuits.all(), log.setup.current())
    assert found is not None
    spot = spot_named(log, SLEEPS_AT)
    (read,) = [one.confirming_reading for one in found.spots if one.spot_id == spot.id]
    assert read is not None
    keep_night_entry(log, NightEntry(read.condition, None, is_ahead=True))
    keep_night_spot(log, NightEntry(NightSpot(spot.id, spot.name), None, is_ahead=True))


def plan_remedies(path: Path) -> None:
    """What was decided with the household the morning after."""
    log = VisitLog.open(path, ManualClock(ns_of(PLANNED)))
    by_name = {source.name: source.id for source in log.circuits.all()}
    planned = RemedyEntry(0, RemedyDecision.PLANNED)
    for name in OFF_AT_NIGHT:
        log.remedies.add(RemedyKind.BREAKER_AT_NIGHT, planned, [by_name[name]])
    log.remedies.add(RemedyKind.UNPLUG, replace(planned, due="2025-06-01"), [by_name[GONE_LAMP]])
    log.remedies.add(
        RemedyKind.DISCONNECT,
        replace(planned, note="ask what stands on the circuit; the alarm clock may move to another outlet"),
        [by_name[OFF_AT_NIGHT[0]]],
    )
    log.close()


def make_later(path: Path, before: Path) -> None:
    """Make the visit a year later: it goes on with the home, proves what was done, and reads the spots again.

    The bedside lamp has gone as planned, the sofa's lamp too, and the light next door is brighter.

    Args:
        path: must not exist.
        before: the first visit.
    """
    scene = load_scene(SCENE)
    change_house(scene.house)
    continue_home(before, path, ManualClock(ns_of(PREPARED + A_YEAR_LATER)))
    log = VisitLog.open(path, ManualClock(ns_of(PREPARED + A_YEAR_LATER)))
    log.setup.set(SETUP)
    log.spots.remove(spot_named(log, NOT_READ_LATER).id)
    for remedy in log.remedies.all():
        if remedy.kind is RemedyKind.UNPLUG:
            done = RemedyEntry(0, RemedyDecision.DONE, done_on="2025-05-28", by_whom="the household")
            log.remedies.decide(remedy.id, done)
        elif remedy.kind is RemedyKind.BREAKER_AT_NIGHT:
            done = RemedyEntry(0, RemedyDecision.DONE, done_on="2025-05-17", by_whom="the household")
            log.remedies.decide(remedy.id, done)
    for name, details in LATER_DETAILS.items():
        log.spot_details.set(spot_named(log, name).id, details)
    log.close()
    person = Practitioner(path, scene, ns_of(START + A_YEAR_LATER), ZONE, 10, METER)
    log = person.log
    check(person)
    for condition in (EVERYTHING_ON, EVERYTHING_OFF):
        person.round_of(log.spots.all(), condition)
    sources = log.circuits.all()
    off = [source.id for source in sources if source.name in OFF_AT_NIGHT]
    out = [source.id for source in sources if source.name == GONE_LAMP]
    for name in SWEPT:
        person.send_commands(f"go to {name}")
        person.wait(6.0)
        person.read(spot_named(log, name), combination_as_at_night(off, sources, out))
    log.spots.rename(spot_named(log, RENAMED[0]).id, RENAMED[1])
    person.end()
    pack(path)


def change_house(house: House) -> None:
    """What has happened in a year."""
    for cord in ("bedside lamp", "reading lamp"):
        house.cord_states[cord].plugged = False
    house.outside_volts *= BRIGHTER_OUTSIDE


def begin(path: Path, scene: Scene, spots: Sequence[str]) -> Practitioner:
    """A visit with its set-up stated; recording has begun."""
    log = VisitLog.create(path, ManualClock(ns_of(PREPARED)))
    prepare(log, scene.house, spots)
    log.close()
    return Practitioner(path, scene, ns_of(START), ZONE, 8, METER)


def prepare(log: VisitLog, house: House, spots: Sequence[str]) -> None:
    """State the set-up; list spots, circuits and cords."""
    log.setup.set(SETUP)
    log.circumstances.set(CIRCUMSTANCES)
    for name in spots:
        spot = log.spots.add(name, house.spots[name].room, REMINDERS.get(name, ""))
        if name in DETAILS:
            log.spot_details.set(spot.id, DETAILS[name])
        if name in SKETCHES:
            log.photos.add(spot.id, drawn_sketch(name, SKETCHES[name]), "sketch", "drawn, seen from above")
    ids = {
        circuit.name: log.circuits.add("circuit", circuit.name, two_pole=len(circuit.legs) > 1).id
        for circuit in house.circuits.values()
    }
    for number, circuit in sorted(house.circuits.items()):
        log.source_details.set(ids[circuit.name], at_panel(number, circuit.name, circuit.legs))
    for cord, circuit_name in CORDS.items():
        if house.cord_states[house.find_cord(cord)].plugged:
            added = log.circuits.add("cord", cord, ids[circuit_name])
            log.source_details.set(added.id, SourceDetails(outlet=OUTLETS[cord], plug=PLUGS.get(cord, "")))


def at_panel(number: int, name: str, legs: Sequence[int]) -> SourceDetails:
    """A circuit as the invented panel has it.

    Args:
        number: its place there.
        name: of the circuit.
        legs: of the supply that it is on, from 0.
    """
    rating = LIGHTS_RATING if "light" in name or name == "Smoke alarms" else OUTLETS_RATING
    return SourceDetails(
        panel=PANEL,
        number=str(number),
        rating=COOKER_RATING if len(legs) > 1 else rating,
        leg=", ".join(f"L{leg + 1}" for leg in legs),
        residual_current_device="" if name in BEFORE_THE_DEVICE else "30 mA",
        feeds=FEEDS.get(name, ""),
        poles="phases" if len(legs) > 1 else "phase",
    )


def check(person: Practitioner) -> None:
    """Every check. The wire is moved for the wire check, and laid back for the second step of the two-rod check."""
    centre, bed = (spot_named(person.log, name) for name in (MISTAKEN, "Bed, left"))
    person.check(CheckKind.ZERO, ("probe on reference wire",), at=bed)
    person.check(
        CheckKind.REFERENCE, ("probe in hand", f"go to {MISTAKEN}"), ("wet the soil", "move"), at=centre
    )
    person.check(
        CheckKind.FUNCTION,
        ("go to Bed, left",),
        ("move", "check lamp plug"),
        ("move", "check lamp unplug"),
        at=bed,
    )
    person.check(CheckKind.LEAD, ("move",), ("move the wire", "move"), at=bed)
    person.check(CheckKind.TWO_RODS, ("probe on second rod",), ("lay the wire back",), at=bed)
    person.send_commands("probe in hand")


def rounds(person: Practitioner) -> None:
    """Every spot with everything on, some of them twice, then with everything off; one reading is mistaken."""
    log = person.log
    person.round_of(log.spots.all(), EVERYTHING_ON)
    mistaken = [r for r in log.readings.all() if r.spot_name == MISTAKEN]
    for reading in mistaken:
        log.readings.void(reading.id, "a hand was on the door frame")
        person.send_commands(f"go to {MISTAKEN}")
        person.wait(6.0)
        person.read(spot_named(log, MISTAKEN), condition=EVERYTHING_ON)
    person.round_of([spot for spot in log.spots.all() if spot.name in READ_TWICE], EVERYTHING_ON)
    spots = log.spots.all()
    at_window = 1 + next(place for place, spot in enumerate(spots) if spot.name == SEEN_OUTSIDE)
    person.round_of(spots[:at_window], EVERYTHING_OFF)
    mark = log.marks.add("the outdoor light next door is on")
    log.marks.state_about(mark.id, MarkAbout(AboutKind.SPOT, spots[at_window - 1].id))
    person.round_of(spots[at_window:], EVERYTHING_OFF)


def name_lamp_steps(person: Practitioner) -> None:
    """The cord of the bedside lamp out and in again, twice, with the name of each step."""
    log = person.log
    lamp = next(s for s in log.circuits.all() if s.name == "Bedside lamp")
    person.name_steps(lamp, spot_named(log, "Bed, left"))


def main() -> None:
    """Make both visits anew."""
    folder = Path(sys.argv[1]) if len(sys.argv) > 1 else DEMO
    first = folder / VISIT.name
    for name, build in ((VISIT.name, make), (LATER_VISIT.name, lambda path: make_later(path, first))):
        path = folder / name
        started = time.perf_counter()
        unfinished = path.with_suffix(".part")
        unfinished.unlink(missing_ok=True)
        build(unfinished)
        unfinished.replace(path)
        if folder == DEMO:
            (EXAMPLES / f"{name}.xz").write_bytes(lzma.compress(path.read_bytes(), preset=9))
        print(f"{path}: {path.stat().st_size / 1e6:.1f} MB in {time.perf_counter() - started:.0f} s")


if __name__ == "__main__":
    main()
