"""Whether the lines carry another date than today's: the meter sends values that it stored, or its clock is wrong.

In: each line that gives a value, and when it came. Out: one notice. The values stay what they are:
a meter whose clock was never set sends live values too, and only whoever stands beside it can tell.
A date that never moves, nor a time of day beside it, is no time stamp: it is of a calibration, or a serial number.
"""

from __future__ import annotations

import re
from datetime import date, datetime

from logger.clock import NS_PER_S
from logger.meter.notice_draft import NoticeDraft
from logger.translation import kept_text

STORED_NOTICE = "other date"
"""Kind of the notice that the lines carry another date than today's."""

SURE_STAMPS = 3
"""So many different dates or times of another day must follow each other: one line may be damaged in a way that reads,
and then the one before it comes back. No source."""

MAX_APART_DAYS = 1
"""A meter's clock may be of another time zone, and midnight may pass between the meter and here."""

CENTURY = 2000
"""A year of two digits is of this century."""

_MAY_BE_DATE = re.compile(
    rb"(?<![\d./-])(?:(\d{4})([-/.])(\d\d?)\2(\d\d?)|(\d\d?)([-/.])(\d\d?)\6(\d{4}))(?![\d./-])"
    rb"|(?<!\d)(\d{4})(\d\d)(\d\d)T\d{4,6}|(?<![\d./-])(\d\d?)/(\d\d?)/(\d\d)(?![\d./-])"
)
_TIME_BEHIND = re.compile(rb"[^0-9]{1,12}\d\d?:\d\d(?::\d\d)?")
"""`2026-11-20 22:00:01`, or with the name of a field between."""

_TIME_BEFORE = re.compile(rb"\d\d?:\d\d(?::\d\d)?[ ,;\t]{1,2}\Z")


class DateWatch:
    """Follows the dates in the lines of one recording. Plain state."""

    def __init__(self) -> None:
        self._is_noticed = False
        self._stamps: list[bytes] = []
        """The different dates with their times that followed each other, all of another day."""
        self._seen = b""
        """The newest date, as the line has it..."""
        self._today = date.min
        """The local date when it was first seen..."""
        self._is_other = False
        """...and whether that is another one."""

    def on_line(self, raw: bytes, utc_ns: int) -> list[NoticeDraft]:
        """Take one line that gives a value; returns the notice when it is due.

        Args:
            raw: the line.
            utc_ns: when it came by the computer's clock, UTC ns.
        """
        if self._is_noticed or (found := _MAY_BE_DATE.search(raw)) is None:
            return []
        if found[0] != self._seen:
            dates = _dates(found)
            if not dates:
                return []
            self._seen, self._today = found[0], datetime.fromtimestamp(utc_ns // NS_PER_S).date()
            self._is_other = all(abs((one - self._today).days) > MAX_APART_DAYS for one in dates)
        if not self._is_other:
            self._stamps.clear()
            return []
        stamp = _stamp(raw, found)
        if self._stamps and stamp == self._stamps[-1]:
            return []
        if stamp in self._stamps:
            self._stamps.clear()
        self._stamps.append(stamp)
        if len(self._stamps) < SURE_STAMPS:
            return []
        self._is_noticed = True
        shown = self._seen.decode("ascii")
        return [
            NoticeDraft(
                STORED_NOTICE,
                kept_text(
                    "The lines carry the date {date}, and today is {today}: the meter sends stored values, or its "
                    "clock is wrong. Stored values are not what is there now. Check that the value follows the meter's "
                    "display."
                ).format(date=shown, today=self._today.isoformat()),
            )
        ]


def _stamp(raw: bytes, found: re.Match[bytes]) -> bytes:
    """Return the date as the line has it, with the time of day that stands beside it."""
    time = _TIME_BEHIND.match(raw, found.end()) or _TIME_BEFORE.search(raw, 0, found.start())
    return found[0] + (time[0] if time else b"")


def _dates(found: re.Match[bytes]) -> list[date]:
    """Return each date that a token may mean: 03/04/2026 is of March or of April."""
    parts = [int(part) for part in found.groups() if part is not None and part.isdigit()]
    is_year_first = found[1] or found[9]
    orders = [] if is_year_first else [(2, 0, 1), (2, 1, 0)]
    if is_year_first or found[12]:
        orders.append((0, 1, 2))
    dates = []
    for year, month, day in ((parts[y], parts[m], parts[d]) for y, m, d in orders):
        try:
            dates.append(date(year + CENTURY if year < 100 else year, month, day))
        except ValueError:
            continue
    return dates
