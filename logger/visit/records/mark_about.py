"""Which readings a mark is about, as it was entered; kept as a fact beside the mark."""

from __future__ import annotations

import json
from dataclasses import dataclass
from enum import StrEnum

from logger.visit.records.reading_records import Reading


class AboutKind(StrEnum):
    """Which readings; the values are kept in files."""

    SPOT = "spot"
    """Those at one spot."""
    AFTER = "after"
    """All that were taken after the mark."""
    BEFORE = "before"
    """All that were taken before it."""
    ALL = "all"
    NONE = "none"


@dataclass(frozen=True, slots=True)
class MarkAbout:
    """Which readings a mark is about.

    Args:
        kind: which.
        spot_id: of `SPOT`, where.
    """

    kind: AboutKind
    spot_id: int | None = None

    def to_json(self, mark_id: int) -> str:
        """As the value of the fact."""
        return json.dumps({"mark": mark_id, "about": self.kind, "spot_id": self.spot_id})

    @classmethod
    def from_json(cls, text: str) -> tuple[int, MarkAbout] | None:
        """The mark with which readings it is about; None where somebody else wrote there."""
        try:
            fields = json.loads(text)
            spot_id = fields["spot_id"]
            about = cls(AboutKind(fields["about"]), None if spot_id is None else int(spot_id))
            return int(fields["mark"]), about
        except (ValueError, KeyError, TypeError, RecursionError):
            return None

    def holds_for(self, reading: Reading, moment_ns: int) -> bool:
        """Whether a reading is one of them.

        Args:
            reading: valid.
            moment_ns: when the mark was set, UTC nanoseconds.
        """
        taken_ns = reading.end_utc_ns if reading.end_utc_ns is not None else reading.utc_ns
        return {
            AboutKind.SPOT: reading.spot_id == self.spot_id,
            AboutKind.AFTER: taken_ns >= moment_ns,
            AboutKind.BEFORE: taken_ns <= moment_ns,
            AboutKind.ALL: True,
            AboutKind.NONE: False,
        }[self.kind]
