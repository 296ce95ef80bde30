"""The work of the stage Night: nights of the visit summed up, one compared with another, the planned switchings.

What is slow is computed beside the window.
"""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import Executor
from functools import partial

from gui.model.cached_task import CachedTask, single_process
from gui.model.computer_resources import ComputerResources
from gui.model.night_condition_controller import NightConditionController
from gui.model.night_spot_controller import NightSpotController
from gui.model.undo_history import UndoableEdit
from gui.model.visit_access import Message
from gui.model.visit_controller import VisitController
from gui.model.wording import step_label_text
from logger.clock import NS_PER_S, SystemClock, format_duration
from logger.night.analysis.night_record import Stretch
from logger.night.edge_times import keep_edges, shifted_edges, typed_edges, typed_stretch
from logger.night.night_analysis import (
    NEWEST,
    NightAnalysis,
    NightPair,
    OtherNight,
    RecordingName,
    analyse_night,
    compare_with,
)
from logger.night.night_edges import FOUND_EDGES, MovedEdges, moved_edges
from logger.night.recorded_nights import Night
from logger.night.schedule import parse_schedule
from logger.settling.events import Step
from logger.translation import tr
from logger.visit.records.fact_names import NIGHT_EDGES, SCHEDULE
from logger.visit.storage.visit_brief import read_brief
from logger.visit.storage.visit_folder import visits_in

RESUMMARISE_AFTER_S = 300.0
"""A night is summed up again by itself once so much more has been recorded."""

NO_PLAN = ("", "-", "none")
"""What may be typed where no switching is planned."""


def recording_text(one: RecordingName) -> str:
    """Name a recording of the visit in a list: a night is called one, anything else is not."""
    text = tr("Night of {began}, {duration}") if one.is_night else tr("Recording of {began}, {duration}")
    return text.format(began=one.began, duration=format_duration(one.length_s))


class NightController:
    """The work of the stage Night.

    Args:
        controller: the visit.
        supplies: disk and battery (a test gives its own).
        executor: makes what computes nights beside the window.
    """

    def __init__(
        self,
        controller: VisitController,
        supplies: ComputerResources | None = None,
        executor: Callable[[], Executor] = single_process,
    ) -> None:
        self.controller = controller
        self.conditions = NightConditionController(controller)
        self.spots = NightSpotController(controller)
        self.supplies = supplies or ComputerResources(controller.log.path.parent, SystemClock())
        self.number: int | None = None
        """The night that was chosen; None: the longest; `NEWEST`: the one recorded last."""
        self.other: OtherNight | None = None
        """The night that it is compared with."""
        self.morning: NightAnalysis | None = None
        """The newest summary; it stays in sight while the next one is computed."""
        self._make_executor = executor
        self._executor: Executor | None = None
        self._summary: CachedTask[NightAnalysis] = CachedTask(self._running_executor)
        self._comparison: CachedTask[NightPair] = CachedTask(self._running_executor)
        self._summed_up = (0, 0.0, False, 0)
        """Run, end, whether it was recording, and how many nights there were, when the night was last summed up."""

    # --- the morning -------------------------------------------------------------------------------------

    def analysis(self) -> NightAnalysis | None:
        """The chosen night summed up, as far as it is known; asks for it anew where something differs."""
        snapshot = self.controller.snapshot
        if snapshot.live is None:
            return None
        run_id, end_s, was_recording, count = self._summed_up
        news = snapshot.live.run_id != run_id or snapshot.now_s - end_s >= RESUMMARISE_AFTER_S
        # A practice night runs so fast that it would be summed up without an end: once, when it is over.
        if (
            not run_id
            or (not snapshot.practice_night and (news or count != snapshot.night_count))
            or (was_recording and not snapshot.recording)
        ):
            self._summed_up = snapshot.live.run_id, snapshot.now_s, snapshot.recording, snapshot.night_count
        target_volts = snapshot.setup.target_volts
        self._summary.request(
            (self._summed_up, self.number, target_volts, self.schedule, self._edge_facts()),
            partial(analyse_night, self.controller.log.path, self.number, target_volts, self.schedule),
        )
        found = self._summary.result()
        if found is not None:
            self.morning = found
        return self.morning

    @property
    def is_computing(self) -> bool:
        """Whether a night is being summed up or compared."""
        return self._summary.running or self._comparison.running

    @property
    def refusal(self) -> str:
        """Why there is no summary; empty when nothing is wrong."""
        return self._summary.refusal

    def close(self) -> None:
        """End what works beside the window."""
        if self._executor is not None:
            self._executor.shutdown(wait=False, cancel_futures=True)
            self._executor = None

    def _running_executor(self) -> Executor:
        """The worker, once there is something to do."""
        if self._executor is None:
            self._executor = self._make_executor()
        return self._executor

    def summarise_again(self) -> None:
        """Sum up anew with what was recorded since."""
        if self.refusal:
            self.close()
        self._summary.invalidate()
        self._comparison.invalidate()
        self.controller.message = Message(tr("The night is being summed up …"))

    def choose(self, number: int) -> None:
        """Look at another night of the visit, counted from 1."""
        self.number = number

    def choose_newest(self) -> None:
        """Look at the night that was recorded last."""
        self.number = NEWEST

    def wait(self) -> None:
        """Wait until everything is worked out; the window never does, a test and a picture do."""
        self._summary.wait()
        self._comparison.wait()

    def has_news(self) -> bool:
        """Whether a summary or a comparison has come since this was last called."""
        return any([self._summary.has_news(), self._comparison.has_news()])

    def step_labels(self, morning: NightAnalysis) -> dict[Step, str]:
        """The labels that steps of a night were given on the stage Sources."""
        snapshot, starts_s = self.controller.snapshot, morning.night.run_starts_s
        labels = {
            round(starts_s[known.found.run_id] + known.found.step.time_s, 3): step_label_text(
                known, snapshot.every_source
            )
            for known in snapshot.known_steps()
            if known.label is not None and known.found.run_id in starts_s
        }
        times_s = {step: round(step.time_s, 3) for step in morning.summary.steps}
        return {step: labels[time_s] for step, time_s in times_s.items() if time_s in labels}

    def on_trace(self, night: Night, stretch_s: Stretch) -> Stretch:
        """Where a stretch of a night lies on the trace's time line."""
        moment = night.moment(stretch_s[0])
        if moment is None:
            return stretch_s
        run_id, since_s = moment
        started_ns = self.controller.snapshot.run_started_utc_ns(run_id)
        start_s = self.controller.snapshot.trace.seconds(started_ns + round(since_s * NS_PER_S), run_id)
        return start_s, start_s + stretch_s[1] - stretch_s[0]

    # --- before and after --------------------------------------------------------------------------------

    def other_nights(self) -> list[OtherNight]:
        """What the chosen night may be compared with: the visit's other nights, then the longest of other visits."""
        morning, here = self.morning, self.controller.log.path
        found = []
        if morning is not None:
            found = [
                OtherNight(recording_text(one), here, one.number)
                for one in morning.recordings
                if one.number != morning.night.number
            ]
        return found + [
            OtherNight(tr("the longest night of “{title}”").format(title=brief.title), brief.path, None)
            for brief in map(read_brief, visits_in(here.parent))
            if brief.path.resolve() != here.resolve() and not brief.is_empty
        ]

    def compare_with(self, other: OtherNight) -> None:
        """Compare the chosen night with another one."""
        self.other = other

    def side_by_side(self) -> NightPair | None:
        """The comparison; None while it is being worked out or nothing is chosen."""
        morning = self.analysis()
        if self.other is None or morning is None:
            return None
        self._comparison.request(
            (self._summed_up, morning.night.number, self.other, self._edge_facts()),
            partial(
                compare_with,
                morning.night,
                self.other,
                same_visit=self.other.path.resolve() == self.controller.log.path.resolve(),
            ),
        )
        return self._comparison.result()

    @property
    def comparison_refusal(self) -> str:
        """Why the nights cannot be compared; empty when nothing is wrong."""
        return self._comparison.refusal

    # --- edges of the night ------------------------------------------------------------------------------

    def type_edges(self, text: str) -> bool:
        """Move the edges of the chosen night to typed times; False when refused. A dash takes moves back."""

        def edges(night: Night) -> MovedEdges:
            if text.strip() in NO_PLAN:
                return FOUND_EDGES
            return typed_edges(night, *typed_stretch(text))

        return self._move_edges(edges)

    def drag_edges(self, start_s: float | None, end_s: float | None) -> bool:
        """Move the edges of the chosen night; False when refused.

        Args:
            start_s: its new beginning, seconds since the present one; None leaves it as it is.
            end_s: its new end, seconds since the present beginning; None leaves it as it is.
        """
        return self._move_edges(lambda night: shifted_edges(night, start_s, end_s))

    def edges_s(self, night: Night) -> Stretch:
        """The edges of a night as they are now, s since its start: a move counts before the night is summed up anew."""
        moved = moved_edges(self.controller.snapshot.night_edges).get(night.runs[0].id, FOUND_EDGES)
        start_s, end_s = (
            found_s if utc_ns is None else (utc_ns - night.start_utc_ns) / NS_PER_S
            for utc_ns, found_s in ((moved.start_utc_ns, 0.0), (moved.end_utc_ns, night.record.end_s))
        )
        return start_s, end_s

    def _move_edges(self, moved: Callable[[Night], MovedEdges]) -> bool:
        morning, log = self.morning, self.controller.log
        if morning is None:
            self.controller.message = Message(tr("The night is not summed up yet."), refused=True)
            return False
        night, before = morning.night, self.controller.snapshot.night_edges

        def do() -> str:
            edges = moved(night)
            keep_edges(log, night, edges)
            self.controller.history.remember_edit(
                UndoableEdit(
                    tr("edges of the night"),
                    lambda: log.facts.set(NIGHT_EDGES, before),
                    lambda: keep_edges(log, night, edges),
                    tr("The edges of the night as they were"),
                )
            )
            if edges == FOUND_EDGES:
                return tr("The night begins and ends where it was found to")
            self.controller.snapshot.refresh(force=True)
            begins, ends = map(night.clock_minute, self.edges_s(night))
            return tr("The night is from {begins} to {ends}").format(begins=begins, ends=ends)

        return self.controller.do(do)

    def _edge_facts(self) -> tuple[str, int, int, int, int, int]:
        """What edges, condition and spot of a night follow from beside its samples."""
        snapshot = self.controller.snapshot
        return (
            snapshot.night_edges,
            len(snapshot.readings),
            len(snapshot.checks),
            len(snapshot.step_labels),
            len(snapshot.night_entries),
            len(snapshot.night_spots),
        )

    # --- planned switchings ------------------------------------------------------------------------------

    @property
    def schedule(self) -> str:
        """The planned switchings, as typed."""
        return self.controller.snapshot.schedule

    def plan_switchings(self, text: str) -> bool:
        """Keep planned switchings; False when refused. A dash plans nothing."""
        kept: list[str] = []
        before = self.schedule

        text = "" if text.strip() in NO_PLAN else text.strip()

        def do() -> str:
            entries = parse_schedule(text)
            self.controller.log.facts.set(SCHEDULE, text)
            self.controller.history.remember_edit(
                UndoableEdit(
                    tr("planned switchings"),
                    lambda: self.controller.log.facts.set(SCHEDULE, before),
                    lambda: self.controller.log.facts.set(SCHEDULE, text),
                    tr("Planned switchings as they were"),
                )
            )
            kept.append(text)
            if not entries:
                return tr("Nothing is planned")
            planned = "; ".join(f"{hour:02d}:{minute:02d} {what}" for hour, minute, what in entries)
            return tr("Planned: {switchings}").format(switchings=planned)

        self.controller.do(do)
        return bool(kept)
