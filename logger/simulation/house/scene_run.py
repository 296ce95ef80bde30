"""House, body and meter run by simulated time: lines of the meter and the truth behind them.

Pure and deterministic: the same scene, seed and commands at the same times give the same lines, in whatever pieces
the time is advanced. The port (`logger.simulation.protocol_sim`) paces it by the real clock; tests and benches run a
ten-hour night in seconds.
"""

from __future__ import annotations

import heapq
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import count

import numpy as np

from logger import body_circuit
from logger.body_circuit import Floats
from logger.simulation.house.body import AT_REST, Body
from logger.simulation.house.commands import Act, Command, parse_command
from logger.simulation.house.house import ProbePlace, ReferenceKind
from logger.simulation.house.meter_model import Averaging
from logger.simulation.house.scene import Entry, Scene

MIN_GRID_HZ = 50.0
"""The body's course is worked out at least so often: fast against any movement."""

MAX_PIECE_POINTS = 20_000
"""Most points of the grid in one piece, so that a night needs no memory."""

GO_TO_S = 3.0
"""How long it takes to walk to another spot."""

OVERLOAD_S = 3.0

LEADS_VOLTS = 0.002
"""What the leads alone pick up while the probe is not in the hand."""


@dataclass(frozen=True, slots=True)
class SimulatedLine:
    """A line of the meter and the truth behind it.

    Args:
        time_s: when it arrives, in seconds since the start.
        data: its bytes with their end; empty while the meter is off or the cable out (never handed out then).
        still_volts: what a perfect meter would show if the body lay still just then.
        true_volts: what is between body and reference just then, with motion.
        moving: whether the body moves.
    """

    time_s: float
    data: bytes
    still_volts: float
    true_volts: float
    moving: bool


@dataclass(frozen=True, slots=True)
class TrueSwitching:
    """A command that changed something, with the still level before and after it."""

    time_s: float
    text: str
    before_volts: float
    after_volts: float


@dataclass(order=True, slots=True)
class _Due:
    at_s: float
    order: int
    command: Command
    entry: Entry | None = None
    turn: int = 0


class Simulation:
    """A scene that runs.

    Args:
        scene: used up by this simulation: its house changes.
        seed: draws motion, noise and arrival.
    """

    def __init__(self, scene: Scene, seed: int = 0) -> None:
        self.scene = scene
        self.house = scene.house
        motion, noise, arrival, spread = (np.random.default_rng([seed, n]) for n in range(4))
        self.body = Body(scene.habits, motion)
        self._noise = noise
        self._arrival = arrival
        self._spread = spread
        meter = scene.meter
        self._every = max(1, int(np.ceil(MIN_GRID_HZ / meter.rate_hz)))
        self._step_s = 1 / (meter.rate_hz * self._every)
        self._averaging = Averaging(meter.averaging_s, self._step_s)
        self._point = 0
        self.spot = self.house.spots[scene.start_spot]
        self.cable_in = True
        self.meter_on = True
        self.meter_dc = False
        self.probe = ProbePlace.HAND
        self._overload_until_s = -1.0
        self._switched_on_s = 0.0
        self.switchings: list[TrueSwitching] = []
        self._order = count()
        self._due: list[_Due] = []
        for entry in scene.script:
            self._schedule(entry, 0)

    # ---- time

    @property
    def now_s(self) -> float:
        """Simulated time up to which everything is worked out."""
        return self._point * self._step_s

    @property
    def next_line_s(self) -> float:
        """No line arrives before this time."""
        return -(-self._point // self._every) * self._every * self._step_s

    def advance(self, until_s: float) -> list[SimulatedLine]:
        """Let time pass up to and including `until_s`; gives the lines that the meter sent, in order."""
        lines: list[SimulatedLine] = []
        end = int(until_s / self._step_s + 1e-9) + 1
        while self._point < end:
            self._execute_due()
            stop = min(end, self._point + MAX_PIECE_POINTS)
            if self._due:
                # A command takes effect at the first point of the grid that is not before it.
                stop = min(stop, max(self._point + 1, int(np.ceil(self._due[0].at_s / self._step_s - 1e-9))))
            overload_end = int(np.ceil(self._overload_until_s / self._step_s - 1e-9))
            if self._point < overload_end:
                stop = min(stop, overload_end)
            lines += self._piece(self._point, stop)
            self._point = stop
        return lines

    def run(self, length_s: float, chunk_s: float = 60.0) -> Iterator[SimulatedLine]:
        """The lines of the next `length_s` seconds, one by one, in little memory."""
        end_s = self.now_s + length_s
        while self.now_s < end_s - self._step_s:
            # Half a step short of the end, so that the line at the end belongs to what follows.
            yield from self.advance(min(self.now_s + chunk_s, end_s) - self._step_s / 2)

    # ---- what happens

    def command(self, text: str) -> None:
        """Carry out a command now.

        Raises:
            StillvoltError: it is none, or names what is not there; nothing changed.
        """
        self._execute(parse_command(text, self.house), self.now_s)

    def restore(self, text: str) -> None:
        """Replay the lasting effect of a past command at once; skip its motion.

        Raises:
            StillvoltError: as `command`.
        """
        command = parse_command(text, self.house)
        if command.act is Act.GO_TO:
            self.spot = self.house.spots[command.name]
        elif command.act not in (Act.MOVE, Act.TURN_OVER, Act.OVERLOAD):
            self._execute(command, self.now_s)

    def still_volts(self) -> float:
        """What a perfect meter would show now if the body lay still."""
        without_body = self._volts_without_body()
        if without_body is not None:
            return without_body
        charge, coupling = body_circuit.total(self.house.sources(self.spot))
        posture = self.body.posture_at(self.now_s)
        return body_circuit.meter_volts(
            charge * posture,
            coupling * posture,
            self.spot.body_farads,
            self.scene.meter.input,
            self.house.frequency_hz,
            self.house.reference(),
        )

    def _volts_without_body(self) -> float | None:
        """What is between the probe and the reference while the probe is not in the hand; None while it is."""
        match self.probe:
            case ProbePlace.REFERENCE_WIRE:
                return LEADS_VOLTS
            case ProbePlace.SECOND_ROD:
                return float(np.hypot(LEADS_VOLTS, self.house.volts_to_second_rod(self.scene.meter.input)))
            case ProbePlace.HAND:
                return None

    def _schedule(self, entry: Entry, turn: int) -> None:
        at_s = entry.at_s + turn * (entry.every_s or self.scene.repeat_s)
        if entry.spread_s:
            at_s = max(0.0, at_s + float(self._spread.uniform(-entry.spread_s, entry.spread_s)))
        heapq.heappush(self._due, _Due(at_s, next(self._order), entry.command, entry, turn))

    def _execute_due(self) -> None:
        while self._due and self._due[0].at_s <= self.now_s + 1e-9:
            due = heapq.heappop(self._due)
            self._execute(due.command, due.at_s)
            if due.entry and (due.entry.every_s or self.scene.repeat_s):
                self._schedule(due.entry, due.turn + 1)

    def _execute(self, command: Command, at_s: float) -> None:
        if command.act is Act.GO_TO and not command.word:
            # Half-way there the new spot counts.
            self.body.walk_for(at_s, GO_TO_S)
            arrived = Command(Act.GO_TO, command.text, command.name, word="arrived")
            heapq.heappush(self._due, _Due(at_s + GO_TO_S / 2, next(self._order), arrived))
            return
        before = self.still_volts()
        self._change(command, at_s)
        after = self.still_volts()
        if after != before:
            self.switchings.append(TrueSwitching(at_s, command.text, before, after))

    def _change(self, command: Command, at_s: float) -> None:
        house = self.house
        match command.act:
            case Act.CORD:
                state = house.cord_states[command.name]
                if command.word in ("plug", "unplug"):
                    state.plugged = command.on
                else:
                    state.on = command.on
            case Act.BREAKER:
                house.breakers[int(command.name)] = command.on
            case Act.EVERYTHING:
                house.breakers = dict.fromkeys(house.breakers, command.on)
            case Act.WALK:
                self.body.walk(at_s)
            case Act.LIE_STILL:
                self.body.lie_still(at_s)
            case Act.MOVE:
                self.body.move(at_s)
            case Act.TURN_OVER:
                self.body.move(at_s, shift=max(0.1, self.scene.habits.shift))
            case Act.GO_TO:
                self.spot = house.spots[command.name]
            case Act.CABLE:
                self.cable_in = command.on
            case Act.METER_POWER:
                self.meter_on = command.on
                self._switched_on_s = at_s
            case Act.METER_DC:
                self.meter_dc = command.on
            case Act.OVERLOAD:
                self._overload_until_s = at_s + OVERLOAD_S
            case Act.CHARGER:
                house.charger = command.on
            case Act.PROBE:
                self.probe = ProbePlace(command.word)
            case Act.MOVE_WIRE:
                house.wire_moved = command.on
            case Act.WET_SOIL:
                house.wet = True
            case Act.EXTRA_ROD:
                house.rods += 1
            case Act.REFERENCE:
                house.reference_kind = ReferenceKind.ROD if command.on else ReferenceKind.BUILDING

    # ---- what the meter shows

    def _piece(self, first: int, stop: int) -> list[SimulatedLine]:
        """The lines of the grid's points from `first` up to `stop`, within which nobody switches anything."""
        times_s: Floats = np.arange(first, stop, dtype=np.float64) * self._step_s
        still, true, moving = self._body_volts(times_s)
        shown = self._averaging.feed(true)
        at = slice(-first % self._every, None, self._every)
        times_s, still, true, shown, moving = times_s[at], still[at], true[at], shown[at], moving[at]
        if not len(times_s):
            return []
        meter = self.scene.meter
        # Drawn for silent lines too, so that pulling the cable does not change what comes after.
        shown = np.abs(shown + self._noise.normal(0.0, meter.noise_volts, len(times_s)))
        arrive_s = times_s + self._arrival.uniform(
            0.0, min(meter.jitter_s, 0.5 / meter.rate_hz), len(times_s)
        )
        if not (self.meter_on and self.cable_in):
            return []
        lines = []
        for arrives, still_volts, true_volts, shown_volts, moves, sent in zip(
            arrive_s.tolist(), still.tolist(), true.tolist(), shown.tolist(), moving.tolist(),
            times_s.tolist(), strict=True,
        ):  # fmt: skip
            if meter.auto_power_off_s and sent - self._switched_on_s >= meter.auto_power_off_s:
                break
            lines.append(SimulatedLine(arrives, self._line(shown_volts), still_volts, true_volts, moves))
        return lines

    def _line(self, shown_volts: float) -> bytes:
        meter = self.scene.meter
        if self.now_s < self._overload_until_s:
            return meter.overload_line()
        if self.meter_dc:
            # A body on alternating voltage has next to no direct voltage.
            return meter.dc_line(0.01 * shown_volts)
        return meter.line(shown_volts)

    def _body_volts(
        self, times_s: Floats
    ) -> tuple[Floats, Floats, np.ndarray[tuple[int], np.dtype[np.bool_]]]:
        """Still level, true voltage and whether the body moves, at these times."""
        coupling, to_earth, activity = self.body.factors(times_s)
        moving = activity > AT_REST
        without_body = self._volts_without_body()
        if without_body is not None:
            flat = np.full_like(times_s, without_body)
            return flat, flat, moving
        house, spot, meter = self.house, self.spot, self.scene.meter.input
        charge, farads = body_circuit.total(house.sources(spot))
        reference = house.reference()
        true = body_circuit.meter_volts(
            charge * coupling,
            farads * coupling,
            spot.body_farads * to_earth,
            meter,
            house.frequency_hz,
            reference,
        )
        true = np.hypot(true, self.scene.habits.friction_volts * activity)
        posture = self.body.postures(times_s)
        ones = np.ones_like(times_s)
        still = body_circuit.meter_volts(
            charge * posture, farads * posture, spot.body_farads * ones, meter, house.frequency_hz, reference
        )
        return still, true, moving
