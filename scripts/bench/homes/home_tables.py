"""An invented home in tables: its circuits, cords and spots, as the simulated house and as the visit has them.

In: rows that say of each thing both what it is in truth (what couples to a body there) and what a practitioner notes of
it. Out: the text of a scene, and a visit log with everything listed and described.
"""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime
from pathlib import Path

from logger.clock import ManualClock
from logger.meter.description import Accuracy, MeterDescription
from logger.metrology.setup import Setup
from logger.simulation.house.scene import read_scene
from logger.visit import VisitLog
from logger.visit.records.circumstances import Circumstances
from logger.visit.records.home_details import SourceDetails, SpotDetails
from logger.visit.records.practitioner import Practitioner as WhoMeasured
from scripts.bench.homes.drawn_pictures import drawn_logo, drawn_photo
from tests.support.practitioner import Practitioner
from tests.support.recorded_home import Box, drawn_sketch, ns_of

METER = MeterDescription(
    name="Bench meter, optical link",
    accuracy=(Accuracy(6.0, 0.8, 5, 0.001), Accuracy(60.0, 0.8, 5, 0.01)),
    input_resistance_ohm=10e6,
    input_capacitance_farad=100e-12,
    true_rms=True,
    isolated_link=True,
    calibrated_on=date(2025, 11, 4),
    make="Invented",
    model="AC 6000",
    serial_number="00417",
    certificate="C-2025-1188, calibration laboratory of the invented maker",
    assumed=frozenset(),
)

WHO_MEASURED = WhoMeasured(
    name="Jo Sample",
    firm="Sample Building Survey",
    licence="Electrician, register no. 000",
    logo=drawn_logo(),
    telephone="+00 000 000 000",
    email="office@example.org",
)


@dataclass(frozen=True, slots=True)
class Circuit:
    """A circuit: in the house and at the panel.

    Args:
        panel, number: where its breaker is.
        name: as at the panel.
        legs: of the supply, from 1; two for a two-pole breaker.
        rating: of the breaker.
        residual_current_device: in front of it; "none" where there is none.
        feeds: what it feeds.
    """

    panel: str
    number: int
    name: str
    legs: tuple[int, ...]
    rating: str
    residual_current_device: str
    feeds: str = ""


@dataclass(frozen=True, slots=True)
class Cord:
    """A cord.

    Args:
        name: as the household calls it.
        circuit: the place of its circuit in the table, from 1.
        switch: the wire that its switch is in.
        outlet: where it is plugged in; empty: it is not plugged in, and not listed.
        on: whether it is switched on.
    """

    name: str
    circuit: int
    switch: str
    outlet: str
    on: bool = True


@dataclass(frozen=True, slots=True)
class Place:
    """A spot: in the house and in the visit.

    Args:
        name, room: of the spot.
        details: what the practitioner notes; None: nothing.
        body_pf: capacitance of the body to earth there.
        coupling_pf: by the place of a circuit in the table from 1, the name of a cord, or "outside".
        sketch_box: where it is on its drawn sketch; None for none.
        is_photographed: whether there is a drawn photo.
        reminder: what to see to before it is read.
    """

    name: str
    room: str
    details: SpotDetails | None
    body_pf: int
    coupling_pf: Mapping[int | str, float]
    sketch_box: Box | None = None
    is_photographed: bool = False
    reminder: str = ""


@dataclass(frozen=True, slots=True)
class Home:
    """A home.

    Args:
        setup, circumstances: as stated; the set-up's household is the home's name.
        supply: kind of supply of the simulated house.
        outside_degrees: phase of what comes from outside.
        circuits, cords, places: its tables.
    """

    setup: Setup
    circumstances: Circumstances
    supply: str
    circuits: Sequence[Circuit]
    cords: Sequence[Cord]
    places: Sequence[Place]
    outside_degrees: float = 100.0
    rod_ohms: float = 250.0
    start: str = field(default="")

    def scene_text(self) -> str:
        """The simulated house as the text of a scene."""
        return "\n".join((
            f"title = {_quoted(self.setup.household)}",
            f"house_name = {_quoted(self.setup.household)}",
            f"start = {_quoted(self.start or self.places[0].name)}",
            f"\n[supply]\nkind = {_quoted(self.supply)}\nvolts = 230\nfrequency_hz = 50",
            f"\n[outside]\nvolts = 230\ndegrees = {self.outside_degrees}",
            f"\n[reference]\nrod_ohms = {self.rod_ohms}\nlead_pf = 30\nbuilding_volts = 0.28\nbuilding_degrees = 40",
            "\n[meter]\nrate_hz = 4\naveraging_s = 0.4\ncounts_mv = 1\nnoise_mv = 1.5\ninput_mohm = 10\ninput_pf = 100",
            'format = "unit"',
            "\n[body]\nbreathing = 0.0015",
            *(self._circuit_table(number, row) for number, row in enumerate(self.circuits, 1)),
            *(self._cord_table(row) for row in self.cords),
            *(self._spot_table(row) for row in self.places),
        ))  # fmt: skip

    @staticmethod
    def _circuit_table(number: int, row: Circuit) -> str:
        legs = list(row.legs) if len(row.legs) > 1 else row.legs[0]
        return f"\n[[circuit]]\nnumber = {number}\nname = {_quoted(row.name)}\nleg = {legs}"

    @staticmethod
    def _cord_table(row: Cord) -> str:
        plugged, on = ("true" if flag else "false" for flag in (row.outlet, row.on))
        return (
            f"\n[[cord]]\nname = {_quoted(row.name)}\ncircuit = {row.circuit}\nswitch = {_quoted(row.switch)}\n"
            f"plugged = {plugged}\non = {on}"
        )

    @staticmethod
    def _spot_table(row: Place) -> str:
        couplings = "\n".join(f"{_quoted(str(key))} = {value}" for key, value in row.coupling_pf.items())
        posture = row.details.posture.split()[0].rstrip(",") if row.details else "sitting"
        return (
            f"\n[[spot]]\nname = {_quoted(row.name)}\nroom = {_quoted(row.room)}\nposture = {_quoted(posture)}\n"
            f"body_pf = {row.body_pf}\n[spot.coupling_pf]\n{couplings}"
        )


def begin(path: Path, home: Home, prepared: datetime, starts: datetime, zone: str, seed: int) -> Practitioner:
    """Make a visit with everything stated, listed and described; recording has begun.

    Args:
        path: must not exist.
        home: the home.
        prepared: when the set-up is entered.
        starts: when the recording begins.
        zone: IANA name of the time zone.
        seed: draws motion and noise.
    """
    log = VisitLog.create(path, ManualClock(ns_of(prepared)))
    log.setup.set(home.setup)
    log.circumstances.set(home.circumstances)
    log.practitioner.set(WHO_MEASURED)
    for number, row in enumerate(home.places, 1):
        _list_place(log, row, number)
    ids = [_list_circuit(log, row) for row in home.circuits]
    for cord in home.cords:
        if cord.outlet:
            added = log.circuits.add("cord", cord.name, ids[cord.circuit - 1])
            details = SourceDetails(outlet=cord.outlet, plug=CORD_PLUG, entered_by=WHO_MEASURED.name)
            log.source_details.set(added.id, details)
    log.close()
    scene = read_scene(home.scene_text(), home.setup.household, None)
    return Practitioner(path, scene, ns_of(starts), zone, seed, METER)


CORD_PLUG = "plug without earth contact; switch in the cord, one pole"
"""Of every invented cord."""


def _list_place(log: VisitLog, row: Place, number: int) -> None:
    spot = log.spots.add(row.name, row.room, row.reminder)
    if row.details is not None:
        log.spot_details.set(spot.id, row.details)
    if row.is_photographed:
        photo = drawn_photo(row.name, seed=number)
        log.photos.add(spot.id, photo, "photo", f"{row.room}, from the door", WHO_MEASURED.name)
    if row.sketch_box is not None:
        sketch = drawn_sketch(row.name, row.sketch_box)
        log.photos.add(spot.id, sketch, "sketch", "drawn, seen from above", WHO_MEASURED.name)


def _list_circuit(log: VisitLog, row: Circuit) -> int:
    circuit = log.circuits.add("circuit", row.name, two_pole=len(row.legs) > 1)
    log.source_details.set(
        circuit.id,
        SourceDetails(
            panel=row.panel,
            number=str(row.number),
            rating=row.rating,
            leg=", ".join(f"L{leg}" for leg in row.legs),
            residual_current_device=row.residual_current_device,
            feeds=row.feeds,
            poles="phases" if len(row.legs) > 1 else "phase",
            shown_off="tester at the outlet"
            if "outlets" in row.name
            else "lamp went out"
            if "light" in row.name
            else "",
            entered_by=WHO_MEASURED.name,
        ),
    )
    return circuit.id


def _quoted(text: str) -> str:
    return json.dumps(text, ensure_ascii=False)
