"""What the meter itself does in mid-session.

Its function knob is turned, its range changes, its display is held or frozen, its battery is low, it is switched off,
its lines arrive damaged, it is exchanged for another.

In: each line as it was read, with its time in seconds. Out: now and then a `NoticeDraft`: one sentence for the user, to
be kept in the log. `problem` is what is wrong with the meter now, as long as it lasts.
"""

from __future__ import annotations

from collections import deque
from math import log, log1p

from logger.meter.interpretation import LineFlag
from logger.meter.line_flow import LineFlow
from logger.meter.line_form import LineFormWatch
from logger.meter.lines import TEACH_AGAIN_NOTE, LineReading, LineStatus
from logger.meter.notice_draft import NoticeDraft

SURE_LINES = 2
"""So many lines in a row must say the same before it counts: one may be damaged in a way that reads."""

MAX_FROZEN_CHANCE = 1e-9
"""A display counts as frozen when a meter that changes its value as often as this one did would stay on one value
for so long with this probability. A night at 10 lines/s has 3e5 lines."""

MIN_FROZEN_S = 60.0
"""No display is called frozen sooner, whatever the chance: the body's own noise may fall when it comes to rest."""

WINDOW_LINES = 100
MIN_WINDOWS = 3
WINDOWS = 20
"""How often the value changes is learned from so many lines at a time, and the quietest of the last windows counts."""

MIN_VALUES = 3
"""A window with fewer different values is not used: between two neighbouring counts a level may flicker, and a
little higher or lower the same noise does not show at all."""

RANGE_NOTICE_EVERY_S = 60.0
"""A meter that goes to and fro between two ranges gives one notice in this time."""


class MeterMonitor:
    """Follows one meter line by line. Plain state, constant memory."""

    def __init__(self) -> None:
        self.problem = ""
        """What is wrong with the meter now, in one sentence; empty when nothing is."""
        self.frozen = False
        """Whether the display stands on one value although this meter's value always moved."""
        self._flow = LineFlow()
        self._form = LineFormWatch()
        self._state: tuple[str, str] = ("", "")
        self._candidate: tuple[str, str] = ("", "")
        self._candidate_lines = 0
        self._resolution: str = ""
        self._range_noticed_s: float | None = None
        self._range_changes = 0
        self._shape = b""
        self._raw = b""
        self._same_since_s = 0.0
        self._same_lines = 0
        self._window_lines = 0
        self._window_changes = 0
        self._window_values: set[bytes] = set()
        self._windows: deque[float] = deque(maxlen=WINDOWS)

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
        is_volts = reading.status is LineStatus.VOLTS
        shape = raw.translate(_DIGITS_ALIKE)
        # A line of the same shape as an ordinary one before it says nothing new but its value.
        if shape != self._shape or not is_volts:
            self._watch_state(reading, out)
            if is_volts:
                self._watch_range(time_s, raw, reading, out)
            self._shape = b"" if self._candidate_lines or self._state[1] else shape
        if is_volts:
            out += self._form.on_line(time_s, raw, reading)
            self._watch_freezing(time_s, raw, out)
        self._note_problem(time_s)
        return out

    def on_bytes(self, time_s: float) -> None:
        """Take note that bytes have come at a time, whatever they make."""
        self._flow.on_bytes(time_s)

    def on_silence(self, time_s: float) -> list[NoticeDraft]:
        """Take note of the time, while the port is open; returns what is new where no line has come for long."""
        out = self._flow.on_silence(time_s)
        if out:
            self._note_problem(time_s)
        return out

    def _note_problem(self, time_s: float) -> None:
        """The one thing that is wrong, the worst first."""
        own = _FROZEN_PROBLEM if self.frozen else self._state[1]
        self.problem = self._flow.interruption or own or self._form.problem(time_s) or self._flow.damage

    def _watch_state(self, reading: LineReading, out: list[NoticeDraft]) -> None:
        """Function and flags: what the line says of the meter besides its value."""
        if reading.note == TEACH_AGAIN_NOTE:
            state = ("teach again", _sentence(reading.note))
        elif reading.status is LineStatus.UNREADABLE:
            return
        elif reading.status is LineStatus.NOT_AC_VOLTS:
            state = ("function", _sentence(reading.note))
        elif reading.flags:
            flag = min(reading.flags, key=list(LineFlag).index)
            state = (_KIND[flag], f"The meter {flag.value}.")
        else:
            state = ("", "")
        if state == self._state:
            self._candidate_lines = 0
            return
        if state != self._candidate:
            self._candidate, self._candidate_lines = state, 0
        self._candidate_lines += 1
        if self._candidate_lines < SURE_LINES:
            return
        before, self._state = self._state, state
        if state[1]:
            out.append(NoticeDraft(*state))
        elif before[0] == "function":
            out.append(NoticeDraft("function", "The meter sends AC volts again."))
        else:
            out.append(NoticeDraft(before[0], f"Over: {before[1][0].lower()}{before[1][1:]}"))

    def _watch_range(self, time_s: float, raw: bytes, reading: LineReading, out: list[NoticeDraft]) -> None:
        """A change of the last digit's worth: another range, by hand or by itself.

        Args:
            time_s: when the line came.
            raw: the line.
            reading: how it is read.
            out: takes what is new.
        """
        resolution = _last_digit(raw, reading)
        if not resolution or resolution == self._resolution:
            return
        before, self._resolution = self._resolution, resolution
        if not before:
            return
        self._range_changes += 1
        if self._range_noticed_s is not None and time_s - self._range_noticed_s < RANGE_NOTICE_EVERY_S:
            return
        more = (
            f" (changed {self._range_changes} times since the last such notice)"
            if self._range_changes > 1
            else ""
        )
        self._range_noticed_s, self._range_changes = time_s, 0
        message = f"The meter changed its range: the last digit is now {resolution}, before {before}{more}."
        out.append(NoticeDraft("range", message))

    def _watch_freezing(self, time_s: float, raw: bytes, out: list[NoticeDraft]) -> None:
        if raw == self._raw:
            self._same_lines += 1
            same_for_s = time_s - self._same_since_s
            if self.frozen or same_for_s < MIN_FROZEN_S or len(self._windows) < MIN_WINDOWS:
                return
            share = min(self._windows)
            if share > 0.0 and self._same_lines * log1p(-share) < log(MAX_FROZEN_CHANCE):
                self.frozen = True
                out.append(
                    NoticeDraft(
                        "frozen",
                        f"The value has not changed by one digit for {same_for_s:.0f} s, and it always did "
                        "before: is HOLD pressed?",
                    )
                )
            return
        if self.frozen:
            self.frozen = False
            out.append(NoticeDraft("frozen", "The meter's value moves again."))
        else:
            # A run is learned when it ends: what is being tested must not teach what it is tested against.
            self._learn(self._same_lines + 1)
        self._raw = raw
        self._same_since_s, self._same_lines = time_s, 0

    def _learn(self, lines: int) -> None:
        self._window_lines += lines
        self._window_changes += 1
        self._window_values.add(self._raw)
        if self._window_lines >= WINDOW_LINES:
            share = self._window_changes / (self._window_lines + 1)
            self._windows.append(share if len(self._window_values) >= MIN_VALUES else 0.0)
            self._window_lines = self._window_changes = 0
            self._window_values.clear()


_FROZEN_PROBLEM = "The value does not move at all: is HOLD pressed?"

_DIGITS_ALIKE = bytes.maketrans(b"123456789", b"0" * 9)

_KIND = {
    LineFlag.HOLD: "hold",
    LineFlag.EXTREME: "hold",
    LineFlag.RELATIVE: "hold",
    LineFlag.LOW_IMPEDANCE: "low impedance",
    LineFlag.LOW_BATTERY: "low battery",
}


def _sentence(note: str) -> str:
    return f"{note[0].upper()}{note[1:].rstrip('.')}." if note else "The meter does not send AC volts."


def _last_digit(raw: bytes, reading: LineReading) -> str:
    """What one count of the display is worth, such as '1 mV'; empty where the line does not show it."""
    if reading.number_span is None or not reading.volts:
        return ""
    number = raw[slice(*reading.number_span)].replace(b",", b".")
    mantissa = number.upper().partition(b"E")[0]
    places = len(mantissa.partition(b".")[2])
    try:
        scale = reading.volts / float(mantissa)
    except (ValueError, ZeroDivisionError):
        return ""
    return f"{round(scale * 1e6) / 10**places / 1000:g} mV"
