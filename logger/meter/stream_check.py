"""Each line of a meter compared with the lines around it: is it a sample, or damage?

One lost byte makes 273 of 0.273, and nothing on that one line shows it. In a stream it shows: a meter writes its number
in the same layout, line after line, and changes it only with its range, for many lines.

In: lines as they were read by themselves, in order. Out: the same lines in the same order, those that depart from the
layout of the stream a little later, and refused where they were damaged.

The state is the layout that the stream has now, and the lines that wait. A line of this layout is delivered at once,
unless its value jumps; one of another layout waits for what comes next:

| what comes next | then |
| --- | --- |
| further lines of the new layout, which damage explains less well than a new range | the range has changed |
| a line of the stream's layout, near those before | the waiting lines are judged |

The waiting lines are judged together (`joint_judgement`): of all ways to take some of them for damaged, the likeliest.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import pairwise

from logger.clock import NS_PER_S
from logger.meter.joint_judgement import MIN_MARGIN, JointJudgement
from logger.meter.lines import TEACH_AGAIN_NOTE, LineReading, LineStatus
from logger.meter.number_layout import NumberLayout
from logger.meter.stream_history import StreamHistory
from logger.meter.stream_line import StreamLine

DAMAGED_NOTE = "it departs from the lines around it, as a damaged line does"

MIN_AGREEING_LINES = 2
"""So many lines of a layout make it the layout of the stream, where no damage explains them better."""

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
        self._newest_raw = b""
        """The newest line that is delivered."""
        self._is_newest_refused = False

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
            judged = self._judge_waiting([line]) if self._waiting else []
            judged.append(self._add(line, layout))
            return judged
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

    def _add(self, line: StreamLine, layout: NumberLayout | None = None) -> StreamLine:
        """Remember a line.

        Args:
            line: it.
            layout: of its number, where that is known already.

        Returns:
            It as it is delivered.
        """
        self._newest_raw = line.raw
        self._is_newest_refused = line.reading.status is LineStatus.UNREADABLE
        self._history.add(line, layout)
        if not self._scale_is_taught or self._taught is None or self._layout is None or not line.is_compared:
            return line
        if self._layout.is_of_range(self._taught, self._history.may_drop_zeros):
            return line
        return line._replace(reading=LineReading(LineStatus.UNREADABLE, note=TEACH_AGAIN_NOTE))

    def _is_doubtful(self, line: StreamLine) -> bool:
        """Whether a line of the stream's layout has to wait for the next one all the same."""
        if self._waiting or self._is_newest_refused:
            before = self._waiting[-1].raw if self._waiting else self._newest_raw
            if self._history.are_pieces(before, line.raw):
                return True
        return self._history.is_doubtful(line, self._others() if self._waiting else ())

    def _others(self) -> list[StreamLine]:
        """The waiting samples of another layout than the stream's."""
        return [line for line in self._compared() if line.layout != self._layout]

    def _run(self, layout: NumberLayout) -> list[StreamLine]:
        """The waiting lines of one layout; there may be damaged ones among them."""
        return [line for line in self._waiting if line.is_compared and line.layout == layout]

    def _confirms(self, run: Sequence[StreamLine]) -> bool:
        """Whether lines of one layout show that it is the layout of the stream now."""
        if len(run) < MIN_AGREEING_LINES:
            return False
        lines = self._compared()
        places = [place for place, line in enumerate(lines) if line in run][-MIN_AGREEING_LINES:]
        judgement = self._judgement(lines)
        other = min(judgement.best(drop=[place]).cost for place in places)
        return judgement.best(keep=places).cost + MIN_MARGIN <= other

    def _judgement(
        self, lines: Sequence[StreamLine], waiting: Sequence[StreamLine] | None = None
    ) -> JointJudgement:
        """How lines are judged.

        Args:
            lines: the samples among the waiting lines, and those after them.
            waiting: the waiting lines, samples or not.
        """
        waiting = self._waiting if waiting is None else waiting
        pieces: set[int] = set()
        around: list[StreamLine | None] = [None, *waiting]
        for first, second in pairwise(around):
            raw = self._newest_raw if first is None else first.raw
            assert second is not None
            if not self._history.are_pieces(raw, second.raw):
                continue
            if second.is_compared:
                pieces.add(lines.index(second))
            elif first is not None and first.is_compared:
                pieces.add(lines.index(first))
        return JointJudgement(self._history, lines, self._rules.refuses_strange, pieces)

    def _compared(self) -> list[StreamLine]:
        """The waiting lines that are samples."""
        return [line for line in self._waiting if line.is_compared]

    def _change_layout(self, layout: NumberLayout, run: Sequence[StreamLine]) -> list[StreamLine]:
        """Deliver what waits: the lines of the new layout, the others as they are judged.

        Args:
            layout: the new one.
            run: the waiting lines that have it.
        """
        self._layout = layout
        out = self._judge_waiting(keep=run[-MIN_AGREEING_LINES:])
        self._history.confirm(layout, run[-1].raw)
        return out

    def _judge_waiting(
        self, after: Sequence[StreamLine] = (), keep: Sequence[StreamLine] = ()
    ) -> list[StreamLine]:
        """Judge the waiting lines together.

        Args:
            after: samples that came after them.
            keep: lines among them that are samples in any case.
        """
        if not self._waiting:
            return []
        lines = [*self._compared(), *after]
        waiting, self._waiting = self._waiting, []
        history, rules = self._history, self._rules
        damaged: list[StreamLine] = []
        if history.samples >= rules.learned_after and history.departed_share <= rules.max_departures:
            places = [place for place, line in enumerate(lines) if line in keep or line in after]
            judgement = self._judgement(lines, waiting).best(keep=places)
            damaged = [line for line, kept in zip(lines, judgement.kept, strict=True) if not kept]
        return [self._add(_refused(line) if line in damaged else line) for line in waiting]


def _refused(line: StreamLine) -> StreamLine:
    return line._replace(reading=LineReading(LineStatus.UNREADABLE, note=DAMAGED_NOTE))
