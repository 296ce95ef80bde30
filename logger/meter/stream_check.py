"""Each line of a meter compared with the lines around it: is it a sample, or damage?

One lost byte makes 273 of 0.273, and nothing on that one line shows it. In a stream it shows: a meter writes its number
in the same layout, line after line, and changes it only with its range, for many lines.

In: lines as they were read by themselves, in order. Out: the same lines in the same order, those that depart from the
layout of the stream a little later, and refused where they were damaged.

The state is the layout that the stream has now, and the lines that wait. A line of this layout is delivered at once,
unless its value jumps; one of another layout waits for what comes next:

| what comes next | then |
| --- | --- |
| a second line of the new layout, and no damage at one place explains both | the range has changed |
| more lines of the new layout, though damage explains each | the range has changed, after `_needed_lines` |
| a line of the stream's layout | each waiting line is judged by itself |

Damage explains a line where one place of it, mended after the pattern of its neighbours, gives a line whose value is
among theirs (`line_damage`). Such a line is refused, unless its own value is so near to theirs that it is not false.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from logger.clock import NS_PER_S
from logger.meter.lines import TEACH_AGAIN_NOTE, LineReading, LineStatus
from logger.meter.number_layout import NumberLayout
from logger.meter.stream_history import StreamHistory, StreamLine, is_step

DAMAGED_NOTE = "it departs from the lines around it, as a damaged line does"

MIN_AGREEING_LINES = 2
"""So many lines of a layout in a row make it the layout of the stream, where damage does not explain them all."""
MIN_CONFIRMING_LINES = 3
"""So many at least where it does."""
CHANCE_ALIKE = 0.1
"""Of two damaged lines, this share has the same layout: the same loss at one of some ten places."""
MAX_RUN_CHANCE = 1e-5
"""More lines have to confirm where damage is frequent: a run of lines damaged alike has to be rarer than this."""

MAX_WAITING = 8
"""With so many lines waiting, the stream has no layout: each is judged by itself."""

MAX_WAIT_INTERVALS = 4.0
MIN_WAIT_S = 3.0
"""Lines are judged without what comes next when nothing came for so long, and for so many intervals of the meter."""


@dataclass(frozen=True, slots=True)
class StreamRules:
    """How a stream is checked.

    Args:
        learned_after: samples of a stream before any line of it is refused.
        max_departures: nothing is refused where a larger share of the newest samples departs from the layout before:
            then the lines are not of one meter.
        refuses_strange: whether a line that stands alone, away from its neighbours, is refused although damage at one
            place does not explain it.
    """

    learned_after: int
    max_departures: float
    refuses_strange: bool


LIVE = StreamRules(learned_after=2, max_departures=1.0, refuses_strange=True)
"""A meter at a port."""
FILE = StreamRules(learned_after=20, max_departures=0.25, refuses_strange=False)
"""Lines from a file, which may be of several meters: only what is damaged for certain is refused."""


class StreamCheck:
    """Checks the lines of one meter, one after the other.

    Args:
        rules: how strictly.
        read: reads a line by itself, as the lines that come in were read.
        scale_is_taught: what a count is worth was taught by the user; it is not known for another range.
    """

    def __init__(
        self, rules: StreamRules, read: Callable[[bytes], LineReading], scale_is_taught: bool = False
    ) -> None:
        self._rules = rules
        self._scale_is_taught = scale_is_taught
        self._taught: NumberLayout | None = None
        """The layout that the stream had first, where its scale was taught."""
        self._history = StreamHistory(read)
        self._layout: NumberLayout | None = None
        """The layout of the stream now; None before one is learned."""
        self._before: NumberLayout | None = None
        """While nothing is learned: the layout of the line before."""
        self._waiting: list[StreamLine] = []

    @property
    def waiting_since_ns(self) -> int | None:
        """When the oldest line came that is not delivered yet, since the start of the run; None for none."""
        return self._waiting[0].t_ns if self._waiting else None

    def take(self, line: StreamLine) -> list[StreamLine]:
        """Take the next line.

        Returns:
            The lines that are judged now, in order: mostly this line alone.
        """
        if not line.is_compared:
            if not self._waiting:
                return [self._add(line)]
            self._waiting.append(line)
            return self._judge_waiting() if len(self._waiting) > MAX_WAITING else []
        layout = line.layout
        if self._layout is None:
            if layout == self._before:
                self._layout = layout
                self._history.confirm(layout, line.raw)
                self._taught = self._taught or layout
            self._before = layout
            return [self._add(line)]
        if layout == self._layout and not self._is_doubtful(line):
            return [*self._judge_waiting([line]), self._add(line)]
        self._waiting.append(line)
        run = self._run(layout)
        if self._confirms(run):
            return self._change_layout(layout, run)
        if len(self._waiting) > MAX_WAITING:
            self._layout, self._before = None, layout
            return self._judge_waiting()
        return []

    def flush(self) -> list[StreamLine]:
        """Judge the lines that wait, since nothing more comes now."""
        if self._waiting and self._waiting[-1].is_compared:
            layout = self._waiting[-1].layout
            run = self._run(layout)
            if len(run) >= MIN_AGREEING_LINES:
                return self._change_layout(layout, run)
        return self._judge_waiting()

    def take_silence(self, t_ns: int) -> list[StreamLine]:
        """Judge the lines that wait where nothing has come for long.

        Args:
            t_ns: now, since the start of the run.
        """
        if not self._waiting:
            return []
        patience_s = max(MIN_WAIT_S, MAX_WAIT_INTERVALS * self._history.interval_s)
        return self.flush() if t_ns - self._waiting[-1].t_ns > patience_s * NS_PER_S else []

    def _add(self, line: StreamLine) -> StreamLine:
        """Remember a line; returns it as it is delivered."""
        self._history.add(line)
        if not self._scale_is_taught or self._taught is None or self._layout is None or not line.is_compared:
            return line
        if self._layout.is_of_range(self._taught, self._history.may_drop_zeros):
            return line
        return line._replace(reading=LineReading(LineStatus.UNREADABLE, note=TEACH_AGAIN_NOTE))

    def _is_doubtful(self, line: StreamLine) -> bool:
        """Whether a line of the stream's layout has to wait for the next one all the same."""
        others = [one for one in self._waiting if one.is_compared and one.layout != self._layout]
        return self._history.is_jump(line) or self._history.is_suspect(line, others)

    def _run(self, layout: NumberLayout) -> list[StreamLine]:
        """The waiting lines of one layout; there may be damaged ones among them."""
        return [line for line in self._waiting if line.is_compared and line.layout == layout]

    def _confirms(self, run: Sequence[StreamLine]) -> bool:
        """Whether lines of one layout show that it is the layout of the stream now."""
        if len(run) < MIN_AGREEING_LINES:
            return False
        if len(run) >= self._needed_lines():
            return True
        compared = [line for line in self._waiting if line.is_compared]
        if (
            compared[-2] is not run[-2]
            or run[-1].behind != run[-2].behind
            or is_step(run[-2].volts, run[-1].volts)
        ):
            return False
        others = [line for line in compared if line not in run][-1:]
        return not all(self._history.is_explained(line, others, is_moving=True) for line in run)

    def _needed_lines(self) -> int:
        """How many lines confirm a layout although damage explains each of them."""
        chance = CHANCE_ALIKE * self._history.damaged_share
        return max(1 + math.ceil(math.log(MAX_RUN_CHANCE) / math.log(chance)), MIN_CONFIRMING_LINES)

    def _change_layout(self, layout: NumberLayout, run: Sequence[StreamLine]) -> list[StreamLine]:
        """Deliver what waits: the lines of the new layout, the others as they are judged.

        Args:
            layout: the new one.
            run: the waiting lines that have it.
        """
        self._layout = layout
        self._history.confirm(layout, run[-1].raw)
        waiting, self._waiting = self._waiting, []
        out = []
        for place, line in enumerate(waiting):
            following = [one for one in waiting[place + 1 :] if one in run]
            if line in run and not (following and self._history.is_broken_run(line, following[0])):
                out.append(self._add(line))
            else:
                out.append(self._judge(line, following))
        return out

    def _judge_waiting(self, after: Sequence[StreamLine] = ()) -> list[StreamLine]:
        """Judge each waiting line by itself.

        Args:
            after: samples that came after them.
        """
        waiting, self._waiting = self._waiting, []
        out = []
        for place, line in enumerate(waiting):
            later = [one for one in waiting[place + 1 :] if one.is_compared and one.layout == self._layout]
            out.append(self._judge(line, [*later, *after]))
        return out

    def _judge(self, line: StreamLine, after: Sequence[StreamLine]) -> StreamLine:
        """A waiting line as it is delivered.

        Args:
            line: it.
            after: samples that came after it.
        """
        if line.is_compared and self._is_damaged(line, after):
            line = line._replace(reading=LineReading(LineStatus.UNREADABLE, note=DAMAGED_NOTE))
        return self._add(line)

    def _is_damaged(self, line: StreamLine, after: Sequence[StreamLine]) -> bool:
        history = self._history
        rules = self._rules
        if history.samples < rules.learned_after or history.departed_share > rules.max_departures:
            return False
        if history.is_explained(line, after):
            return not history.is_near(line, after)
        return rules.refuses_strange and history.is_strange(line, after)
