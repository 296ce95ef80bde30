"""Two visits to the same home, before and after, or a year apart: what has changed, spot by spot, and how surely.

In: two visit logs. Out: for every spot, with everything on and with everything off, the difference (after minus
before) with its own uncertainty and a verdict. What was read against another reference, or with another input of the
meter, is not compared; for another input it is computed what the earlier value would have been, and marked as such.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from logger.errors import StillvoltError
from logger.report.compare.compared_visit import ComparedVisit, compared_visit
from logger.report.compare.kept_matches import keep_matches, kept_matches
from logger.report.compare.spot_matching import Pair, pairs, partners
from logger.report.compare.value_change import ValueChange, value_change
from logger.visit.records.condition import EVERYTHING_OFF, EVERYTHING_ON
from logger.visit.records.home_records import Spot
from logger.visit.records.name_key import name_key
from logger.visit.records.reading_records import Reading
from logger.visit.results.on_off_result import SpotResult
from logger.visit.results.span_review import SpanReview
from logger.visit.storage.visit_log import VisitLog


@dataclass(frozen=True, slots=True)
class SpotChange:
    """One spot in both visits."""

    pair: Pair
    on: ValueChange
    off: ValueChange

    @property
    def name(self) -> str:
        """The name in the later visit, or in the earlier one where only that has the spot."""
        return self._spot.name

    @property
    def room(self) -> str:
        """The room, from the same visit as the name."""
        return self._spot.room

    @property
    def _spot(self) -> Spot:
        spot = self.pair.after or self.pair.before
        assert spot is not None
        return spot


@dataclass(frozen=True, slots=True)
class Comparison:
    """Two visits, spot by spot."""

    before: ComparedVisit
    after: ComparedVisit
    notes: tuple[str, ...]
    spots: tuple[SpotChange, ...]


def compare_visits(before: Path, after: Path, by_hand: Mapping[str, str] | None = None) -> Comparison:
    """Compare two visits; matches by hand are kept in the later one.

    Args:
        before: the earlier visit log.
        after: the later visit log, which keeps the matches.
        by_hand: name of a spot before to its name after; an empty name: it has no partner there.

    Raises:
        StillvoltError: a log cannot be read, both are the same file, or a match names what is not there.
    """
    if before.resolve() == after.resolve():
        raise StillvoltError(
            "Both visits are the same file.", next_step="Name the earlier and the later one."
        )
    earlier = VisitLog.open(before)
    try:
        later = VisitLog.open(after)
        try:
            if by_hand:
                keep_matches(later, earlier, partners(by_hand, earlier.spots.all(), later.spots.all()))
            found = compare_logs(earlier, later)
        finally:
            later.close()
    finally:
        earlier.close()
    return found


def compare_logs(before: VisitLog, after: VisitLog) -> Comparison:
    """Compare two open logs, with the matches by hand that the later one keeps."""
    old_readings, new_readings = before.readings.all(), after.readings.all()
    target_volts = after.setup.current().target_volts
    remarks = _Remarks(before, after)
    spots = []
    for pair in pairs(before.spots.all(), after.spots.all(), kept_matches(after, before)):
        old = SpotResult.of(old_readings, pair.before.id) if pair.before else SpotResult(None, None)
        new = SpotResult.of(new_readings, pair.after.id) if pair.after else SpotResult(None, None)
        on = value_change(EVERYTHING_ON, old.on, new.on, target_volts, remarks.on(old.on, new.on))
        off = value_change(EVERYTHING_OFF, old.off, new.off, target_volts, remarks.on(old.off, new.off))
        spots.append(SpotChange(pair, on, off))
    visits = compared_visit(before), compared_visit(after)
    return Comparison(*visits, tuple(_notes(*visits, spots)), tuple(spots))


class _Remarks:
    """What limits the readings of two logs."""

    def __init__(self, before: VisitLog, after: VisitLog) -> None:
        self._reviews = []
        for log in (before, after):
            review = SpanReview()
            review.append(log.events.after())
            self._reviews.append(review)

    def on(self, before: Reading | None, after: Reading | None) -> tuple[str, ...]:
        """Return what limits a reading of each of them, with the name of the visit before it."""
        out = []
        for name, review, reading in zip(("before", "after"), self._reviews, (before, after), strict=True):
            if reading is None:
                continue
            remarks = reading.context.remarks() if reading.context else []
            if reading.taken == "override":
                remarks.append("taken although not settled")
            if doubt := review.of_reading(reading):
                remarks.append(doubt)
            out += [f"{name}: {text}" for text in remarks]
        return tuple(out)


def _notes(before: ComparedVisit, after: ComparedVisit, spots: list[SpotChange]) -> list[str]:
    notes = []
    if before.first_utc_ns and after.first_utc_ns and before.first_utc_ns > after.first_utc_ns:
        notes.append(
            "The visit named as before is the later one: improved and worse are the other way round."
        )
    households = before.household, after.household
    if all(households) and name_key(households[0]) != name_key(households[1]):
        notes.append(f"The households are called differently: {households[0]!r} and {households[1]!r}.")
    for spot in spots:
        old, new = spot.pair.before, spot.pair.after
        if old is None or new is None:
            continue
        if spot.pair.how == "similar name":
            notes.append(
                f"{old.name!r} before is taken for {new.name!r} after, since the names are alike. "
                f"If they are not the same spot: --match {old.name + '='!r}."
            )
        if old.room and new.room and name_key(old.room) != name_key(new.room):
            notes.append(f"{new.name!r} was in {old.room!r} before and is in {new.room!r} after.")
    return notes
