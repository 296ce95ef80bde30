"""Whether lines come from a meter at all, and whether they come whole.

In: each line as it was read, each arrival of bytes, the passing of time. Out: now and then a `NoticeDraft`. Nothing at
all, bytes that make no text, and lines of which some are damaged are three troubles with three remedies.
"""

from __future__ import annotations

from collections import deque

from logger.meter.lines import NEGATIVE_NOTE, TEACH_AGAIN_NOTE, LineReading, LineStatus
from logger.meter.notice_draft import NoticeDraft
from logger.meter.tokens import CAPITAL_PREFIX_NOTE, COMMA_NOTE, is_for_other_form, is_for_unknown_word
from logger.translation import kept_text

SILENT_S = 5.0
"""No line for so long while the port is open: the meter is off, or its cable end came loose."""

SILENT_FROM_START_S = 10.0
"""The same before the first line: a meter that has to be asked may need some seconds for its first answer."""

TEXT_SHARE = 0.9
"""A line is text, damaged or not, from this share of printable characters on; at a wrong rate it is about a third."""

AUTO_OFF_MINUTES = (5, 10, 15, 20, 30, 60)
AUTO_OFF_TOLERANCE_S = 45.0
"""Meters that switch themselves off do so so many minutes after the last key press (common practice, no source)."""

MIN_ON_S = 60.0 * AUTO_OFF_MINUTES[0] - AUTO_OFF_TOLERANCE_S
"""No automatic power-off comes sooner after the last key press."""

DAMAGE_LINES = 200
MIN_DAMAGED_LINES = 4
"""So many refused ones among the last lines are no chance: 2 %."""
MAX_SHAPES = 16
"""The shapes of so many of the newest lines that were read are remembered."""
MIN_READ_SHARE = 0.5
"""Where fewer of them are read, the trouble is another: a form that is not known, or no meter at all."""

WHOLE_NOTES = frozenset({TEACH_AGAIN_NOTE, NEGATIVE_NOTE, COMMA_NOTE, CAPITAL_PREFIX_NOTE})
"""Lines that are refused for these reasons came whole."""

NOTHING_COMES = kept_text(
    "Nothing has come from the meter since the start. Is it on, its data output switched on, and the cable plugged in "
    "at both ends?"
)
NOISE = kept_text(
    "Noise comes from the port, and no lines. The rate or the framing is not the meter's, or the plug is loose."
)


class LineFlow:
    """Follows the flow of lines of one port. Plain state, constant memory."""

    def __init__(self) -> None:
        self.interruption = ""
        """Why no lines come now; empty when they do."""
        self.damage = ""
        """What is wrong with the lines that come; empty when nothing is."""
        self._started_s: float | None = None
        self._first_s: float | None = None
        """The first line since the meter began, or began again; None before."""
        self._last_s = 0.0
        self._received_s = 0.0
        """The newest whole line, judged or not: those of a burst wait to be judged."""
        self._listens_since_s = 0.0
        """Until then nobody listened: a silence before it says nothing of the meter."""
        self._bytes_s: float | None = None
        """When the last bytes came that made no line; None since the last line."""
        self._noise_since_s = 0.0
        """Since when such bytes have come, with no silence between them."""
        self._on_before_s: float | None = None
        """For how long it sent until it fell silent the last time."""
        self._refused: deque[bool] = deque(maxlen=DAMAGE_LINES)
        self._refused_whole: deque[bool] = deque(maxlen=DAMAGE_LINES)
        """Per line whether it was refused although it looks like one that was read: its value alone departs."""
        self._shapes: deque[bytes] = deque(maxlen=MAX_SHAPES)
        self._refusal = ""
        """Why the newest refused line was refused."""

    def on_bytes(self, time_s: float) -> None:
        """Take note that bytes have come at a time, whatever they make."""
        if not self._is_noisy(time_s):
            self._noise_since_s = time_s
        self._bytes_s = time_s

    def on_received(self, time_s: float, raw: bytes) -> None:
        """Take note of a whole line that is not judged yet: the bytes are no noise, and nothing is silent since."""
        if _is_text(raw):
            self._bytes_s, self._received_s = None, time_s

    def on_line(self, time_s: float, raw: bytes, reading: LineReading) -> list[NoticeDraft]:
        """Take one line.

        Args:
            time_s: when it came.
            raw: the line without its terminator.
            reading: how it is read.

        Returns:
            What is new, mostly nothing.
        """
        is_read = reading.status is not LineStatus.UNREADABLE
        if not is_read and not _is_text(raw):
            self.on_bytes(time_s)
            return []
        out = []
        if self._first_s is None:
            self._first_s = time_s
        if self.interruption:
            out.append(self._end_interruption(time_s))
        self._last_s, self._bytes_s = time_s, None
        # A word that is not known and comes again is no damage; nor is a form that was not taught.
        is_of_form = is_for_unknown_word(reading.note) or is_for_other_form(reading.note)
        is_again = is_of_form and reading.note == self._refusal
        self._refusal = reading.note if not is_read else self._refusal
        is_whole = (
            is_read or is_again or reading.note in WHOLE_NOTES or not any(48 <= byte < 58 for byte in raw)
        )
        shape = raw.translate(_DIGITS_ALIKE)
        self._refused_whole.append(not is_whole and shape in self._shapes)
        if is_read and shape not in self._shapes:
            self._shapes.append(shape)
        out += self._take_verdict(is_whole)
        return out

    def on_pause(self, time_s: float) -> None:
        """Take note that until a time nobody listened, as the recorder itself did not run."""
        self._listens_since_s = time_s

    def on_silence(self, time_s: float) -> list[NoticeDraft]:
        """Take note of the time, while the port is open; returns what is new."""
        if self._started_s is None:
            self._started_s = time_s
        has_begun = self._first_s is not None
        silent_since_s = self._last_s if has_begun or self.interruption else self._started_s
        silent_since_s = max(silent_since_s, self._received_s, self._listens_since_s)
        if self._is_noisy(time_s):
            # The first bytes after a silence are most likely the beginning of a line that is judged in a moment.
            is_noise = time_s - max(silent_since_s, self._noise_since_s) >= SILENT_S
            return self._interrupt("noise", NOISE) if is_noise else []
        if self.interruption:
            return []
        if not has_begun:
            late = time_s - silent_since_s >= SILENT_FROM_START_S
            return self._interrupt("meter silent", NOTHING_COMES) if late else []
        if time_s - silent_since_s < SILENT_S:
            return []
        message = self._describe_silence()
        self._first_s = None
        return self._interrupt("meter silent", message)

    def _is_noisy(self, time_s: float) -> bool:
        """Whether bytes came lately that made no line."""
        return self._bytes_s is not None and time_s - self._bytes_s < SILENT_S

    def _interrupt(self, kind: str, message: str) -> list[NoticeDraft]:
        if self.interruption == message:
            return []
        self.interruption = message
        return [NoticeDraft(kind, message)]

    def _end_interruption(self, time_s: float) -> NoticeDraft:
        before, self.interruption = self.interruption, ""
        if before == NOTHING_COMES:
            return NoticeDraft("meter back", kept_text("The meter sends now."))
        since_s = self._last_s or self._started_s or 0.0
        if before == NOISE:
            message = kept_text("Lines come again, after {seconds} s of noise.")
        else:
            message = kept_text("Lines come again, after {seconds} s of silence.")
        return NoticeDraft("meter back", message.format(seconds=f"{time_s - since_s:.0f}"))

    def _describe_silence(self) -> str:
        """What the silence of a meter that sent is most likely."""
        assert self._first_s is not None
        on_for_s = self._last_s - self._first_s
        round_number = any(
            abs(on_for_s - 60 * minutes) < AUTO_OFF_TOLERANCE_S for minutes in AUTO_OFF_MINUTES
        )
        again = self._on_before_s is not None and abs(on_for_s - self._on_before_s) < AUTO_OFF_TOLERANCE_S
        self._on_before_s = on_for_s
        if on_for_s < MIN_ON_S:
            return kept_text(
                "No line has come for {seconds} s: the meter is switched off, its end of the cable is loose, or the "
                "link to it or this computer stood still."
            ).format(seconds=f"{SILENT_S:.0f}")
        if again:
            text = kept_text(
                "The meter stopped sending {minutes} minutes after it began, as the last time: its automatic "
                "power-off, most likely. Switch it on again with the automatic power-off turned off: on many meters by "
                "holding a key while switching on; its manual says which."
            )
        elif round_number:
            text = kept_text(
                "The meter stopped sending {minutes} minutes after the start: its automatic power-off, most likely. "
                "Switch it on again with the automatic power-off turned off: on many meters by holding a key while "
                "switching on; its manual says which."
            )
        else:
            text = kept_text(
                "The meter has stopped sending after {minutes} minutes: it is switched off (perhaps by its automatic "
                "power-off), its end of the cable is loose, or the link to it or this computer stood still. If it was "
                "switched off: switch it on again with the automatic power-off turned off: on many meters by holding a "
                "key while switching on; its manual says which."
            )
        return text.format(minutes=f"{on_for_s / 60:.0f}")

    def _take_verdict(self, is_whole: bool) -> list[NoticeDraft]:
        """Whether lines begin to arrive damaged, or arrive whole again."""
        self._refused.append(not is_whole)
        refused, lines = sum(self._refused), len(self._refused)
        if self.damage and not refused:
            self.damage = ""
            return [NoticeDraft("damaged lines", kept_text("Over: the lines arrive whole again."))]
        if self.damage or is_whole or refused < MIN_DAMAGED_LINES or lines - refused < MIN_READ_SHARE * lines:
            return []
        if 2 * sum(self._refused_whole) >= refused:
            # Nothing on the lines tells a digit that the cable has changed from a value that the probe has lost.
            self.damage = kept_text(
                "Lines contradict those beside them and are refused. It may be the probe's contact or the cable: check "
                "both, and the plug."
            )
            message = kept_text(
                "Lines contradict those beside them: {refused} of the last {lines} were refused. It may be the probe's "
                "contact or the cable: check both, and the plug."
            )
        else:
            self.damage = kept_text("Lines arrive damaged and are refused. Check the plug and the cable.")
            message = kept_text(
                "Lines arrive damaged: {refused} of the last {lines} were refused. Check the plug and the cable."
            )
        return [NoticeDraft("damaged lines", message.format(refused=refused, lines=lines))]


_DIGITS_ALIKE = bytes.maketrans(b"123456789", b"0" * 9)


def _is_text(raw: bytes) -> bool:
    return sum(0x20 <= byte < 0x7F for byte in raw) >= TEXT_SHARE * len(raw)
