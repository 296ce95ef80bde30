"""Which settled spans rest on a display that stood still, and how much of their level is worth then.

In: each sample. A span of which most was frozen was no measurement and is withheld. Where less was, the level may have
wandered unseen in that part, and its uncertainty says so.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Iterable
from dataclasses import replace
from math import hypot

from logger.frozen_value import FrozenValue
from logger.settling import limits as lim
from logger.settling.events import Event, Settled


class FrozenStretches:
    """Follows where the value was frozen. Bounded memory."""

    __slots__ = ("_last_s", "_stretches", "_value")

    def __init__(self) -> None:
        self._value = FrozenValue()
        self._last_s = 0.0
        self._stretches: deque[tuple[float, float]] = deque(maxlen=lim.MAX_FROZEN_STRETCHES)

    def take_sample(self, time_s: float, volts: float, count_volts: float) -> None:
        """Take one sample.

        Args:
            time_s: when it came.
            volts: its value.
            count_volts: the meter's count.
        """
        value = self._value
        since_s = value.frozen_since_s
        value.on_value(time_s, volts, count_volts)
        if since_s is not None and value.frozen_since_s is None:
            self._stretches.append((since_s, self._last_s))
        self._last_s = time_s

    def without_frozen(self, events: Iterable[Event]) -> list[Event]:
        """Events with what is known of each span: most of it frozen, and it is withheld; part of it, and u is wider."""
        stretches = list(self._stretches)
        if self._value.frozen_since_s is not None:
            stretches.append((self._value.frozen_since_s, self._last_s))
        if not stretches:
            return list(events)
        out: list[Event] = []
        for event in events:
            if not isinstance(event, Settled):
                out.append(event)
                continue
            share = _frozen_share(event, stretches)
            if share <= lim.MAX_FROZEN_SHARE:
                unseen_volts = share * lim.BREATHING_SHARE * event.volts
                out.append(replace(event, u_volts=hypot(event.u_volts, unseen_volts)) if share else event)
        return out


def _frozen_share(event: Settled, stretches: Iterable[tuple[float, float]]) -> float:
    length_s = event.end_s - event.start_s
    frozen_s = sum(max(min(event.end_s, end) - max(event.start_s, start), 0.0) for start, end in stretches)
    return frozen_s / length_s if length_s > 0.0 else 0.0
