"""Two visits to the same home, before and after, or a year apart: what has changed, spot by spot, and how surely.

In: two visit logs. Out: for every spot, with everything on and with everything off, the difference (after minus
before) with its own uncertainty and a verdict; all of them are judged together. What was read against another
reference, or with another input of the meter, is not compared; for another input it is computed what the earlier value
would have been, and marked as such. Visits that may be of two homes are compared once somebody has confirmed that they
are of one.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import NamedTuple

from logger.errors import StillvoltError
from logger.name_list import joined, listed
from logger.report.compare.compared_visit import ComparedVisit, compared_visit
from logger.report.compare.done_between import DoneRemedy, done_between, done_between_text
from logger.report.compare.kept_answers import (
    is_same_home_by_hand,
    keep_matches,
    keep_same_home,
    kept_matches,
)
from logger.report.compare.shared_recordings import NOTE, SharedRecordings
from logger.report.compare.spot_matching import Pair, pairs, partners
from logger.report.compare.value_change import ValueChange, judged_together, value_change
from logger.translation import marked, shown_language, tr
from logger.visit.records.condition import EVERYTHING_OFF, EVERYTHING_ON, OUTSIDE_WALK
from logger.visit.records.home_records import Spot
from logger.visit.records.name_key import name_key
from logger.visit.records.reading_records import Reading
from logger.visit.results.check_review import check_doubts, doubt_by_checks, failed_later
from logger.visit.results.correction_history import doubt_by_correction, footnote
from logger.visit.results.detail_differences import detail_differences, other_body
from logger.visit.results.off_value_origin import NOT_LISTED, why_other_off
from logger.visit.results.on_off_result import SpotResult
from logger.visit.results.posture_repeats import repeatability_on_site
from logger.visit.results.same_home import why_maybe_other_home
from logger.visit.results.span_review import SpanReview
from logger.visit.storage.read_only import checked_log
from logger.visit.storage.visit_log import VisitLog

READINGS_APART = marked("valid readings of it contradict each other, the newest is shown")

WHY_APART = marked(
    "Its valid readings in one visit contradict each other, so that no ± holds and no change can be told. Void the one "
    "that is mistaken, or read the spot again."
)

LATER_NAMED_BEFORE = marked(
    "The visit named as before is the later one: improved and worse are the other way round."
)


ANOTHER_WAY = marked(
    "At {spots} posture, height or person differs between the visits: the change may come from that, not from the "
    "wiring."
)

WALK_LEFT_OUT = marked(
    "The points of the outside walk are not compared: nothing says that points of the same name are at the same place."
)


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
    notes_without_options: tuple[str, ...]
    """The notes for a window, where a row is corrected: without the options of the command line that do it."""
    done: tuple[DoneRemedy, ...]
    """What was done about the home between the visits."""
    language: str
    """The code of the one that its sentences are in."""


class OtherHomeError(StillvoltError):
    """The visits may be of two homes; `what` says why."""


def compare_visits(
    before: Path, after: Path, by_hand: Mapping[str, str] | None = None, *, same_home: bool = False
) -> Comparison:
    """Compare two visits; matches by hand are kept in the later one.

    Args:
        before: the earlier visit log.
        after: the later visit log, which keeps the matches.
        by_hand: name of a spot before to its name after; an empty name: it has no partner there.
        same_home: the user confirms that both are of the same home; the later visit keeps that too.

    Raises:
        OtherHomeError: they may be of two homes, and nobody has confirmed that they are not.
        StillvoltError: a log cannot be read, both are the same file or only copies of the same readings, or a match
            names what is not there.
    """
    if before.resolve() == after.resolve():
        raise StillvoltError(
            tr("Both visits are the same file."), next_step=tr("Name the earlier and the later one.")
        )
    with checked_log(before) as earlier, checked_log(after) as later:
        _refuse_copy(earlier, later)
        _require_same_home(earlier, later, same_home)
        if by_hand:
            keep_matches(later, earlier, partners(by_hand, _indoor_spots(earlier), _indoor_spots(later)))
        found = compare_logs(earlier, later)
        both = [c for spot in found.spots for c in (spot.on, spot.off) if c.before and c.after]
        shared = SharedRecordings.of(earlier, later)
        if both and all(shared.why_not(change.before, change.after) for change in both):
            raise _same_visit(earlier, later)
        return found


def _refuse_copy(before: VisitLog, after: VisitLog) -> None:
    """Refuse two files that hold the same visit.

    Raises:
        StillvoltError: all readings of both are of recordings that both hold.
    """
    shared = SharedRecordings.of(before, after)
    if shared and shared.is_everything(before.readings.all(), after.readings.all()):
        raise _same_visit(before, after)


def _same_visit(before: VisitLog, after: VisitLog) -> StillvoltError:
    """Return the refusal of two files between which nothing is left to compare but copies of the same readings."""
    return StillvoltError(
        tr(
            "{before} and {after} hold the same visit: one is a copy of the other, or an earlier state of it."
        ).format(before=before.path, after=after.path),
        tr("Nothing was compared."),
        tr("Choose the visit before and the visit after."),
    )


def _require_same_home(before: VisitLog, after: VisitLog, confirmed: bool) -> None:
    """Refuse visits that may be of two homes.

    Args:
        before: the earlier visit.
        after: the later visit, which keeps a confirmation.
        confirmed: the user confirms that they are of the same home.
    """
    why = why_maybe_other_home(before.setup.current().household, after.setup.current().household)
    if not why or is_same_home_by_hand(after, before):
        return
    if not confirmed:
        raise OtherHomeError(
            why,
            tr("Nothing was compared."),
            tr("If they are of the same home, compare with --same-home."),
        )
    keep_same_home(after, before)


def compare_logs(before: VisitLog, after: VisitLog) -> Comparison:
    """Compare two open logs of the same home, with the matches by hand that the later one keeps."""
    old_readings, new_readings = before.present_readings(), after.present_readings()
    target_volts = after.setup.current().target_volts
    remarks = _Remarks(before, after)
    shared = SharedRecordings.of(before, after)
    repeat = (repeatability_on_site(old_readings), repeatability_on_site(new_readings))
    old_sources, new_sources = before.circuits.all(), after.circuits.all()
    matched = pairs(_indoor_spots(before), _indoor_spots(after), kept_matches(after, before))
    changes = []
    for pair in matched:
        old = (
            SpotResult.of(old_readings, pair.before.id, old_sources, as_read=True)
            if pair.before
            else SpotResult(None, None)
        )
        new = (
            SpotResult.of(new_readings, pair.after.id, new_sources, as_read=True)
            if pair.after
            else SpotResult(None, None)
        )
        for condition, one, other in (
            (EVERYTHING_ON, old.on, new.on),
            (EVERYTHING_OFF, old.off, new.off),
        ):
            stayed = (old.left_on, new.left_on) if condition == EVERYTHING_OFF else (NOT_LISTED, NOT_LISTED)
            why_not = shared.why_not(one, other)
            if one is not None and other is not None:
                is_apart = old.contradicts(one) or new.contradicts(other)
                why_not = why_not or (tr(WHY_APART) if is_apart else why_other_off(*stayed))
            limits = (
                *(
                    _of(is_later, tr(READINGS_APART))
                    for is_later, result, reading in ((False, old, one), (True, new, other))
                    if result.contradicts(reading)
                ),
                *(
                    _of(is_later, tr("stayed on: {circuits}").format(circuits=listed(left.shown_names)))
                    for is_later, left, reading in ((False, stayed[0], one), (True, stayed[1], other))
                    if left.names and reading is not None
                ),
                *remarks.on(one, other),
                *_detail_differences(one, other),
            )
            changes.append(value_change(condition, one, other, target_volts, limits, repeat, why_not))
    judged = judged_together(changes)
    spots = [
        SpotChange(pair, on, off) for pair, on, off in zip(matched, judged[::2], judged[1::2], strict=True)
    ]
    visits = compared_visit(before), compared_visit(after)
    done = done_between(before, after)
    notes = _all_notes(visits, spots, (old_readings, new_readings), done, is_shared=bool(shared))
    whole = tuple(" ".join(filter(None, note)) for note in notes)
    return Comparison(
        *visits, whole, tuple(spots), tuple(note.text for note in notes), done, shown_language()
    )


def _all_notes(
    visits: tuple[ComparedVisit, ComparedVisit],
    spots: list[SpotChange],
    readings: tuple[Sequence[Reading], Sequence[Reading]],
    done: tuple[DoneRemedy, ...],
    *,
    is_shared: bool,
) -> list[_Note]:
    """What is to be known of both visits, of their spots, and of what was done in between.

    Args:
        visits: the earlier and the later one.
        spots: that are compared.
        readings: of both.
        done: what was done in between.
        is_shared: whether both hold some of the same recordings.
    """
    notes = [_Note(tr(NOTE))] if is_shared else []
    if (
        is_shared
        and not _begins_later(*visits)
        and _last_moment_ns(readings[0]) > _last_moment_ns(readings[1])
    ):
        notes.append(_Note(tr(LATER_NAMED_BEFORE)))
    notes += _notes(*visits, spots)
    notes += _another_way(spots)
    if said := done_between_text(done):
        notes.append(_Note(said))
    if any(r.condition == OUTSIDE_WALK and r.void_reason is None for of_visit in readings for r in of_visit):
        notes.append(_Note(tr(WALK_LEFT_OUT)))
    return notes


def _indoor_spots(log: VisitLog) -> list[Spot]:
    """The spots of a visit without the points of the outside walk."""
    return [spot for spot in log.spots.all() if spot.room != OUTSIDE_WALK]


def _detail_differences(one: Reading | None, other: Reading | None) -> list[str]:
    """How somebody was at the spot when both values were read; nothing where one was not."""
    if one is None or other is None:
        return []
    return detail_differences(one.details, other.details)


class _Note(NamedTuple):
    """A sentence on both visits, and one on the option of the command line that corrects what it says."""

    text: str
    option: str = ""


def _another_way(spots: Sequence[SpotChange]) -> list[_Note]:
    """At which spots somebody was in another way when values were read that are compared."""
    names = [
        tr("“{name}”").format(name=spot.name)
        for spot in spots
        if any(
            other_body(one.details, other.details) is not None
            for one, other in ((spot.on.before, spot.on.after), (spot.off.before, spot.off.after))
            if one is not None and other is not None
        )
    ]
    return [_Note(tr(ANOTHER_WAY).format(spots=joined(names)))] if names else []


def _begins_later(before: ComparedVisit, after: ComparedVisit) -> bool:
    """Whether the visit named as the earlier one begins after the other."""
    begun = before.first_utc_ns, after.first_utc_ns
    return bool(begun[0] and begun[1] and begun[0] > begun[1])


def _of(is_later: bool, text: str) -> str:
    """What is said of one of the visits."""
    return (tr("after: {remark}") if is_later else tr("before: {remark}")).format(remark=text)


def _last_moment_ns(readings: Sequence[Reading]) -> int:
    """Return when the newest reading was taken, UTC nanoseconds; 0 without one."""
    return max((reading.utc_ns for reading in readings), default=0)


class _Remarks:
    """What limits the readings of two logs."""

    def __init__(self, before: VisitLog, after: VisitLog) -> None:
        self._reviews = []
        self._differs = [log.integrity().readings for log in (before, after)]
        for log in (before, after):
            review = SpanReview.of_log(log.events.after(), log.notices.after(), log.recorder.live())
            checks = log.checks.all()
            by_checks = partial(
                doubt_by_checks, found=failed_later(checks), doubts=check_doubts(checks, review)
            )
            self._reviews.append((review, by_checks))

    def on(self, before: Reading | None, after: Reading | None) -> tuple[str, ...]:
        """Return what limits a reading of each of them, with the name of the visit before it."""
        out = []
        for is_later, (review, by_checks), differs, reading in zip(
            (False, True), self._reviews, self._differs, (before, after), strict=True
        ):
            if reading is None:
                continue
            remarks = reading.context.remarks(reading.volts) if reading.context else []
            if reading.taken == "override":
                remarks.append(tr("taken although not settled"))
            remarks += filter(
                None,
                (
                    differs.get(reading.id),
                    review.of_reading(reading),
                    by_checks(reading),
                    doubt_by_correction(reading),
                    tr("corrected: {note}").format(note=note) if (note := footnote(reading)) else "",
                ),
            )
            out += [_of(is_later, text) for text in remarks]
        return tuple(out)


def _notes(before: ComparedVisit, after: ComparedVisit, spots: list[SpotChange]) -> list[_Note]:
    """What is to be known of both visits and of the matches of their spots."""
    first, second = tr("Before: {sentence}"), tr("After: {sentence}")
    notes = [
        _Note(text.format(sentence=sentence))
        for of_before, of_after in (
            (before.damage, after.damage),
            (before.simulation, after.simulation),
            (before.salvage, after.salvage),
        )
        for text, sentence in ((first, of_before), (second, of_after))
        if sentence
    ]
    if _begins_later(before, after):
        notes.append(_Note(tr(LATER_NAMED_BEFORE)))
    if why := why_maybe_other_home(before.household, after.household):
        notes.append(_Note(" ".join((why, tr("They are compared as the same home, as was confirmed.")))))
    for spot in spots:
        old, new = spot.pair.before, spot.pair.after
        if old is None or new is None:
            continue
        if spot.pair.how == "similar name":
            text = tr("{before} before is taken for {after} after, since the names are alike.")
            option = tr("If they are not the same spot: --match {match}.")
            notes.append(
                _Note(
                    text.format(before=repr(old.name), after=repr(new.name)),
                    option.format(match=repr(f"{old.name}=")),
                )
            )
        if old.room and new.room and name_key(old.room) != name_key(new.room):
            text = tr("{spot} was in {before} before and is in {after} after.")
            notes.append(_Note(text.format(spot=repr(new.name), before=repr(old.room), after=repr(new.room))))
    return notes
