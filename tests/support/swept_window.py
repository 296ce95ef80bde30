"""A window on a sweep of five circuits of which one must stay on, and somebody at the panel who does as it says."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

import numpy as np

from gui.dev.demo import DemoRecorder
from logger.visit import VisitLog
from tests.support.window_driver import Driver

NAMES = ("Bedroom", "Refrigerator", "Study", "Hall", "Kitchen")
OWN_VOLTS = {"Bedroom": 0.6, "Refrigerator": 0.03, "Study": 0.25, "Hall": -0.08, "Kitchen": 0.0}
"""What each circuit gives at the bed; the hall is on the other leg."""


class House:
    """A body at the bed, and somebody at the panel who does as the window says."""

    def __init__(self, driver: Driver, demo: DemoRecorder, log: VisitLog, own: dict[str, float]) -> None:
        self.driver, self.demo, self.log, self.own = driver, demo, log, own
        self.wrong: Mapping[str, Callable[[float], float]] = {}
        """What the body has in place of the true volts, by the label of the combination."""

    def volts(self, live: frozenset[int]) -> float:
        """What the body has with those circuits live, beside 0.02 V from outside, at a right angle to the legs."""
        names = [s.name for s in self.log.circuits.all() if s.kind == "circuit" and s.id in live]
        return float(np.hypot(sum(self.own[name] for name in names), 0.02))

    def read(self, seconds: float = 40.0, moved: bool = False) -> None:
        """Go to the spot that is asked for, switch as asked, press Space, hold still until it is taken.

        Args:
            seconds: how long it may take.
            moved: gets up before, also where the spot is the one that was read last.
        """
        driver = self.driver
        driver.window.refresh()  # what is asked for is on the screen before anybody switches
        found = driver.window.sweep_controller.next_reading()
        assert found is not None
        volts = self.wrong.get(found[1].label, lambda true: true)(self.volts(found[1].live))
        readings = driver.window.controller.snapshot.readings
        if moved or (readings and readings[-1].spot_id != found[0].id):
            self.demo.move(volts, volts + 3.0, 6)
        self.demo.still(volts, 3)
        driver.window.refresh()
        driver.press("Space")
        for _ in range(round(seconds)):
            if driver.asked.startswith("The value has not changed"):
                driver.answer(
                    "Yes, it was switched and nothing changed"
                )  # it was switched, and gives nothing
            if driver.window.sweep_controller.waiting is None:
                return
            self.demo.still(volts, 1)
            driver.window.refresh()
        raise AssertionError(f"{found[1].label} was not taken: {driver.message}")


def page_of(driver: Driver) -> Any:
    """The page that is in sight, whichever it is."""
    return driver.window.pages.sources.page


def add_circuits(house: House) -> None:
    house.driver.do("sweep.add")
    house.driver.type(", ".join(NAMES))
    house.driver.press("Return")


def sweep_all(house: House) -> None:
    add_circuits(house)
    read_what_is_left(house)


def read_what_is_left(house: House) -> None:
    """Read every combination that the plan still asks for at the chosen spot: one reading each."""
    sweep = house.driver.window.sweep_controller
    left = len(sweep.progress().left)
    assert left > 0
    for _ in range(left):
        house.read()
        if house.driver.asked:
            house.driver.answer("Keep it")
    assert not sweep.progress().left


def worked_out(driver: Driver) -> None:
    """Wait until tonight's answer is there; the window asks for it at each refresh."""
    for _ in range(100):
        driver.window.redraw()
        if not driver.window.sweep_controller.is_computing:
            driver.window.redraw()
            return
        driver.window.sweep_controller.wait()
    raise AssertionError("no answer")


def headline(page: Any) -> str:
    """The headline of the page Tonight without the mark that it is simulated, as all of it is here."""
    return str(page.headline.text()).removeprefix("Simulated. ")
