"""Readings that count for no combination, as a circuit that may have stayed on was listed after them: which, and why.

In: the readings of a visit, circuits and cords. Out: a sentence for the window and the report.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from logger.name_list import joined
from logger.sweep.sweep_progress import live_at_reading, not_known_at_reading
from logger.translation import tr, tr_kept
from logger.visit.records.home_records import Source
from logger.visit.records.reading_records import Reading


@dataclass(frozen=True, slots=True)
class ReadBeforeListed:
    """Readings at a spot that do not count, and that were not taken again since.

    Args:
        spot_name: of the spot.
        conditions: of the readings, each once, as the log keeps them.
        names: of what was listed after them and may have been on.
    """

    spot_name: str
    conditions: tuple[str, ...]
    names: tuple[str, ...]

    @property
    def text(self) -> str:
        """Which readings do not count, why, and that they are to be taken again."""
        if len(self.conditions) == 1:
            text = tr(
                "At “{spot}” “{condition}” was read before {names} was listed, and nobody knows whether that was on: "
                "read {condition} again."
            )
        else:
            text = tr(
                "At “{spot}” {n} combinations, such as “{condition}”, were read before {names} was listed, and nobody "
                "knows whether that was on: read them again."
            )
        return text.format(
            spot=self.spot_name,
            n=len(self.conditions),
            condition=tr_kept(self.conditions[0]),
            names=joined(self.names),
        )


def read_before_listed(
    readings: Sequence[Reading], spot_id: int, sources: Sequence[Source]
) -> ReadBeforeListed | None:
    """Find which readings at a spot do not count; None where each of their conditions was read again since.

    Args:
        readings: of the visit, oldest first.
        spot_id: of the spot.
        sources: circuits and cords of the visit.
    """
    before = [one for one in _left_out(readings, spot_id, sources) if not one.read_again]
    if not before:
        return None
    return ReadBeforeListed(
        before[0].reading.spot_name,
        tuple(dict.fromkeys(one.reading.condition for one in before)),
        tuple(dict.fromkeys(source.name for one in before for source in one.unknown)),
    )


def replaced_since_texts(readings: Sequence[Reading], spot_id: int, sources: Sequence[Source]) -> list[str]:
    """Say of each reading at a spot that does not count, and whose condition was read again since, that it does not.

    Args:
        readings: of the visit, oldest first.
        spot_id: of the spot.
        sources: circuits and cords of the visit.
    """
    return [
        tr(
            "Reading {n}, “{condition}”, does not count in the sweep: {names} was listed after it, and nobody knows "
            "whether that was on. It was read again since."
        ).format(
            n=one.reading.id,
            condition=tr_kept(one.reading.condition),
            names=joined([source.name for source in one.unknown]),
        )
        for one in _left_out(readings, spot_id, sources)
        if one.read_again
    ]


@dataclass(frozen=True, slots=True)
class _LeftOut:
    """A reading that does not count.

    Args:
        reading: it.
        unknown: what was listed after it and may have been on.
        read_again: whether a reading of the same condition counts.
    """

    reading: Reading
    unknown: Sequence[Source]
    read_again: bool


def _left_out(readings: Sequence[Reading], spot_id: int, sources: Sequence[Source]) -> list[_LeftOut]:
    here = [r for r in readings if r.spot_id == spot_id and r.void_reason is None]
    counted = {r.condition for r in here if live_at_reading(r, sources) is not None}
    return [
        _LeftOut(reading, unknown, reading.condition in counted)
        for reading in here
        if (unknown := not_known_at_reading(reading, sources))
    ]
