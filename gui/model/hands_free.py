"""Hands-free reading: while it is armed, the window takes each reading by itself and goes on to the next spot."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field

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


@dataclass(frozen=True, slots=True)
class RestsOn:
    """What a hands-free reading is taken by.

    Args:
        run_id: of the newest run; None before the first.
        spot_id: of the chosen spot; None where none is.
        stated_utc_ns: when what is on was stated last.
        readings: by the ids of the readings, as what each counts: id of its spot, what was on, and why it is void.
    """

    run_id: int | None = None
    spot_id: int | None = None
    stated_utc_ns: int = 0
    readings: Mapping[int, tuple[int, str, str | None]] = field(default_factory=dict)

    def differs_from(self, before: RestsOn) -> bool:
        """Whether something became another: a reading that has come since, such as in another window, is no change.

        Nor is a chosen spot that is gone from the list: nothing is taken then, and a question is due.

        Args:
            before: what it was.
        """
        now, then = ((one.run_id, one.spot_id, one.stated_utc_ns) for one in (self, before))
        return (now != then and self.spot_id is not None) or any(
            self.readings.get(reading_id) != counted for reading_id, counted in before.readings.items()
        )


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
        self.rests_on: Callable[[], RestsOn] = RestsOn
        """What a value is taken by; the readings know it."""
        self.is_asked: Callable[[], bool] = lambda: False
        """Whether a question is open; the window knows it."""
        self._motion_after_utc_ns: int | None = None
        """The body has to move after this moment of the steady time line; None where it need not."""
        self._armed_for = RestsOn()
        """What `rests_on` gave last while it was armed."""

    @property
    def is_armed(self) -> bool:
        """Whether it is armed."""
        return self._trigger is not None

    def arm(self) -> None:
        """Arm; only a value that settles from now on is taken, since the person is still on the way."""
        live = self._snapshot.live
        self._trigger = HandsFreeTrigger(self.still_for_s, live.beat_steady_utc_ns if live else 0)
        self._motion_after_utc_ns = None
        self._armed_for = self.rests_on()

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
        """Whether a reading is due now: not while a question is open, and of no value older than what it rests on."""
        if self._trigger is None:
            return False
        self._arm_anew_after_a_change(self._trigger)
        if self.is_asked() or not self._has_moved():
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
        self._motion_after_utc_ns = live.beat_steady_utc_ns

    def _arm_anew_after_a_change(self, trigger: HandsFreeTrigger) -> None:
        """Wait for another value, after a motion, where what it rests on became another: none is older than its reason.

        Such as once a reading was voided: the value that is there now is the one that was called wrong, or came while
        somebody was at the keys.
        """
        before, self._armed_for = self._armed_for, self.rests_on()
        live = self._snapshot.live
        if live is not None and self._armed_for.differs_from(before):
            trigger.not_from_ns = self._motion_after_utc_ns = live.beat_steady_utc_ns

    def countdown(self) -> Countdown | None:
        """What to show; None while not armed."""
        if self._trigger is None:
            return None
        if self.is_asked():
            return Countdown(tr("Hands-free: waits for your answer"), tr("Waits for your answer"), 0.0)
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
        """Whether the body has moved since that was asked for last, and to the spot of the next reading."""
        live = self._snapshot.live
        if live is None or not self.has_moved_to_spot():
            return False
        since_utc_ns = self._motion_after_utc_ns
        return since_utc_ns is None or self._snapshot.has_moved(since_utc_ns)
