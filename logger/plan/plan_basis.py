"""What a plan of remedies is worked out from: everything of a visit that counts for it, read at one moment.

Window and report have worked out the most of it already and give that to `basis_of`; `read_basis` does both for a log.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, tzinfo

from logger.metrology.checks import CheckKind, CheckVerdict
from logger.metrology.setup import Setup
from logger.night.analysis.repeating_loads import RepeatingLoad
from logger.night.analysis.summary import NightSummary
from logger.night.night_level import summary_of
from logger.night.recorded_nights import nights
from logger.sweep.confirmation import Effect
from logger.sweep.labelled_steps import detected_steps, known_steps, source_effects
from logger.sweep.switch_off_plan import SwitchOffPlan, switch_off_plan
from logger.visit import VisitLog
from logger.visit.records.fact_names import RENAMED
from logger.visit.records.home_records import Source, Spot
from logger.visit.records.kept_object import kept_object
from logger.visit.records.reading_records import CheckResult, Reading
from logger.visit.records.remedy_records import Remedy, RemedyBaseline
from logger.visit.results.posture_repeats import repeatability_on_site
from logger.visit.storage.time_zone import local_time, zone_of


@dataclass(frozen=True, slots=True)
class NightLoad:
    """A load that came again in a night.

    Args:
        load: what it does.
        end_s: length of that night, s.
    """

    load: RepeatingLoad
    end_s: float


@dataclass(frozen=True, slots=True)
class PlanBasis:
    """Everything of a visit that counts for its plan of remedies.

    Args:
        visit: name of the visit's file.
        setup: of the visit.
        spots: of the list, in its order.
        sources: circuits and cords of the list, in its order.
        every_source: all that were ever on the list, by id.
        readings: of the visit, oldest first, by present names.
        tonight: what to switch off tonight; None while no spot was swept.
        effects: of switching, by the ids of spot and of circuit or cord.
        remedies: as the log keeps them.
        baselines: what earlier visits read.
        loads: loads that came again in the nights.
        function_check_failed: whether the newest function check of the visit failed.
        renamed: when which circuit or cord got another name: UTC ns and id, in order.
        zone: where the visit was recorded; None for the zone of this computer.
    """

    visit: str
    setup: Setup
    spots: tuple[Spot, ...]
    sources: tuple[Source, ...]
    every_source: Mapping[int, Source]
    readings: tuple[Reading, ...]
    tonight: SwitchOffPlan | None
    effects: Mapping[tuple[int | None, int], Effect]
    remedies: tuple[Remedy, ...]
    baselines: tuple[RemedyBaseline, ...]
    loads: tuple[NightLoad, ...] = ()
    function_check_failed: bool = False
    renamed: tuple[tuple[int, int], ...] = ()
    zone: tzinfo | None = None

    def spot_name(self, spot_id: int | None) -> str:
        """The present name of a spot; empty for none."""
        return next((spot.name for spot in self.spots if spot.id == spot_id), "")

    def source(self, source_id: int) -> Source | None:
        """A circuit or cord that is or was on the list; None where there is none."""
        return self.every_source.get(source_id)

    def day(self, utc_ns: int) -> date:
        """The local day of a moment, UTC ns, where the visit was recorded."""
        return local_time(utc_ns, self.zone).date()


@dataclass(frozen=True, slots=True)
class Read:
    """What was read from a visit before its plan is worked out.

    Args:
        setup: of the visit.
        spots: of the list, in its order.
        sources: circuits and cords of the list, in its order.
        readings: of the visit, oldest first, by present names.
        checks: of the visit, oldest first.
    """

    setup: Setup
    spots: tuple[Spot, ...]
    sources: tuple[Source, ...]
    readings: tuple[Reading, ...]
    checks: tuple[CheckResult, ...]


def read_basis(log: VisitLog, *, with_nights: bool = True) -> PlanBasis:
    """Read what a plan is worked out from, at one moment.

    Args:
        log: an open visit log; nothing is written.
        with_nights: also the loads that came again at night, which takes seconds for a long night.
    """
    with log.read_transaction():
        setup, spots, sources = log.setup.current(), log.spots.all(), log.circuits.all()
        readings, checks = log.present_readings(), log.checks.all()
        found = detected_steps(log.events.after())
        known = known_steps(found, log.step_labels.all(), log.runs.simulated_ids(), checks)
        runs = log.runs.all()
        return basis_of(
            log,
            Read(setup, tuple(spots), tuple(sources), tuple(readings), tuple(checks)),
            tonight=switch_off_plan(readings, [(s.id, s.name) for s in spots], sources, setup),
            effects=source_effects(known, repeatability_on_site(readings)),
            loads=_loads(log, setup.target_volts) if with_nights else (),
            zone=zone_of(runs[-1]) if runs else None,
        )


def basis_of(
    log: VisitLog,
    read: Read,
    *,
    tonight: SwitchOffPlan | None,
    effects: Mapping[tuple[int | None, int], Effect],
    loads: Sequence[NightLoad],
    zone: tzinfo | None,
) -> PlanBasis:
    """Put together what a plan is worked out from; what only the plan needs is read from the log.

    Args:
        log: an open visit log; nothing is written.
        read: what was read from it already.
        tonight: what to switch off tonight; None while no spot was swept.
        effects: of switching, by the ids of spot and of circuit or cord.
        loads: loads that came again in the nights.
        zone: where the visit was recorded; None for the zone of this computer.
    """
    return PlanBasis(
        visit=log.path.name,
        setup=read.setup,
        spots=read.spots,
        sources=read.sources,
        every_source=log.circuits.with_removed(),
        readings=read.readings,
        tonight=tonight,
        effects=effects,
        remedies=tuple(log.remedies.all()),
        baselines=tuple(log.remedies.baselines()),
        loads=tuple(loads),
        function_check_failed=newest_function_check_failed(read.checks),
        renamed=renamed_at(log),
        zone=zone,
    )


def loads_in(summary: NightSummary, end_s: float) -> tuple[NightLoad, ...]:
    """The loads that came again in a night.

    Args:
        summary: of the night.
        end_s: its length, s.
    """
    return tuple(NightLoad(load, end_s) for load in summary.loads)


def newest_function_check_failed(checks: Sequence[CheckResult]) -> bool:
    """Whether the newest function check failed: whether the meter shows the voltage of a body is not known then.

    Args:
        checks: of the visit, oldest first.
    """
    verdicts = [check.outcome.verdict for check in checks if check.kind is CheckKind.FUNCTION]
    return bool(verdicts) and verdicts[-1] is CheckVerdict.FAILED


def renamed_at(log: VisitLog) -> tuple[tuple[int, int], ...]:
    """When which circuit or cord got another name: UTC ns and id, in order; what is no such entry is left out."""
    found = ((utc_ns, kept_object(value).get("source_id")) for utc_ns, value in log.facts.values_of(RENAMED))
    return tuple((utc_ns, source_id) for utc_ns, source_id in found if isinstance(source_id, int))


def _loads(log: VisitLog, target_volts: float) -> tuple[NightLoad, ...]:
    return tuple(
        load
        for night in nights(log)
        if night.counts
        for load in loads_in(summary_of(night, target_volts), night.record.end_s)
    )
