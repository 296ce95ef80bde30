"""Hands-free reading: while it is armed, the window takes each reading by itself and goes on to the next spot."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

from gui.model.visit_snapshot import VisitSnapshot
from logger.translation import tr
from logger.visit.hands_free_trigger import STILL_FOR_S, HandsFreeTrigger
from logger.visit.records.recording_records import Live

STILL_CHOICES_S = (5.0, 8.0, 15.0, 30.0)
"""Choices for how long the value must have been settled."""


@dataclass(frozen=True, slots=True)
class Countdown:
    """What the readout shows while it is armed."""

    text: str
    """With what it belongs to."""
    short_text: str
    """The same where there is no room for that."""
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
        self.has_moved_to_spot: Callable[[], bool] = lambda: True
        """Whether nothing speaks against that somebody is at the chosen spot by now; the readings know it."""
        self._taken_utc_ns: int | None = None
        """When the last reading was taken, on the steady time line; None before the first."""

    @property
    def is_armed(self) -> bool:
        """Whether it is armed."""
        return self._trigger is not None

    def arm(self) -> None:
        """Arm; only a value that settles from now on is taken, since the person is still on the way."""
        live = self._snapshot.live
        self._trigger = HandsFreeTrigger(self.still_for_s, live.beat_steady_utc_ns if live else 0)
        self._taken_utc_ns = None

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
        self._taken_utc_ns = live.beat_steady_utc_ns

    def countdown(self) -> Countdown | None:
        """What to show; None while not armed."""
        if self._trigger is None:
            return None
        left_s = self._trigger.left_s(self._snapshot.live)
        if left_s is None or self._snapshot.refusal or not self._has_moved():
            return Countdown(tr("Hands-free: move there, hold still"), tr("Move there, hold still"), 0.0)
        seconds = math.ceil(left_s)
        return Countdown(
            tr("Hands-free: taken in {seconds} s").format(seconds=seconds),
            tr("Taken in {seconds} s").format(seconds=seconds),
            1.0 - min(left_s / self.still_for_s, 1.0),
        )

    def _has_moved(self) -> bool:
        """Whether the body has moved since the last reading that was taken while armed, and to the spot of the next."""
        live = self._snapshot.live
        if live is None or not self.has_moved_to_spot():
            return False
        return self._taken_utc_ns is None or self._snapshot.has_moved(self._taken_utc_ns)
