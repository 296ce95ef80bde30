"""A person who moves and lies still, as two factors on the circuit: stronger coupling, less capacitance to earth.

While the body moves, arms come near wiring and feet leave the floor: the reading rises, always. After a motion the
rest dies away exponentially. Everything is drawn from one seeded generator in the order of time, so that the same
seed and the same commands give the same motions however the simulation is cut into pieces.
"""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass
from math import log
from typing import Annotated

import msgspec
import numpy as np
from msgspec import Meta

from logger.body_circuit import Floats

WALK_PIECE_S = 4.0
"""Walking is drawn in pieces of this length, for as long as it lasts."""

STEP_HZ = 0.95
"""Steps of one foot a second while walking about a room."""

FOOT_SHARE = 0.35
"""Part of the capacitance to earth that a lifted foot takes away."""

AT_REST = 0.01
"""Activity below this no longer counts as moving in the truth."""

GONE_SETTLES = 10.0
"""An episode is forgotten so many time constants after it came to rest."""

KNOT_S = 0.45
"""Mean time between the turns of a movement."""


@dataclass(frozen=True, slots=True)
class BodyMovement:
    """One motion: activity by time, zero at its start, dying away after its end.

    Args:
        start_s, end_s: from the first movement to the last.
        times_s, activities: the course between them, to be joined by straight lines.
        settle_s: time constant of the decay after the end.
        feet: 0 to 1, how much of it is walking.
        footfall: angle of the first step in radians.
    """

    start_s: float
    end_s: float
    times_s: Floats
    activities: Floats
    settle_s: float
    feet: float
    footfall: float

    def at(self, times_s: Floats) -> tuple[Floats, Floats]:
        """Activity and lift of the feet (0 to 1) at these times."""
        activity = np.interp(times_s, self.times_s, self.activities, left=0.0)
        after = times_s > self.end_s
        activity = activity * np.exp(-np.maximum(times_s - self.end_s, 0.0) / self.settle_s)
        activity[times_s > self.gone_s] = 0.0
        lift = (
            self.feet * np.abs(np.sin(np.pi * STEP_HZ * times_s + self.footfall)) * (times_s >= self.start_s)
        )
        return activity, np.where(after, 0.0, lift)

    @property
    def over_s(self) -> float:
        """When its activity has died away to `AT_REST`."""
        last = float(self.activities[-1])
        return self.end_s + (self.settle_s * log(last / AT_REST) if last > AT_REST else 0.0)

    @property
    def gone_s(self) -> float:
        """From when on it plays no part at all."""
        return self.over_s + GONE_SETTLES * self.settle_s


class BodyHabits(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """How this person moves: the table [body] of a scene.

    Args:
        motions_per_hour: motions of its own accord while lying still.
        shift: standard deviation (natural logarithm of coupling) of the change of posture after such a motion.
        strength: mean activity of a motion; 1 doubles the coupling.
        settle_s: mean time constant with which a motion dies away.
        breathing: relative ripple of the coupling.
        breaths_per_minute: its rate.
        friction_volts: what cloth and bedding add while moving, in rms volts at an activity of 1.
    """

    motions_per_hour: Annotated[float, Meta(ge=0.0, le=600.0)] = 0.0
    shift: Annotated[float, Meta(ge=0.0, le=1.0)] = 0.0
    strength: Annotated[float, Meta(ge=0.0, le=10.0)] = 1.0
    settle_s: Annotated[float, Meta(ge=0.05, le=30.0)] = 0.7
    breathing: Annotated[float, Meta(ge=0.0, le=0.2)] = 0.003
    breaths_per_minute: Annotated[float, Meta(ge=5.0, le=40.0)] = 15.0
    friction_volts: Annotated[float, Meta(ge=0.0, le=5.0)] = 0.05


class Body:
    """A person with habits and a seed. Times only go forward.

    Args:
        habits: how the person moves.
        random: draws everything.
    """

    def __init__(self, habits: BodyHabits, random: np.random.Generator) -> None:
        self.habits = habits
        self._random = random
        self._episodes: deque[BodyMovement] = deque()
        self.motions: list[tuple[float, float]] = []
        """Truth: first movement and return to rest of every motion so far, in seconds."""
        self.turns: list[tuple[float, float]] = []
        """Truth: when the posture changed, in seconds, and the factor on the coupling since then."""
        self._walking = False
        self._walk_end_s = 0.0
        self._breath_phase = random.uniform(0, 2 * np.pi)
        self._drift = random.uniform(0, 2 * np.pi)
        self._next_own_s = self._draw_wait(0.0)
        self._postures: deque[tuple[float, float]] = deque([(-np.inf, 1.0)])

    def move(self, at_s: float, length_s: float | None = None, shift: float = 0.0) -> None:
        """Begin a short motion.

        Args:
            at_s: when.
            length_s: for how long; None draws it.
            shift: it comes to rest at another level when this is not 0 (see `BodyHabits.shift`).
        """
        length = length_s or float(np.clip(self._random.lognormal(1.2, 0.5), 1.5, 15.0))
        self._add(at_s, length, feet=0.0)
        if shift:
            turned_s = at_s + length * self._random.uniform(0.3, 0.7)
            self.turns.append((turned_s, float(np.exp(self._random.normal(0.0, shift)))))
            self._postures.append(self.turns[-1])

    def walk_for(self, at_s: float, length_s: float) -> None:
        """Walk for so long, then stand or lie still."""
        self._walking = False
        self._add(at_s, length_s, feet=1.0)

    def walk(self, at_s: float) -> None:
        """Walk about until `lie_still`."""
        if not self._walking:
            self._walking = True
            self._walk_end_s = at_s

    def lie_still(self, at_s: float) -> None:
        """Stop walking; the rest of the motion dies away. Motions after `at_s` are called off."""
        self._walking = False
        kept: deque[BodyMovement] = deque()
        for episode in self._episodes:
            kept.append(episode if episode.end_s <= at_s else _cut(episode, at_s))
        self._episodes = deque(e for e in kept if e.end_s > e.start_s)
        self.motions = [(s, min(e, at_s + 3 * self.habits.settle_s)) for s, e in self.motions if s < at_s]

    def factors(self, times_s: Floats) -> tuple[Floats, Floats, Floats]:
        """What the body does to the circuit at these ascending times, later than all asked for before.

        Returns:
            coupling: factor on all `C_i`, near 1 at rest.
            to_earth: factor on `C_b`, at most 1.
            activity: 0 at rest.
        """
        end_s = float(times_s[-1])
        self._draw_until(end_s)
        activity = np.zeros_like(times_s)
        lift = np.zeros_like(times_s)
        for episode in self._episodes:
            if episode.start_s <= end_s:
                more_activity, more_lift = episode.at(times_s)
                activity += more_activity
                lift = np.maximum(lift, more_lift)
        while self._episodes and times_s[0] > self._episodes[0].gone_s:
            self._episodes.popleft()
        habits = self.habits
        # Breath wanders in rate, so that it is no pure tone that an average could remove by luck.
        beat = 2 * np.pi * habits.breaths_per_minute / 60 * times_s
        ripple = np.sin(self._breath_phase + beat + 1.5 * np.sin(0.11 * times_s + self._drift))
        coupling = (1 + habits.breathing * ripple + habits.strength * activity) * self.postures(times_s)
        to_earth = 1 - FOOT_SHARE * lift - 0.1 * np.minimum(activity, 1.0)
        return coupling, to_earth, activity

    def posture_at(self, time_s: float) -> float:
        """Factor on the coupling that the present posture makes, without motion and breath."""
        return [factor for since_s, factor in self._postures if since_s <= time_s][-1]

    def postures(self, times_s: Floats) -> Floats:
        """Factor on the coupling that the posture makes at these times, as in `factors`."""
        while len(self._postures) > 1 and self._postures[1][0] <= times_s[0]:
            self._postures.popleft()
        factor = np.full_like(times_s, self._postures[0][1])
        for since_s, value in list(self._postures)[1:]:
            factor[times_s >= since_s] = value
        return factor

    def _draw_until(self, end_s: float) -> None:
        while True:
            next_walk_s = self._walk_end_s if self._walking else float("inf")
            if min(next_walk_s, self._next_own_s) > end_s:
                return
            # In the order of time, so that the drawn numbers do not depend on how far one looks ahead.
            if next_walk_s <= self._next_own_s:
                self._add(next_walk_s, WALK_PIECE_S, feet=1.0, joined=True)
                self._walk_end_s += WALK_PIECE_S
            else:
                at_s = self._next_own_s
                length_s = float(np.clip(self._random.lognormal(1.6, 0.7), 2.0, 40.0))
                self.move(at_s, length_s, self.habits.shift)
                self._next_own_s = self._draw_wait(at_s + length_s + 5.0)

    def _draw_wait(self, after_s: float) -> float:
        per_hour = self.habits.motions_per_hour
        return after_s + float(self._random.exponential(3600 / per_hour)) if per_hour else float("inf")

    def _add(self, at_s: float, length_s: float, feet: float, joined: bool = False) -> None:
        random = self._random
        count = max(3, int(length_s / KNOT_S))
        inner = np.sort(random.uniform(0.05, 0.95, count)) * length_s
        heights = random.gamma(1.6, 0.6, count)
        first = heights[0] if joined else 0.0
        episode = BodyMovement(
            at_s,
            at_s + length_s,
            np.concatenate([[at_s], at_s + inner, [at_s + length_s]]),
            np.concatenate([[first], heights, [float(random.uniform(0.15, 0.6))]]),
            self.habits.settle_s * float(random.uniform(0.6, 1.5)),
            feet,
            float(random.uniform(0, np.pi)),
        )
        self._episodes.append(episode)
        if joined and self.motions and self.motions[-1][1] >= at_s:
            self.motions[-1] = (self.motions[-1][0], episode.over_s)
        else:
            self.motions.append((at_s, episode.over_s))


def _cut(episode: BodyMovement, at_s: float) -> BodyMovement:
    """The episode, ending at `at_s` with the activity that it had then."""
    before = episode.times_s < at_s
    last = float(np.interp(at_s, episode.times_s, episode.activities))
    return BodyMovement(
        episode.start_s,
        at_s,
        np.append(episode.times_s[before], at_s),
        np.append(episode.activities[before], last),
        episode.settle_s,
        episode.feet,
        episode.footfall,
    )
