"""The sweep on the stage Sources: what is read next, the reading that is awaited, and tonight's list.

What is shown is worked out from the log (`logger.sweep`); only the choice and the moment of a switching are kept here.
"""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from functools import partial

from gui.model.cached_task import CachedTask
from gui.model.promised_value_check import refuse_withdrawn
from gui.model.source_list_controller import SourceListController
from gui.model.switching_evidence import (
    AskedSince,
    PendingSwitching,
    RepeatedReading,
    SweptReading,
    TraceEvidence,
    UnchangedValue,
    repeated_reading,
    unchanged_value,
)
from gui.model.undo_history import UndoableEdit
from gui.model.visit_access import NOTHING_RECORDED, Message
from gui.model.visit_controller import VisitController
from gui.model.wording import reading_volts_text
from logger.clock import NS_PER_S
from logger.errors import StillvoltError
from logger.settling.events import State
from logger.sweep.confirmation import Effect
from logger.sweep.labelled_steps import source_effects
from logger.sweep.listed_later import read_before_listed
from logger.sweep.plan_text import conditions_to_read_again, to_be_certain_text
from logger.sweep.read_unproved import read_unproved, switched_unproved
from logger.sweep.sweep_progress import (
    Combination,
    SweepProgress,
    circuits_of,
    combination_of,
    cords_of,
    is_between,
    plain_sweep,
    sweep_progress,
    switching_instructions,
)
from logger.sweep.sweep_rows import SweepRow, sweep_rows
from logger.sweep.switch_off_plan import PlanState, SwitchOffPlan, switch_off_plan
from logger.translation import tr
from logger.visit.records.condition import EVERYTHING_ON
from logger.visit.records.fact_names import SKIPPED_CIRCUITS
from logger.visit.records.home_records import Source, Spot
from logger.visit.records.promised_value import PromisedValue
from logger.visit.records.reading_records import Reading
from logger.visit.results.body_moves import level_before_gap
from logger.visit.results.posture_repeats import repeatability_on_site

STILL_AFTER_SWITCHING_S = 5.0
"""How long the value must have been settled after a switching before it is taken.

A meter's averaging and the detector's own delay are over by then.
"""


def _is_of_a_sweep(reading: Reading) -> bool:
    """Whether a valid reading was taken with a part of the circuits on, as a sweep takes it."""
    return reading.void_reason is None and reading.live is not None and is_between(reading.condition)


# long: one sweep of readings, each step of which depends on what is waited for, asked and stated
class SweepController:
    """The work of the stage Sources.

    Args:
        controller: the visit.
    """

    def __init__(self, controller: VisitController) -> None:
        self.controller = controller
        self.waiting: PendingSwitching | None = None
        self.chosen: Combination | None = None
        """A combination that the user chose instead of the next one of the plan."""
        self.newest: SweptReading | None = None
        """What was taken last in this window; None before the first."""
        self.unchanged: UnchangedValue | None = None
        """A reading that is not taken until the user has answered whether anything was switched."""
        self.repeated: RepeatedReading | None = None
        """A reading of what was read before, with another value: which counts is asked."""
        self._spots_agreed: set[int | None] = set()
        """Ids of the spots at which the user said that a sweep is made."""
        self._stated_utc_ns = 0
        """When a step of the sweep stated what is on; 0 where none did. The words may get other names meanwhile."""
        self._chosen_of: list[tuple[int, str]] = []
        """Ids and names of the list from which `chosen` was chosen: its label would name other ones afterwards."""
        self._asked = AskedSince()
        self.source_list = SourceListController(controller, self._forget_chosen)
        self._executor: ThreadPoolExecutor | None = None
        self._plan: CachedTask[SwitchOffPlan | None] = CachedTask(self._running_executor)
        self._reported_refusal = ""
        """Why there is no plan, as the user was informed last."""

    def close(self) -> None:
        """End the work beside the window, since that closes."""
        if self._executor is not None:
            self._executor.shutdown(
                wait=False
            )  # what is under way is short; a cancelled one has no result to ask for
            self._executor = None

    def _running_executor(self) -> ThreadPoolExecutor:
        if self._executor is None:
            self._executor = ThreadPoolExecutor(1)
        return self._executor

    @property
    def sources(self) -> list[Source]:
        """Circuits and cords, in the order of the list."""
        return self.controller.snapshot.sources

    def _names(self) -> list[tuple[int, str]]:
        return [(source.id, source.name) for source in self.sources]

    def _forget_chosen(self) -> None:
        """What was chosen to be read next belongs to the list as it was."""
        self.chosen = None

    # --- the breaker sweep -------------------------------------------------------------------------------

    def progress_at(self, spot: Spot) -> SweepProgress:
        """How far the sweep at a spot is, with what was skipped."""
        return sweep_progress(self.controller.snapshot.readings, spot.id, self.sources)

    def progress(self) -> SweepProgress:
        """How far the sweep at the chosen spot is; what was skipped is not left."""
        found = sweep_progress(
            self.controller.snapshot.readings, self.controller.route.chosen_id or 0, self.sources
        )
        skipped = {self.alone(s).live for s in self.sources if s.id in self.skipped and s.kind == "circuit"}
        return replace(found, left=tuple(c for c in found.left if c.live not in skipped))

    def extra_readings(self) -> int:
        """How many readings were taken for tonight's list, after the plain sweep, at all spots."""
        plain = {combination.live for combination in plain_sweep(self.sources)}
        return sum(
            len(readings)
            for spot in self.controller.route.indoor_spots()
            for live, readings in sweep_progress(
                self.controller.snapshot.readings, spot.id, self.sources
            ).taken.items()
            if live not in plain
        )

    def not_counted(self) -> str:
        """Sentences on readings at the chosen spot that do not count; mostly empty.

        Either a circuit was listed after them, or the function check had failed before them.
        """
        here, readings = self.controller.route.chosen_id or 0, self.controller.snapshot.readings
        found = read_before_listed(readings, here, self.sources)
        unproved = read_unproved(readings, [here], self.sources)
        snapshot = self.controller.snapshot
        names = {spot.id: spot.name for spot in snapshot.spots}
        switched = switched_unproved(snapshot.known_steps(), names, snapshot.every_source, here)
        return " ".join(
            [*([found.text] if found is not None else []), *(one.text for one in unproved), *switched]
        )

    def rows(self) -> list[SweepRow]:
        """The sweep at the chosen spot, row by row."""
        return sweep_rows(self.progress(), self.sources)

    @property
    def skipped(self) -> frozenset[int]:
        """Ids of circuits that are not read alone in this visit."""
        return frozenset(map(int, self.controller.snapshot.skipped.split()))

    def toggle_skipped(self, circuit: Source) -> None:
        """Do not read a circuit alone, or read it after all."""

        def do() -> str:
            was = self.skipped
            now = was ^ {circuit.id}
            self.controller.log.facts.set(SKIPPED_CIRCUITS, " ".join(map(str, sorted(now))))
            undo = partial(self.controller.log.facts.set, SKIPPED_CIRCUITS, " ".join(map(str, sorted(was))))
            redo = partial(self.controller.log.facts.set, SKIPPED_CIRCUITS, " ".join(map(str, sorted(now))))
            self.controller.history.remember_edit(
                UndoableEdit(
                    tr("skip “{circuit}”").format(circuit=circuit.name),
                    undo,
                    redo,
                    tr("“{circuit}” is back as it was.").format(circuit=circuit.name),
                )
            )
            text = tr("“{circuit}” is skipped") if circuit.id in now else tr("“{circuit}” is read after all")
            return text.format(circuit=circuit.name)

        self.chosen = None
        self.controller.do(do)

    def begun_spot(self) -> Spot | None:
        """Where the newest sweep was begun while it is not whole; None where none is under way."""
        readings, spots = self.controller.snapshot.readings, self.controller.route.indoor_spots()
        newest = next((r for r in reversed(readings) if _is_of_a_sweep(r)), None)
        spot = next((spot for spot in spots if newest is not None and spot.id == newest.spot_id), None)
        return spot if spot is not None and self.progress_at(spot).left else None

    def stay_at_the_spot(self) -> None:
        """Choose the spot of the sweep that is under way again, where another one was only proposed since."""
        route = self.controller.route
        if self.waiting is not None or route.is_chosen_by_user or self._spots_agreed & {route.chosen_id}:
            return
        begun = self.begun_spot()
        if begun is not None and begun.id != route.chosen_id:
            route.propose(begun.id)
            self.controller.message = Message(tr("The sweep goes on at “{spot}”.").format(spot=begun.name))

    def spots_to_ask(self) -> list[Spot]:
        """The spots at which the sweep may be meant, where that is to be asked: the likeliest first; else none."""
        route, begun = self.controller.route, self.begun_spot()
        here = route.chosen
        if here is None or self._spots_agreed & {here.id}:
            return []
        is_begun_here = any(
            r.spot_id == here.id and _is_of_a_sweep(r) for r in self.controller.snapshot.readings
        )
        if is_begun_here or (begun is None and route.is_chosen_by_user):
            return []
        if begun is not None:
            return [begun, here]
        any_begun = any(map(_is_of_a_sweep, self.controller.snapshot.readings))
        others = [spot for spot in route.indoor_spots() if spot.id != here.id]
        return [] if any_begun or not others else [here, *others]

    def sweep_at(self, spot: Spot) -> None:
        """Let the sweep be made at a spot: that is not asked again for it."""
        self._spots_agreed.add(spot.id)
        self.controller.route.chosen_id = spot.id

    def next_reading(self) -> tuple[Spot, Combination] | None:
        """The spot and the combination of circuits that are read next.

        A combination that the user chose comes first, then readings that contradict others, then the plain sweep at the
        chosen spot, then what tonight's list needs. Once that list is confirmed, the cords are left to the user.

        Returns:
            None when nothing is left to read, or when there is no spot.
        """
        here = self.controller.route.chosen
        if here is None:
            return None
        if self.chosen is not None and self._chosen_of == self._names():
            return here, self.chosen
        left, plan = self.progress().left, self.tonight()
        again = self.wanted_for_tonight() if plan and plan.state is PlanState.CONTRADICTORY else None
        if again is not None:
            return again
        if plan is not None and plan.state is PlanState.CONFIRMED:
            cords = {cord.id for cord in cords_of(self.sources)}
            left = tuple(one for one in left if cords <= one.live)
        return (here, left[0]) if left else self.wanted_for_tonight()

    def next_on_tonight(self) -> tuple[Spot, Combination] | None:
        """What the page Tonight asks for: the same as `next_reading`, but for a confirmed list, which asks for nothing.

        Where nothing was swept at the chosen spot, that page asks for what the spots that were swept need.
        """
        plan, here = self.tonight(), self.controller.route.chosen
        if plan is None or plan.state is PlanState.CONFIRMED:
            return self.wanted_for_tonight()
        is_swept = here is not None and here.id in {spot.spot_id for spot in plan.spots}
        return self.next_reading() if is_swept else self.wanted_for_tonight()

    def wanted_for_tonight(self) -> tuple[Spot, Combination] | None:
        """The reading that tonight's list needs: a suspect one again, the one that would decide, or that confirms.

        What confirms is read at the chosen spot, unless only others are left to confirm.
        """
        found, here = self.tonight(), self.controller.route.chosen
        if found is None or here is None or found.next_combination is None:
            return None
        spots = {spot.id: spot for spot in self.controller.snapshot.spots}
        at = found.next_spot_id
        if found.state is PlanState.UNCONFIRMED:
            left = [spot.spot_id for spot in found.spots if spot.confirming_reading is None]
            at = here.id if here.id in left else at
        return spots.get(at or 0, here), found.next_combination

    def next_combination(self) -> Combination | None:
        """What to set and read next; see `next_reading`."""
        found = self.next_reading()
        return found[1] if found else None

    def choose(self, combination: Combination | None) -> None:
        """Read a combination next instead of the planned one; None goes back to the plan."""
        self.chosen, self.waiting, self._chosen_of = combination, None, self._names()

    def alone(self, circuit: Source) -> Combination:
        """Only that circuit on, besides those that must stay on."""
        return combination_of([circuit.id], self.sources)

    def set_now(self) -> Combination | None:
        """What is live, by the awaited or the newest reading with known circuits; None where none is."""
        if self.waiting is not None:
            return self.waiting.combination
        readings = reversed(self.controller.snapshot.readings)
        return next((Combination(r.live, r.condition) for r in readings if r.live is not None), None)

    def what_to_switch(self) -> str:
        """What the person at the panel switches to come to the next combination; empty when none is left."""
        found = self.next_reading()
        return self.to_switch_for(found[1]) if found else ""

    def to_switch_for(self, combination: Combination) -> str:
        """What the person at the panel switches to come to a combination."""
        now, snapshot = self.set_now(), self.controller.snapshot
        newest = max((r.utc_ns for r in snapshot.readings if r.live is not None), default=0)
        is_still_set = now is not None and (
            self.waiting is not None
            or (
                now.label == snapshot.condition
                and snapshot.stated.utc_ns <= newest
                and not self.controller.readings.condition_doubt()
            )
        )
        shown = [snapshot.shown_source(source) for source in self.sources]
        return switching_instructions(now, combination, shown, is_still_set=is_still_set)

    def switched(self) -> None:
        """Note that the next combination is set: its reading is taken once the value has settled since."""
        refusal, snapshot, found = self.why_not_switched(), self.controller.snapshot, self.next_reading()
        if refusal or found is None or snapshot.live is None:
            self.controller.message = Message(refusal, refused=True)
            return
        spot, combination = found
        self.controller.route.chosen_id = spot.id
        # What was stated before no longer holds, also for a reading on the stage Spots. Where it is the same, something
        # else may have been on meanwhile: a step about now is of this switching.
        self.controller.condition.state(combination.label)
        stated = self.controller.snapshot.stated
        self._stated_utc_ns = stated.utc_ns if stated.condition == combination.label else 0
        self.waiting = PendingSwitching(
            spot, combination, snapshot.live.beat_steady_utc_ns, self._is_beside_first(spot, combination)
        )
        self.controller.message = Message(
            tr("{condition}: hold still, it is taken by itself").format(condition=combination.shown)
        )

    def _is_beside_first(self, spot: Spot, combination: Combination) -> bool:
        """Whether a combination is to be read again to be sure of its first reading, which then stands beside it."""
        plan = self.tonight()
        if plan is None or plan.state is PlanState.CONTRADICTORY:
            return False
        wanted = self.wanted_for_tonight()
        if wanted is not None and (wanted[0].id, wanted[1].live) == (spot.id, combination.live):
            return True
        confirmed = plan.state is PlanState.CONFIRMED
        here = [one for one in plan.spots if one.spot_id == spot.id]
        return any(combination.label in conditions_to_read_again(one, confirmed) for one in here)

    def why_not_switched(self) -> str:
        """Why nothing can be awaited now; empty when something can."""
        snapshot = self.controller.snapshot
        if self.controller.route.chosen is None:
            return tr("There is no spot to read. The stage Spots adds one.")
        if len(circuits_of(self.sources)) == 0:
            return tr("No circuit is listed yet.")
        if not snapshot.recording or snapshot.live is None:
            return snapshot.refusal or tr(NOTHING_RECORDED)
        if self.next_reading() is None:
            return (
                tr("Tonight's answer is being worked out.")
                if self.is_computing
                else tr("Nothing is left to read.")
            )
        return ""

    def cancel_waiting(self) -> bool:
        """Do not take it; False when nothing was awaited."""
        was, self.waiting = self.waiting, None
        return was is not None

    def left_s(self) -> float | None:
        """Seconds until the awaited reading is taken; None while it is not settled, or nothing is awaited."""
        live = self.controller.snapshot.live
        if (
            self.waiting is None
            or live is None
            or self.controller.snapshot.refusal
            or live.state is not State.SETTLED
        ):
            return None
        since_ns = max(self.waiting.since_utc_ns, live.since_steady_utc_ns)
        return max(STILL_AFTER_SWITCHING_S - (live.beat_steady_utc_ns - since_ns) / NS_PER_S, 0.0)

    def take_when_due(self) -> Reading | None:
        """Take the awaited reading if it is time; None otherwise, when it was refused, or when `unchanged` is asked."""
        waiting = self.waiting
        if waiting is not None and (why := self._why_awaited_no_more(waiting)):
            self.waiting = None
            self.controller.message = Message(f"{waiting.combination.shown}: {why}", refused=True)
            return None
        if waiting is None or self.left_s() != 0.0:
            return None
        self.waiting = None
        self.unchanged = self._without_evidence(waiting)
        if self.unchanged is not None:
            self.controller.message = Message(
                f"{waiting.combination.shown}: {self.unchanged.why_not_taken}", refused=True
            )
            return None
        return self._take(waiting)

    def _why_awaited_no_more(self, waiting: PendingSwitching) -> str:
        """Why an awaited reading is not taken after all, as something else was chosen or stated since; mostly empty."""
        if self.controller.route.chosen_id != waiting.spot.id:
            return tr("not taken, another spot was chosen")
        if self.controller.snapshot.stated.condition != waiting.combination.label:
            return tr("not taken, something else was stated to be on")
        return ""

    def _without_evidence(self, waiting: PendingSwitching) -> UnchangedValue | None:
        """What is awaited where nothing shows its switching, or that it is another spot; None where something does."""
        current_value = self.controller.log.current_value
        try:
            promised = current_value.promise(condition=waiting.combination.label)
            span = current_value.part_since(promised, waiting.since_utc_ns)
        except StillvoltError:  # taking it states why it is refused
            return None
        snapshot = self.controller.snapshot
        elsewhere = snapshot.unmoved_elsewhere(waiting.spot.id, promised.live)
        if elsewhere is None:
            elsewhere = self.controller.readings.chosen_after_settling(waiting.spot, promised, self._asked.at)
        parted = snapshot.same_after_gap(span, promised.live)
        logged = self.controller.log.events.of_run(promised.live.run_id)
        level = level_before_gap(self._asked.utc_ns, promised.live, logged)
        evidence = TraceEvidence(elsewhere, parted, level)
        return unchanged_value(waiting, promised, span, snapshot.readings, self._asked, evidence)

    def note_asked(self) -> None:
        """Note since when the next combination has been asked for."""
        live = self.controller.snapshot.live
        if live is not None and self.waiting is None:
            self._asked.note(live, self.next_reading(), self.controller.snapshot.condition)

    def is_of_a_list(self, combination: Combination) -> bool:
        """Whether a reading of a combination may be the one that confirms tonight's list."""
        plan = self._plan.result()
        is_asked = plan is not None and plan.state is PlanState.UNCONFIRMED
        if is_asked and plan is not None and plan.next_combination == combination:
            return True
        return combination.label != EVERYTHING_ON and combination.unlisted_on is True

    def take_unchanged(self, unchanged: UnchangedValue) -> Reading | None:
        """Take a reading on the user's word that it was switched and nothing changed; None when it was refused.

        Args:
            unchanged: what the user was asked about.
        """
        return self._take(unchanged.pending, unchanged.promised)

    def _take(self, waiting: PendingSwitching, promised: PromisedValue | None = None) -> Reading | None:
        """Take an awaited reading; None when it was refused.

        Args:
            waiting: what was awaited.
            promised: the value that the user was asked about, taken on their word; None takes that of now.
        """
        taken: list[Reading] = []

        def do() -> str:
            if promised is not None:
                self.controller.snapshot.refresh(force=True)
                refuse_withdrawn(promised, self.controller.snapshot, self.controller.clock.utc_ns())
            reading = self.controller.log.readings.take(
                waiting.spot.id,
                waiting.combination.label,
                live=waiting.combination.live,
                switched_utc_ns=waiting.since_utc_ns
                + 1,  # a line of that very moment is of what was on before
                stated_unchanged=promised is not None,
                promised=promised,
            )
            taken.append(reading)
            self.controller.history.remember(reading)
            if not waiting.beside_first:
                same = self.progress_at(waiting.spot).taken.get(waiting.combination.live, ())
                self.repeated = repeated_reading(reading, same)
            self.newest = SweptReading(reading, waiting.since_utc_ns)
            return tr("Taken: {value} V at “{spot}”, {condition}").format(
                value=reading_volts_text(reading), spot=reading.spot_name, condition=waiting.combination.shown
            )

        self.controller.do(do)
        if taken:
            self.chosen = None
            if self.next_reading() is None and not self.is_computing and not self.is_set_for_night:
                self.forget_condition()
        return taken[0] if taken else None

    @property
    def is_set_for_night(self) -> bool:
        """Whether what is stated to be on is what tonight's list leaves on, as the newest reading confirmed it."""
        plan, newest = self._plan.result(), self.newest
        if plan is None or plan.state is not PlanState.CONFIRMED or newest is None:
            return False
        confirming = {
            spot.confirming_reading.id for spot in plan.spots if spot.confirming_reading is not None
        }
        return newest.reading.id in confirming and self._is_stated_here()

    def _is_stated_here(self) -> bool:
        """Whether what a step of the sweep stated is what holds now."""
        snapshot = self.controller.snapshot
        return bool(snapshot.condition) and snapshot.stated.utc_ns == self._stated_utc_ns

    def forget_condition(self) -> bool:
        """What a step of the sweep had on is not known to be on once the sweep is over or its stage is left.

        It is asked before the next reading, and what it was stays stated for the lines until now.

        Returns:
            Whether there was anything to forget.
        """
        if self.waiting is not None or not self._stated_utc_ns:
            return False
        is_stated, self._stated_utc_ns = self._is_stated_here(), 0
        snapshot = self.controller.snapshot
        if not is_stated:
            return False  # somebody has stated since what is on
        message = self.controller.message

        def do() -> str:
            self.controller.log.facts.state_condition("", snapshot.live)
            return message.text

        carried_out = self.controller.do(do)
        if carried_out:
            self.controller.message = message
        return carried_out

    # --- tonight -----------------------------------------------------------------------------------------

    def tonight(self) -> SwitchOffPlan | None:
        """What to switch off tonight, from all spots that were swept.

        It takes up to a second, so it is computed beside the window.

        Returns:
            None while it is being computed, or while there is nothing to compute it from.
        """
        snapshot = self.controller.snapshot
        spots = tuple((spot.id, spot.name) for spot in self.controller.route.indoor_spots())
        inputs = tuple(snapshot.readings), spots, tuple(self.sources), snapshot.setup
        self._plan.request(inputs, partial(switch_off_plan, *inputs))
        plan = self._plan.result()
        self.controller.sweep_is_computing = self._plan.running
        if not self._plan.running:
            self.controller.sweep_state = plan.state if plan is not None else None
            self.controller.not_certain_yet = to_be_certain_text(plan) if plan is not None else ""
            if self._plan.refusal and self._plan.refusal != self._reported_refusal:
                self.controller.message = Message(self._plan.refusal, refused=True)
            self._reported_refusal = self._plan.refusal
        return plan

    def effects(self) -> dict[tuple[int | None, int], Effect]:
        """What switching each circuit and cord on and off does, by the ids of its spot and of itself."""
        snapshot = self.controller.snapshot
        return source_effects(snapshot.known_steps(), repeatability_on_site(snapshot.readings))

    @property
    def is_computing(self) -> bool:
        """Whether tonight's list is being computed."""
        return self._plan.running

    def wait(self) -> None:
        """Wait until tonight's list is computed; the window never does, a test and a picture do."""
        self._plan.wait()

    def has_news(self) -> bool:
        """Whether tonight's list has come since this was last called."""
        return self._plan.has_news()
