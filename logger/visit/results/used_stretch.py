"""Whether a reading of the same spot and condition already rests on a stretch of the trace.

The same samples taken twice would count as two readings that agree: as a posture that repeats, and as a confirmation.
"""

from __future__ import annotations

from collections.abc import Iterable

from logger.errors import StillvoltError
from logger.visit.records.reading_records import Reading, Span


class AlreadyTakenError(StillvoltError):
    """A valid reading of that spot and condition rests on the same stretch.

    Args:
        reading: that reading.
    """

    def __init__(self, reading: Reading) -> None:
        where = (
            f"at “{reading.spot_name}”, {reading.condition}"
            if reading.condition
            else f"at “{reading.spot_name}”"
        )
        super().__init__(
            f"This value is already taken {where}.",
            "That reading is kept, and no second one was taken from the same samples.",
            "Move and hold still again for a new reading, or void that one.",
        )
        self.reading = reading


def reading_of_stretch(
    readings: Iterable[Reading], spot_id: int, condition: str, span: Span
) -> Reading | None:
    """The newest valid reading of a spot and condition that shares samples with a stretch; None without one.

    Args:
        readings: of the visit, oldest first.
        spot_id: where a value is to be taken.
        condition: what is on.
        span: the stretch that it would rest on.
    """
    same = [
        r
        for r in readings
        if r.void_reason is None
        and (r.spot_id, r.condition, r.run_id) == (spot_id, condition, span.run_id)
        and r.last_line_id is not None
        and r.last_line_id >= span.first_line_id
    ]
    return same[-1] if same else None
