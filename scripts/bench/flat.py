"""How soon a flat trace is called settled, and whether it stays so: `python scripts/bench/flat.py`.

Somebody walks from one spot of the practice house to another and stays there, with everything on, everything off and
all cords on; beside it the levels of the generated families that a body's movement or a switch leads to. For each of
them: seconds of flat truth until SETTLED, how often SETTLED is given up again while the truth is flat, seconds in
CHANGING meanwhile, and by how much the time that is shown as still falls short of the span that is drawn in the end.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from itertools import pairwise, permutations
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))  # so that the tree itself can be imported

from logger.settling.detector import Detector
from logger.settling.events import State
from logger.simulation.house.scene import built_in_scene
from logger.simulation.house.scene_run import Simulation
from tests.support.traces import REPORT_SEEDS, Trace, recorded_style, varied
from tests.support.traces_held_out import breathing, other_meters
from tests.support.traces_wandering import wandering

BEFORE_S = 40.0
AFTER_S = 45.0
"""Seconds at the spot before and at the one after."""

LEAST_FLAT_S = 15.0
"""Seconds. A level that is flat for less is not asked for."""

HOUSE_COMMANDS: dict[str, tuple[str, ...]] = {
    "everything on": (),
    "all cords on": ("lamp on", "aquarium heater on", "floor lamp on", "reading light on"),
    "everything off": ("everything off",),
}
"""What is switched before somebody walks."""

FAMILIES: tuple[tuple[str, Callable[[int], Trace]], ...] = (
    ("varied", varied),
    ("recorded style", recorded_style),
    ("wandering", wandering),
    ("breathing of 1.5 %", breathing),
    ("other meters", other_meters),
)

CHANGES = (State.CHANGING, State.CHANGING_LONG)


@dataclass(frozen=True, slots=True)
class FlatLevel:
    """What the state said while the truth was flat, from `start_s` to `end_s` in seconds.

    Args:
        until_settled_s: from the start to the first SETTLED; the whole length where it never came.
        given_up: how often SETTLED ended again.
        changing_s: seconds in CHANGING.
        longest_changing_s: longest of these at one piece, after the first `SETTLED` or after `GRACE_S`.
    """

    name: str
    start_s: float
    end_s: float
    until_settled_s: float
    given_up: int
    changing_s: float
    unsettled_s: float


def follow(
    lines: list[tuple[float, float]], flats: list[tuple[str, float, float]], digit_volts: float = 0.0
) -> Iterator[FlatLevel]:
    """What the state says of flat stretches.

    Args:
        lines: times in seconds and volts.
        flats: name, start and end of each flat stretch.
        digit_volts: what the last digit is worth.
    """
    detector = Detector()
    states: list[State] = []
    for time_s, volts in lines:
        if np.isfinite(volts):
            detector.feed(time_s, volts, digit_volts)
        else:
            detector.overload(time_s)
        states.append(detector.now.state)
    times_s = np.array([time_s for time_s, _ in lines])
    for name, start_s, end_s in flats:
        first, last = np.searchsorted(times_s, [start_s, end_s])
        shown = states[first:last]
        if not shown:
            continue
        each_s = (end_s - start_s) / len(shown)
        settled_at = next((i for i, state in enumerate(shown) if state is State.SETTLED), len(shown))
        given_up = sum(a is State.SETTLED and b is not State.SETTLED for a, b in pairwise(shown))
        changing = sum(state in CHANGES for state in shown)
        unsettled = sum(state is not State.SETTLED for state in shown)
        yield FlatLevel(
            name, start_s, end_s, settled_at * each_s, given_up, changing * each_s, unsettled * each_s
        )


def house_levels(commands: tuple[str, ...], seeds: range) -> Iterator[FlatLevel]:
    """Every walk from a spot to another one, once a seed.

    Args:
        commands: what is switched first.
        seeds: one for each round of walks.
    """
    spots = list(built_in_scene("practice").house.spots)
    for seed in seeds:
        for number, (before, after) in enumerate(permutations(spots, 2)):
            scene = built_in_scene("practice")
            scene.start_spot = before
            simulation = Simulation(scene, seed * 1000 + number)
            for command in commands:
                simulation.command(command)
            lines = simulation.advance(BEFORE_S)
            simulation.command(f"go to {after}")
            lines += simulation.advance(BEFORE_S + AFTER_S)
            moving = [line.time_s for line in lines if line.moving]
            flat_s = max(moving) if moving else BEFORE_S
            values = [(line.time_s, float(line.data.split()[0])) for line in lines]
            digit_volts = scene.meter.count_volts
            name = f"{before} -> {after} seed {seed * 1000 + number}"
            yield from follow(values, [(name, flat_s, lines[-1].time_s)], digit_volts)


def family_levels(family: Callable[[int], Trace], seeds: range) -> Iterator[FlatLevel]:
    """The levels of generated traces, but for the first of each."""
    for seed in seeds:
        trace = family(seed)
        flats = [
            (f"{trace.label} seed {seed}", level.start_s, level.end_s)
            for level in trace.truth.settled[1:]
            if level.end_s - level.start_s >= LEAST_FLAT_S
        ]
        yield from follow(list(zip(trace.times_s, trace.volts, strict=True)), flats)


def show(name: str, levels: list[FlatLevel]) -> None:
    """Print a row of the table."""
    waits = np.array([level.until_settled_s for level in levels])
    given_up = np.array([level.given_up for level in levels])
    flat_s = sum(level.end_s - level.start_s for level in levels)
    changing = np.array([level.changing_s for level in levels])
    unsettled = np.array([level.unsettled_s for level in levels])
    print(
        f"| {name} | {len(levels)} | {np.median(waits):.1f} | {np.quantile(waits, 0.95):.1f} | {waits.max():.1f} "
        f"| {np.mean(given_up > 0):.1%} | {given_up.max()} | {changing.sum() / flat_s:.1%} "
        f"| {np.quantile(changing, 0.95):.1f} | {changing.max():.1f} | {np.quantile(unsettled, 0.95):.1f} "
        f"| {unsettled.max():.1f} |"
    )


def main() -> None:
    """Print the table, and with `--worst` the traces that took longest."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--seeds", type=int, default=10)
    parser.add_argument("--traces", type=int, default=100)
    parser.add_argument("--first-seed", type=int, default=REPORT_SEEDS.start)
    parser.add_argument("--worst", type=int, default=0)
    given = parser.parse_args()
    seeds = range(given.first_seed, given.first_seed + given.seeds)
    groups = {name: list(house_levels(commands, seeds)) for name, commands in HOUSE_COMMANDS.items()}
    traces = range(given.first_seed, given.first_seed + given.traces)
    groups |= {name: list(family_levels(family, traces)) for name, family in FAMILIES}
    print(flush=True)
    print(
        "| | n | median s | 95 % | longest | given up | most | share CHANGING | CHANGING 95 % | longest "
        "| unsettled 95 % | longest |\n" + "| --- " * 12 + "|"
    )
    for name, levels in groups.items():
        show(name, levels)
        for level in sorted(levels, key=lambda one: -one.unsettled_s)[: given.worst]:
            print("    ", level)


if __name__ == "__main__":
    main()
