"""Hands-free reading: while it is armed, the window takes each reading by itself and goes on to the next spot."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

from gui.model.visit_snapshot import VisitSnapshot
from logger.settling.events import Motion, Overload
from logger.visit.hands_free_trigger import STILL_FOR_S, HandsFreeTrigger
from logger.visit.records.recording_records import Live

STILL_CHOICES_S = (5.0, 8.0, 15.0, 30.0)
"""Choices for how long the value must have been settled."""


@dataclass(frozen=True, slots=True)
class Countdown:
    """What the readout shows while it is armed."""

    text: str
    share: float
    """The part of the waiting time that is over, 0 to 1."""


class HandsFree:
    """Whether hands-free reading is armed, and when a reading is due.

    Args:
        snapshot: what is known of the visit.
    """

    def __init__(self, snapshot: VisitSnapshot) -> None:
        self._snapshot = snapshot
        self.still_for_s = STILL_FOR_S
        self.on_chosen: Callable[[float], object] = lambda _: None
        """Is told each time that is chosen, seconds: the window remembers it."""
        self._trigger: HandsFreeTrigger | None = None
        self._taken_s: float | None = None
        """When the last reading was taken, on the trace's time line; None before the first."""

    @property
    def is_armed(self) -> bool:
        """Whether it is armed."""
        return self._trigger is not None

    def arm(self) -> None:
        """Arm; only a value that settles from now on is taken, since the person is still on the way."""
        live = self._snapshot.live
        self._trigger = HandsFreeTrigger(self.still_for_s, live.beat_steady_utc_ns if live else 0)
        self._taken_s = None

    def disarm(self) -> None:
        """Disarm; readings are taken by key again."""
        self._trigger = None

    def set_still_for(self, seconds: float) -> None:
        """Choose how long the value must have been settled."""
        self.still_for_s = seconds
        self.on_chosen(seconds)
        if self._trigger is not None:
            self._trigger.still_for_s = seconds

    def is_due(self) -> bool:
        """Whether a reading is due now."""
        if self._trigger is None or not self._has_moved():
            return False
        return self._trigger.is_time(self._snapshot.live, self._snapshot.refusal)

    def note_taken(self, moment: Live | None = None) -> None:
        """Note that a level was taken, also by key: the next reading needs a motion after it.

        Args:
            moment: the heartbeat of the value that was taken; None takes the newest one.
        """
        live = moment or self._snapshot.live
        if self._trigger is None or live is None:
            return
        self._trigger.taken(live)
        trace = self._snapshot.trace
        self._taken_s = (
            trace.seconds(live.beat_steady_utc_ns, live.run_id) if moment else self._snapshot.now_s
        )

    def countdown(self) -> Countdown | None:
        """What to show; None while not armed."""
        if self._trigger is None:
            return None
        left_s = self._trigger.left_s(self._snapshot.live)
        if left_s is None or self._snapshot.refusal or not self._has_moved():
            return Countdown("move there, hold still", 0.0)
        return Countdown(f"taken in {math.ceil(left_s)} s", 1.0 - min(left_s / self.still_for_s, 1.0))

    def _has_moved(self) -> bool:
        """Whether the body has moved since the last reading.

        A new settled span is not enough: a lamp that is switched begins one too, while nobody has left the spot.
        """
        if self._taken_s is None:
            return True
        # The newest motion is often still open: it is closed once the level after it is certain.
        return any(
            moved.start_s >= self._taken_s
            for moved in (
                *self._snapshot.open_events,
                *self._snapshot.events.between(Motion, self._taken_s, self._snapshot.now_s),
                *self._snapshot.events.between(Overload, self._taken_s, self._snapshot.now_s),
            )
            if isinstance(moved.event, (Motion, Overload))
        )
