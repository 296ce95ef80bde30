"""Everything that a report is written from, worked out by the parts that the window uses too.

It is read by `logger.report.document.read_report_data`. Nothing here is text or picture yet.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import UTC, datetime, tzinfo
from functools import cached_property

from logger.clock import NS_PER_S
from logger.metrology.check_validity import Lapse
from logger.metrology.setup import MeterFacts, Setup
from logger.night.analysis.night_record import Floats
from logger.night.analysis.schedule_match import ScheduleMatch
from logger.night.analysis.summary import NightSummary
from logger.night.recorded_nights import Night
from logger.plan.planned_remedy import RemedyPlan
from logger.report.stated_answers import HeldAnswer, ReadWith, held_answers
from logger.sweep.advice import Advice
from logger.sweep.confirmation import Effect
from logger.sweep.labelled_steps import KnownStep
from logger.sweep.sweep_progress import SweepProgress
from logger.sweep.sweep_rows import SweepRow
from logger.sweep.switch_off_plan import SwitchOffPlan
from logger.sweep.tonights_advice import tonights_advice
from logger.visit.records.circumstances import Circumstances
from logger.visit.records.home_details import SourceDetails, SpotDetails
from logger.visit.records.home_records import Source, Spot
from logger.visit.records.mark_about import MarkAbout
from logger.visit.records.photo import PhotoKind
from logger.visit.records.practitioner import NOT_STATED, Practitioner
from logger.visit.records.reading_records import CheckResult, Mark, Reading
from logger.visit.records.recording_records import Notice, Run
from logger.visit.records.salvage_record import SalvageRecord
from logger.visit.results.check_attempts import CheckAttempt
from logger.visit.results.check_review import FailedLater
from logger.visit.results.on_off_result import SpotResult
from logger.visit.results.simulated_readings import simulation_sentence
from logger.visit.storage.integrity import Integrity


@dataclass(frozen=True, slots=True)
class Excerpt:
    """The trace around the span that a value rests on."""

    times_s: Floats
    """Seconds since the start of the excerpt, one for each of the samples."""
    volts: Floats
    still_s: tuple[float, float]
    """Start and end of the span, on the same axis."""
    level_volts: float


@dataclass(frozen=True, slots=True)
class SpotPhoto:
    """A photo or sketch of a spot.

    Args:
        spot_name: of the spot.
        kind: photo or sketch.
        caption: in the user's words; may be empty.
        jpeg: the picture.
        problem: why it cannot be shown, in a sentence; empty where it can.
    """

    spot_name: str
    kind: PhotoKind
    caption: str
    jpeg: bytes
    problem: str = ""


@dataclass(frozen=True, slots=True)
class SweptSpot:
    """A spot at which breakers were swept."""

    spot: Spot
    rows: tuple[SweepRow, ...]
    progress: SweepProgress


@dataclass(frozen=True, slots=True)
class NightData:
    """A night with what was found in it and what was planned."""

    night: Night
    summary: NightSummary
    planned: ScheduleMatch | None
    """None where nothing was planned."""
    circumstances: Circumstances = field(default_factory=Circumstances)
    """As they were entered for it."""


@dataclass(frozen=True)  # without slots, which leave no room for what is worked out once
class ReportData:
    """A visit, as one moment of its log has it."""

    title: str
    """The file's name without its ending."""
    setup: Setup
    spots: tuple[Spot, ...]
    results: dict[int, SpotResult]
    """On and off, by spot."""
    readings: tuple[Reading, ...]
    doubts: dict[int, str]
    """What speaks against a reading by now, by its id; readings without are missing."""
    excerpts: dict[int, Excerpt]
    """By reading."""
    contradicting: frozenset[int]
    """Ids of the readings whose repeats contradict each other: no ± holds for them."""
    checks: tuple[CheckResult, ...]
    check_doubts: dict[int, str]
    """What speaks against a check by now, by its id."""
    check_lapses: dict[int, Lapse]
    """Why a check holds no longer with what was recorded and stated last, by its id; those that hold are missing."""
    failed_later: tuple[FailedLater, ...]
    check_attempts: tuple[CheckAttempt, ...]
    """Checks that were begun and left before they proved anything."""
    """Checks that had passed and failed when they were repeated."""
    check_excerpts: dict[int, tuple[tuple[str, Excerpt], ...]]
    """The trace of each of its steps with the step's name, by check."""
    sources: tuple[Source, ...]
    """Circuits and cords that are listed."""
    every_source: dict[int, Source]
    """Those taken off the list as well, by id."""
    every_spot_name: dict[int, str]
    """Of removed spots as well, by id."""
    swept: tuple[SweptSpot, ...]
    tonight: SwitchOffPlan | None
    """None where nothing was swept."""
    steps: tuple[KnownStep, ...]
    """Steps outside nights, and labelled ones of nights."""
    effects: dict[tuple[int | None, int], Effect]
    """What switching a circuit or cord does, by spot and source."""
    why_no_night: str
    """Why the recording that comes nearest to a night is none; empty where there is a night, or no recording."""
    nights: tuple[NightData, ...]
    marks: tuple[Mark, ...]
    marks_about: dict[int, MarkAbout]
    """Which readings a mark is about, by its id; marks of which nobody stated it are missing."""
    notices: tuple[Notice, ...]
    gaps: tuple[tuple[int, int], ...]
    """Start and end of each, UTC nanoseconds."""
    refused: dict[str, int]
    """Lines that were no sample, by how they were read."""
    runs: tuple[Run, ...]
    recorded_meters: tuple[MeterFacts, ...]
    """The meters that the runs were recorded with, each once, as they were described."""
    run_started_ns: dict[int, int]
    """By run, UTC nanoseconds."""
    zone: tzinfo | None
    """Of the place where it was recorded; None for this computer's."""
    checksum: str
    newest_entry: int
    """`VisitLog.newest_entry` as it was read: with a greater one this report is out of date."""
    integrity: Integrity
    """What of the log does not agree with itself."""
    plan: RemedyPlan
    """Remedies: what fits what was found, what was decided and done, and what it brings."""
    salvage: SalvageRecord | None = None
    """What is not known since the visit was salvaged; None where it never was."""
    source_details: Mapping[int, SourceDetails] = field(default_factory=dict)
    """Where circuits and cords are at the panel, by id; those of which nothing was entered are missing."""
    practitioner: Practitioner = NOT_STATED
    """Who measured, as the visit has it."""
    spot_details: dict[int, SpotDetails] = field(default_factory=dict)
    """How somebody was at each spot, by its id; spots of which nothing is recorded are missing."""
    photos: tuple[SpotPhoto, ...] = ()
    """Of the spots, in the order in which they were added."""
    circumstances: Circumstances = field(default_factory=Circumstances)
    circumstances_at: Mapping[int, Circumstances] = field(default_factory=dict)
    """Those that held at each reading, by its id."""
    stated_on: tuple[tuple[int, str], ...] = ()
    """What was stated to be on, oldest first, each with the UTC ns from which that held."""
    rests: tuple[str, ...] = ()
    """Sentences on where the rest of a recording is that the log did not take, or that the log is one."""

    def local(self, utc_ns: int) -> datetime:
        """Return the time of day where it was recorded."""
        return datetime.fromtimestamp(utc_ns // NS_PER_S, UTC).astimezone(self.zone)

    @cached_property
    def clock_changes(self) -> bool:
        """Whether the local clock was set forward or back within the visit, so that its times need their offset."""
        times_ns = [run.started_utc_ns for run in self.runs]
        times_ns += [run.ended_utc_ns for run in self.runs if run.ended_utc_ns is not None]
        times_ns += [
            entry.utc_ns for entries in (self.readings, self.checks, self.marks) for entry in entries
        ]
        return len({self.local(utc_ns).utcoffset() for utc_ns in times_ns}) > 1

    @property
    def simulation(self) -> str:
        """How much of the visit is simulated, in a sentence; empty where nothing is."""
        return simulation_sentence([run.simulated for run in self.runs], self.readings)

    @cached_property
    def all_simulated(self) -> bool:
        """Whether there are recordings or readings, and all of them are simulated."""
        flags = [run.simulated for run in self.runs] + [r.simulated for r in self.valid_readings]
        return bool(flags) and all(flags)

    @property
    def advice(self) -> list[Advice]:
        """What can be done about circuits and cords, the most effective first; nothing while there is no list."""
        return tonights_advice(self.tonight, self.effects) if self.tonight is not None else []

    @property
    def valid_readings(self) -> list[Reading]:
        """The readings that are not voided."""
        return [reading for reading in self.readings if reading.void_reason is None]

    def is_removed(self, spot_id: int) -> bool:
        """Whether a spot is no longer on the list of the visit."""
        return all(spot.id != spot_id for spot in self.spots)

    def answers(self, name: str) -> list[HeldAnswer]:
        """Return the answers to a question of the set-up, each with the readings that it held for.

        Args:
            name: of the field of the set-up.
        """
        contexts = [(r.id, r.context) for r in self.valid_readings if r.context is not None]
        return held_answers(
            [ReadWith(i, getattr(c.setup, name), name in c.answered_later) for i, c in contexts],
            [getattr(c.setup, name) for night in self.nights if (c := night.night.context) is not None],
            getattr(self.setup, name),
        )

    def circumstance_answers(self, name: str) -> list[HeldAnswer]:
        """Return what was stated of a circumstance, each with the readings that it held for.

        Args:
            name: of the field of the circumstances.
        """
        held = [(r.id, self.circumstances_at.get(r.id, self.circumstances)) for r in self.valid_readings]
        return held_answers(
            [ReadWith(i, getattr(circumstances, name)) for i, circumstances in held],
            (),
            getattr(self.circumstances, name),
        )

    def step_utc_ns(self, known: KnownStep) -> int:
        """Return when a step was."""
        return self.run_started_ns[known.found.run_id] + known.found.t_ns
