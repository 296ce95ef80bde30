"""The checks that meter and reference work: their steps, taken one after the other, and their results."""

from __future__ import annotations

from dataclasses import replace

from gui.model.setup_controller import SetupController
from gui.model.visit_access import NOTHING_RECORDED, Message, VisitAccess
from gui.model.wording import clock_text, value_text, volts_text
from logger.clock import NS_PER_S
from logger.errors import StillvoltError
from logger.metrology.check_validity import FROM_FIRST_STEP, TAKEN_APART, Lapse, apart_in
from logger.metrology.check_words import check_name, check_name_alone, state_text
from logger.metrology.checks import (
    MIN_STEP_S,
    REQUIRED_CHECKS,
    STEPS,
    VALUE_MAY_STAY,
    CheckKind,
    CheckVerdict,
    failure_so_far,
    open_checks,
    step_budget,
)
from logger.translation import kept_text, tr, tr_kept
from logger.visit.records.condition import EVERYTHING_OFF, EVERYTHING_ON, OUTSIDE_WALK
from logger.visit.records.home_records import Spot
from logger.visit.records.reading_records import CheckResult, Span, UsedStep
from logger.visit.records.recording_records import Live
from logger.visit.results.reading_context import lapse_of_check, newest_valid, verdict_by_now
from logger.visit.results.used_stretch import StretchUse, blocking_step
from logger.visit.storage.check_step_store import SAME_AFTER_GAP
from logger.visit.storage.check_store import StepsApartError

SAME_METER_MARK = kept_text("Stated: the lines have another form, and it is the same meter as in the checks")
"""The mark that keeps the user's word among what happened; in the log, and so in one language."""

WETTED_AT_CHECK = kept_text("{moisture}, wetted at the check, {time}")
"""The moisture of soil that was stated drier and then wetted; in the log, and so in one language."""


# long: one small method for each thing that is asked of the checks.
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
        steps = access.snapshot.check_steps
        self.spot_id: int | None = steps[-1].spot_id if steps else None
        """The spot that the checks are done at; None where nobody has said."""
        self._is_spot_asked = False
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

    @property
    def spot(self) -> Spot | None:
        """The spot that the checks are done at; None where nobody has said, or it was removed."""
        return next((spot for spot in self._access.snapshot.spots if spot.id == self.spot_id), None)

    def asks_spot(self) -> bool:
        """Whether it is asked at which spot the checks are done: once, before the first step, where there are spots."""
        snapshot = self._access.snapshot
        return bool(snapshot.spots) and not (self._is_spot_asked or snapshot.check_steps or self.spans)

    def state_spot(self, spot: Spot | None) -> None:
        """State at which spot the checks are done from now on; None: that is not recorded."""
        self.spot_id, self._is_spot_asked = spot.id if spot is not None else None, True
        text = (
            tr("The checks are done at “{spot}”.").format(spot=spot.name)
            if spot is not None
            else tr("At which spot the checks are done is not recorded.")
        )
        self._access.message = Message(text)

    def choose_next(self) -> None:
        """Choose the first required check without a result that holds, then the first to repeat; else it stays."""
        open_ones = self.not_done() or self.in_doubt() or self.to_repeat()
        self.chosen = next(iter(open_ones), self.chosen)

    def not_done(self) -> list[CheckKind]:
        """The required checks without a result that holds; one that was skipped has a result."""
        return [kind for kind in REQUIRED_CHECKS if self.valid_result(kind) is None]

    def are_done(self) -> bool:
        """Whether nothing is left to check now: no check is under way, open, failed, in doubt or to be repeated."""
        return not (self.spans or self.not_done() or self.failed() or self.in_doubt() or self.to_repeat())

    def last_result(self, kind: CheckKind) -> CheckResult | None:
        """The newest result of a check that still holds; where all have lapsed, the newest of those."""
        results = [check for check in self._access.snapshot.checks if check.kind is kind]
        valid = newest_valid(results, self._access.snapshot.read_with)
        return valid.get(kind) or next(reversed(results), None)

    def valid_result(self, kind: CheckKind) -> CheckResult | None:
        """The newest result of a check that still holds; None where there is none."""
        last = self.last_result(kind)
        return last if last is not None and self.lapse(last) is None else None

    def lapse(self, check: CheckResult) -> Lapse | None:
        """Why a check proves nothing in the set-up as it is stated now; None while it does."""
        return lapse_of_check(check, self._access.snapshot.read_with)

    def verdict(self, check: CheckResult) -> CheckVerdict:
        """The verdict of a check as it counts by now."""
        return verdict_by_now(check, self._access.snapshot.check_doubts)

    def passed_count(self) -> int:
        """How many of the required checks have passed when they were done last, and still hold."""
        results = {kind: result for kind in CheckKind if (result := self.valid_result(kind)) is not None}
        open_ones = open_checks({kind: self.verdict(result) for kind, result in results.items()})
        return sum(kind not in open_ones for kind in REQUIRED_CHECKS)

    def failed(self) -> list[CheckKind]:
        """The checks that failed when they were done last, and still hold."""
        found = [(kind, self.valid_result(kind)) for kind in CheckKind]
        return [kind for kind, result in found if result and self.verdict(result) is CheckVerdict.FAILED]

    def in_doubt(self) -> list[CheckKind]:
        """The checks that hold but for what was seen later, which speaks against them."""
        found = [(kind, self.valid_result(kind)) for kind in CheckKind]
        return [kind for kind, result in found if result and self.verdict(result) is CheckVerdict.IN_DOUBT]

    def lapses(self) -> list[Lapse]:
        """Why each check that has lapsed did so, in the order of the checks."""
        results = [self.last_result(kind) for kind in CheckKind]
        return [lapse for r in results if r is not None and (lapse := self.lapse(r)) is not None]

    def other_line_forms(self) -> tuple[str, ...]:
        """The form of the meter's lines now, and those that the checks were done with; empty where they agree."""
        read_with = self._access.snapshot.read_with
        results = [self.last_result(kind) for kind in CheckKind]
        steps = [s for r in results if r and self.lapse(r) is Lapse.LINE_FORM for s in r.steps]
        forms = dict.fromkeys(
            s.connection.line_form for s in steps if s.connection and s.connection.line_form
        )
        return (read_with.connection.line_form, *forms) if forms and read_with.connection else ()

    def state_same_meter(self) -> None:
        """Keep the user's word that the lines of now come from the meter that the checks were done with."""

        def do() -> str:
            self._access.log.meters.state_same_meter(self.other_line_forms())
            self._access.log.marks.add(SAME_METER_MARK)
            return tr("Kept: it is the same meter. The checks count.")

        self._access.do(do)

    def state_soil_wetted(self) -> None:
        """Add to the stated moisture that the soil was wetted at the newest reference check, and when."""
        done = self.last_result(CheckKind.REFERENCE)
        if done is not None:
            at = clock_text(done.utc_ns, self._access.snapshot.zone, seconds=False)
            moisture = WETTED_AT_CHECK.format(moisture=self._setup.stated.moisture, time=at).removeprefix(
                ", "
            )
            self._setup.state(tr("the soil was wetted"), moisture=moisture)

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
        """What later evidence speaks against steps of a check: sentences by their names; only steps in doubt."""
        review = self._access.snapshot.span_review
        doubts = {tr_kept(step.name): review.of_span(step.span) for step in check.steps}
        return {name: doubt for name, doubt in doubts.items() if doubt}

    def next_step(self) -> Message:
        """What Space does on the page of the checks, or why it would refuse."""
        snapshot = self._access.snapshot
        if not snapshot.recording or snapshot.refusal:
            return Message(
                snapshot.refusal or tr(NOTHING_RECORDED),
                refused=True,
            )
        live, step = snapshot.live, STEPS[self.chosen][len(self.spans)]
        if live is None or live.volts is None or live.u_volts is None:
            return Message(tr("The meter has not sent a value yet."), refused=True)
        if apart := self._why_apart():
            return Message(f"{apart} {tr(FROM_FIRST_STEP)}", refused=True)
        if self._is_value_of_step_before(live) and (why := self._why_not_again(live)):
            return Message(f"{why} {step.for_new_value()}", refused=True)
        if (
            self.spans
            and self.chosen not in VALUE_MAY_STAY
            and snapshot.is_same_step_after_gap(self.spans[-1])
        ):
            return Message(f"{tr(SAME_AFTER_GAP)} {step.for_new_value()}", refused=True)
        uses = snapshot.uses_of_stretch(self.chosen)
        if (use := blocking_step(self.chosen, uses, is_first=not self.spans)) is not None:
            return Message(f"{_used_text(use)} {step.for_new_value()}", refused=True)
        now = snapshot.shown_budget  # the one that the readout shows
        value = value_text(now.volts, now.u_volts) if now else self.step_text(live.volts, live.u_volts)
        return Message(
            tr("Take {value} for the {check}, {step}").format(
                value=value, check=check_name(self.chosen), step=tr_kept(step.name)
            )
        )

    def step_name(self) -> str:
        """What the next step of the chosen check is called."""
        return tr_kept(STEPS[self.chosen][len(self.spans)].name)

    def take_step(self) -> bool:
        """Take the settled value for the next step of the check; False when refused."""
        step = STEPS[self.chosen][len(self.spans)]

        def do() -> str:
            live, since_utc_ns = self._access.log.recorder.live(), 0
            if live is not None and self._is_value_of_step_before(live):
                if why := self._why_not_again(live):
                    raise StillvoltError(why, tr("Nothing was taken."), step.for_new_value())
                since_utc_ns = live.run_started_utc_ns + self.spans[-1].end_t_ns + 1
            try:
                span = self._access.log.check_steps.take(self.chosen, self.spans, since_utc_ns, self.spot)
            except StepsApartError:
                self.spans = []  # what was taken before proves nothing with what comes now
                raise
            self.spans.append(span)
            return tr("Taken: {value}, {step}").format(
                value=self.step_text(span.volts, span.u_volts), step=tr_kept(step.name)
            )

        done = self._access.do(do)
        if done and len(self.spans) == len(STEPS[self.chosen]):
            self._keep_result()
        elif done:
            self._say_beside(self.failure_so_far(), self.instruction())
        return done

    def instruction(self) -> str:
        """What the user does for the step that comes next, in sentences."""
        if self.failure_so_far():
            return tr(
                "Press “Begin again”. This time lay the cord nearer to the body at the step "
                "“{step}”, with the lamp switched on."
            ).format(step=tr_kept(STEPS[self.chosen][len(self.spans) - 1].name))
        steps = STEPS[self.chosen]
        return steps[min(len(self.spans), len(steps) - 1)].to_do()

    def _say_beside(self, *sentences: str) -> None:
        """Have what stands on the page beside the outcome said with it."""
        beside = " ".join(filter(None, sentences))
        self._access.message = replace(self._access.message, beside=beside)

    def _is_value_of_step_before(self, live: Live) -> bool:
        """Whether the settled span of now is still the one that the step before was taken from."""
        if not self.spans:
            return False
        before = self.spans[-1]
        start_t_ns = live.since_steady_utc_ns - live.run_started_utc_ns
        # A step that left the trace as it was begins within the span, where the one before it ended.
        return before.run_id == live.run_id and start_t_ns <= before.start_t_ns

    def _why_not_again(self, live: Live) -> str:
        """Why that span gives no value for the next step; empty where what has come since is enough."""
        since_ns = live.beat_steady_utc_ns - live.run_started_utc_ns - self.spans[-1].end_t_ns
        if self.chosen in VALUE_MAY_STAY and since_ns >= MIN_STEP_S * NS_PER_S:
            return ""
        return tr("This is still the value of the step before.")

    def failure_so_far(self) -> str:
        """Why the check can no longer pass with the steps that were taken; empty while it can."""
        values = [(span.volts, span.u_volts) for span in self.spans]
        setup = self._access.snapshot.setup
        if self.spans:
            # Judged as the finished check will be: with the meter that was recorded with.
            setup = self._access.log.checks.setup_in(setup, self.spans[-1].run_id)
        return failure_so_far(self.chosen, values, setup.meter)

    def left_text(self) -> str:
        """Which attempts at the chosen check were left before they proved anything, in sentences; empty for none."""
        snapshot = self._access.snapshot
        return " ".join(
            tr("Left at {time} before it was decided: {attempt}.").format(
                time=clock_text(attempt.utc_ns, snapshot.zone, seconds=False), attempt=attempt.text
            )
            for attempt in snapshot.open_attempts
            if attempt.kind is self.chosen and attempt.noted[0].step.span not in self.spans
        )

    def failed_by_steps(self) -> CheckResult | None:
        """The failed result that the steps taken so far are already; None while the check can pass."""
        taken = self.spans[-1:] if self.failure_so_far() else []
        checks = reversed(self._access.snapshot.checks)
        return next((check for check in checks if check.steps and [check.steps[-1].span] == taken), None)

    def skip(self, reason: str) -> None:
        """Keep in the log that the check is not done, and why."""
        kind = self.chosen

        def do() -> str:
            result = self._access.log.checks.skip(kind, reason)
            return f"{check_name_alone(kind)}: {tr_kept(result.outcome.sentence)}"

        self._access.do(do)
        self.spans = []
        self.choose_next()

    def restart(self) -> None:
        """Give up the steps so far."""
        self.spans = []
        self._access.message = Message(
            tr("{check}: from the first step again").format(check=check_name_alone(self.chosen))
        )
        self._say_beside(self.instruction())

    def step_text(self, volts: float, u_volts: float) -> str:
        """A value for a check's step, with the uncertainty of the meter alone, as readout and verdict have it.

        Args:
            volts: the level, V.
            u_volts: its standard uncertainty by scatter, V.
        """
        budget = step_budget((volts, u_volts), self._access.snapshot.context.setup.meter)
        return value_text(budget.volts, budget.u_volts)

    def taken_text(self, index: int) -> str:
        """The value of a step that was taken, with the figures that it was read with.

        Its uncertainty is not repeated here: the verdict names that of the meter alone, by which steps are compared.
        """
        span, step = self.spans[index], self._taken(self.spans[index])
        setup = step.setup if step is not None else None
        budget = self._access.snapshot.budget_of_level(span.volts, span.u_volts, setup)
        return f"{volts_text(budget.volts, budget.u_volts)} V"

    def _taken(self, span: Span) -> UsedStep | None:
        used = self._access.snapshot.check_steps
        return next((s for s in used if (s.kind, s.span) == (self.chosen, span)), None)

    def _why_apart(self) -> str:
        """Why a step that is taken now proves nothing together with those so far; empty where it does."""
        taken = [(s.setup, s.spot_id) for span in self.spans if (s := self._taken(span)) is not None]
        spot = self.spot
        now = self._access.snapshot.read_with.setup, spot.id if spot is not None else None
        apart = apart_in(self.chosen, [*taken, now])
        return "" if apart is None else tr(TAKEN_APART[apart]).format(check=check_name(self.chosen))

    def _keep_result(self) -> None:
        kind, spans = self.chosen, self.spans
        kept: list[CheckResult] = []

        def do() -> str:
            result = self._access.log.checks.add(kind, spans)
            kept.append(result)
            return state_text(check_name_alone(kind), result.outcome.verdict)  # the page shows the sentence

        self._access.do(do)
        self.spans = []
        if not kept:
            return
        outcome = kept[0].outcome
        if outcome.verdict is CheckVerdict.PASSED:
            self.choose_next()
        if self.chosen is not kind:
            self._access.message = Message(
                tr("{result}. Next: {check}").format(
                    result=self._access.message.text, check=check_name(self.chosen)
                )
            )
            self._say_beside(tr_kept(outcome.sentence), self.instruction())
        else:
            self._say_beside(tr_kept(outcome.sentence))


def _used_text(use: StretchUse) -> str:
    """That the value of now counts for something else already, in a whole sentence.

    Args:
        use: what it counts for.
    """
    if use.check is not None:
        return tr("This value counts for the {check} already; a new one is needed.").format(
            check=check_name(use.check)
        )
    return tr("The value of now was taken as a reading at “{spot}” already.").format(spot=use.spot_name)
