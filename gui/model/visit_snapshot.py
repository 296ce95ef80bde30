"""What the window knows of a visit log: it is held here as read; `refresh` reads what is new."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from datetime import tzinfo

import numpy as np

from gui.model.circuit_labels import with_numbers
from gui.model.recorder_presence import RecorderPresence, no_value_text
from gui.model.shown_levels import ShownLevels
from gui.model.wording import u_of
from logger.clock import NS_PER_S, Clock, SystemClock
from logger.metrology.checks import CheckKind, step_budget
from logger.metrology.context import Context
from logger.metrology.setup import Setup
from logger.metrology.uncertainty import Budget
from logger.night.night_conditions import night_entries
from logger.night.night_edges import moved_edges
from logger.night.night_entries import NightEntry, entered_for
from logger.night.night_spots import NightSpot, night_spot_entries
from logger.night.recorded_nights import NightSpan, RunSpan, night_spans
from logger.night.work_times import LabelTime, work_times
from logger.settling.events import Gap, Motion, Overload, Settled, State, Step
from logger.sweep.labelled_steps import DetectedStep, KnownStep, detected_steps, known_steps
from logger.sweep.step_causes import (
    StepCause,
    may_be_of_circuits,
    motions_by_run,
    spot_gone_to,
    stated_times,
    step_cause,
    taken_values,
)
from logger.translation import tr, tr_kept
from logger.visit import Live, Mark, Notice, Reading, Spot, VisitLog
from logger.visit.records.circumstances import Circumstances
from logger.visit.records.condition import EVERYTHING_OFF, EarlierStatement, StatedMoment, Statement
from logger.visit.records.fact_names import NIGHT_EDGES, SCHEDULE, SKIPPED_CIRCUITS
from logger.visit.records.home_details import SourceDetails, SpotDetails, circuit_label
from logger.visit.records.home_records import Source, StepLabel
from logger.visit.records.photo import Photo
from logger.visit.records.reading_corrections import WRONG_SPOT
from logger.visit.records.reading_records import CheckResult, Span, UsedStep
from logger.visit.records.recording_records import LoggedEvent
from logger.visit.records.remedy_records import Remedy, RemedyBaseline
from logger.visit.records.salvage_record import SalvageRecord
from logger.visit.records.simulated_run import lies_at
from logger.visit.records.stop_source import is_on_purpose
from logger.visit.results.body_moves import (
    MOTION_NEAR_S,
    RunMoves,
    SpotChoice,
    chosen_after_settling,
    has_moved,
    is_same_after_gap,
    parted_by_gap,
    spot_of_moment,
    unmoved_elsewhere,
)
from logger.visit.results.check_attempts import CheckAttempt
from logger.visit.results.check_review import FailedLater, check_doubts, failed_later
from logger.visit.results.condition_doubt import UnexplainedStep
from logger.visit.results.reading_context import ReadWith, reading_context
from logger.visit.results.simulated_readings import simulation_sentence
from logger.visit.results.span_review import SpanReview
from logger.visit.results.used_stretch import Seen, StretchUse, Value, has_changed, steps_for, uses_of_stretch
from logger.visit.storage.time_zone import zone_note, zone_of
from logger.visit.trace import EventLine, Kind, Placed, Trace

SLOW_NS = NS_PER_S // 2
"""Lists that only people change are read again this often, for the sake of a second window."""

MINUTE_NS = 60 * NS_PER_S
"""Which recordings count as a night is looked at this often while one goes on."""

SAME_STEP_NS = NS_PER_S
"""A step moves by less than this when it becomes final."""

_StepInputs = tuple[
    list[DetectedStep],
    list[StepLabel],
    list[CheckResult],
    list[Reading],
    list[UsedStep],
    list[StatedMoment],
    int,
    list[Motion],
    SpotChoice | None,
    list[NightSpan],
]

_NightInputs = tuple[list[Reading], list[CheckResult], list[StepLabel], str, list[tuple[int, bool, int]]]


# long: it holds each list of the log as last read, and they are read together.
class VisitSnapshot:
    """The visit log as last read.

    Args:
        log: open visit log.
        clock: injected time.
    """

    # long: one attribute for each list of the log.
    def __init__(self, log: VisitLog, clock: Clock | None = None) -> None:
        self.log = log
        self._clock = clock or SystemClock()
        self.trace = Trace()
        self.events = EventLine(self.trace)
        self.shown_levels = ShownLevels(
            self.events_between, lambda: self.context, self._seen_value_of, self._is_final
        )
        self._taken_at: tuple[list[Reading], list[tuple[float, Reading]]] = [], []
        """Where on the trace the readings that hold were taken, behind the readings that it was worked out from."""
        self.span_review = SpanReview()
        self.open_events: list[Placed] = []
        self.live: Live | None = None
        self.stale = False
        self.practice_night = ""
        """How far the practice night is that is being recorded; empty while there is none."""
        """The recorder has stopped writing without an end."""
        self.presence = RecorderPresence(self._clock)
        """Whether the recorder of an old heartbeat is still at work."""
        self.refusal = ""
        """Why no settled value can be taken now; empty when one can."""
        self.is_checking = False
        """The checks are in sight, which prove what the reference is worth: the value has the meter's ± alone."""
        self.unreadable = ""
        """Why the log could not be read the last time; empty when it could."""
        self.spots: list[Spot] = []
        self.spot_details: dict[int, SpotDetails] = {}
        """What is described of spots, by their ids; one of which nothing was ever entered is missing."""
        self.photos: list[Photo] = []
        """Photos and sketches of spots, without those that were taken off, in the order in which they were added."""
        self.circumstances = Circumstances()
        self.readings: list[Reading] = []
        self.marks: list[Mark] = []
        self.remedies: list[Remedy] = []
        """What is to be done, with each decision on it."""
        self.remedy_baselines: list[RemedyBaseline] = []
        """What earlier visits read before the remedies that were taken over from them were done."""
        self.newest_entry = 0
        """Of what a report prints: it grows with each entry and change."""
        self.notices: list[Notice] = []
        self.setup = Setup()
        self.checks: list[CheckResult] = []
        self.check_steps: list[UsedStep] = []
        self.open_attempts: list[CheckAttempt] = []
        """Every step of a check that was taken, also of checks that are not complete."""
        self.failed_later: list[FailedLater] = []
        """Checks that had passed and failed when they were repeated."""
        self.check_doubts: dict[int, str] = {}
        """What speaks against checks by now, by their ids."""
        self.read_with = ReadWith(self.setup)
        """What a value would be read with now."""
        self.sources: list[Source] = []
        self.every_source: dict[int, Source] = {}
        """Also those that were taken off the list: older steps name them."""
        self.source_details: dict[int, SourceDetails] = {}
        """What is entered of circuits and cords, by their ids: panel, number and the rest."""
        self.shown_sources: dict[int, Source] = {}
        """All that were ever on the list by their ids, with the number before the name: for showing alone."""
        self.step_labels: list[StepLabel] = []
        self.skipped = ""
        """Ids of the circuits that the sweep leaves out, as `SKIPPED_CIRCUITS` holds them."""
        self.schedule = ""
        """Planned switchings of the night, as typed."""
        self._state_seen_ns = 0
        """When the value was first seen as settled after another state, on the steady time line; 0 where it was not."""
        self.condition_of_reading: Callable[[], str] = lambda: self.condition
        """What is on for a reading that is taken now; outdoors it is always the walk."""
        self.newest_choice: Callable[[], SpotChoice | None] = lambda: None
        """The choice of the spot that the next reading is for; None while none was made in this window."""
        self._value_asked: tuple[Live | None, str] | None = None
        """The heartbeat and the condition for which the value of now was read last."""
        self._value_of_now: Span | None = None
        self._steps: list[DetectedStep] = []
        self.night_edges = ""
        """Edges of nights that the user moved, as `NIGHT_EDGES` holds them."""
        self.night_entries: list[NightEntry[str]] = []
        """What was entered to be on in nights, oldest first."""
        self.night_spots: list[NightEntry[NightSpot]] = []
        """Where the person was entered to lie in nights, oldest first."""
        self.salvage: SalvageRecord | None = None
        """What is not known since the visit was salvaged; None where it never was."""
        self._interruptions: list[LoggedEvent] = []
        """Gaps and overloads: a step within one was not seen."""
        self._unsettled: list[LoggedEvent] = []
        """Everything that was found but settled spans: motions, steps, gaps and overloads."""
        self._levels: list[LoggedEvent] = []
        """The settled spans of the newest run."""
        self._run_spans: dict[int, RunSpan] = {}
        self._ended_ids: frozenset[int] = frozenset()
        """Runs before the newest one that the user ended."""
        self._known: tuple[_StepInputs, list[KnownStep]] | None = None
        self._nights: tuple[_NightInputs, list[NightSpan]] | None = None
        self.condition = ""
        """What is on, as stated; empty when it was never stated, or too long ago."""
        self.stated = Statement()
        """What was last stated, whether it still holds or not."""
        self.stated_before = EarlierStatement()
        """What was stated before that; empty where nothing was."""
        self.stated_moments: list[StatedMoment] = []
        """When it was stated in a run what is on, oldest first."""
        self.context = Context(self.setup, {})
        """What would hold for a reading taken now."""
        self.zone: tzinfo | None = None
        """Where the newest run was recorded: what all times are shown in; None, for this computer's, before a run."""
        self.zone_note = ""
        """A sentence on that zone; empty where it is this computer's."""
        self._budget: tuple[Span, Context, Budget] | None = None
        """The newest budget that was worked out, behind what it was worked out from."""
        self._data_version: int | None = None
        self._run_starts: dict[int, int] = {}
        self._run_lengths_ns: dict[int, int] = {}
        """Of each run that has an end, however early its last value came."""
        self._simulated: frozenset[int] = frozenset()
        self._practice_nights: frozenset[int] = frozenset()
        """Ids of the runs that are practice nights: the spot of all their steps is that of the night."""
        self._last_line_id = 0
        self._last_event_id = 0
        self._slow_read_ns = self._clock.steady_ns() - SLOW_NS
        self._lists_may_differ = True

    def shown_source(self, source: Source) -> Source:
        """A circuit or cord as lists and instructions show it: "7 (Study)"."""
        return self.shown_sources.get(source.id, source)

    def title_of(self, source: Source) -> str:
        """A circuit or cord as a question names it: "panel A, 7 (Study)"."""
        return circuit_label(source, self.source_details.get(source.id))

    @property
    def fault(self) -> str:
        """Why a recording that is under way brings no value at all, in a sentence; empty where nothing is wrong."""
        is_lost = self.recording and self.live is not None and self.live.port_state == "lost"
        is_cut_off = bool(self.unreadable) or self.stale or self.presence.waiting is not None
        return self.refusal if is_cut_off or is_lost else ""

    @property
    def recording(self) -> bool:
        """Whether a recorder is at work, also while the disk does not take what it records."""
        return not self.unreadable and self.has_heartbeat

    @property
    def has_heartbeat(self) -> bool:
        """Whether a recorder was at work when the log could last be read."""
        if self.live is None or self.live.ended:
            return False
        return not self.stale or self.presence.waiting is not None

    @property
    def now_s(self) -> float:
        """The newest moment that the recorder has reported, on the trace's time line."""
        if self.live is None:
            return self.trace.end_s
        beat_s = self.trace.seconds(self.live.beat_steady_utc_ns, self.live.run_id)
        return max(beat_s, self.trace.end_s)

    @property
    def run_length_s(self) -> float:
        """How long the newest run has been recorded; 0 before the first one."""
        live = self.live
        return 0.0 if live is None else (live.beat_steady_utc_ns - live.run_started_utc_ns) / NS_PER_S

    @property
    def night_count(self) -> int:
        """How many of the recordings count as a night."""
        return len(self.nights())

    def nights(self) -> list[NightSpan]:
        """The recordings that count as a night; worked out again when something differs, or a minute has passed."""
        spans = [
            replace(
                span,
                ended=span.run_id in self._ended_ids,
                length_ns=max(span.length_ns, self._run_lengths_ns.get(span.run_id, 0)),
            )
            for span in self._run_spans.values()
        ]
        lengths_min = [(span.run_id, span.ended, span.length_ns // MINUTE_NS) for span in spans]
        inputs = self.readings, self.checks, self.step_labels, self.night_edges, lengths_min
        if self._nights is None or self._nights[0] != inputs:
            readings = [(r.start_utc_ns, r.utc_ns) for r in self.readings]
            labels = [LabelTime(label.utc_ns, label.run_id, label.t_ns) for label in self.step_labels]
            work = work_times(readings, [check.utc_ns for check in self.checks], labels, self._run_starts)
            self._nights = inputs, night_spans(spans, work, moved_edges(self.night_edges))
        return self._nights[1]

    @property
    def budget(self) -> Budget | None:
        """Of the value of now as a reading would have it, with meter and reference; None while there is none."""
        span = self._value_of_now
        if span is None or self.unreadable:
            return None
        # A redraw asks for the same one several times.
        if self._budget is None or self._budget[:2] != (span, self.context):
            context = replace(self.context, count_volts=span.count_volts, parts=span.parts)
            self._budget = span, self.context, context.budget(span.volts, span.u_volts)
        return self._budget[2]

    @property
    def shown_budget(self) -> Budget | None:
        """Of the value of now as it is shown: at the checks with the meter alone, else as a reading would have it."""
        budget, span = self.budget, self._value_of_now
        if budget is None or span is None or not self.is_checking:
            return budget
        return step_budget((span.volts, span.u_volts), self.context.setup.meter)

    def _seen_value_of(self, placed: Placed) -> tuple[float, float] | None:
        """The value of now for the span that goes on, else the newest reading in a span; with its whole u, in V."""
        budget = self.budget
        if budget is not None and self.live is not None and placed.event == self.live.growing_span:
            return budget.volts, budget.u_volts
        if self._taken_at[0] is not self.readings:
            taken = [
                (self.trace.seconds(one.end_utc_ns, one.run_id), one)
                for one in self.readings
                if one.void_reason is None and one.end_utc_ns is not None
            ]
            self._taken_at = self.readings, taken
        within = [one for at_s, one in self._taken_at[1] if placed.start_s <= at_s <= placed.end_s]
        return (within[-1].volts, u_of(within[-1])) if within else None

    def _is_final(self, step: Step) -> bool:
        """Whether the detector will not change a step any more."""
        return self.live is None or self.live.ended or step not in self.live.open_events

    def budget_of_level(self, volts: float, u_volts: float, setup: Setup | None = None) -> Budget:
        """The budget of a level of the trace as it would be taken now, with the display's count of now.

        Args:
            volts: the level, V.
            u_volts: its standard uncertainty by scatter, V.
            setup: in which it was read; None for that of now.
        """
        count_volts = None if self._value_of_now is None else self._value_of_now.count_volts
        context = replace(self.context, setup=setup or self.context.setup, count_volts=count_volts)
        return context.budget(volts, u_volts)

    def _read_value(self) -> None:
        """Read the settled value as a reading at the chosen spot would take it: once for each heartbeat."""
        live, condition, known = self.live, self.condition_of_reading(), self._value_asked
        if known is None or known[0] is not live or known[1] != condition:
            self._value_asked = live, condition
            self._value_of_now = None if live is None else self.log.readings.value_at(condition, live)

    @property
    def still_s(self) -> float:
        """How many seconds the state that the recorder last reported has been shown.

        A settled span begins before it is known to be one: what is counted begins no earlier than the state that
        stands beside it, so that nobody reads of 7 s of stillness a moment after another state.
        """
        if self.live is None:
            return 0.0
        since_ns = max(self.live.since_steady_utc_ns, self._state_seen_ns)
        return max(self.live.beat_steady_utc_ns - since_ns, 0) / NS_PER_S

    def _note_state(self, before: Live | None) -> None:
        """Note when the state became another one while this window looked on.

        Args:
            before: the heartbeat before the present one; None where there was none.
        """
        live = self.live
        if live is None or before is None or before.run_id != live.run_id:
            self._state_seen_ns = 0
        elif before.state is not live.state and live.state is State.SETTLED:
            self._state_seen_ns = live.beat_steady_utc_ns

    @property
    def simulated(self) -> bool:
        """Whether the newest run is simulated: no meter is there."""
        return self.live is not None and self.live.run_id in self._simulated_ids()

    @property
    def simulation(self) -> str:
        """How much of the visit is simulated, in a sentence; empty where nothing is."""
        simulated_ids = self._simulated_ids()
        return simulation_sentence([run_id in simulated_ids for run_id in self._run_starts], self.readings)

    def _simulated_ids(self) -> frozenset[int]:
        """Ids of the runs that were simulated; read again only when there is another run."""
        if self.live is not None and self.live.run_id not in self._run_starts:
            self._read_runs()
        return self._simulated

    def earlier_recording_doubt(self) -> str:
        """That what is on was stated before a recording ended, in a sentence; empty once it was read in this one."""
        live = self.live
        if live is None or not self.condition:
            return ""
        ends = (
            self._run_starts[run_id] + self._run_lengths_ns.get(run_id, 0)
            for run_id in self._ended_ids - {live.run_id}
        )
        is_read = any(
            reading.run_id == live.run_id
            and reading.condition == self.condition
            and reading.void_reason is None
            for reading in self.readings
        )
        is_of_this = self.stated.run_id == live.run_id
        if is_read or is_of_this or self.stated.utc_ns >= max(ends, default=0):
            return ""
        return tr("“{stated}” was entered for an earlier recording.").format(stated=tr_kept(self.condition))

    def _read_runs(self) -> None:
        runs = self.log.runs.all()
        self._ended_ids = frozenset(run.id for run in runs if is_on_purpose(run.end_reason))
        self._run_starts = {run.id: run.started_utc_ns for run in runs}
        self._run_lengths_ns = {
            run.id: run.ended_utc_ns - run.started_utc_ns for run in runs if run.ended_utc_ns is not None
        }
        self._simulated = frozenset(run.id for run in runs if run.simulated)
        self._practice_nights = frozenset(run.id for run in runs if lies_at(run.settings))
        self.zone = zone_of(runs[-1]) if runs else None
        self.zone_note = zone_note(runs[-1]) if runs else ""

    def run_started_utc_ns(self, run_id: int) -> int:
        """When a run began, by the computer's clock; 0 for one that is not in the log."""
        if run_id not in self._run_starts:
            self._read_runs()
        return self._run_starts.get(run_id, 0)

    def uses_of_stretch(self, check: CheckKind | None = None, moment: Live | None = None) -> list[StretchUse]:
        """What rests on the still stretch that goes on now, oldest first; nothing while no value is settled.

        Args:
            check: the check that is going on, whose own steps so far do not count; None for a reading.
            moment: the heartbeat of another moment that is meant; None takes the newest one.
        """
        live = moment or self.live
        if live is None or live.growing_span is None:
            return []
        return uses_of_stretch(self.readings, steps_for(check, self.check_steps), live)

    def voided_as_wrong_spot(self, spot_id: int, moment: Live | None = None) -> StretchUse | None:
        """The reading of the present still stretch that was voided since nobody was at that spot; None without one.

        Args:
            spot_id: of the spot.
            moment: the heartbeat of the value that is asked about; None for that of now.
        """
        live = moment or self.live
        if live is None or live.growing_span is None:
            return None
        wrong = [r for r in self.readings if r.spot_id == spot_id and r.void_reason == WRONG_SPOT]
        uses = uses_of_stretch(wrong, (), live, also_void=True)
        return uses[-1] if uses else None

    def has_taken_stretch(self) -> bool:
        """Whether a reading was taken of the still stretch that goes on now, also one voided or moved since."""
        live = self.live
        if live is None or live.growing_span is None:
            return False
        return bool(uses_of_stretch(self.readings, (), live, also_void=True))

    def has_moved(self, since_utc_ns: int) -> bool:
        """Whether the body has moved in the newest run since a moment, nanoseconds on the steady time line."""
        return self.live is not None and has_moved(since_utc_ns, self.live, self._unsettled)

    def unmoved_elsewhere(self, spot_id: int, moment: Live | None = None) -> StretchUse | None:
        """The newest reading where it is of another spot and nobody has moved since; None else, or while not settled.

        Args:
            spot_id: of the spot that would be read.
            moment: the heartbeat of another moment that is meant; None takes the newest one.
        """
        live = moment or self.live
        if live is None or live.growing_span is None:
            return None
        # A heartbeat of another moment may be newer than what was read here: an event that it no longer calls open is
        # in the log alone.
        logged = self._unsettled if moment is None else self.log.events.of_run(live.run_id)
        return unmoved_elsewhere(spot_id, self.readings, live, logged)

    def seen_since_choice(
        self, spot_id: int, choices: Sequence[SpotChoice], moment: Live | None = None
    ) -> Seen | None:
        """What was seen since a spot was chosen, where the body was still before and has not moved since; None else.

        Args:
            spot_id: of the chosen spot.
            choices: of the spot, oldest first.
            moment: the heartbeat of another moment that is meant; None takes the newest one.
        """
        live = moment or self.live
        if live is None:
            return None
        logged = [*self._unsettled, *self._levels] if moment is None else self.log.events.of_run(live.run_id)
        return chosen_after_settling(spot_id, choices, self.readings, live, logged)

    def same_after_gap(self, value: Value | None = None, moment: Live | None = None) -> StretchUse | None:
        """The newest reading where the value is the same after a time without lines, and no more was seen; or None.

        Args:
            value: what would be taken; None takes what is settled at the heartbeat.
            moment: the heartbeat of another moment that is meant; None takes the newest one.
        """
        live = moment or self.live
        if live is None or live.growing_span is None:
            return None

        def events_of_run(run_id: int) -> list[LoggedEvent]:
            return [event for event in self._unsettled if event.run_id == run_id]

        logged = events_of_run if moment is None else self.log.events.of_run
        parted = parted_by_gap(self.readings, live, logged)
        return parted if parted and not has_changed(parted, value or live.growing_span) else None

    def is_same_step_after_gap(self, before: Span) -> bool:
        """Whether what is settled now is the value of a check's step before, with only a gap or a new run between.

        Args:
            before: the value of the step before.
        """
        live = self.live
        if live is None or live.growing_span is None:
            return False
        return is_same_after_gap(before, live.growing_span, live, self._unsettled)

    def spot_of_step(self, step: DetectedStep, choices: Sequence[SpotChoice]) -> int | None:
        """The id of the spot where the body was when a step came; None where that is not known.

        In a practice night that is the spot that was entered for it, whichever one is chosen.

        Args:
            step: as detected.
            choices: of the spot, oldest first.
        """
        live, started_utc_ns = self.live, self.run_started_utc_ns(step.run_id)
        if step.run_id in self._practice_nights:
            where = entered_for(self.night_spots, (step.run_id,), started_utc_ns)
            return where.spot_id if where is not None else None
        events = [one.event for one in self._unsettled if one.run_id == step.run_id]
        if live is not None and live.run_id == step.run_id:
            events += live.open_events
        run = RunMoves(step.run_id, started_utc_ns, events)
        moment_utc_ns = started_utc_ns + step.t_ns
        told = self._spot_of_label_near(moment_utc_ns, choices, run)
        return spot_of_moment(moment_utc_ns, self.readings, choices, run) if told is None else told

    def _spot_of_label_near(
        self, moment_utc_ns: int, choices: Sequence[SpotChoice], run: RunMoves
    ) -> int | None:
        """The id of the spot that a step was labelled at since which the body has not moved; None where there is none.

        The user may have said that it was another spot than the chosen one: then a lamp's other half was there too. A
        choice or a reading that came after the label counts more than it.
        """
        newest_ns = max(
            [choice.since_utc_ns for choice in choices]
            + [reading.utc_ns for reading in self.readings if reading.run_id == run.run_id],
            default=0,
        )
        labels = [
            label
            for label in self.step_labels
            if label.run_id == run.run_id and None not in (label.source_id, label.spot_id)
        ]
        near = [
            label
            for label in labels
            if label.utc_ns > newest_ns
            and not run.has_moved_between(moment_utc_ns, run.started_utc_ns + label.t_ns)
        ]
        return near[-1].spot_id if near else None

    def events_between(self, kind: Kind, start_s: float, end_s: float) -> list[Placed]:
        """The events of a kind that touch a stretch of the trace, also those that are still going on.

        Args:
            kind: of the events.
            start_s: on the trace's time line.
            end_s: on the trace's time line.
        """
        going_on = [
            p
            for p in self.open_events
            if isinstance(p.event, kind) and p.end_s >= start_s and p.start_s <= end_s
        ]
        return [*self.events.between(kind, start_s, end_s), *going_on]

    def found_steps(self) -> list[DetectedStep]:
        """All steps of the visit, and those of which the detector is not sure yet."""
        live = self.live
        if live is None or live.ended:
            return [*self._steps]
        still_open = (DetectedStep(live.run_id, e, False) for e in live.open_events if isinstance(e, Step))
        # The heartbeat is read before the events: a step that has become final in between is in both.
        final_ns = [step.t_ns for step in self._steps if step.run_id == live.run_id]
        return [
            *self._steps,
            *(step for step in still_open if all(abs(step.t_ns - t) > SAME_STEP_NS for t in final_ns)),
        ]

    def step_size(self, known: KnownStep) -> str:
        """A step with sign and unit, with the figures that it has in the trace: '+0.17 V'."""
        found = known.found
        placed = self.events.place(found.step, found.run_id, self.run_started_utc_ns(found.run_id))
        return self.shown_levels.step(placed.start_s, found.step)

    def named_step_count(self) -> int:
        """How many steps have the name of what was switched; ignored ones have none."""
        return sum(known.label is not None and not known.ignored for known in self.known_steps())

    def known_steps(self) -> list[KnownStep]:
        """All steps with their labels, oldest first; worked out again only when something differs."""
        found = self.found_steps()
        inputs = (
            found, self.step_labels, self.checks, self.readings, self.check_steps, self.stated_moments,
            len(self._unsettled), self._open_motions(), self.newest_choice(), self.nights(),
        )  # fmt: skip
        if self._known is None or inputs != self._known[0]:
            known = known_steps(found, self.step_labels, self._simulated_ids(), self.checks)
            self._known = inputs, self._with_causes(known)
        return self._known[1]

    def _open_motions(self) -> list[Motion]:
        """The motions of the run that goes on which the detector may still change: the newest steps may be theirs."""
        live = self.live
        if live is None or live.ended:
            return []
        return [event for event in live.open_events if isinstance(event, Motion)]

    def _with_causes(self, known: list[KnownStep]) -> list[KnownStep]:
        """Give each step without a label its cause, where the values or statements beside it show one."""
        waiting_runs = {one.found.run_id for one in known if one.label is None}
        values = {
            run_id: taken_values(self.readings, self.check_steps, run_id, self.run_started_utc_ns(run_id))
            for run_id in waiting_runs
        }
        stated = {
            run_id: stated_times(self.stated_moments, self.readings, run_id, self.run_started_utc_ns(run_id))
            for run_id in waiting_runs
        }
        motions, choice = motions_by_run(self._unsettled), self.newest_choice()
        live_id = self.live.run_id if self.live is not None else None
        if live_id is not None:
            motions.setdefault(live_id, []).extend(self._open_motions())

        def with_cause(one: KnownStep) -> KnownStep:
            run_id, time_s = one.found.run_id, one.found.step.time_s
            if self.night_of(one.found) is not None:
                return replace(one, cause=StepCause.NIGHT)
            of_run = values[run_id]
            moves = motions.get(run_id, ())
            cause = step_cause(time_s, one.change_volts, of_run, moves, stated[run_id])
            gone_to = None
            if cause is None and choice is not None and run_id == live_id:
                gone_to = spot_gone_to(time_s, of_run, moves, choice.spot_id)
            if gone_to is not None and choice is not None and choice.why == "user":
                step_utc_ns = self.run_started_utc_ns(run_id) + one.found.t_ns
                # Chosen after the step, it may only have been looked at: the step is asked about.
                cause = StepCause.SPOT if choice.since_utc_ns <= step_utc_ns else None
            of_circuits = may_be_of_circuits(time_s, of_run, stated[run_id])
            return replace(one, cause=cause, of_circuits=of_circuits, gone_to=gone_to)

        return [one if one.label is not None else with_cause(one) for one in known]

    def night_of(self, step: DetectedStep) -> NightSpan | None:
        """The night in which a step lies; None where it lies in none."""
        at_ns = self.run_started_utc_ns(step.run_id) + step.t_ns
        in_it = (
            night
            for night in self.nights()
            if step.run_id in night.run_ids and night.start_utc_ns <= at_ns <= night.end_utc_ns
        )
        return next(in_it, None)

    def _speaks_against(self, label: StepLabel) -> bool:
        """Whether a label says that something went on that may be off, while everything off is stated."""
        source = next((one for one in self.sources if one.id == label.source_id), None)
        return (
            self.condition == EVERYTHING_OFF
            and label.meaning == "on"
            and (source is None or not source.stays)
        )

    def unexplained_steps(self, since_utc_ns: int) -> Iterator[UnexplainedStep]:
        """The steps of the run that goes on which no movement explains, newest first.

        One that is labelled is explained, but for something that went on while everything off is stated.

        Args:
            since_utc_ns: older ones are left out; on the steady time line.
        """
        live = self.live
        if live is None:
            return
        for known in reversed(self.known_steps()):
            step, utc_ns = known.found.step, live.run_started_utc_ns + known.found.t_ns
            if known.found.run_id != live.run_id or utc_ns <= since_utc_ns:
                return
            at_s = self.trace.seconds(utc_ns, live.run_id)
            near = at_s - MOTION_NEAR_S, at_s + MOTION_NEAR_S
            is_explained = known.label is not None and not self._speaks_against(known.label)
            if not is_explained and not known.in_check and not self.events_between(Motion, *near):
                unseen_s = known.found.unseen_s
                earliest_s = step.time_s if unseen_s is None else unseen_s[0]
                yield UnexplainedStep(
                    utc_ns - round((step.time_s - earliest_s) * NS_PER_S),
                    step.before_volts,
                    step.after_volts,
                    0.0 if unseen_s is None else unseen_s[1] - unseen_s[0],
                )

    def refresh(self, force: bool = False) -> bool:
        """Read what is new in the log.

        Args:
            force: read also the lists that only people change, as after this window has written itself.

        Returns:
            Whether anything changed.
        """
        version = self.log.data_version()
        if self.unreadable:
            self.unreadable, force = "", True
        changed = force or version != self._data_version
        if changed:
            self._data_version = version
            self._read_recorded()
            self._lists_may_differ = True
        now_ns = self._clock.steady_ns()
        if self._lists_may_differ and (force or now_ns - self._slow_read_ns >= SLOW_NS):
            self._slow_read_ns = now_ns
            self._lists_may_differ = False
            self._read_lists()
            changed = True
        changed = self._notice_time() or changed
        self._read_value()
        return changed

    def set_unreadable(self, reason: str) -> None:
        """The log cannot be read now: nothing is known of the present moment, and no value can be taken."""
        self.unreadable = self.refusal = reason

    def _read_recorded(self) -> None:
        # The heartbeat is read first: the lines that it counts are then surely among those read after it.
        before, self.live = self.live, self.log.recorder.live()
        self._note_state(before)
        if self.live is not None and self.trace.origin_utc_ns is None:
            self.trace.origin_utc_ns = self.log.runs.all()[0].started_utc_ns
        is_new = self.live is not None and self.live.run_id not in self._run_starts
        is_over = self.live is not None and self.live.ended and self.live.run_id not in self._run_lengths_ns
        if is_new or is_over or not self._run_starts:  # a run may have no heartbeat yet
            self._read_runs()
        samples = self.log.samples.after(self._last_line_id)
        if len(samples.line_id):
            self._last_line_id = int(samples.line_id[-1])
            self.trace.append(samples)
            firsts = np.append(np.unique(samples.run_id, return_index=True)[1][1:], len(samples.run_id))
            for last in (firsts - 1).tolist():
                run_id = int(samples.run_id[last])
                self._note_length(run_id, int(samples.steady_utc_ns[last]) - self.run_started_utc_ns(run_id))
        events = self.log.events.after(self._last_event_id)
        if events:
            self._last_event_id = events[-1].id
            self.events.append(events)
            for found in events:
                if isinstance(found.event, Overload):
                    self._note_length(found.run_id, round(found.event.end_s * NS_PER_S))
            self._steps += detected_steps(events, self._interruptions)
            self._unsettled += [e for e in events if not isinstance(e.event, Settled)]
            newest_id = events[-1].run_id
            levels = [e for e in events if isinstance(e.event, Settled)]
            self._levels = [e for e in [*self._levels, *levels] if e.run_id == newest_id]
            self._interruptions += [e for e in events if isinstance(e.event, Gap | Overload)]
            self.span_review.append(events)
        live = self.live
        self.span_review.follow(live)
        self.open_events = (
            [self.events.place(e, live.run_id, live.run_started_utc_ns) for e in live.open_events]
            if live is not None and not live.ended
            else []
        )

    def _note_length(self, run_id: int, length_ns: int) -> None:
        """Note for how long a run has had values, or been above the meter's range."""
        known = self._run_spans.get(run_id)
        length_ns = max(length_ns, known.length_ns if known is not None else 0)
        simulated = run_id in self._simulated_ids()
        self._run_spans[run_id] = RunSpan(run_id, self.run_started_utc_ns(run_id), length_ns, simulated)

    def _read_lists(self) -> None:
        self.spots = self.log.spots.all()
        self.spot_details = self.log.spot_details.all()
        self.photos = [photo for photo in self.log.photos.all().values() if photo.spot_id is not None]
        self.circumstances = self.log.circumstances.current()
        self.every_source = self.log.circuits.with_removed()
        self.readings = self.log.present_readings()
        self.marks = self.log.marks.all()
        self.newest_entry = self.log.newest_entry()
        self.remedies = self.log.remedies.all()
        self.remedy_baselines = self.log.remedies.baselines()
        notices = self.log.notices.after(self.notices[-1].id if self.notices else 0)
        self.notices += notices
        self.span_review.append_notices(notices)
        self.stated = self.log.facts.condition()
        self.stated_before = self.log.facts.condition_before()
        self.stated_moments = self.log.facts.stated_moments()
        self.setup = self.log.setup.current()
        self.checks = self.log.checks.all()
        self.check_steps = self.log.checks.used_steps()
        self.open_attempts = self.log.checks.still_open()
        self.failed_later = failed_later(self.checks)
        self.sources = self.log.circuits.all()
        self.source_details = self.log.source_details.all()
        self.shown_sources = with_numbers(list(self.every_source.values()), self.source_details)
        self.step_labels = self.log.step_labels.all()
        self.skipped = self.log.facts.get(SKIPPED_CIRCUITS)
        self.schedule = self.log.facts.get(SCHEDULE)
        self.night_edges = self.log.facts.get(NIGHT_EDGES)
        self.night_entries = night_entries(self.log)
        self.night_spots = night_spot_entries(self.log)
        self.salvage = self.log.facts.salvage()
        self.check_doubts = check_doubts(self.checks, self.span_review)
        live, meters = self.live, self.log.meters
        connection = None if live is None else meters.at(live.run_id, live.last_line_id)
        setup = self.log.checks.setup_in(self.setup, None if live is None else live.run_id)
        now_ns = self._clock.utc_ns()
        # What was checked in a visit that is only looked at does not grow old with it.
        of_now_ns = now_ns if self.recording else None
        self.read_with = ReadWith(setup, self.simulated, connection, meters.same_forms(), of_now_ns)
        self.context = reading_context(self.read_with, self.checks, now_ns, self.check_doubts)

    def _notice_time(self) -> bool:
        """Notice what only the passing of time changes: a recorder that was killed, a condition that is too old."""
        before = self.stale, self.refusal, self.condition, self.presence.at_work, self.presence.waiting
        live = self.live
        self.stale = live is not None and self.log.recorder.is_stale(live)
        self.presence.poll(self.log.path, self.stale)
        holds = self.stated.holds(self.readings, self._clock.utc_ns())
        self.condition = self.stated.condition if holds else ""
        # Of the heartbeat that is shown, and no newer one: else a value would be refused that has no reason, or be
        # settled and not be there yet.
        self.refusal = self.log.current_value.why_not_settled_at(live)
        if self.refusal and live is not None and live.port_state == "lost" and self.recording:
            self.refusal = tr_kept(live.port_message)  # names the lost port
        if self.presence.waiting is not None:
            self.refusal = no_value_text(self.presence.waiting)
        after = self.stale, self.refusal, self.condition, self.presence.at_work, self.presence.waiting
        return before != after
