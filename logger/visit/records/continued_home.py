"""Which earlier visit of a home another one was begun from: a fact."""

from __future__ import annotations

import json
from dataclasses import asdict, dataclass


@dataclass(frozen=True, slots=True)
class ContinuedHome:
    """The earlier visit.

    Args:
        visit: name of its file, without its folder.
        started_utc_ns: when its first recording began, UTC ns; None where nothing was recorded.
    """

    visit: str
    started_utc_ns: int | None

    def as_fact(self) -> str:
        """As the value of the fact; `from_fact` is the way back."""
        return json.dumps(asdict(self))

    @classmethod
    def from_fact(cls, value: str) -> ContinuedHome | None:
        """From the value of the fact; None where there is none, or it is damaged."""
        try:
            kept = json.loads(value)
            started = kept["started_utc_ns"]
            return cls(str(kept["visit"]), None if started is None else int(started))
        except (ValueError, KeyError, TypeError, RecursionError, OverflowError):
            return None
