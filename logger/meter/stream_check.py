"""Each line of a meter compared with the lines around it: is it a sample, or damage?

One lost byte makes 273 of 0.273, and nothing on that one line shows it. In a stream it shows: a meter writes its number
in the same layout, line after line, and changes it only with its range, for many lines.

In: lines as they were read by themselves, in order. Out: the same lines in the same order, those that depart from the
stream a little later, and refused where they were damaged or may well have been.

The state is the layout that the stream has now, and the lines that wait. A line of this layout is delivered at once,
unless its value jumps. Any other line waits, and so do the lines after it, since they show what it was:

| the oldest waiting line | is |
| --- | --- |
| whose keeping costs far less than taking it for damaged, in the light of the lines after it | delivered |
| whose keeping costs far more | refused |
| for which it stays open until it has waited for `MAX_WAIT_S` | refused, unless keeping it costs clearly less |

What it costs is worked out for all waiting lines together (`joint_judgement`). The first lines of a stream wait in the
same way, until some of them agree.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import pairwise

from logger.clock import NS_PER_S
from logger.meter.coupling_check import CouplingCheck
from logger.meter.joint_judgement import MIN_MARGIN, SAFE_MARGIN, JointJudgement
from logger.meter.lines import NEGATIVE_NOTE, TEACH_AGAIN_NOTE, LineReading, LineStatus
from logger.meter.number_layout import NumberLayout
from logger.meter.stream_history import RECENT_LINES, StreamHistory
from logger.meter.stream_line import StreamLine
from logger.meter.unit_watch import has_unit
from logger.translation import kept_text

DAMAGED_NOTE = kept_text("its number does not fit the lines around it, so it was probably damaged on the way")
CONTRADICTING_NOTES = frozenset({DAMAGED_NOTE, NEGATIVE_NOTE})
"""Lines that are refused for these reasons show a voltage, and another one than those beside them."""

MIN_FIRST_LINES = 3
"""So many first lines are judged together, since nothing is known of the stream."""

MIN_FIRST_VOLT_LINES = 4
"""So many where the first one says V: up to three in a row may have lost the m of mV, and the next one shows it."""

FIRST_DIGITS_SHARE = 0.1
"""The digits of two first lines are the same up to this share: somebody may be moving."""

MAX_REFUSED = 3
"""So many refused samples in front of a waiting line count for it."""

MAX_WAITING = 5
"""With more lines waiting, the oldest one is judged by those."""

MAX_WAIT_S = 1.0
"""A line waits for so long at most..."""
MIN_AFTER = 2
"""... but for so many readable lines after it, where the meter is slow or lines are damaged."""
ROUNDING_S = 1e-6

MAX_SILENT_INTERVALS = 4.0
MIN_SILENCE_S = 3.0
"""Lines are judged without what comes next when nothing came for so long, and for so many intervals of the meter."""


@dataclass(frozen=True, slots=True)
class StreamRules:
    """How a stream is checked.

    Args:
        learned_after: samples of a stream before any line of it is refused or waits.
        max_departures: nothing is refused where a larger share of the newest samples departs from the layout before:
            then the lines are not of one meter.
        refuses_strange: whether a line that stands alone, away from its neighbours, is refused although damage at one
            place does not explain it.
    """

    learned_after: int
    max_departures: float
    refuses_strange: bool


LIVE = StreamRules(learned_after=0, max_departures=1.0, refuses_strange=True)
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
        self._coupling = CouplingCheck()
        self._layout: NumberLayout | None = None
        """The layout of the stream now; None before one is learned."""
        self._waiting: list[StreamLine] = []
        self._refused: list[StreamLine] = []
        """The samples that were refused since the newest one that is kept: what they may have been counts for those
        after them, else a damaged line behind a doubted one would be a step from the level before."""
        self._is_piece = False
        """Whether the line that was judged last may be one piece of a line that was split."""
        self._newest_raw = b""
        """The newest line that is delivered."""
        self._alone: tuple[NumberLayout, int] | None = None
        """The layout of the newest sample whose digit count no line after it had, and how many samples came before."""
        self._is_newest_refused = False
        self._is_newest_last_piece = False
        """Whether it may be the last piece of a line that was split: then it is not the first one of another."""

    @property
    def waiting_since_ns(self) -> int | None:
        """When the oldest line came that is not delivered yet, since the start of the run; None for none."""
        return self._waiting[0].t_ns if self._waiting else None

    def take(self, line: StreamLine) -> list[StreamLine]:
        """Take the next line.

        Returns:
            The lines that are judged now, in order: mostly this line alone.
        """
        self._waiting.append(line)
        return self._judge_waiting()

    def flush(self) -> list[StreamLine]:
        """Judge the lines that wait, since nothing more comes now."""
        return self._judge_waiting(is_end=True)

    def take_silence(self, t_ns: int) -> list[StreamLine]:
        """Judge the lines that wait where nothing has come for long.

        Args:
            t_ns: now, since the start of the run.
        """
        if not self._waiting:
            return []
        patience_s = max(MIN_SILENCE_S, MAX_SILENT_INTERVALS * self._history.interval_s)
        return self.flush() if t_ns - self._waiting[-1].t_ns > patience_s * NS_PER_S else []

    def _judge_waiting(self, is_end: bool = False) -> list[StreamLine]:
        """Deliver the waiting lines of which it is clear what they are, from the oldest on.

        Args:
            is_end: nothing more comes.
        """
        out = []
        while self._waiting:
            is_kept = self._judge_oldest(is_end)
            if is_kept is None:
                break
            line = self._waiting.pop(0)
            if line.is_compared and not is_kept and not line.layout.decimals:
                self._history.note_pointless()
            if line.is_compared and (not is_kept or self._is_doubtful(line)):
                self._history.note_jump(line)
            is_alone = is_kept and line.is_compared and self._is_alone(line)
            if line.is_compared and is_kept:
                self._refused.clear()
            elif line.is_compared and not self._is_piece:
                self._refused = [*self._refused, line][-MAX_REFUSED:]
            delivered = self._add(line if is_kept else _refused(line))
            out.append(_without_digit(delivered) if is_alone else delivered)
        return out

    def _is_alone(self, line: StreamLine) -> bool:
        """Whether a kept line has another digit count than the stream and the lines after it: no change of range."""
        after = [one.layout for one in self._waiting if one.is_compared]
        if self._layout is None or not after or not self._departs(line.layout):
            return False
        if any(line.layout.is_of_range(layout, may_drop_zeros=False) for layout in after):
            return False
        before, self._alone = self._alone, (line.layout, self._history.samples)
        # What comes again soon is a meter between two ranges.
        is_again = before is not None and before[0].is_of_range(line.layout, may_drop_zeros=False)
        return not (is_again and before is not None and self._history.samples - before[1] <= RECENT_LINES)

    def _departs(self, layout: NumberLayout) -> bool:
        """Whether a number is written as in another range than that of the stream.

        Args:
            layout: of the number.
        """
        assert self._layout is not None
        return not layout.is_of_range(self._layout, may_drop_zeros=False)

    def _judge_oldest(self, is_end: bool) -> bool | None:
        """Whether the oldest waiting line is kept; None where it has to wait for more.

        Args:
            is_end: nothing more comes.
        """
        line = self._waiting[0]
        self._is_piece = False
        if not line.is_compared:
            return True
        history, rules = self._history, self._rules
        layout = line.layout
        if rules.refuses_strange and (self._has_lost_point(line) or self._has_lost_prefix(line)):
            return False
        if not rules.refuses_strange and (lost := self._has_lost_unit_in_file(line, is_end)) is not False:
            return None if lost is None else False
        if layout == self._layout and not self._is_doubtful(line):
            return True
        if rules.refuses_strange and self._has_lost_unit(line):
            return False
        if history.samples < rules.learned_after or history.departed_share > rules.max_departures:
            if layout == history.level_layout:
                self._learn(line)
            return True
        lines = [one for one in self._waiting if one.is_compared]
        is_last = is_end or len(self._waiting) > MAX_WAITING or self._is_late()
        if len(lines) < self._min_lines(line) and not is_last:
            return None
        judgement = self._judgement([*self._refused, *lines])
        oldest = len(self._refused)
        keeping = judgement.best(keep=[oldest])
        margin = judgement.best(drop=[oldest]).cost - keeping.cost
        # One line alone against the next one: a third shows which of both is damaged.
        is_one_of_two = len(lines) == MIN_AFTER and not all(keeping.kept[oldest:])
        if not is_last and (abs(margin) < MIN_MARGIN or (margin > 0 and is_one_of_two)):
            return None
        self._is_piece = judgement.is_piece(oldest)
        if margin < (0.0 if history.dropping_cost(layout) else SAFE_MARGIN):
            return False
        others = [one.layout for one, kept in zip(lines[1:], keeping.kept[oldest + 1 :], strict=True) if kept]
        if layout != self._layout and layout in (*others, history.level_layout):
            self._learn(line)
        return True

    def _min_lines(self, line: StreamLine) -> int:
        """So many lines wait before the oldest one is judged, where they may wait.

        Args:
            line: the oldest.
        """
        if self._layout is not None:
            return 2
        says_volts = line.reading.unit_exponent == 0 and has_unit(line.raw, line.reading)
        return MIN_FIRST_VOLT_LINES if says_volts else MIN_FIRST_LINES

    def _has_lost_prefix(self, line: StreamLine) -> bool:
        """Whether the m of mV was lost on one of the first lines: one after it has the same digits, and says mV.

        No voltage falls 1000-fold while its digits stay, and no damage writes an m.

        Args:
            line: it.
        """
        if self._history.samples:
            return False
        number = line.volts / 10.0**line.reading.unit_exponent
        return any(
            one.layout.unit_exponent < line.layout.unit_exponent
            and one.layout.decimals == line.layout.decimals
            and abs(one.volts / 10.0**one.reading.unit_exponent - number) <= FIRST_DIGITS_SHARE * number
            for one in self._waiting[1:]
            if one.is_compared
        )

    def _has_lost_unit(self, line: StreamLine) -> bool:
        """Whether a number came without its unit, in a stream of lines that say mV: volts it is not, however often.

        Args:
            line: it.
        """
        if self._layout is None or not self._layout.unit_exponent or line.layout.unit_exponent:
            return False
        return not has_unit(line.raw, line.reading)

    def _has_lost_unit_in_file(self, line: StreamLine, is_end: bool) -> bool | None:
        """Whether a line of a file lost its unit or the m of mV; None where the lines after it decide.

        A file may hold lines of several meters. So a number without a unit is refused only behind one in mV that is
        written with as many decimals, and one that says V only among two lines with its digits in mV.

        Args:
            line: it.
            is_end: nothing more comes.
        """
        history, level = self._history, self._history.level_layout
        if line.layout.unit_exponent or (level is not None and not level.unit_exponent):
            return False
        is_bare = not has_unit(line.raw, line.reading)
        if is_bare and level is not None:
            return level.unit_exponent < 0 and level.decimals == line.layout.decimals and bool(line.volts)

        def is_same_in_prefix(layout: NumberLayout, volts: float) -> bool:
            number = volts / 10.0**layout.unit_exponent
            is_near = abs(number - line.volts) <= FIRST_DIGITS_SHARE * line.volts
            return layout.unit_exponent < 0 and layout.decimals == line.layout.decimals and is_near

        before = level is not None and is_same_in_prefix(level, history.level or 0.0)
        if level is not None and not before:
            return False
        after = sum(is_same_in_prefix(one.layout, one.volts) for one in self._waiting[1:] if one.is_compared)
        if after and (is_bare or before or after > 1):
            return True
        return False if is_end or len(self._waiting) > MAX_WAITING else None

    def _has_lost_point(self, line: StreamLine) -> bool:
        """Whether the point of a line's number was lost: it has the digits of its neighbours, and none behind a point.

        However often this happens it is no range of the meter, unless it stays.
        """
        if line.layout.decimals:
            return False
        return any(
            one.is_compared and one.layout.lost_point_in(line.layout) for one in self._waiting[1:]
        ) or self._history.has_lost_point(line)

    def _is_late(self) -> bool:
        """Whether the oldest waiting line cannot wait for one line more."""
        waiting = self._waiting
        if sum(line.reading.status is not LineStatus.UNREADABLE for line in waiting) <= MIN_AFTER:
            return False
        interval_s = self._history.interval_s or (waiting[-1].t_ns - waiting[-2].t_ns) / NS_PER_S
        waited_s = (waiting[-1].t_ns - waiting[0].t_ns) / NS_PER_S
        return waited_s + interval_s > MAX_WAIT_S + ROUNDING_S

    def _learn(self, line: StreamLine) -> None:
        """Take note that the stream has the layout of a line now."""
        self._layout = line.layout
        self._taught = self._taught or line.layout
        self._history.confirm(line.layout, line.raw)

    def _add(self, line: StreamLine) -> StreamLine:
        """Remember a line; returns it as it is delivered."""
        self._is_newest_refused = line.reading.status is LineStatus.UNREADABLE
        self._is_newest_last_piece = (
            self._is_newest_refused
            and not self._is_newest_last_piece
            and self._history.are_pieces(self._newest_raw, line.raw)
        )
        self._newest_raw = line.raw
        self._history.add(line)
        if self._rules.refuses_strange:
            line = self._coupling.check(line)
        if not self._scale_is_taught or self._taught is None or not line.is_compared:
            return line
        if line.layout.is_of_range(self._taught, self._history.may_drop_zeros):
            return line
        return line._replace(reading=LineReading(LineStatus.UNREADABLE, note=TEACH_AGAIN_NOTE))

    def _is_doubtful(self, line: StreamLine) -> bool:
        """Whether a line of the stream's layout has to wait for the next one all the same."""
        may_be_piece = self._is_newest_refused and not self._is_newest_last_piece
        if may_be_piece and self._history.are_pieces(self._newest_raw, line.raw):
            return True
        return self._history.is_doubtful(line)

    def _judgement(self, lines: Sequence[StreamLine]) -> JointJudgement:
        """How the waiting lines are judged.

        Args:
            lines: the samples among them.
        """
        pieces: set[int] = set()
        is_last_piece = self._is_newest_last_piece
        around: list[StreamLine | None] = [None, *self._waiting]
        for first, second in pairwise(around):
            raw = self._newest_raw if first is None else first.raw
            assert second is not None
            is_last_piece = not is_last_piece and self._history.are_pieces(raw, second.raw)
            if not is_last_piece:
                continue
            pieces |= {lines.index(one) for one in (first, second) if one is not None and one.is_compared}
        return JointJudgement(self._history, lines, self._rules.refuses_strange, pieces)


def _without_digit(line: StreamLine) -> StreamLine:
    """A line whose value counts, but not what its last digit is worth: nothing says where its number stands."""
    return line._replace(reading=line.reading._replace(number_span=None))


def _refused(line: StreamLine) -> StreamLine:
    return line._replace(reading=LineReading(LineStatus.UNREADABLE, note=DAMAGED_NOTE))
