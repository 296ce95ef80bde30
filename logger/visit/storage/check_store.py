"""The checks of meter and reference, and what they prove for a reading that is taken now."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass, field, replace
from typing import Any, TypeVar

from logger.errors import StillvoltError
from logger.metrology.check_validity import (
    FROM_FIRST_STEP,
    TAKEN_APART,
    Lapse,
    apart_in,
    lapse_between_steps,
)
from logger.metrology.check_words import check_name
from logger.metrology.checks import (
    STEPS,
    CheckKind,
    CheckOutcome,
    CheckVerdict,
    judge,
    skipped,
)
from logger.metrology.context import Context
from logger.metrology.meter_connection import MeterConnection
from logger.metrology.rounding import ascii_minus, printed_minus
from logger.metrology.setup import Setup
from logger.metrology.uncertainty import LevelParts
from logger.translation import tr
from logger.visit.records.fact_names import CHECK_STEP
from logger.visit.records.home_records import Spot
from logger.visit.records.imported_trace import imported_trace
from logger.visit.records.reading_records import CheckResult, CheckStep, Span, UsedStep
from logger.visit.records.simulated_run import SIMULATED
from logger.visit.results.check_attempts import (
    CheckAttempt,
    NotedStep,
    step_place,
    still_open,
    unfinished_attempts,
    with_failed_attempts,
)
from logger.visit.results.check_review import check_doubts
from logger.visit.results.reading_context import ReadWith, lapse_of_check, reading_context
from logger.visit.results.span_review import SpanReview
from logger.visit.storage.fact_store import FactStore
from logger.visit.storage.log_connection import LogConnection
from logger.visit.storage.meter_connection_store import MeterConnectionStore
from logger.visit.storage.recorder_status import RecorderStatus
from logger.visit.storage.recording_stores import EventStore, NoticeStore, RunStore
from logger.visit.storage.setup_store import SetupStore, StatedSetup, setup_held


class StepsApartError(StillvoltError):
    """The steps of a check were not read alike, and prove nothing together."""


Step = TypeVar("Step", CheckStep, UsedStep)


@dataclass(frozen=True, slots=True)
class _HeldSetups:
    """What was stated, oldest first, and the ids of the facts that keep steps of checks, by the places of these."""

    stated: tuple[StatedSetup, ...] = ()
    noted_ids: Mapping[tuple[CheckKind, int, int], int] = field(default_factory=dict)


# long: reads the checks, takes them, and tells what they prove for a value.
class CheckStore:
    """The checks.

    Args:
        connection: the open log.
        setup: the set-up in which they are done.
        runs: the runs that they are done in.
        meters: how the meter was connected in each.
        events: what the detector found; it may speak against a check.
        notices: a frozen display among them; it may do so too.
        recorder: tells which run is going on.
        facts: keep the steps of checks that are not complete.
    """

    def __init__(
        self,
        connection: LogConnection,
        setup: SetupStore,
        runs: RunStore,
        meters: MeterConnectionStore,
        events: EventStore,
        notices: NoticeStore,
        recorder: RecorderStatus,
        facts: FactStore,
    ) -> None:
        self._connection = connection
        self._setup = setup
        self._runs = runs
        self._meters = meters
        self._events = events
        self._notices = notices
        self._recorder = recorder
        self._facts = facts

    def all(self) -> list[CheckResult]:
        """All checks that were done or skipped, oldest first, with those that had failed before their last step."""
        kept = self._kept()
        return with_failed_attempts(kept, self._unfinished(kept))

    def still_open(self) -> list[CheckAttempt]:
        """The checks that were begun and left, or are going on, before they proved anything; oldest first."""
        kept = self._kept()
        attempts = self._unfinished(kept)
        return still_open(attempts, with_failed_attempts(kept, attempts))

    def _unfinished(self, kept: Sequence[CheckResult]) -> list[CheckAttempt]:
        done = {step_place(check.kind, step.span) for check in kept for step in check.steps}
        noted = self._noted()
        if all(step_place(one.step.kind, one.step.span) in done for one in noted):
            return []
        names, held, simulated_ids = self._spot_names(), self._held_setups(), self._runs.simulated_ids()
        return unfinished_attempts(
            [
                replace(
                    one,
                    step=replace(_with_present_spot(one.step, names), setup=setup),
                    connection=self._meters.at(one.step.span.run_id, one.step.span.last_line_id),
                    simulated=one.step.span.run_id in simulated_ids,
                )
                for one in noted
                # What was recorded in a run that is lost is not known.
                if (setup := self._setup_of(one.step.kind, one.step.span, held)) is not None
            ],
            done,
        )

    def _noted(self) -> list[NotedStep]:
        entries = self._facts.entries_of(CHECK_STEP)
        steps = [(id_, utc_ns, pending_step(value)) for id_, utc_ns, value in entries]
        return [NotedStep(id_, utc_ns, step, None, False) for id_, utc_ns, step in steps if step is not None]

    def _kept(self) -> list[CheckResult]:
        """All checks that were done to their end or skipped, oldest first."""
        rows = self._connection.all("SELECT * FROM check_result ORDER BY id")
        simulated_ids = self._runs.simulated_ids() if rows else frozenset()
        names = self._spot_names() if rows else {}
        held = self._held_setups() if rows else _HeldSetups()
        return [
            replace(
                check,
                steps=tuple(
                    replace(
                        _with_present_spot(step, names), setup=self._setup_of(check.kind, step.span, held)
                    )
                    for step in check.steps
                ),
            )
            for check in (_check(r, simulated_ids, self._meters) for r in rows)
        ]

    def _spot_names(self) -> dict[int, str]:
        return {row["id"]: row["name"] for row in self._connection.all("SELECT id, name FROM spot")}

    def _held_setups(self) -> _HeldSetups:
        ids = {step_place(one.step.kind, one.step.span): one.id for one in self._noted()}
        return _HeldSetups(tuple(self._setup.stated()), ids)

    def _setup_of(self, kind: CheckKind, span: Span, held: _HeldSetups) -> Setup | None:
        """The set-up that held when a step was taken; None where its run is lost.

        Args:
            kind: which check.
            span: the value of the step.
            held: what was stated, and which facts keep steps.
        """
        try:
            utc_ns = self._runs.started_utc_ns(span.run_id) + span.end_t_ns
        except KeyError:
            return None
        stated = setup_held(held.stated, utc_ns, held.noted_ids.get(step_place(kind, span)))
        return self.setup_in(stated, span.run_id)

    def used_steps(self) -> list[UsedStep]:
        """Every step of a check that was taken, also of checks that are going on or were given up."""
        done = [
            UsedStep(c.kind, step.name, step.span, True, step.spot_id, step.spot_name, step.setup)
            for c in self._kept()
            for step in c.steps
        ]
        known = {step_place(step.kind, step.span) for step in done}
        return done + [step for step in self._noted_steps() if step_place(step.kind, step.span) not in known]

    def note_step(self, kind: CheckKind, name: str, span: Span, spot: Spot | None = None) -> None:
        """Note a step that is being taken, as a part of a transaction: its lines are used from now on.

        Args:
            kind: which check.
            name: of the step.
            span: its value.
            spot: where it is done; None where nobody has said.
        """
        where = {"spot_id": spot.id, "spot_name": spot.name} if spot else {}
        self._facts.insert(CHECK_STEP, json.dumps({"kind": kind, "name": name, "span": asdict(span)} | where))

    def _noted_steps(self) -> list[UsedStep]:
        noted = [one.step for one in self._noted()]
        if not noted:
            return []
        names, held = self._spot_names(), self._held_setups()
        return [
            replace(_with_present_spot(step, names), setup=self._setup_of(step.kind, step.span, held))
            for step in noted
        ]

    def refuse_steps_apart(self, kind: CheckKind, spans: Sequence[Span], spot_id: int | None = None) -> None:
        """Refuse the newest step of a check where earlier ones were read with something else than it.

        That is another meter, port, form of lines or a simulation, and the answers of the set-up that held for each.

        Args:
            kind: which check.
            spans: the values of its steps so far.
            spot_id: where the newest is done, for one that is not noted yet; None where nobody has said.

        Raises:
            StepsApartError: they do not prove anything together.
        """
        simulated_ids = self._runs.simulated_ids()
        lapse = lapse_between_steps(
            [(self._meters.at(s.run_id, s.last_line_id), s.run_id in simulated_ids) for s in spans],
            self._meters.same_forms(),
        )
        apart = lapse or apart_in(kind, self._read_in(kind, spans, spot_id))
        if apart is not None:
            raise StepsApartError(
                tr(TAKEN_APART[apart]).format(check=check_name(kind)),
                tr("Nothing was taken."),
                tr(FROM_FIRST_STEP),
            )

    def _read_in(
        self, kind: CheckKind, spans: Sequence[Span], spot_id: int | None
    ) -> list[tuple[Setup | None, int | None]]:
        """The set-up and the spot of each step, as `apart_in` needs them.

        Args:
            kind: which check.
            spans: as for `refuse_steps_apart`.
            spot_id: as for `refuse_steps_apart`.
        """
        noted = {step_place(step.kind, step.span): step for step in self._noted_steps()}
        held = self._held_setups()
        read_in: list[tuple[Setup | None, int | None]] = []
        for number, span in enumerate(spans, 1):
            step = noted.get(step_place(kind, span))
            if step is not None:
                read_in.append((step.setup, step.spot_id))
            elif number == len(spans):
                read_in.append((self.setup_in(self._setup.current(), span.run_id), spot_id))
            else:
                read_in.append((self._setup_of(kind, span, held), None))
        return read_in

    def add(self, kind: CheckKind, spans: Sequence[Span]) -> CheckResult:
        """Judge a check by the values of its steps (`CurrentValue.settled_span`), and keep it with its verdict.

        The spots it was done at are those that its steps were taken with (`CheckStepStore.take`).

        Args:
            kind: which check.
            spans: one for each step.

        Raises:
            StepsApartError: the steps do not prove anything together.
        """
        self.refuse_steps_apart(kind, spans)
        now = self.setup_in(self._setup.current(), spans[-1].run_id)
        # Another window may have stated something else since the last step was taken.
        setup = self._read_in(kind, spans, None)[-1][0] or now
        outcome = judge(kind, [(span.volts, span.u_volts) for span in spans], setup.meter)
        names = [step.name for step in STEPS[kind]]
        connections = [self._meters.at(span.run_id, span.last_line_id) for span in spans]
        noted = {
            step_place(step.kind, step.span): (step.spot_id, step.spot_name) for step in self._noted_steps()
        }
        spots = [noted.get(step_place(kind, span), (None, "")) for span in spans]
        steps = tuple(
            CheckStep(name, span, connection, *spot)
            for name, span, connection, spot in zip(names, spans, connections, spots, strict=True)
        )
        return self._keep(kind, outcome, steps, setup)

    def skip(self, kind: CheckKind, reason: str) -> CheckResult:
        """Keep that a check was not done, and why."""
        return self._keep(kind, skipped(reason), (), self._setup.current())

    def _keep(
        self, kind: CheckKind, outcome: CheckOutcome, steps: tuple[CheckStep, ...], setup: Setup
    ) -> CheckResult:
        utc_ns = self._connection.clock.utc_ns()
        with self._connection.writing():
            simulated = _has_simulated(steps, self._runs.simulated_ids())
            check_id = self._connection.insert(
                "INSERT INTO check_result (utc_ns, kind, verdict, sentence, steps, setup) VALUES (?,?,?,?,?,?)",
                (
                    utc_ns,
                    kind,
                    outcome.verdict,
                    ascii_minus(outcome.sentence),
                    # The mark is kept with each step too: a salvaged log may lack the run.
                    json.dumps([_kept_step(step) | {SIMULATED: simulated} for step in steps]),
                    setup.to_json(),
                ),
            )
        return CheckResult(check_id, utc_ns, kind, outcome, steps, setup, simulated)

    def doubts(self) -> dict[int, str]:
        """What was seen later speaks against checks, by their ids."""
        checks = self.all()
        if not any(check.steps for check in checks):
            return {}
        review = SpanReview.of_log(self._events.after(), self._notices.after(), self._recorder.live())
        return check_doubts(checks, review)

    def lapses(self) -> dict[int, Lapse]:
        """Why checks hold no longer with what was stated and recorded last, by their ids; those that hold are missing.

        What was imported was not recorded with this visit's meter; measured and simulated recordings are apart.
        """
        newest = {run.simulated: run.id for run in self._runs.all() if imported_trace(run) is None}
        now = {simulated: self._read_with(newest.get(simulated), simulated) for simulated in (False, True)}
        found = {check.id: lapse_of_check(check, now[check.simulated]) for check in self.all()}
        return {check_id: lapse for check_id, lapse in found.items() if lapse is not None}

    def _read_with(self, run_id: int | None, simulated: bool) -> ReadWith:
        rows = self._connection.all("SELECT last_line_id FROM live WHERE run_id = ?", (run_id,))
        connection = self._meters.at(run_id, rows[0]["last_line_id"] if rows else None)
        setup = self.setup_in(self._setup.current(), run_id)
        return ReadWith(setup, simulated, connection, self._meters.same_forms())

    def setup_in(self, setup: Setup, run_id: int | None) -> Setup:
        """The set-up of what is taken in a run: its meter is the one that the run was recorded with.

        That meter's lines were read, whatever other one is stated for the visit. Under one name the newer of the two
        statements holds: the description that the recorder was given, or what was stated since.

        Args:
            setup: as it is stated for the visit.
            run_id: the run; None where nothing was recorded.
        """
        recorded = self._meters.facts_of(run_id)
        if run_id is None or recorded is None or recorded == setup.meter:
            return setup
        if recorded.name == setup.meter.name:
            # An import under that name was refused unless both were alike then.
            connection = self._meters.at(run_id, None)
            began_ns = self._runs.started_utc_ns(run_id)
            if connection is not None and connection.is_imported:
                return setup
            if self._setup.meter_stated_utc_ns(setup.meter) >= began_ns:
                return setup
        return replace(setup, meter=recorded)

    def context(self, run_id: int | None = None, last_line_id: int | None = None) -> Context:
        """The context of a reading that is taken now: the set-up and what the checks proved for it.

        Args:
            run_id: the run that it is taken in; None where nothing is being recorded.
            last_line_id: the last line that it rests on.
        """
        return self._context(
            self._setup.current(), self.all(), self._connection.clock.utc_ns(), run_id, last_line_id
        )

    def context_at(self, utc_ns: int, run_id: int, last_line_id: int | None = None) -> Context:
        """The context of what was recorded up to a moment.

        Args:
            utc_ns: the moment on the run's steady time line, UTC ns.
            run_id: the run that the moment lies in.
            last_line_id: the last line before it.
        """
        moment = run_id, utc_ns - self._runs.started_utc_ns(run_id)
        done = [check for check in self.all() if _is_done_by(check, moment, utc_ns)]
        return self._context(self._setup.at(utc_ns), done, utc_ns, run_id, last_line_id)

    def _context(
        self,
        setup: Setup,
        checks: Sequence[CheckResult],
        utc_ns: int,
        run_id: int | None,
        last_line_id: int | None,
    ) -> Context:
        """The context of a value.

        Args:
            setup: in which it was taken.
            checks: that had been done.
            utc_ns: when it was taken.
            run_id: the run that it was taken in.
            last_line_id: the last line that it rests on.
        """
        read_with = ReadWith(
            self.setup_in(setup, run_id),
            run_id in self._runs.simulated_ids(),
            self._meters.at(run_id, last_line_id),
            self._meters.same_forms(),
        )
        return reading_context(read_with, checks, utc_ns, self.doubts())


def _check(r: sqlite3.Row, simulated_ids: frozenset[int], meters: MeterConnectionStore) -> CheckResult:
    """A check from its row.

    Args:
        r: the row.
        simulated_ids: ids of the runs that were simulated.
        meters: how the meter was connected, for checks of older versions, which do not hold it.
    """
    kept = json.loads(r["steps"])
    # Those of older versions do not hold how the meter was connected.
    steps = tuple(
        step if step.connection else replace(step, connection=meters.at(step.span.run_id, None))
        for step in stored_steps(kept)
    )
    return CheckResult(
        r["id"],
        r["utc_ns"],
        CheckKind(r["kind"]),
        CheckOutcome(CheckVerdict(r["verdict"]), printed_minus(r["sentence"])),
        steps,
        Setup.from_json(r["setup"]) if r["setup"] else None,
        any(step.get(SIMULATED) is True for step in kept) or _has_simulated(steps, simulated_ids),
    )


def _is_done_by(check: CheckResult, moment: tuple[int, int], utc_ns: int) -> bool:
    """Whether a check had been done by a moment. Its values tell, whatever the computer's clock was set to.

    Args:
        check: the check.
        moment: a run's id and nanoseconds since its start.
        utc_ns: the same moment by the clock, for a check that was skipped.
    """
    if not check.steps:
        return check.utc_ns <= utc_ns
    return max((step.span.run_id, step.span.end_t_ns) for step in check.steps) <= moment


def _has_simulated(steps: Sequence[CheckStep], simulated_ids: frozenset[int]) -> bool:
    return any(step.span.run_id in simulated_ids for step in steps)


def stored_steps(kept: Sequence[dict[str, Any]]) -> tuple[CheckStep, ...]:
    """The steps of a check from their JSON objects."""
    return tuple(_step(fields) for fields in kept)


def _kept_step(step: CheckStep) -> dict[str, Any]:
    """A step as a JSON object; the set-up is a fact of its own."""
    return {name: value for name, value in asdict(step).items() if name != "setup"}


def _step(fields: dict[str, Any]) -> CheckStep:
    span, connection = _span(fields["span"]), fields.get("connection")
    return CheckStep(
        fields["name"], span, MeterConnection(**connection) if connection else None, *_spot_of(fields)
    )


def _spot_of(fields: dict[str, Any]) -> tuple[int | None, str]:
    """Id and name of the spot that a step was done at; None and empty where that is not recorded."""
    spot_id, name = fields.get("spot_id"), fields.get("spot_name")
    return (spot_id, name) if isinstance(spot_id, int) and isinstance(name, str) else (None, "")


def _with_present_spot(step: Step, names: Mapping[int, str]) -> Step:
    """A step of a check with the present name of its spot: names may be exchanged, and are not those of then.

    Args:
        step: as it is kept.
        names: of all spots by id.
    """
    return replace(step, spot_name=names.get(step.spot_id or 0, step.spot_name))


def pending_step(text: str) -> UsedStep | None:
    """A step from the fact that keeps it; None where it is none."""
    try:
        fields = json.loads(text)
        return UsedStep(
            CheckKind(fields["kind"]), str(fields["name"]), _span(fields["span"]), False, *_spot_of(fields)
        )
    except (ValueError, KeyError, TypeError):
        return None


def _span(fields: dict[str, Any]) -> Span:
    """A span from its JSON object."""
    parts = fields.get("parts")
    return Span(**fields | {"parts": LevelParts(**parts) if parts else None})
