"""What already rests on the still stretch that goes on: a line of the meter gives one value, and is not used again.

The same samples taken twice would count as two values that agree: as a posture that repeats, as a confirmation, or as a
check that passed. And where nothing has moved since, nothing shows that this is another spot, that something was
switched, or that the probe is no longer on the wire of a check. In: readings, steps of checks, the heartbeat and the
value that would be taken. Out: what rests on it already, and the refusal that names it.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from math import hypot
from typing import Literal, Protocol

from logger.errors import StillvoltError
from logger.metrology.check_words import check_name
from logger.metrology.checks import WITHOUT_BODY, CheckKind
from logger.translation import marked, tr, tr_kept
from logger.visit.records.reading_records import Reading, Span, Taken, UsedStep
from logger.visit.records.recording_records import Live

MIN_CHANGE_VOLTS = 0.012
"""A value that differs by less than this has not changed: an eighth of the usual target. No source, ours."""

MIN_CHANGE_SIGMAS = 3.0
"""And neither has one that differs by fewer standard uncertainties of the two values."""

Seen = Literal["still", "step", "gap", "missing", "nothing"]
"""What the trace shows since a value, other than a move: the same still stretch, a step, a time without lines, that and
the same value after it, or none of these."""

_NOT_MOVED: dict[Seen, str] = {
    "still": marked("Nothing has moved since {what}."),
    "step": marked("The trace shows a step since {what}, but no motion."),
    "gap": marked("Part of the trace since {what} is missing; the rest shows no motion."),
    "missing": marked(
        "Part of the trace since {what} is missing. The value is the same as before, and the rest shows no motion."
    ),
    "nothing": marked("The trace shows no motion since {what}."),
}


@dataclass(frozen=True, slots=True)
class StretchUse:
    """A value that rests on lines of the run that goes on.

    Args:
        what: it in words, as the end of a sentence: `“Bed” was read with everything on`.
        first_line_id, last_line_id: the lines that it rests on.
        end_utc_ns: when that ended, on the steady time line.
        volts: the value, V.
        u_volts: its standard uncertainty, V.
        reading: the reading that it is; None for a step of a check.
        check: the check that it is a step of; None for a reading.
        seen: what the trace shows since, other than a move.
        stated: what was stated to be on before, where that statement is what stands in the way; empty else.
    """

    what: str
    first_line_id: int
    last_line_id: int
    end_utc_ns: int
    volts: float
    u_volts: float
    reading: Reading | None = None
    check: CheckKind | None = None
    seen: Seen = "still"
    stated: str = ""

    @property
    def not_moved(self) -> str:
        """That nobody has moved since, in a whole sentence."""
        return tr(_NOT_MOVED[self.seen]).format(what=self.what)

    @property
    def spot_name(self) -> str:
        """The name of the spot that was read; empty for a step of a check."""
        return self.reading.spot_name if self.reading is not None else ""

    @property
    def without_body(self) -> bool:
        """Whether the probe was on a wire and not in a hand."""
        return self.check in WITHOUT_BODY


class StretchInUseError(StillvoltError):
    """Another value rests on the same lines, or on the same still stretch.

    Args:
        use: that value.
        what: why it stands in the way, in one sentence; empty for the usual one.
        outcome: what was done, or was not; empty for the usual one.
        advice: what to do; empty for the usual one.
    """

    def __init__(
        self,
        use: StretchUse,
        what: str = "",
        outcome: str = "",
        advice: str = "",
    ) -> None:
        super().__init__(
            what or use.not_moved,
            outcome or tr("Nothing was taken."),
            advice or tr("Move, hold still again, and take it then."),
        )
        self.use = use


class AlreadyTakenError(StretchInUseError):
    """A valid reading of that spot and condition rests on the same stretch.

    Args:
        use: that reading.
    """

    def __init__(self, use: StretchUse) -> None:
        assert use.reading is not None
        reading = use.reading
        what = (
            tr("This value is already taken at “{spot}”, {condition}.").format(
                spot=reading.spot_name, condition=tr_kept(reading.condition)
            )
            if reading.condition
            else tr("This value is already taken at “{spot}”.").format(spot=reading.spot_name)
        )
        kept = (
            tr("That reading is kept. No second one was taken: nothing shows that you have moved.")
            if use.seen == "missing"
            else tr("That reading is kept. No second one was taken from the same values of the meter.")
        )
        super().__init__(
            use,
            what,
            kept,
            tr("Move and hold still again for a new reading, or void that one."),
        )
        self.reading = reading


def use_of_reading(reading: Reading, run_id: int, *, also_void: bool = False) -> StretchUse | None:
    """The lines of a run that a reading rests on; None where it is void, by hand, or of another run.

    Args:
        reading: of the visit.
        run_id: the run.
        also_void: a void reading holds no lines, but somebody was where it was taken.
    """
    first, last, end_utc_ns = reading.first_line_id, reading.last_line_id, reading.end_utc_ns
    if (reading.void_reason is not None and not also_void) or reading.run_id != run_id:
        return None
    if first is None or last is None or end_utc_ns is None:
        return None
    return StretchUse(
        _reading_words(reading), first, last, end_utc_ns, reading.volts, reading.u_volts, reading=reading
    )


def _reading_words(reading: Reading) -> str:
    """A reading as the end of a sentence; of a voided one without what was on: that may be why it was voided."""
    if reading.void_reason is not None:
        return tr("the voided reading of “{spot}” was taken").format(spot=reading.spot_name)
    if reading.condition:
        return tr("“{spot}” was read with {condition}").format(
            spot=reading.spot_name, condition=tr_kept(reading.condition)
        )
    return tr("“{spot}” was read").format(spot=reading.spot_name)


def uses_of_stretch(
    readings: Iterable[Reading], steps: Iterable[UsedStep], live: Live, *, also_void: bool = False
) -> list[StretchUse]:
    """What rests on the still stretch that goes on now, oldest first.

    Args:
        readings: of the visit; voided ones and those by hand rest on nothing.
        steps: of the visit's checks, also of those that are not complete.
        live: the newest heartbeat, or that of the moment whose value is kept: what was taken later is not among them.
        also_void: voided readings are among them: the same value was taken once already.
    """
    found = [
        use for r in readings if (use := use_of_reading(r, live.run_id, also_void=also_void)) is not None
    ]
    step_taken = tr("the step “{step}” of the {check} was taken")
    found += [
        StretchUse(
            step_taken.format(step=tr_kept(step.name), check=check_name(step.kind)),
            step.span.first_line_id, step.span.last_line_id, live.run_started_utc_ns + step.span.end_t_ns,
            step.span.volts, step.span.u_volts, check=step.kind,
        )
        for step in steps
        if step.span.run_id == live.run_id
    ]  # fmt: skip
    last_id = live.last_line_id or 0
    going_on = [u for u in found if u.end_utc_ns > live.since_steady_utc_ns and u.first_line_id <= last_id]
    return sorted(going_on, key=lambda use: use.end_utc_ns)


def reading_on_stretch(readings: Iterable[Reading], live: Live) -> Reading | None:
    """The newest valid reading that rests on the still stretch that goes on now; None where none does.

    Args:
        readings: of the visit.
        live: the newest heartbeat.
    """
    uses = uses_of_stretch(readings, (), live)
    return uses[-1].reading if uses else None


class Value(Protocol):
    """A value with its standard uncertainty, both in volts."""

    @property
    def volts(self) -> float:
        """The value."""

    @property
    def u_volts(self) -> float:
        """Its standard uncertainty."""


def has_changed(before: Value, now: Value) -> bool:
    """Whether a value differs from one before on the same stretch by more than noise: a change too small for a step.

    Args:
        before: the value before, such as a reading.
        now: the value that would be taken.
    """
    limit_volts = max(MIN_CHANGE_VOLTS, MIN_CHANGE_SIGMAS * hypot(before.u_volts, now.u_volts))
    return abs(now.volts - before.volts) > limit_volts


def steps_for(check: CheckKind | None, steps: Iterable[UsedStep]) -> list[UsedStep]:
    """The steps that count against a value: for a check that is going on all but its own so far.

    Args:
        check: the check; None for a reading.
        steps: of the visit's checks.
    """
    return [step for step in steps if step.completed or step.kind is not check]


def is_of(use: StretchUse, spot_id: int, condition: str) -> bool:
    """Whether a use is a reading of that spot and condition.

    Args:
        use: what rests on the stretch.
        spot_id: of the spot.
        condition: what was on.
    """
    reading = use.reading
    return reading is not None and (reading.spot_id, reading.condition) == (spot_id, condition)


def refuse_reading(
    uses: Sequence[StretchUse],
    place: tuple[int, str],
    span: Span,
    taken: Taken,
    stated_unchanged: bool,
    elsewhere: StretchUse | None = None,
    parted: StretchUse | None = None,
) -> None:
    """Refuse a reading where another value rests on its lines, or where nothing has moved since another one.

    Args:
        uses: what rests on the still stretch that goes on.
        place: id of the spot, and what is on there.
        span: the value that would be taken.
        taken: how.
        stated_unchanged: the user's word that this is another spot, or that something was switched, although nothing
            in the trace shows it. It frees no line that another value rests on.
        elsewhere: the reading of another spot since which nobody has moved; None where somebody has. A value that has
            changed since shows that something was switched, and not that this is another spot.
        parted: the reading since which only a time without lines was seen; None where something else was. That time
            shows neither a switching nor a move, where the value after it is the same.

    Raises:
        AlreadyTakenError: a reading of that spot and condition is in the way.
        StretchInUseError: something else is.
    """
    shared = [use for use in uses if use.last_line_id >= span.first_line_id]
    for use in reversed(shared):
        if is_of(use, *place):
            raise AlreadyTakenError(use)
    outcome = tr("No second value was taken from the same values of the meter.")
    if shared and taken == "override":
        what = tr("The last seconds count already: {what}.").format(what=shared[-1].what)
        raise StretchInUseError(shared[-1], what, outcome, tr("Wait a few seconds and take it then."))
    if shared:
        raise StretchInUseError(shared[-1], outcome=outcome)
    if taken != "settled":
        return
    on_wire = [use for use in uses if use.without_body]
    if on_wire:
        raise StretchInUseError(on_wire[-1])
    if stated_unchanged:
        return
    before = uses[-1] if uses else parted
    if before is not None and not has_changed(before, span):
        raise AlreadyTakenError(before) if is_of(before, *place) else StretchInUseError(before)
    if elsewhere is not None:
        raise StretchInUseError(elsewhere)


def blocking_step(kind: CheckKind, uses: Sequence[StretchUse], is_first: bool) -> StretchUse | None:
    """What stands in the way of a step of a check in the still stretch that goes on; None where nothing does.

    A level of another check is none of this one before something has moved. A reading may be: who lies still with the
    probe in the hand does what both ask for. It is not where the probe has to be on a wire. A check that is begun again
    begins where its last step ended, as with the cord away: that level is its first one, in lines that came later.

    Args:
        kind: the check.
        uses: what rests on the stretch, without the steps of this same check that were taken before it.
        is_first: the step is the first one of the check.
    """
    found = [use for use in uses if use.check is not None or kind in WITHOUT_BODY]
    if is_first and kind not in WITHOUT_BODY:
        found = [use for use in found if use.check is not kind]
    return found[-1] if found else None


def free_of_check_since_utc_ns(kind: CheckKind, uses: Sequence[StretchUse]) -> int:
    """Since when no step of a check rests on the still stretch that goes on, on the steady time line; 0 where none did.

    Args:
        kind: the check.
        uses: what rests on the stretch.
    """
    return max((use.end_utc_ns + 1 for use in uses if use.check is kind), default=0)
