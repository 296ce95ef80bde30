"""Which settled spans rest on a display that stood still, and how much of their level is worth then.

In: each sample. Of a span of which most was frozen only the measured parts are left. Where less was, the level may have
wandered unseen in that part, and its uncertainty says so.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Iterable
from dataclasses import dataclass, replace
from math import hypot

from logger.frozen_value import FrozenValue
from logger.settling import limits as lim
from logger.settling.events import Event, Settled


@dataclass(frozen=True, slots=True)
class _Stretch:
    """A time on one value.

    Args:
        start_s: when it came first.
        end_s: when it came last.
        until_s: when the next value came; as `end_s` while there is none.
        volts: the value.
        lines: how often it came.
    """

    start_s: float
    end_s: float
    until_s: float
    volts: float
    lines: int

    def shared_s(self, span: Settled) -> float:
        """How much of it is in a span, s."""
        return max(min(span.end_s, self.end_s) - max(span.start_s, self.start_s), 0.0)


class FrozenStretches:
    """Follows where the value was frozen. Bounded memory."""

    __slots__ = ("_last_s", "_last_volts", "_lines", "_stretches", "_value")

    def __init__(self) -> None:
        self._value = FrozenValue()
        self._last_s = self._last_volts = 0.0
        self._lines = 0
        self._stretches: deque[_Stretch] = deque(maxlen=lim.MAX_FROZEN_STRETCHES)

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
            self._stretches.append(_Stretch(since_s, self._last_s, time_s, self._last_volts, self._lines))
        self._lines = self._lines + 1 if volts == self._last_volts else 1
        self._last_s, self._last_volts = time_s, volts

    def without_frozen(self, events: Iterable[Event]) -> list[Event]:
        """Events with what is known of each span: most of it frozen, and its measured parts are left; else u is wider.

        The measured parts have the mean of all that was measured in the span, which is one level.
        """
        stretches = list(self._stretches)
        if self._value.frozen_since_s is not None:
            since_s, last_s = self._value.frozen_since_s, self._last_s
            stretches.append(_Stretch(since_s, last_s, last_s, self._last_volts, self._lines))
        if not stretches:
            return list(events)
        out: list[Event] = []
        for event in events:
            if not isinstance(event, Settled):
                out.append(event)
                continue
            share = _frozen_share(event, stretches)
            unseen_volts = share * lim.BREATHING_SHARE * event.volts
            if not share:
                out.append(event)
            elif share <= lim.MAX_FROZEN_SHARE:
                out.append(replace(event, u_volts=hypot(event.u_volts, unseen_volts)))
            else:
                out += _measured_parts(event, stretches, unseen_volts)
        return out


def _frozen_share(event: Settled, stretches: Iterable[_Stretch]) -> float:
    length_s = event.end_s - event.start_s
    return sum(stretch.shared_s(event) for stretch in stretches) / length_s if length_s > 0.0 else 0.0


def _measured_parts(span: Settled, stretches: Iterable[_Stretch], unseen_volts: float) -> list[Event]:
    """The parts of a span that were measured, but for those that are too short to be a level by themselves.

    Args:
        span: most of it frozen.
        stretches: when the display was frozen.
        unseen_volts: how far the level may have wandered unseen, V.
    """
    parts, start_s, left, sum_volts = [], span.start_s, span.samples, span.samples * span.volts
    for stretch in stretches:
        shared_s = stretch.shared_s(span)
        if not shared_s:
            continue
        lines = round(stretch.lines * shared_s / (stretch.end_s - stretch.start_s))
        left, sum_volts = left - lines, sum_volts - lines * stretch.volts
        parts.append((start_s, stretch.start_s))
        start_s = stretch.until_s
    parts = [(a, b) for a, b in [*parts, (start_s, span.end_s)] if b - a >= lim.FIRST_CONFIRM_S]
    if left <= 0 or not parts:
        return []
    volts = sum_volts / left
    # The frozen lines had no scatter: what they seemed to add to the certainty of the mean is taken away.
    u_volts = hypot(span.u_volts * span.samples / left, unseen_volts)
    measured_s = sum(b - a for a, b in parts)
    return [
        replace(
            span, start_s=a, end_s=b, volts=volts, u_volts=u_volts,
            samples=max(round(left * (b - a) / measured_s), 1),
        )
        for a, b in parts
    ]  # fmt: skip
