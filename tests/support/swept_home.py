"""A house of known truth and its visit log: somebody reads what the physics says, rightly or wrongly."""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping, Sequence
from contextlib import closing
from dataclasses import replace
from typing import Any

from gui.dev.demo import DemoRecorder
from logger.body_circuit import PICO
from logger.clock import ManualClock
from logger.metrology.checks import STEPS as CHECK_STEPS
from logger.metrology.checks import CheckKind
from logger.metrology.setup import Setup
from logger.metrology.supply import Supply
from logger.simulation.house.house import CordState, SimulatedCircuit, SimulatedCord
from logger.simulation.house.meter_model import USUAL_INPUT
from logger.simulation.house.scene import default_house
from logger.sweep.sweep_progress import plain_sweep
from logger.sweep.switch_off_plan import PlanState, switch_off_plan
from logger.sweep.tonights_advice import tonights_advice
from logger.visit import VisitLog

TARGET_VOLTS = 0.1
MAX_EXTRA = 8
"""Readings after the plain sweep by which the plan must be confirmed."""

LEGS = {"Bedroom": (0,), "Light": (1,), "Study": (0,), "Hall": (1,), "Kitchen": (0,)}
"""Circuits of a small home with the legs that each is on."""

METER_PORT = "/dev/ttyUSB0"

ROD_STEP_S = 20.0
"""How long each step of the check with a second rod is recorded."""


def prove_rod(log: VisitLog, clock: ManualClock) -> None:
    """Pass the check with a second rod in a visit, so that its rod counts as good as it gets.

    It is recorded in a run of its own, since a check that rests on nothing recorded is in doubt.

    Args:
        log: of the visit.
        clock: moved on by what is recorded.
    """
    spans = []
    with closing(DemoRecorder(log, clock, url=METER_PORT)) as demo:
        for _ in CHECK_STEPS[CheckKind.TWO_RODS]:
            demo.move(0.001, 2.0, 6)
            demo.still(0.001, ROD_STEP_S, noise_volts=0.0)
            spans.append(log.current_value.settled_span())
        log.checks.add(CheckKind.TWO_RODS, spans)
        demo.recorder.end("stopped")


class Home:
    """A house and its visit log: reads what the physics says, rounded as a display does.

    Args:
        log: the visit log.
        couplings: pF of each circuit (by name) at each spot (by name).
        legs: of each circuit, counted from 0.
        cords: name of a cord to its circuit; their pF are among the couplings.
        stays: circuits that must stay on.
        supply: of the house.
    """

    def __init__(
        self,
        log: VisitLog,
        couplings: Mapping[str, Mapping[str, Any]],
        legs: Mapping[str, tuple[int, ...]],
        cords: Mapping[str, str] | None = None,
        stays: Sequence[str] = (),
        supply: Supply = "split phase",
    ) -> None:
        self.log, self.cords = log, cords or {}
        self.house = default_house()
        self.house.supply = {"split phase": "split", "single phase": "single", "three-phase": "three"}[supply]
        self.house.rod = replace(self.house.rod, lead_farads=0.0)
        numbers = {name: n for n, name in enumerate(legs, 1)}
        self.house.circuits = {n: SimulatedCircuit(n, name, legs[name], False) for name, n in numbers.items()}
        self.house.breakers = dict.fromkeys(numbers.values(), True)
        self.house.cords = {
            name: SimulatedCord(name, numbers[on], "live", 0) for name, on in self.cords.items()
        }
        self.house.cord_states = {name: CordState(True, True) for name in self.cords}
        template = self.house.spots[self.house.find_spot("Bed, left")]
        self.house.spots = {
            spot: replace(
                template,
                name=spot,
                coupling_farads={
                    **{
                        str(numbers.get(thing, thing)): (pf * PICO,) * max(len(legs.get(thing, (0,))), 1)
                        if not isinstance(pf, tuple)
                        else tuple(p * PICO for p in pf)
                        for thing, pf in things.items()
                    },
                    "outside": (0.0, 0.0),
                },
            )
            for spot, things in couplings.items()
        }
        log.setup.set(
            Setup(
                supply=supply,
                reference="earth rod",
                on_battery=True,
                link_isolated=True,
                target_volts=TARGET_VOLTS,
            )
        )
        self.ids = {name: log.circuits.add("circuit", name, two_pole=len(legs[name]) > 1).id for name in legs}
        for name, on in self.cords.items():
            self.ids[name] = log.circuits.add("cord", name, self.ids[on]).id
        for name in stays:
            log.circuits.set_essential(self.ids[name], "as the household decided")
        self.spots = {name: log.spots.add(name) for name in couplings}

    def prove_rod(self, clock):
        """Pass the check with a second rod, recorded by that clock, so that the rod counts as good as it gets."""
        prove_rod(self.log, clock)

    def volts(self, live: Collection[int], spot: str) -> float:
        """The true value at a spot with those live."""
        for number, circuit in self.house.circuits.items():
            self.house.breakers[number] = self.ids[circuit.name] in live
        for name in self.cords:
            self.house.cord_states[name].plugged = self.ids[name] in live
        return self.house.still_volts(self.house.spots[spot], USUAL_INPUT)

    def read(self, combination, spot, shift_volts=0.0):
        """Take a reading as a display of millivolts shows it."""
        volts = round(self.volts(combination.live, spot) + shift_volts, 3)
        return self.log.readings.enter(
            self.spots[spot].id, combination.label, volts, 0.002, live=combination.live
        )

    def sweep(self, *spots: str, wrong: Mapping[str, Callable[[float], float]] | None = None) -> None:
        """The plain sweep at those spots (all without any).

        Args:
            *spots: their names.
            wrong: what somebody notes in place of the true volts, by the label of the combination.
        """
        for spot in spots or self.spots:
            for combination in plain_sweep(self.log.circuits.all()):
                true = self.volts(combination.live, spot)
                mistake = (wrong or {}).get(combination.label, lambda volts: volts)
                self.read(combination, spot, mistake(true) - true)

    def answer(self):
        """Work out the plan from the log as it is now."""
        spots = [(spot.id, name) for name, spot in self.spots.items()]
        return switch_off_plan(
            self.log.readings.all(), spots, self.log.circuits.all(), self.log.setup.current()
        )

    def settle(self):
        """Take the readings that are asked for until the plan is confirmed; returns it and how many were taken."""
        for extra in range(MAX_EXTRA):
            found = self.answer()
            if found.next_combination is None:
                assert found.state is PlanState.CONFIRMED
                return found, extra
            no_answer = (
                found.off,
                found.unplug,
                found.instead,
                found.off_robust,
                found.plain_rule_off,
                tonights_advice(found, {}),
            )
            assert not any(no_answer) and found.verdict is None, (
                "nothing to switch off before it is confirmed"
            )
            names = {spot.id: name for name, spot in self.spots.items()}
            self.read(found.next_combination, names[found.next_spot_id])
        raise AssertionError(f"after {MAX_EXTRA} readings it still asks for one")

    def left_volts(self, found, spot, *, of=None):
        """The true value at a spot with tonight's list (or another) switched off."""
        off = {s.id for s in (of if of is not None else (*found.off, *found.unplug))}
        return self.volts(frozenset(self.ids.values()) - off, spot)
