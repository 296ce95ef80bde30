"""The work of the stage Plan: what remedies would bring, what was decided on each, and the readings that prove them.

The plan itself is worked out by `logger.plan`; only what is ticked, and the reading that is on its way, are kept here.
"""

from __future__ import annotations

from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from functools import partial

from gui.model.cached_task import CachedTask
from gui.model.night_controller import NightController
from gui.model.sweep_controller import SweepController
from gui.model.undo_history import UndoableEdit
from gui.model.visit_access import Message
from gui.model.visit_controller import VisitController
from logger.plan.outlook import Outlook
from logger.plan.plan_basis import PlanBasis, Read, basis_of, loads_in
from logger.plan.planned_remedy import (
    PlannedRemedy,
    ProofVerdict,
    RemedyPlan,
    RemedyStatus,
    RoutePurpose,
    RouteStop,
    SpotPrediction,
)
from logger.plan.remedy_plan import remedy_plan
from logger.plan.remedy_text import short_result
from logger.translation import tr
from logger.visit.records.remedy_records import RemedyDecision, RemedyEntry, RemedyKind

Key = tuple[str, tuple[int, ...], int | None, str]
"""By which a remedy is found again, whether or not the log keeps it yet."""


def key_of(remedy: PlannedRemedy) -> Key:
    """By which a remedy is found again in a plan that is worked out anew."""
    ids = tuple(sorted(source.id for source in remedy.sources))
    return remedy.kind, ids, None if ids else remedy.spot_id, remedy.text


def worked_out(basis: PlanBasis) -> tuple[RemedyPlan, Outlook | None]:
    """Work out the plan, and what predicts any other set of its remedies.

    Args:
        basis: of the visit.
    """
    outlook = Outlook(basis, basis.tonight, basis.readings) if basis.tonight is not None else None
    return remedy_plan(basis), outlook


# long: the plan in sight, ticks, decisions and readings share what was worked out last, each a small method.
class PlanController:
    """The work of the stage Plan.

    Args:
        controller: the visit.
        sweep_controller: works out tonight's list, on which the predictions rest.
        night_controller: has the loads that came again at night.
    """

    def __init__(
        self,
        controller: VisitController,
        sweep_controller: SweepController,
        night_controller: NightController,
    ) -> None:
        self.controller = controller
        self._sweep = sweep_controller
        self._night = night_controller
        self._executor: ThreadPoolExecutor | None = None
        self._task: CachedTask[tuple[RemedyPlan, Outlook | None]] = CachedTask(self._running_executor)
        self._inputs: tuple[object, ...] | None = None
        self._held: tuple[object, ...] = ()
        """What the inputs name by its id, so that no other one gets that."""
        self._shown: RemedyPlan | None = None
        self._outlook: Outlook | None = None
        self._ticks: dict[Key, bool] = {}
        """What was ticked or unticked otherwise than it is planned."""
        self._predicted: tuple[object, tuple[SpotPrediction, ...]] | None = None
        self._awaited: tuple[RouteStop, int] | None = None
        """The reading of the route that is on its way, and the newest reading when it was asked for."""
        self._following: list[RouteStop] = []
        """The readings that follow it."""
        self._to_tell: RouteStop | None = None
        """The reading of the route that was taken, until the plan says what it proves."""

    def close(self) -> None:
        """End the work beside the window, since that closes."""
        if self._executor is not None:
            self._executor.shutdown(wait=False)
            self._executor = None

    def _running_executor(self) -> ThreadPoolExecutor:
        if self._executor is None:
            self._executor = ThreadPoolExecutor(1)
        return self._executor

    # --- the plan ----------------------------------------------------------------------------------------

    def plan(self) -> RemedyPlan | None:
        """The plan as last worked out: it stays in sight while the next one is; None before the first."""
        tonight = self._sweep.tonight()
        if not self._sweep.is_computing:
            snapshot = self.controller.snapshot
            night = self._night.analysis() if snapshot.night_count else None
            inputs = (
                tuple(snapshot.readings), tuple(snapshot.sources), tuple(snapshot.spots), snapshot.setup,
                tuple(snapshot.remedies), tuple(snapshot.remedy_baselines), tuple(snapshot.checks),
                tuple(snapshot.step_labels), id(tonight), id(night),
            )  # fmt: skip
            if inputs != self._inputs:
                self._inputs, self._held = inputs, (tonight, night)
                self._task.request(inputs, partial(worked_out, self._basis()))
        if (found := self._task.result()) is not None and found[0] is not self._shown:
            self._shown, self._outlook = found
        self._tell()
        return self._shown

    def _basis(self) -> PlanBasis:
        snapshot = self.controller.snapshot
        night = self._night.morning if snapshot.night_count else None
        counts = night is not None and night.night.counts
        return basis_of(
            self.controller.log,
            Read(
                snapshot.setup, tuple(snapshot.spots), tuple(snapshot.sources), tuple(snapshot.readings),
                tuple(snapshot.checks),
            ),
            tonight=self._sweep.tonight(),
            effects=self._sweep.effects(),
            loads=loads_in(night.summary, night.night.record.end_s) if night is not None and counts else (),
            zone=snapshot.zone,
        )  # fmt: skip

    @property
    def shown(self) -> RemedyPlan | None:
        """The plan that is in sight; None before the first."""
        return self._shown

    @property
    def is_computing(self) -> bool:
        """Whether what is shown is being worked out anew."""
        return self._sweep.is_computing or self._task.running

    def has_news(self) -> bool:
        """Whether the plan has come since this was last called."""
        return self._task.has_news()

    def wait(self) -> None:
        """Wait until the plan is worked out; the window never does, a test and a picture do."""
        self._sweep.wait()
        self.plan()
        self._task.wait()
        self.plan()

    # --- what is ticked ----------------------------------------------------------------------------------

    def is_ticked(self, remedy: PlannedRemedy) -> bool:
        """Whether a remedy counts in what the ticked ones bring: what is done does."""
        if remedy.not_wanted:
            return False
        return remedy.is_done or self._ticks.get(key_of(remedy), remedy.is_chosen)

    def ticked(self) -> list[PlannedRemedy]:
        """The ticked remedies, in the order of the plan."""
        return [remedy for remedy in self._shown.remedies if self.is_ticked(remedy)] if self._shown else []

    def tick(self, remedy: PlannedRemedy) -> None:
        """Tick a remedy, or untick it."""
        was = self.is_ticked(remedy)
        text = tr("untick “{remedy}”") if was else tr("tick “{remedy}”")
        self._set_ticks({**self._ticks, key_of(remedy): not was}, text.format(remedy=remedy.shown))

    def tick_least_effort(self) -> None:
        """Tick the remedies that reach the target with the least effort, and no other ones but what is done."""
        plan = self._shown
        if plan is None:
            return
        wanted = {key_of(remedy) for remedy in plan.least_effort}
        ticks = {key_of(remedy): key_of(remedy) in wanted for remedy in plan.remedies}
        self._set_ticks(ticks, tr("tick the least effort"))

    def _set_ticks(self, ticks: dict[Key, bool], name: str) -> None:
        def show(wanted: dict[Key, bool]) -> None:
            self._ticks = wanted

        was = self._ticks
        show(ticks)
        self.controller.history.remember_edit(UndoableEdit(name, partial(show, was), partial(show, ticks)))

    def predicted(self) -> tuple[SpotPrediction, ...]:
        """What the ticked remedies leave at each spot that was swept, from what is done and read there by now.

        None while nothing is ticked.
        """
        ticked = self.ticked()
        if self._outlook is None or not ticked:
            return ()
        key = self._outlook, [key_of(remedy) for remedy in ticked]
        if self._predicted is None or self._predicted[0] != key:
            self._predicted = key, self._outlook.predict_next(ticked)
        return self._predicted[1]

    def to_plan(self) -> list[PlannedRemedy]:
        """The ticked remedies that are not planned yet."""
        return [remedy for remedy in self.ticked() if not remedy.is_chosen]

    # --- decisions ---------------------------------------------------------------------------------------

    def decide(self, remedies: Sequence[PlannedRemedy], entry: RemedyEntry, name: str, said: str) -> bool:
        """Enter the same decision on remedies; False where it was refused.

        Args:
            remedies: of the plan.
            entry: the decision.
            name: what it is, as the menu Edit names it behind Undo.
            said: the message once it is entered.
        """
        store = self.controller.log.remedies
        made: list[tuple[int, int]] = []

        def do() -> str:
            for remedy in remedies:
                if remedy.kept is not None:
                    made.append((remedy.kept.id, store.decide(remedy.kept.id, entry).id))
                else:
                    ids = [source.id for source in remedy.sources]
                    added = store.add(remedy.kind, entry, ids, remedy.spot_id, remedy.text)
                    made.append((added.id, added.entries[0].id))
            self._remember(made, name)
            return said

        self._ticks = {k: on for k, on in self._ticks.items() if k not in set(map(key_of, remedies))}
        return self.controller.do(do)

    def add_own(self, text: str, spot_id: int | None = None, by_whom: str = "") -> PlannedRemedy | None:
        """Plan a remedy in the user's own words; None where it was refused.

        Args:
            text: what is to be done.
            spot_id: the spot that it is about; None for none in particular.
            by_whom: who does it; empty where nobody stated it.
        """
        own: list[PlannedRemedy] = []

        def do() -> str:
            entry = RemedyEntry(0, RemedyDecision.PLANNED, by_whom=by_whom)
            added = self.controller.log.remedies.add(RemedyKind.OWN, entry, spot_id=spot_id, text=text)
            self._remember([(added.id, added.entries[0].id)], tr("add “{remedy}”").format(remedy=added.text))
            spots = {spot.id: spot.name for spot in self.controller.snapshot.spots}
            name = spots.get(spot_id or 0, "")
            own.append(
                PlannedRemedy(RemedyKind.OWN, (), spot_id, name, added.text, added, RemedyStatus.PLANNED)
            )
            return tr("Planned: {remedies}.").format(remedies=added.text)

        return own[0] if self.controller.do(do) and own else None

    def _remember(self, made: Sequence[tuple[int, int]], name: str) -> None:
        """Have entries taken back by undo, and stand again by redo; both stay in the log.

        Args:
            made: ids of remedies and of their entries.
            name: what it was.
        """
        store = self.controller.log.remedies
        newest = list(made)

        def turn() -> None:
            newest[:] = [
                (remedy_id, store.take_back(remedy_id, entry_id).id) for remedy_id, entry_id in newest
            ]

        self.controller.history.remember_edit(UndoableEdit(name, turn, turn))

    # --- reading again -----------------------------------------------------------------------------------

    def stops(self, remedy: PlannedRemedy | None = None) -> list[RouteStop]:
        """The readings to take: those of the route, or those of a remedy, which may always be taken again.

        Args:
            remedy: of the plan; None for the whole route.
        """
        plan = self._shown
        if plan is None:
            return []
        if remedy is None:
            return list(plan.route)
        of_remedy = [stop for stop in plan.route if remedy.shown in stop.remedies]
        of_remedy = of_remedy or [stop for stop in plan.repeats if remedy.shown in stop.remedies]
        if remedy.result is not None and remedy.result.verdict is not ProofVerdict.NOT_TOLD_APART:
            # Once it is told, what was read with it is read again; without it only where that has to be.
            with_it = [stop for stop in of_remedy if stop.combination == of_remedy[0].combination]
            return with_it if of_remedy[0].purpose is RoutePurpose.AGAIN else of_remedy
        return of_remedy or list(plan.route)

    def next_stop(self, remedy: PlannedRemedy | None = None) -> RouteStop | None:
        """The next reading of the route; the first that proves a remedy where one is given."""
        return next(iter(self.stops(remedy)), None)

    def read(self, stops: Sequence[RouteStop]) -> None:
        """Choose the spot and state what is to be on for the first of some readings; the others follow it.

        Args:
            stops: the readings to take, in their order, at the stage Spots.
        """
        stop = stops[0]
        self.controller.route.chosen_id = stop.spot_id
        self.controller.condition.state_to_be_set(stop.combination.label)
        newest = max((reading.id for reading in self.controller.snapshot.readings), default=0)
        self._awaited = stop, newest
        self._following = list(stops[1:])
        text = (
            tr(
                "Set “{condition}”, go to “{spot}” and hold still, then take the reading. The next one follows it."
            )
            if self._following
            else tr(
                "Set “{condition}”, go to “{spot}” and hold still, then take the reading. The plan comes back with it."
            )
        )
        self.controller.message = Message(text.format(condition=stop.combination.shown, spot=stop.spot_name))

    def came_back(self) -> bool:
        """Whether the last reading that was asked for has been taken since this was last called."""
        if self._awaited is None:
            return False
        stop, newest = self._awaited
        taken = any(
            reading.id > newest
            and reading.void_reason is None
            and reading.spot_id == stop.spot_id
            and reading.live == stop.combination.live
            for reading in self.controller.snapshot.readings
        )
        if not taken:
            return False
        self._awaited, self._to_tell = None, stop
        if self._following:
            self.read(self._following)
            return False
        return True

    def count_as_stated_now(self, remedy: PlannedRemedy) -> bool:
        """Let what a remedy rests on count as read against what is stated now; False where it was refused."""
        assert remedy.result is not None
        return self.controller.corrections.reference.count_as_stated_now(remedy.result.wide_readings)

    def _tell(self) -> None:
        """Say what the reading of the route has proved, once the plan that counts it is there."""
        stop, plan = self._to_tell, self._shown
        if stop is None or plan is None or self._awaited is not None:
            return
        is_counted = self._inputs is not None and not self.is_computing
        if not is_counted:
            return
        self._to_tell = None
        proved = [r for r in plan.remedies if r.shown in stop.remedies and r.result is not None]
        lines = [
            f"{remedy.shown}: {remedy.status_words}. {short_result(remedy.result)}"
            for remedy in proved
            if remedy.result
        ]
        if stop.purpose is RoutePurpose.BEFORE:
            lines = [tr("Read before it is done. Now it can be done, and read again afterwards.")]
        if lines:
            self.controller.message = Message(" ".join(lines))

    def open_of_earlier(self) -> list[PlannedRemedy]:
        """The open remedies that this visit took over from an earlier one."""
        plan = self._shown
        open_ones = (RemedyStatus.PLANNED, RemedyStatus.DONE)
        return [
            remedy
            for remedy in (plan.remedies if plan is not None else ())
            if remedy.kept is not None and remedy.kept.from_visit and remedy.status in open_ones
        ]
