"""What a practitioner keeps in a visit log, as plain values: checks, readings, marks. Voltages are AC rms volts."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

from logger.metrology.checks import CheckKind, CheckOutcome
from logger.metrology.context import Context
from logger.metrology.meter_connection import MeterConnection
from logger.metrology.reference_answers import ReferenceAnswers
from logger.metrology.setup import Setup
from logger.metrology.uncertainty import LevelParts
from logger.visit.records.home_details import SpotDetails
from logger.visit.records.reading_corrections import CONDITION, REFERENCE, SPOT, Placement, ReadingCorrection

Taken = Literal["settled", "override", "by hand"]


@dataclass(frozen=True, slots=True)
class Span:
    """A value with the stretch of the trace that it rests on. Times are nanoseconds since the run's start."""

    volts: float
    u_volts: float
    samples: int
    run_id: int
    start_t_ns: int
    end_t_ns: int
    first_line_id: int
    last_line_id: int
    count_volts: float | None = None
    """The display's least count as the samples show it; None where they do not, and in logs of older versions."""
    parts: LevelParts | None = None
    """What its uncertainty consists of; None where that is not known."""


@dataclass(frozen=True, slots=True)
class CheckStep:
    """One step of a check as it was done."""

    name: str
    span: Span
    connection: MeterConnection | None = None
    """How the meter was connected; None where that is not known."""
    spot_id: int | None = None
    spot_name: str = ""
    """The spot it was done at, by its present name; None and empty where that is not recorded."""
    setup: Setup | None = None
    """That held when it was taken, worked out from the log and not kept with the step; None where not known."""


@dataclass(frozen=True, slots=True)
class UsedStep:
    """A step of a check that was taken, whether the check was then completed or not."""

    kind: CheckKind
    name: str
    span: Span
    completed: bool
    """Whether it is part of a result; else the check is going on, or was given up."""
    spot_id: int | None = None
    spot_name: str = ""
    setup: Setup | None = None
    """All as in `CheckStep`."""


@dataclass(frozen=True, slots=True)
class CheckResult:
    """A check with its verdict; a repeated check gives another result, and both stay."""

    id: int
    utc_ns: int
    kind: CheckKind
    outcome: CheckOutcome
    steps: tuple[CheckStep, ...]
    setup: Setup | None
    """In which it was done; None in logs of older versions."""
    simulated: bool = False
    """Whether one of its values was simulated."""

    @property
    def spot_names(self) -> tuple[str, ...]:
        """The names of the spots it was done at, each once, in the order of its steps; none where not recorded."""
        return tuple(dict.fromkeys(step.spot_name for step in self.steps if step.spot_name))


@dataclass(frozen=True, slots=True)
class Reading:
    """A value taken at a spot, as it counts now: spot, condition and void are those of its last corrections.

    `void_reason` is None while it is valid.
    """

    id: int
    utc_ns: int
    run_id: int | None
    spot_id: int
    spot_name: str
    condition: str
    volts: float
    u_volts: float
    samples: int
    start_utc_ns: int | None
    end_utc_ns: int | None
    first_line_id: int | None
    last_line_id: int | None
    taken: Taken
    context: Context | None
    """What held when it was taken; None in logs of older versions."""
    live: frozenset[int] | None
    """Ids of the circuits that were live and the cords that were plugged in; None where that was not stated one by
    one."""
    listed: frozenset[int]
    """Ids of all circuits and cords that were on the list then: what was added later was as it always is."""
    void_reason: str | None
    void_utc_ns: int | None
    simulated: bool = False
    """Whether it was read from a simulation, or typed while one was recorded."""
    stated_unchanged: bool = False
    """The user's word that something was switched, or the spot changed, while nothing in the trace shows it."""
    corrections: tuple[ReadingCorrection, ...] = ()
    """What was corrected since it was taken, in order, voids too."""
    entered_before: frozenset[int] = frozenset()
    """Where `live` is None: ids of the circuits and cords that were entered before it; none where the log has no order
    of its entries."""
    details: SpotDetails = field(default_factory=SpotDetails)
    """How somebody was at the spot when it was taken, as far as that is recorded."""
    home_changes: frozenset[int] = frozenset()
    """Ids of the remedies that had been done for good when it was taken, but for what was unplugged."""
    unplugged: frozenset[int] = frozenset()
    """Ids of the cords that had been unplugged for good when it was taken."""

    def was_listed(self, source_id: int) -> bool:
        """Whether a circuit or cord was on the list when it was taken, as far as anybody knows."""
        return source_id in self.listed or source_id in self.entered_before

    @property
    def as_taken(self) -> Placement:
        """For which spot, with what on, and against what it was taken."""
        now = Placement(self.spot_id, self.spot_name, self.condition, self.live, self.listed, self.answers)
        spots = [c.before for c in self.corrections if c.kind == SPOT]
        conditions = [c.before for c in self.corrections if c.kind == CONDITION]
        references = [c.before for c in self.corrections if c.kind == REFERENCE]
        spot, on = (spots or [now])[0], (conditions or [now])[0]
        answers = (references or [now])[0].answers
        return Placement(spot.spot_id, spot.spot_name, on.condition, on.live, on.listed, answers)

    @property
    def answers(self) -> ReferenceAnswers | None:
        """What it was read against, as it counts now and without what was answered only later; None where not kept."""
        return None if self.context is None else ReferenceAnswers.of(self.context.setup_as_known)

    @property
    def reference_corrected(self) -> bool:
        """Whether it counts as read against something else than was stated when it was taken."""
        return self.as_taken.answers != self.answers

    @property
    def condition_corrected(self) -> bool:
        """Whether it counts with something else on than was stated when it was taken."""
        # By the rows alone, in whichever names: a circuit that was renamed since is no correction.
        rows = [correction for correction in self.corrections if correction.kind == CONDITION]
        return bool(rows) and not rows[0].before.same_condition(rows[-1].after)

    @property
    def moved(self) -> bool:
        """Whether it counts for another spot than it was taken for."""
        return self.as_taken.spot_id != self.spot_id

    @property
    def by_word(self) -> bool:
        """Whether what was on, or that it was another spot, is the user's word alone: it confirms nothing."""
        return self.stated_unchanged or self.condition_corrected


@dataclass(frozen=True, slots=True)
class Mark:
    """Free text at a moment."""

    id: int
    utc_ns: int
    run_id: int | None
    steady_utc_ns: int | None
    text: str
    void_reason: str | None
