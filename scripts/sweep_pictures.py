"""Sweeps the breakers of the simulated house in the real window under Xvfb, by its keys, and saves pictures.

    python scripts/sweep_pictures.py FOLDER [WIDTHxHEIGHT ...]

Somebody at the panel does what the window asks for, through the house's control file, in real time; Space is pressed
after each switching. Prints how long the sweep took and how many keys it needed.
"""

from __future__ import annotations

import itertools
import sys
import tempfile
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))  # so that the tree itself can be imported

from logger.metrology.setup import Setup
from logger.simulation.house.control import send_command
from logger.simulation.house.scene import default_house
from logger.sweep.sweep_progress import Combination, sweep_progress
from logger.sweep.switch_off_plan import SwitchOffPlan, switch_off_plan
from logger.visit import VisitLog
from scripts.screenshots import at_each_size
from scripts.window_user import Keys
from scripts.x_screen import Screen

SPOT = "Bed, left"
MAX_REQUESTED = 6


def tonight(log: VisitLog) -> SwitchOffPlan | None:
    """The answer as it stands."""
    spots = [(spot.id, spot.name) for spot in log.spots.all()]
    return switch_off_plan(log.readings.all(), spots, log.circuits.all(), log.setup.current())


def wanted(log: VisitLog) -> Combination | None:
    """What the window asks for now."""
    left = sweep_progress(log.readings.all(), log.spots.all()[0].id, log.circuits.all()).left
    if left:
        return left[0]
    found = tonight(log)
    return found.next_combination if found else None


def drive(screen: Screen, folder: Path, name: str) -> None:
    """The sweep and tonight's list."""
    # Long: the keys of one sweep in their order, as a user presses them.
    work = Path(tempfile.mkdtemp(prefix="stillvolt-sweep-"))
    visit, control, house = work / "Upper flat.visit", work / "control", default_house()
    control.touch()
    number = itertools.count(1)

    def shot(what: str) -> None:
        screen.picture(folder / f"{name}-{next(number):02d}-{what}.png")

    log = VisitLog.create(visit)
    log.setup.set(Setup(supply="split phase", reference="earth rod", on_battery=True, link_isolated=True))
    log.spots.add(SPOT)
    port = f"sim://house?control={control}&seed=3"
    user = Keys(screen, ["logger", "--visit", str(visit), "--port", port, "--start"])
    user.wait("it records", lambda: log.recorder.live() is not None)
    send_command(control, f"go to {SPOT}")
    user.act("stage.sources", "page.next")
    shot("no-circuits")
    user.act("sweep.add")
    shot("asks-circuits")
    user.enter(", ".join(circuit.name for circuit in house.circuits.values()))
    user.wait("the circuits are listed", lambda: len(log.circuits.all()) == len(house.circuits))
    shot("begins")
    live = dict.fromkeys((source.id for source in log.circuits.all()), True)
    user.begin("sweep")
    taken = 0

    def switch(combination: Combination) -> None:
        for source in log.circuits.all():
            on = source.id in combination.live
            if live[source.id] != on:
                send_command(control, f"breaker {source.name} {'on' if on else 'off'}")
                live[source.id] = on

    def read(combination: Combination) -> None:
        nonlocal taken
        switch(combination)
        time.sleep(1.0)
        user.primary()
        user.take_switched(combination.label, lambda: len(log.readings.all()) > taken)
        taken = len(log.readings.all())

    while (combination := wanted(log)) is not None and sweep_progress(
        log.readings.all(), log.spots.all()[0].id, log.circuits.all()
    ).left:
        if taken == 3:
            switch(combination)
            user.primary()
            time.sleep(1.5)
            shot("waiting")
            user.take_switched(combination.label, lambda: len(log.readings.all()) > 3)
            taken += 1
            continue
        read(combination)
        if taken == 6:
            shot("half-way")
    user.begin("tonight")
    print(f"{name}: {taken} readings")
    shot("swept")
    user.act("page.next")
    time.sleep(1.5)
    shot("tonight")
    for _ in range(MAX_REQUESTED):
        combination = wanted(log)
        if combination is None:
            break
        read(combination)
        time.sleep(1.5)
        shot("tonight-read")
    user.begin("")
    user.act("tonight.details")
    shot("legs-and-advice")
    user.act("view.dark")
    shot("dark")
    user.act("tonight.details")
    shot("tonight-dark")
    user.close(stop=True)
    user.print_counts()
    for reading in log.readings.all():
        print(f"  {reading.condition}: {reading.volts:.3f}")
    log.close()


if __name__ == "__main__":
    at_each_size(drive)
