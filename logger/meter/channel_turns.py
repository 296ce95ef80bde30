"""Whether lines name different channels in turn (`CH1 1.000`, `CH2 1.030`): values of two inputs make no level.

In: each line as it was read. Out: `problem` as long as more than one channel was named lately, and one notice.
"""

from __future__ import annotations

import re

from logger.meter.lines import LineReading
from logger.meter.notice_draft import NoticeDraft

NAMED_LINES = 2
"""A channel was named by so many lines at least; one alone may be damaged."""

FORGET_S = 60.0
"""A channel that no line has named for so many seconds is switched off."""

MAX_CHANNELS = 8
"""More numbers than this in front of a colon are no channels but a counter."""

_CHANNEL = re.compile(
    rb"\s*((?:CH(?:AN(?:NEL)?)?|INPUT)[ _.]?[0-9]{1,2}|[0-9](?=:[ \t]))(?![0-9.])", re.IGNORECASE
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
        if reading.number_span is None or (match := _CHANNEL.match(raw[: reading.number_span[0]])) is None:
            return []
        name = match[1].upper()
        before = self.problem
        self._seen = {one: seen for one, seen in self._seen.items() if time_s - seen[1] <= FORGET_S}
        self._seen[name] = (self._seen.get(name, (0, 0.0))[0] + 1, time_s)
        named = sorted(one.decode() for one, (lines, _) in self._seen.items() if lines >= NAMED_LINES)
        if not 1 < len(named) <= MAX_CHANNELS:
            self.problem = ""
            return []
        names = f"{', '.join(named[:-1])} and {named[-1]}"
        self.problem = (
            f"The lines name several channels, {names}, so no value is settled. Set the meter to send one."
        )
        return [] if before else [NoticeDraft("channels", self.problem)]
