"""What shows that something was switched before a reading of the sweep: a new still stretch or a changed value."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from logger.settling.events import Settled
from logger.sweep.sweep_progress import Combination
from logger.translation import tr
from logger.visit.records.condition import EVERYTHING_OFF, EVERYTHING_ON
from logger.visit.records.home_records import Spot
from logger.visit.records.promised_value import PromisedValue
from logger.visit.records.reading_records import Reading, Span
from logger.visit.records.recording_records import Live
from logger.visit.results.body_moves import SpotChoice
from logger.visit.results.contradicting_repeats import is_repeat
from logger.visit.results.used_stretch import StretchUse, has_changed, reading_on_stretch


@dataclass(frozen=True, slots=True)
class PendingSwitching:
    """A combination is set and its reading is awaited."""

    spot: Spot
    combination: Combination
    since_utc_ns: int
    """When the user reported that it is set, on the steady time line."""
    beside_first: bool = False
    """It is asked for beside an earlier reading of the same, to be sure of that: none takes the place of the other."""


@dataclass(frozen=True, slots=True)
class SweptReading:
    """A reading that was taken after a switching."""

    reading: Reading
    switched_utc_ns: int
    """When the user reported that it was switched, on the steady time line."""


@dataclass(frozen=True, slots=True)
class RepeatedReading:
    """A reading that was taken of what had been read before, and that differs from it.

    Args:
        earlier: the valid ones before it, oldest first.
        reading: just taken.
    """

    earlier: tuple[Reading, ...]
    reading: Reading


def repeated_reading(reading: Reading, same: Sequence[Reading]) -> RepeatedReading | None:
    """The readings in the place of which a new one may be meant; None where it agrees with all of them.

    Args:
        reading: just taken.
        same: valid readings of the same combination at the same spot, oldest first, with or without it.
    """
    earlier = tuple(other for other in same if other.id != reading.id and is_repeat(other, reading))
    if not any(has_changed(other, reading) for other in earlier):
        return None
    return RepeatedReading(earlier, reading)


@dataclass(frozen=True, slots=True)
class UnchangedValue:
    """A reading that is due, while nothing shows that something was switched for it.

    Args:
        pending: what was reported as set.
        before: the reading that rests on the same still stretch; None where the stretch is only older than what is
            asked for.
        promised: the value that is asked about, and taken on the user's word.
        volts: what of it would be taken, V.
        elsewhere: the reading of another spot, or the late choice of this one, since which nobody has moved; None where
            somebody has.
        moved: somebody has moved since `before`, which had everything on.
        is_parted: part of the trace since `before`, or since it was asked for, is missing.
    """

    pending: PendingSwitching
    before: Reading | None
    promised: PromisedValue
    volts: float
    elsewhere: StretchUse | None = None
    moved: bool = False
    is_parted: bool = False

    @property
    def why_not_taken(self) -> str:
        """Why it was not taken, after its label."""
        if self.elsewhere is not None:
            return tr("not taken, no motion since {what}").format(what=self.elsewhere.what)
        return tr("not taken, the value has not changed")

    @property
    def spoken_question(self) -> str:
        """What is asked, to be spoken."""
        if self.elsewhere is not None:
            return tr("Nobody has moved. Is this {spot}?").format(spot=self.pending.spot.name)
        return tr("The value has not changed. Was it switched?")


@dataclass(frozen=True, slots=True)
class TraceEvidence:
    """What the trace shows before a reading that is due, other than its still stretch.

    Args:
        elsewhere: the reading of another spot, or the choice of this one once the body was still, since which nobody
            has moved: what was switched is no move.
        same_after_gap: the newest reading where only a time without lines was seen since it, and the value is the same.
        level_before_gap: the level before such a time, where that is all that was seen since the reading was asked for.
    """

    elsewhere: StretchUse | None = None
    same_after_gap: StretchUse | None = None
    level_before_gap: Settled | None = None


class AskedSince:
    """Since when the combination that is read next has been asked for."""

    def __init__(self) -> None:
        self._key: tuple[int, int, frozenset[int], str] | None = None
        self.utc_ns = 0
        """On the steady time line; 0 before anything was asked for."""
        self.is_restated = False
        """Whether something else was stated to be on since it was asked for first."""
        self.at: SpotChoice | None = None
        """Since when a reading of its spot is asked for, in whatever combination; None before anything was."""

    def note(self, live: Live, asked: tuple[Spot, Combination] | None, stated: str) -> None:
        """Note what is asked for now.

        Args:
            live: the newest heartbeat.
            asked: spot and combination; None where nothing is.
            stated: what is on now, as stated: what was seen before another statement shows no switching after it.
        """
        key = None if asked is None else (live.run_id, asked[0].id, asked[1].live, stated)
        if key != self._key:
            self.is_restated = key is not None and self._key is not None and key[:3] == self._key[:3]
            self._key, self.utc_ns = key, live.beat_steady_utc_ns
        if asked is None:
            self.at = None
        elif self.at is None or self.at.spot_id != asked[0].id:
            self.at = SpotChoice(live.beat_steady_utc_ns, asked[0].id, "proposed", live.run_id)


def unchanged_value(
    pending: PendingSwitching,
    promised: PromisedValue,
    span: Span,
    readings: Sequence[Reading],
    asked: AskedSince,
    evidence: TraceEvidence,
) -> UnchangedValue | None:
    """Find out whether nothing shows the switching, or that it is another spot; None where something does.

    Args:
        pending: what was reported as set.
        promised: the value of now.
        span: what of it would be taken.
        readings: of the visit, oldest first.
        asked: since when the combination has been asked for.
        evidence: what the trace shows before it.
    """
    live, elsewhere, parted = promised.live, evidence.elsewhere, evidence.same_after_gap
    if elsewhere is not None:
        return UnchangedValue(pending, elsewhere.reading, promised, span.volts, elsewhere)
    before = reading_on_stretch(readings, live)
    if before is not None:
        return None if has_changed(before, span) else UnchangedValue(pending, before, promised, span.volts)
    if parted is not None:
        return UnchangedValue(pending, parted.reading, promised, span.volts, is_parted=True)
    is_first = all(reading.run_id != live.run_id for reading in readings if reading.taken != "by hand")
    if (is_first or asked.is_restated) and live.since_steady_utc_ns < asked.utc_ns:
        return UnchangedValue(pending, None, promised, span.volts)
    level = evidence.level_before_gap
    if (is_first or asked.is_restated) and level is not None and not has_changed(level, span):
        return UnchangedValue(pending, None, promised, span.volts, is_parted=True)
    is_older = live.since_steady_utc_ns < asked.utc_ns
    everything_on = _same_as_with_everything_on(pending, span, readings, is_older=is_older)
    if everything_on is not None:
        return UnchangedValue(pending, everything_on, promised, span.volts, moved=True)
    return None


def _same_as_with_everything_on(
    pending: PendingSwitching, span: Span, readings: Sequence[Reading], *, is_older: bool
) -> Reading | None:
    """The newest reading of the spot with everything on, where the value is the same; None else.

    Somebody has moved since: what shows a new still stretch shows no switching. That everything off gives the same is
    asked about always; what only some breakers give, where the stretch is older than the question for it.
    """
    if pending.combination.label == EVERYTHING_ON or not (
        is_older or pending.combination.label == EVERYTHING_OFF
    ):
        return None
    at_spot = [r for r in readings if r.spot_id == pending.spot.id and r.void_reason is None]
    newest = next((r for r in reversed(at_spot) if r.condition == EVERYTHING_ON), None)
    return newest if newest is not None and not has_changed(newest, span) else None
