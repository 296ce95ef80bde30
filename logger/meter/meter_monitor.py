"""What the meter itself does in mid-session.

Its function knob is turned, its range changes, its display is held or frozen, its battery is low, it is switched off,
its lines arrive damaged, it is exchanged for another.

In: each line as it was read, with its time in seconds. Out: now and then a `NoticeDraft`: one sentence for the user, to
be kept in the log. `problem` is what is wrong with the meter now, as long as it lasts.
"""

from __future__ import annotations

from logger.meter.battery_watch import BatteryWatch
from logger.meter.channel_turns import ChannelTurns
from logger.meter.coupling_check import CONTRADICTED_NOTE
from logger.meter.frozen_display import FrozenDisplay
from logger.meter.function_turns import FunctionTurns
from logger.meter.interpretation import OTHER_VALUES, LineFlag
from logger.meter.last_digit import shown_digit
from logger.meter.line_flow import LineFlow
from logger.meter.line_form import LineFormWatch
from logger.meter.lines import NEGATIVE_NOTE, TEACH_AGAIN_NOTE, LineReading, LineStatus
from logger.meter.notice_draft import NoticeDraft
from logger.meter.point_watch import OPEN_POINT_NOTE, PointWatch
from logger.meter.tokens import (
    CAPITAL_PREFIX_NOTE,
    COMMA_NOTE,
    NO_VALUE_NOTE,
    is_for_other_form,
    is_for_unknown_word,
    unknown_word_sentence,
)
from logger.meter.unit_watch import OPEN_UNIT_NOTE, UnitWatch
from logger.translation import kept_text

SURE_LINES = 2
"""So many lines in a row must say the same before it counts: one may be damaged in a way that reads."""

OTHER_FORM = kept_text(
    "The meter now sends another line form than the taught one ({note}), so its lines are not read. Teach it again "
    "(identify it, type what its display shows, and keep it); or stop, and record without its description."
)

OTHER_RANGE = kept_text(
    "The meter's range is another than when its scale was taught; teach it again, or set the range back."
)
NEGATIVE = kept_text("The meter sends negative volts; set it to AC volts.")
OPEN_COMMA = kept_text(
    "A comma may be a decimal comma or separate thousands. Lines such as 0,273 or 12,04 settle it."
)
OPEN_PREFIX = kept_text(
    "The meter sends MV, which may be millivolts or megavolts, so its lines are not read. Stop, and teach it (identify "
    "it, type what its display shows, and keep it)."
)
NO_VALUE = kept_text(
    "The meter shows dashes and no value: it may be measuring anew, or it cannot measure what is at its input."
)
CONTRADICTED = kept_text(
    "Some lines of the meter say DC and others say neither AC nor DC; set it to AC volts alone, and wait 10 s."
)
NO_AC_VOLTS = kept_text("The meter does not send AC volts.")

NO_VALUE_LINES = 8
"""So many lines of dashes in a row are more than a meter shows while it changes its range."""

RANGE_NOTICE_EVERY_S = 60.0
"""A meter that goes to and fro between two ranges gives one notice in this time."""


SEVERAL_CHANNELS_NOTE = kept_text("the lines name several channels")


class MeterMonitor:
    """Follows one meter line by line. Plain state, constant memory.

    Args:
        unit_is_stated: a description of the meter states what its numbers are.
        unit_is_fixed: they are that in every range.
        taught_digit_volts: what their last digit was worth when that was stated, volts; 0 where nobody knows.
    """

    def __init__(
        self, unit_is_stated: bool = False, unit_is_fixed: bool = False, taught_digit_volts: float = 0.0
    ) -> None:
        self.problem = ""
        """What is wrong with the meter now, in one sentence; empty when nothing is."""
        self._frozen = FrozenDisplay()
        self._turns = FunctionTurns()
        self._channels = ChannelTurns()
        self._unit = UnitWatch(unit_is_stated, unit_is_fixed, taught_digit_volts)
        self._point = PointWatch()
        self._flow = LineFlow()
        self._form = LineFormWatch()
        self._battery = BatteryWatch()
        self._state: tuple[str, str] = ("", "")
        self._candidate: tuple[str, str] = ("", "")
        self._candidate_lines = 0
        self._resolution: str = ""
        self._count_volts = 0.0
        self._digit_volts = 0.0
        self._range_noticed_s: float | None = None
        self._range_changes = 0
        self._shape = b""

    def on_line(self, time_s: float, raw: bytes, reading: LineReading) -> list[NoticeDraft]:
        """Take one line of the meter.

        Args:
            time_s: when it came.
            raw: the line without its terminator.
            reading: how it is read.

        Returns:
            What is new, mostly nothing.
        """
        out = self._flow.on_line(time_s, raw, reading)
        turns = self._turns.on_line(time_s, reading)
        is_volts = reading.status is LineStatus.VOLTS
        shape = raw.translate(_DIGITS_ALIKE)
        # A line of the same shape as an ordinary one before it says nothing new but its value.
        if shape != self._shape or not is_volts:
            self._watch_state(reading, out)
            if self._turns.is_turning(time_s):
                # One notice for all of them, not one each time.
                out = [one for one in out if one.kind != "function"]
            if is_volts:
                self._watch_range(time_s, raw, reading, out)
            # A line that is refused may have flags that this one does not show.
            is_ordinary = is_volts and not (self._candidate_lines or self._state[1])
            self._shape = shape if is_ordinary else b""
        out += turns
        out += self._battery.on_line(time_s, raw, reading)
        unit_news = self._unit.on_line(raw, reading)
        point_news = self._point.on_line(raw, reading)
        if self._unit.problem or self._point.problem:
            # What the last digit is worth is what nobody knows.
            out = [one for one in out if one.kind != "range"]
        out += unit_news + point_news
        if is_volts:
            out += self._channels.on_line(time_s, raw, reading)
            out += self._form.on_line(time_s, raw, reading)
            assert reading.volts is not None
            out += self._frozen.on_line(time_s, reading.volts, self._count_volts or self._digit_volts)
        self._note_problem(time_s)
        return out

    def on_digit(self, digit_volts: float) -> None:
        """Take note of what the last digit of the newest sample is worth, in volts, where its line does not show it."""
        self._digit_volts = digit_volts

    def on_bytes(self, time_s: float) -> None:
        """Take note that bytes have come at a time, whatever they make."""
        self._flow.on_bytes(time_s)

    def on_received(self, time_s: float, raw: bytes) -> None:
        """Take note of a whole line that has come at a time and is not judged yet."""
        self._flow.on_received(time_s, raw)

    def on_port_back(self) -> None:
        """Take note that the port was lost and is back: another device may answer at it now."""
        self._form.on_port_back()

    def on_pause(self, time_s: float) -> None:
        """Take note that until a time nobody listened, as the recorder itself did not run."""
        self._flow.on_pause(time_s)

    def on_silence(self, time_s: float) -> list[NoticeDraft]:
        """Take note of the time, while the port is open; returns what is new where no line has come for long."""
        out = self._flow.on_silence(time_s)
        if out:
            self._note_problem(time_s)
        return out

    def _note_problem(self, time_s: float) -> None:
        """The one thing that is wrong, the worst first."""
        own = self._channels.problem or self._unit.problem or self._point.problem or self._frozen.problem
        own = (
            own or self._state[1] or self._form.problem(time_s) or self._flow.damage or self._battery.problem
        )
        self.problem = self._flow.interruption or own

    @property
    def frozen(self) -> bool:
        """Whether the display stands on one value although the voltage cannot."""
        return bool(self._frozen.problem)

    @property
    def no_sample_note(self) -> str:
        """Why the newest line is no sample, in a few words; empty where it is one."""
        if self._channels.problem:
            return SEVERAL_CHANNELS_NOTE
        if self._unit.problem:
            return OPEN_UNIT_NOTE
        return OPEN_POINT_NOTE if self._point.problem else self._form.no_sample_note

    def _watch_state(self, reading: LineReading, out: list[NoticeDraft]) -> None:
        """Function and flags: what the line says of the meter besides its value."""
        if reading.note == TEACH_AGAIN_NOTE:
            state = ("teach again", OTHER_RANGE)
        elif is_for_other_form(reading.note):
            state = ("teach again", OTHER_FORM.format(note=reading.note))
        elif reading.note == NEGATIVE_NOTE:
            state = ("function", NEGATIVE)
        elif is_for_unknown_word(reading.note):
            state = ("unknown word", unknown_word_sentence(reading.note))
        elif reading.note == COMMA_NOTE:
            state = ("comma", OPEN_COMMA)
        elif reading.note == CAPITAL_PREFIX_NOTE:
            state = ("prefix", OPEN_PREFIX)
        elif reading.note == NO_VALUE_NOTE:
            state = ("no value", NO_VALUE)
        elif reading.status is LineStatus.UNREADABLE:
            return
        elif reading.status is LineStatus.NOT_AC_VOLTS:
            state = ("function", _function_sentence(reading.note))
        elif flags := reading.flags - {LineFlag.LOW_BATTERY}:
            flag = min(flags, key=list(LineFlag).index)
            state = _STATE_OF[flag]
        else:
            state = ("", "")
        if state == self._state:
            self._candidate_lines = 0
            return
        # Two other functions in turn are one news, whichever of them a line names.
        is_new_kind = state[0] != self._state[0]
        if state[0] != self._candidate[0] or not (is_new_kind or state == self._candidate):
            self._candidate_lines = 0
        self._candidate = state
        self._candidate_lines += 1
        if self._candidate_lines < (NO_VALUE_LINES if state[0] == "no value" else SURE_LINES):
            return
        before, self._state = self._state, state
        if state[1]:
            out.append(NoticeDraft(*state))
        else:
            out.append(NoticeDraft(before[0], _OVER[before[0]]))

    def _watch_range(self, time_s: float, raw: bytes, reading: LineReading, out: list[NoticeDraft]) -> None:
        """A change of the last digit's worth: another range, by hand or by itself.

        Args:
            time_s: when the line came.
            raw: the line.
            reading: how it is read.
            out: takes what is new.
        """
        count_volts = _count_volts(raw, reading)
        self._count_volts = count_volts or self._count_volts
        resolution = f"{round(count_volts * 1e6) / 1000:g} mV" if count_volts else ""
        if not resolution or resolution == self._resolution:
            return
        before, self._resolution = self._resolution, resolution
        if not before:
            return
        self._range_changes += 1
        if self._range_noticed_s is not None and time_s - self._range_noticed_s < RANGE_NOTICE_EVERY_S:
            return
        message = (
            kept_text(
                "The meter changed its range: the last digit is now {now}, before {before} (changed {n} times since "
                "the last such notice)."
            )
            if self._range_changes > 1
            else kept_text("The meter changed its range: the last digit is now {now}, before {before}.")
        ).format(now=resolution, before=before, n=self._range_changes)
        self._range_noticed_s, self._range_changes = time_s, 0
        out.append(NoticeDraft("range", message))


_DIGITS_ALIKE = bytes.maketrans(b"123456789", b"0" * 9)

_STATE_OF = {
    LineFlag.HOLD: ("hold", kept_text("The meter holds its display; release HOLD.")),
    LineFlag.EXTREME: (
        "hold",
        kept_text("The meter shows a minimum, maximum or average; switch to the value of this moment."),
    ),
    LineFlag.RELATIVE: (
        "hold",
        kept_text("The meter shows the difference from a stored value; switch REL off."),
    ),
    LineFlag.LOW_IMPEDANCE: (
        "low impedance",
        kept_text(
            "The meter has its low input impedance on, which takes the body voltage away; switch it off."
        ),
    ),
}
"""Kind and sentence of the notice of each flag."""

_OVER = {
    "teach again": kept_text("Over: the lines are read again as the meter was taught."),
    "function": kept_text("The meter sends AC volts again."),
    "unknown word": kept_text("Over: the lines are read again, without a word that is not known."),
    "comma": kept_text("Over: the comma of the numbers is no longer open."),
    "prefix": kept_text("Over: the meter no longer sends MV."),
    "no value": kept_text("Over: the meter shows values again."),
    "hold": kept_text("Over: the meter shows the value of this moment again."),
    "low impedance": kept_text("Over: the meter's low input impedance is off again."),
}
"""What is said of each kind when it is over."""


def _function_sentence(note: str) -> str:
    """That the meter sends something else than AC volts, by why its line was not read."""
    if note == CONTRADICTED_NOTE:
        return CONTRADICTED
    return OTHER_VALUES[note].sentence if note in OTHER_VALUES else NO_AC_VOLTS


def _count_volts(raw: bytes, reading: LineReading) -> float:
    """What one count of the display is worth, in volts; 0 where the line does not show it."""
    shown = shown_digit(raw, reading)
    return 0.0 if shown is None else shown[0] / 10.0 ** shown[1]
