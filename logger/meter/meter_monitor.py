"""What the meter itself does in mid-session.

Its function knob is turned, its range changes, its display is held or frozen, its battery is low, it is switched off.

In: each line as it was read, with its time in seconds. Out: now and then a `NoticeDraft`: one sentence for the user, to
be kept in the log. `problem` is what is wrong with the meter now, as long as it lasts.
"""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass
from math import log, log1p

from logger.meter.interpretation import LineFlag
from logger.meter.lines import LineReading, LineStatus

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

SILENT_S = 5.0
"""No line for so long while the port is open: the meter is off, or its cable end came loose."""

AUTO_OFF_MINUTES = (5, 10, 15, 20, 30, 60)
AUTO_OFF_TOLERANCE_S = 45.0
"""Meters that switch themselves off do so so many minutes after the last key press (common practice, no source)."""

MIN_ON_S = 60.0 * AUTO_OFF_MINUTES[0] - AUTO_OFF_TOLERANCE_S
"""No automatic power-off comes sooner after the last key press."""

KEEP_ON = (
    "Switch it on again with the automatic power-off turned off: on many meters by holding a key while switching on; "
    "its manual says which."
)


@dataclass(frozen=True, slots=True)
class NoticeDraft:
    """Something that the meter did: `kind` for programs, `message` for people."""

    kind: str
    message: str


class MeterMonitor:
    """Follows one meter line by line. Plain state, constant memory."""

    def __init__(self) -> None:
        self.problem = ""
        """What is wrong with the meter now, in one sentence; empty when nothing is."""
        self.frozen = False
        """Whether the display stands on one value although this meter's value always moved."""
        self._first_s: float | None = None
        self._last_s = 0.0
        self._on_before_s: float | None = None
        """For how long it sent until it fell silent the last time."""
        self._silent = False
        self._state: tuple[str, str] = ("", "")
        self._candidate: tuple[str, str] = ("", "")
        self._candidate_lines = 0
        self._resolution: str = ""
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
        out: list[NoticeDraft] = []
        if self._first_s is None:
            self._first_s = time_s
        if self._silent:
            self._silent = False
            out.append(
                NoticeDraft("meter back", f"The meter sends again after {time_s - self._last_s:.0f} s.")
            )
        self._last_s = time_s
        is_volts = reading.status is LineStatus.VOLTS
        shape = raw.translate(_DIGITS_ALIKE)
        # A line of the same shape as an ordinary one before it says nothing new but its value.
        if shape != self._shape or not is_volts:
            self._watch_state(reading, out)
            if is_volts:
                self._watch_range(raw, reading, out)
            self._shape = b"" if self._candidate_lines or self._state[1] else shape
        if is_volts:
            self._watch_freezing(time_s, raw, out)
        self.problem = _FROZEN_PROBLEM if self.frozen else self._state[1]
        return out

    def on_silence(self, time_s: float) -> list[NoticeDraft]:
        """Take note that no line has come up to now although the port is open; returns what is new."""
        if self._first_s is None or self._silent or time_s - self._last_s < SILENT_S:
            return []
        self._silent = True
        on_for_s = self._last_s - self._first_s
        message = "The meter has stopped sending: it is switched off, or its end of the cable is loose."
        round_number = any(
            abs(on_for_s - 60 * minutes) < AUTO_OFF_TOLERANCE_S for minutes in AUTO_OFF_MINUTES
        )
        again = self._on_before_s is not None and abs(on_for_s - self._on_before_s) < AUTO_OFF_TOLERANCE_S
        if on_for_s >= MIN_ON_S and (round_number or again):
            message = (
                f"The meter stopped sending {on_for_s / 60:.0f} minutes after "
                f"{'it began, as the last time' if again else 'the start'}: its automatic power-off, most likely. "
                f"{KEEP_ON}"
            )
        elif on_for_s >= MIN_ON_S:
            message = (
                f"The meter has stopped sending after {on_for_s / 60:.0f} minutes: it is switched off (perhaps by its "
                f"automatic power-off), or its end of the cable is loose. {KEEP_ON}"
            )
        self._on_before_s = on_for_s
        self._first_s = None
        self.problem = message
        return [NoticeDraft("meter silent", message)]

    def _watch_state(self, reading: LineReading, out: list[NoticeDraft]) -> None:
        """Function and flags: what the line says of the meter besides its value."""
        if reading.status is LineStatus.UNREADABLE:
            return
        if reading.status is LineStatus.NOT_AC_VOLTS:
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

    def _watch_range(self, raw: bytes, reading: LineReading, out: list[NoticeDraft]) -> None:
        """A change of the last digit's worth: another range, by hand or by itself."""
        resolution = _last_digit(raw, reading)
        if self._resolution and resolution and resolution != self._resolution:
            out.append(
                NoticeDraft(
                    "range",
                    f"The meter changed its range: the last digit is now {resolution}, before {self._resolution}.",
                )
            )
        self._resolution = resolution or self._resolution

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
