"""Whether lines name different channels in turn (`CH1 1.000`, `CH2 1.030`): values of two inputs make no level.

In: each line as it was read. Out: `problem` as long as more than one channel was named lately, and one notice.
"""

from __future__ import annotations

import re

from logger.meter.lines import LineReading
from logger.meter.notice_draft import NoticeDraft
from logger.translation import kept_text

NAMED_LINES = 2
"""A channel was named by so many lines at least; one alone may be damaged."""

FORGET_S = 60.0
"""A channel that no line has named for so many seconds is switched off."""

MAX_CHANNELS = 8
"""More numbers than this in front of a colon are no channels but a counter."""

_FRONT = re.compile(rb"\s*([0-9](?=:[ \t])|\([0-9]\))(?![0-9.])", re.IGNORECASE)
_ANYWHERE = re.compile(
    rb"(?<![A-Z])(CH(?:AN(?:NEL)?)?|INPUT|PROBE|SENSOR)[\"']?[ _.:=]{0,3}([0-9]{1,2})(?![0-9.])",
    re.IGNORECASE,
)


class ChannelTurns:
    """Follows the channels that lines name. Plain state, bounded memory."""

    def __init__(self) -> None:
        self.problem = ""
        """That several channels are sent, in whole sentences; empty while at most one is."""
        self._seen: dict[bytes, tuple[int, float]] = {}
        """How many lines named a channel, and when the latest did."""

    def on_line(self, time_s: float, raw: bytes, reading: LineReading) -> list[NoticeDraft]:
        """Take one line; returns what is new.

        Args:
            time_s: when it came.
            raw: the line.
            reading: how it is read.
        """
        name = _channel_of(raw, reading)
        if not name:
            return []
        before = self.problem
        self._seen = {one: seen for one, seen in self._seen.items() if time_s - seen[1] <= FORGET_S}
        self._seen[name] = (self._seen.get(name, (0, 0.0))[0] + 1, time_s)
        named = sorted(one.decode() for one, (lines, _) in self._seen.items() if lines >= NAMED_LINES)
        if not 1 < len(named) <= MAX_CHANNELS:
            self.problem = ""
            return []
        self.problem = kept_text(
            "The lines name several channels ({channels}), so no value is settled. Set the meter to send one."
        ).format(channels=", ".join(named))
        return [] if before else [NoticeDraft("channels", self.problem)]


def _channel_of(raw: bytes, reading: LineReading) -> bytes:
    """The channel that a line names, in front of its number or behind it; empty for none.

    Args:
        raw: the line.
        reading: how it is read.
    """
    if reading.number_span is None:
        return b""
    front, _, behind = reading.split(raw)
    if match := _FRONT.match(front):
        return match[1].upper()
    match = _ANYWHERE.search(front) or _ANYWHERE.search(behind)
    return b"" if match is None else match[1].upper() + match[2]
