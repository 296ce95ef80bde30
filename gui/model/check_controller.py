"""The checks that meter and reference work: their steps, taken one after the other, and their results."""

from __future__ import annotations

from gui.model.setup_controller import SetupController
from gui.model.visit_access import Message, VisitAccess
from gui.model.wording import value_text
from logger.clock import NS_PER_S
from logger.errors import StillvoltError
from logger.metrology.check_validity import Lapse
from logger.metrology.checks import (
    MIN_STEP_S,
    REQUIRED_CHECKS,
    STEPS,
    VALUE_MAY_STAY,
    CheckKind,
    CheckVerdict,
    open_checks,
    step_budget,
)
from logger.visit.records.condition import EVERYTHING_OFF, EVERYTHING_ON, OUTSIDE_WALK
from logger.visit.records.reading_records import CheckResult, Span
from logger.visit.results.reading_context import lapse_of_check


class CheckController:
    """The check that is done or looked at now, and the newest results of all.

    Args:
        access: the visit.
        setup: the set-up, whose meter counts in each step.
    """

    def __init__(self, access: VisitAccess, setup: SetupController) -> None:
        self._access = access
        self._setup = setup
        self.chosen = CheckKind.ZERO
        """The check that is done or looked at now."""
        self.spans: list[Span] = []
        """The values of its steps so far."""
        self.choose_next()

    def kinds(self) -> list[CheckKind]:
        """The checks that apply: a second rod proves nothing of the building's earth."""
        earth = self._access.snapshot.setup.reference == "building earth"
        return [
            kind
            for kind in CheckKind
            if kind in REQUIRED_CHECKS
            or not earth
            or self.last_result(kind) is not None
            or kind is self.chosen
        ]

    def choose(self, kind: CheckKind) -> None:
        """Look at another check; steps of one that was begun are given up."""
        if kind is not self.chosen:
            self.chosen, self.spans = kind, []

    def choose_next(self) -> None:
        """Choose the first required check without a result that holds, then the first to repeat; else it stays."""
        open_ones = [kind for kind in REQUIRED_CHECKS if self.valid_result(kind) is None] or self.to_repeat()
        self.chosen = next(iter(open_ones), self.chosen)

    def last_result(self, kind: CheckKind) -> CheckResult | None:
        """The newest result of a check that still holds; where all have lapsed, the newest of those."""
        results = [check for check in self._access.snapshot.checks if check.kind is kind]
        valid = [check for check in results if self.lapse(check) is None]
        return next(reversed(valid or results), None)

    def valid_result(self, kind: CheckKind) -> CheckResult | None:
        """The newest result of a check that still holds; None where there is none."""
        last = self.last_result(kind)
        return last if last is not None and self.lapse(last) is None else None

    def lapse(self, check: CheckResult) -> Lapse | None:
        """Why a check proves nothing in the set-up as it is stated now; None while it does."""
        snapshot = self._access.snapshot
        return lapse_of_check(check, snapshot.setup, simulated=snapshot.simulated)

    def passed_count(self) -> int:
        """How many of the required checks have passed when they were done last, and still hold."""
        results = {kind: result for kind in CheckKind if (result := self.valid_result(kind)) is not None}
        open_ones = open_checks({kind: result.outcome.verdict for kind, result in results.items()})
        return sum(kind not in open_ones for kind in REQUIRED_CHECKS)

    def lapses(self) -> list[Lapse]:
        """Why each check that has lapsed did so, in the order of the checks."""
        results = [self.last_result(kind) for kind in CheckKind]
        return [lapse for r in results if r is not None and (lapse := self.lapse(r)) is not None]

    def to_repeat(self) -> list[CheckKind]:
        """The checks to repeat at the end of the visit, once every spot has been read on and off.

        Those are the ones that were done before the newest reading; one that was skipped is not asked for again.
        """
        snapshot = self._access.snapshot
        valid = [r for r in snapshot.readings if r.void_reason is None]
        read = {(r.spot_id, r.condition) for r in valid}
        spots = [spot for spot in snapshot.spots if spot.room != OUTSIDE_WALK]
        if not spots or any((s.id, c) not in read for s in spots for c in (EVERYTHING_ON, EVERYTHING_OFF)):
            return []
        last_ns = max(r.utc_ns for r in valid)
        results = [(kind, self.last_result(kind)) for kind in CheckKind]
        return [
            kind
            for kind, result in results
            if (result is None and kind in REQUIRED_CHECKS)
            or (
                result is not None
                and result.utc_ns < last_ns
                and result.outcome.verdict is not CheckVerdict.SKIPPED
            )
        ]

    def doubts(self, check: CheckResult) -> dict[str, str]:
        """What later evidence speaks against steps of a check: sentences by step name; only steps in doubt."""
        review = self._access.snapshot.span_review
        doubts = {step.name: review.of_span(step.span) for step in check.steps}
        return {name: doubt for name, doubt in doubts.items() if doubt}

    def next_step(self) -> Message:
        """What Space does on the page of the checks, or why it would refuse."""
        snapshot = self._access.snapshot
        if not snapshot.recording or snapshot.refusal:
            return Message(snapshot.refusal or "Nothing is being recorded.", refused=True)
        live, step = snapshot.live, STEPS[self.chosen][len(self.spans)]
        if live is None or live.volts is None or live.u_volts is None:
            return Message("The meter has not sent a value yet.", refused=True)
        return Message(f"take {self.step_text(live.volts, live.u_volts)} for the {self.chosen}, {step.name}")

    def take_step(self) -> bool:
        """Take the settled value for the next step of the check; False when refused."""
        step = STEPS[self.chosen][len(self.spans)]

        def do() -> str:
            before = self.spans[-1] if self.spans else None
            span = self._access.log.current_value.settled_span()
            if before and (before.run_id, before.start_t_ns) == (span.run_id, span.start_t_ns):
                span = self._value_that_stayed(before, span)
            self.spans.append(span)
            return f"Taken: {self.step_text(span.volts, span.u_volts)}, {step.name}"

        done = self._access.do(do)
        if done and len(self.spans) == len(STEPS[self.chosen]):
            self._keep_result()
        return done

    def _value_that_stayed(self, before: Span, now: Span) -> Span:
        """The value of a step that left the trace as it was: what came after the step before.

        Args:
            before: the value of the step before.
            now: the same settled span, with what came since.

        Raises:
            StillvoltError: the check needs a settled span of its own for each step, or too little has come.
        """
        live = self._access.log.recorder.live()
        long_enough = now.end_t_ns - before.end_t_ns >= MIN_STEP_S * NS_PER_S
        if live is None or self.chosen not in VALUE_MAY_STAY or not long_enough:
            raise StillvoltError(
                "This is still the value of the step before.",
                "Nothing was taken.",
                "Do what the step asks for, then hold still until a new value has settled.",
            )
        return self._access.log.current_value.settled_span(live.run_started_utc_ns + before.end_t_ns)

    def skip(self, reason: str) -> None:
        """Keep in the log that the check is not done, and why."""
        kind = self.chosen

        def do() -> str:
            result = self._access.log.checks.skip(kind, reason)
            return f"{kind.value.capitalize()}: {result.outcome.sentence}"

        self._access.do(do)
        self.spans = []
        self.choose_next()

    def restart(self) -> None:
        """Give up the steps so far."""
        self.spans = []
        self._access.message = Message(f"{self.chosen.value.capitalize()}: from the first step again")

    def step_text(self, volts: float, u_volts: float) -> str:
        """A value for a check's step, as its verdict counts it: with what the meter may be off by."""
        budget = step_budget((volts, u_volts), self._setup.stated.meter)
        return value_text(budget.volts, budget.u_volts)

    def _keep_result(self) -> None:
        kind, spans = self.chosen, self.spans
        passed: list[bool] = []

        def do() -> str:
            result = self._access.log.checks.add(kind, spans)
            passed.append(result.outcome.verdict is CheckVerdict.PASSED)
            return f"{kind.value.capitalize()} {result.outcome.verdict}"  # the page shows the sentence

        self._access.do(do)
        self.spans = []
        if passed == [True]:
            self.choose_next()
            if self.chosen is not kind:
                self._access.message = Message(f"{self._access.message.text}. Next: {self.chosen}")
