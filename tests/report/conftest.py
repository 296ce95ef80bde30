"""A short visit of the simulated house with all that a report tells of: checks, spots, sweep, steps, a night."""

from __future__ import annotations

import shutil
from dataclasses import replace
from pathlib import Path

import pytest

from logger.clock import NS_PER_S
from logger.metrology.checks import CheckKind
from logger.metrology.setup import Setup
from logger.settling.events import Step
from logger.simulation.fast_forward import FastForward
from logger.simulation.house.scene import Scene, read_scene
from logger.visit import VisitLog
from logger.visit.records.condition import EVERYTHING_OFF, EVERYTHING_ON
from logger.visit.records.fact_names import SCHEDULE
from tests.support.made_once import made_once
from tests.support.practitioner import Practitioner

AFTERNOON_NS = 1_767_276_000 * NS_PER_S
"""1 January 2026, 15:00 in Vienna."""

NIGHT_NS = AFTERNOON_NS + 7 * 3600 * NS_PER_S
NIGHT_HOURS = 4.5
ZONE = "Europe/Vienna"

HOUSEHOLD = "Mill <& barn>"


def scene(script: str, rate_hz: float, motions_per_hour: float) -> Scene:
    """The practice house."""
    text = (
        f'title = "test"\nstart = "Bed, left"\nscript = """\n{script}\n"""\n'
        f"[body]\nmotions_per_hour = {motions_per_hour}\nbreaths_per_minute = 13\n"
    )
    read = read_scene(text, "test", None)
    return replace(read, meter=replace(read.meter, rate_hz=rate_hz))


def work(visit: Path) -> None:
    """An afternoon's work: checks, three spots on and off, a sweep of four circuits, a step with its name."""
    log = VisitLog.create(visit)
    log.setup.set(
        Setup(
            HOUSEHOLD, "earth rod", "clay", "wet", 9.0, 14.0, "split phase", 60.0, True, True,
            target_source="the household's own",
        )
    )  # fmt: skip
    spots = [
        log.spots.add(name, room)
        for name, room in (("Bed, left", "Bedroom"), ("Desk", "Study"), ("Armchair", ""))
    ]
    for name in ("Bedroom outlets", "Bedroom light", "Study outlets", "Refrigerator"):
        log.circuits.add("circuit", name)
    lamp = log.circuits.add("cord", "lamp", log.circuits.all()[0].id)
    log.close()
    at_work = Practitioner(visit, scene("at 0 s: lie still", 5.0, 0.0), AFTERNOON_NS, ZONE, 1)
    log = at_work.log
    at_work.wait(10.0)
    at_work.check(CheckKind.ZERO, ("probe on reference wire",))
    at_work.send_commands("probe in hand")
    log.checks.skip(CheckKind.FUNCTION, "somebody is sensitive")
    at_work.round_of(spots, EVERYTHING_ON)
    log.readings.void(log.readings.all()[-1].id, "moved <too early>")
    at_work.read(spots[-1], condition=EVERYTHING_ON)
    at_work.round_of(spots, EVERYTHING_OFF)
    at_work.sweep(spots[0])
    log.readings.enter(spots[1].id, "lamp at the desk moved", 0.31, 0.02)
    log.marks.add("a window was opened & closed")
    at_work.send_commands("pull cable")
    at_work.wait(8.0)
    at_work.send_commands("plug cable", "breaker Bedroom outlets on", "lamp on")
    at_work.wait(30.0)
    at_work.send_commands("lamp unplug")
    at_work.wait(40.0)
    newest = [logged for logged in log.events.after() if isinstance(logged.event, Step)][-1]
    assert isinstance(newest.event, Step)
    log.step_labels.add(newest.run_id, newest.event, spots[0].id, "off", lamp.id)
    log.facts.set(SCHEDULE, "23:00 Bedroom light off; 00:40 the timer")
    at_work.end()


def night(visit: Path) -> None:
    """A night with a heater that comes again and again, and a breaker timer."""
    script = (
        "every 31 min from 9 min: aquarium heater on\nevery 31 min from 20 min: aquarium heater off\n"
        "at 60 min: breaker Bedroom light off"
    )
    run = FastForward(visit, scene(script, 1.0, 3.0), NIGHT_NS, ZONE, 2)
    run.run(NIGHT_HOURS * 3600.0)
    run.end()


@pytest.fixture(scope="session")
def day_visit(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """An afternoon's work; to be copied before it is changed."""
    return made_once(tmp_path_factory, "Mill.visit", work)


@pytest.fixture(scope="session")
def whole_visit(day_visit: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The same with a night; to be copied before it is changed."""

    def make(visit: Path) -> None:
        shutil.copy(day_visit, visit)
        night(visit)

    return made_once(tmp_path_factory, "Mill with a night.visit", make)
