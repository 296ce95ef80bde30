"""What a visit log keeps that holds the rest of a recording, which the visit's own log did not take: a fact."""

from __future__ import annotations

import json
from dataclasses import asdict, dataclass

from logger.clock import NS_PER_S
from logger.metrology.rounding import fixed
from logger.translation import tr


@dataclass(frozen=True, slots=True)
class RestRecord:
    """Which recording a rest continues, and from where.

    Args:
        visit: name of the visit log of the recording.
        run_id: of the recording there.
        t_ns: of the first line of the rest, nanoseconds since the recording began.
    """

    visit: str
    run_id: int
    t_ns: int

    def as_fact(self) -> str:
        """As the value of the fact; `from_fact` is the way back."""
        return json.dumps(asdict(self))

    @classmethod
    def from_fact(cls, value: str) -> RestRecord | None:
        """From the value of the fact; None where it is damaged."""
        try:
            kept = json.loads(value)
            return cls(str(kept["visit"]), int(kept["run_id"]), int(kept["t_ns"]))
        except (ValueError, KeyError, TypeError, RecursionError):
            return None

    def sentence(self) -> str:
        """What the rest is, for whoever opens it."""
        return tr(
            "This is the rest of run {run} of {visit}, from second {seconds} on, which that visit log did not take."
        ).format(run=self.run_id, visit=self.visit, seconds=fixed(self.t_ns / NS_PER_S, 1))
