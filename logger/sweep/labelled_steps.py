"""The steps of the trace with the labels that the user gave them, and the effect of each cord or circuit.

In: the detector's steps (final and still open ones) and the labels. A label points at a moment of a run; the detector
may still move its step a little, or withdraw it. Out: each step with its label, and the effect of each labelled source.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass

from logger.clock import NS_PER_S
from logger.metrology.checks import CheckKind, CheckVerdict
from logger.metrology.posture import DEFAULT_REPEATABILITY, Repeatability
from logger.settling.events import Gap, Overload, Step, unseen_stretch
from logger.settling.limits import CONFIRM_S, HIGHER_S
from logger.sweep.check_steps import is_in_check
from logger.sweep.confirmation import Effect, SwitchedStep, effect_of
from logger.sweep.step_causes import StepCause
from logger.visit.records.home_records import StepLabel
from logger.visit.records.reading_records import CheckResult
from logger.visit.records.recording_records import LoggedEvent

MATCH_S = 3.0
"""A label belongs to a step that is at most this far from the labelled moment, because the detector may move a step
afterwards. Two steps are never closer than a meter's averaging allows."""


@dataclass(frozen=True, slots=True)
class DetectedStep:
    """A step that the detector found in a run.

    Args:
        run_id: of the run.
        step: its time in seconds since the run's start.
        final: False while the detector may still change it.
        kept_by_label: the detector has withdrawn it; it counts because the user has labelled it.
        unseen_s: start and end of the time without values that it lies in, seconds since the run's start; None where
            it was seen.
    """

    run_id: int
    step: Step
    final: bool
    kept_by_label: bool = False
    unseen_s: tuple[float, float] | None = None

    @property
    def t_ns(self) -> int:
        """The time of the step in ns since the run's start."""
        return round(self.step.time_s * NS_PER_S)

    @property
    def final_at_s(self) -> float:
        """When the step is final at the latest if nothing else changes, in seconds since the run's start.

        A rise takes longer: a higher level that is left again before then may have been a raised arm.
        """
        return self.step.time_s + (HIGHER_S if self.step.after_volts > self.step.before_volts else CONFIRM_S)


@dataclass(frozen=True, slots=True)
class KnownStep:
    """A detected step and its label.

    Args:
        found: the step.
        label: None while the user has not labelled it.
        simulated: nothing was measured.
        in_check: it belongs to a check: a cord held near, a wire moved, a probe on a wire.
        cause: what the values and statements beside it show that it was; None where it has a label, or nothing does.
        of_circuits: circuits were being switched about then: its size alone does not show what it was.
        gone_to: the id of the spot that the body may have been on the way to; None where nothing says so.
        unproved: the function check had failed before it, and had not passed since: its size proves nothing.
    """

    found: DetectedStep
    label: StepLabel | None
    simulated: bool
    in_check: bool = False
    cause: StepCause | None = None
    of_circuits: bool = False
    gone_to: int | None = None
    unproved: bool = False

    @property
    def change_volts(self) -> float:
        """The level after the step minus the one before, V."""
        return self.found.step.after_volts - self.found.step.before_volts

    @property
    def waits(self) -> bool:
        """Whether the user is asked what it was."""
        return self.label is None and self.cause is None

    @property
    def is_put_aside(self) -> bool:
        """Whether only a statement of what is on explains it, and no value beside it."""
        return self.cause is StepCause.STATED

    @property
    def counts(self) -> bool:
        """Whether its size shows what a source does, where it is one's switching."""
        return self.found.unseen_s is None and not self.unproved

    @property
    def ignored(self) -> bool:
        """Whether the user has marked the step as one that does not matter."""
        return self.label is not None and self.label.meaning == "ignored"

    @property
    def is_awaited(self) -> bool:
        """Whether everything has to stay as it is until the detector is sure: nobody waits for what needs no name."""
        return not self.found.final and not self.ignored and self.cause is None


def detected_steps(events: Iterable[LoggedEvent], earlier: Iterable[LoggedEvent] = ()) -> list[DetectedStep]:
    """Return the final steps among the events of a log.

    Args:
        events: in the order of the log.
        earlier: gaps and overloads that were logged before them.
    """
    listed = list(events)
    missing: dict[int, list[tuple[float, float]]] = {}
    for one in (*earlier, *listed):
        if isinstance(one.event, Gap | Overload):
            missing.setdefault(one.run_id, []).append((one.event.start_s, one.event.end_s))
    return [
        DetectedStep(
            one.run_id, one.event, True, unseen_s=unseen_stretch(one.event, missing.get(one.run_id, []))
        )
        for one in listed
        if isinstance(one.event, Step)
    ]


def known_steps(
    found: Iterable[DetectedStep],
    labels: Sequence[StepLabel],
    simulated_ids: Collection[int],
    checks: Sequence[CheckResult] = (),
) -> list[KnownStep]:
    """Match the steps of the home with their labels, in the order of time: `every_known_step` without those of checks.

    A step that belongs to a check is no switching in the home, and no part of it unless the user has labelled it.

    Args:
        found: the detector's steps.
        labels: of the visit, oldest first.
        simulated_ids: ids of the runs that were simulated.
        checks: of the visit.
    """
    every = every_known_step(found, labels, simulated_ids, checks)
    return [known for known in every if known.label or not known.in_check]


def every_known_step(
    found: Iterable[DetectedStep],
    labels: Sequence[StepLabel],
    simulated_ids: Collection[int],
    checks: Sequence[CheckResult] = (),
) -> list[KnownStep]:
    """Match all steps and labels; the newest label of a step counts. The result is in the order of time.

    A step that the detector has withdrawn is part of it where the user has labelled it.

    Args:
        found: the detector's steps.
        labels: of the visit, oldest first.
        simulated_ids: ids of the runs that were simulated.
        checks: of the visit.
    """
    steps = sorted(found, key=lambda f: (f.run_id, f.t_ns))
    newest: dict[int, StepLabel] = {}
    for label in labels:
        near = [
            (abs(step.t_ns - label.t_ns), index)
            for index, step in enumerate(steps)
            if _is_label_of(label, step.run_id, step.t_ns)
        ]
        if near:
            newest[min(near)[1]] = label
    function_checks = _moments_of_function_checks(checks)
    valid = {index: label for index, label in newest.items() if label.meaning != "unnamed"}
    known = [
        KnownStep(
            step,
            valid.get(i),
            step.run_id in simulated_ids,
            is_in_check(step.run_id, step.step, checks),
            unproved=_is_unproved(step.run_id, step.t_ns, step.run_id in simulated_ids, function_checks),
        )
        for i, step in enumerate(steps)
    ]
    # Who switched it knows better than the detector afterwards that it was no raised arm.
    known += [
        KnownStep(
            DetectedStep(label.run_id, label.step, final=True, kept_by_label=True),
            label,
            label.run_id in simulated_ids,
            is_in_check(label.run_id, label.step, checks),
            unproved=_is_unproved(label.run_id, label.t_ns, label.run_id in simulated_ids, function_checks),
        )
        for label in withdrawn_labels(steps, labels)
    ]
    return sorted(known, key=lambda k: (k.found.run_id, k.found.t_ns))


def _moments_of_function_checks(checks: Iterable[CheckResult]) -> list[tuple[tuple[int, int], CheckResult]]:
    """The function checks that were done, in the order of time, each with the run and the moment of its last value."""
    done = [check for check in checks if check.kind is CheckKind.FUNCTION and check.steps]
    moments = [(max((s.span.run_id, s.span.end_t_ns) for s in check.steps), check) for check in done]
    return sorted(moments, key=lambda found: found[0])


def _is_unproved(
    run_id: int,
    t_ns: int,
    simulated: bool,
    function_checks: Sequence[tuple[tuple[int, int], CheckResult]],
) -> bool:
    """Whether the meter had not followed a voltage before a step, and had not been shown to do so since.

    Args:
        run_id: of the run that the step lies in.
        t_ns: its time since the run's start, ns.
        simulated: whether that run was simulated.
        function_checks: `_moments_of_function_checks`.
    """
    before = [
        check.outcome.verdict
        for moment, check in function_checks
        if moment < (run_id, t_ns) and check.simulated == simulated
    ]
    return bool(before) and before[-1] is CheckVerdict.FAILED


def withdrawn_labels(found: Iterable[DetectedStep], labels: Sequence[StepLabel]) -> list[StepLabel]:
    """Return the labels whose steps the detector has withdrawn since, because the change did not last.

    Only the newest label of a step counts, and only where it has a source: not where the user has removed the label
    or marked the step as one that does not matter.
    """
    steps = list(found)
    newest: list[StepLabel] = []
    for label in labels:
        newest = [earlier for earlier in newest if not _is_label_of(earlier, label.run_id, label.t_ns)]
        newest.append(label)
    return [
        label
        for label in newest
        if label.meaning in ("on", "off")
        and not any(_is_label_of(label, step.run_id, step.t_ns) for step in steps)
    ]


def _is_label_of(label: StepLabel, run_id: int, t_ns: int) -> bool:
    """Whether a label may be that of a step.

    Args:
        label: as it was given.
        run_id: of the step's run.
        t_ns: time of the step in ns since the run's start.
    """
    return label.run_id == run_id and abs(label.t_ns - t_ns) <= MATCH_S * NS_PER_S


def source_effects(
    steps: Iterable[KnownStep], repeatability: Repeatability = DEFAULT_REPEATABILITY
) -> dict[tuple[int | None, int], Effect]:
    """Average the labelled steps of each source at each spot; the keys are (spot id, source id).

    A step shares the level with the one before it where nothing else was switched between them in the same run.
    Simulated steps count only where none of that source at that spot was measured. A step that lies in a gap counts
    never: nobody knows whether it was the switching, or something else in that time. Nor does one after a failed
    function check (`read_unproved.switched_unproved` says so).

    Args:
        steps: of the visit, in the order of time.
        repeatability: of the posture in this visit.
    """
    switchings: dict[tuple[int | None, int], list[SwitchedStep]] = {}
    before: KnownStep | None = None
    for known in steps:
        label = known.label
        if label is not None and label.source_id is not None and known.counts:
            shares_level = (
                before is not None
                and before.label is not None
                and before.found.run_id == known.found.run_id
                and (before.label.spot_id, before.label.source_id) == (label.spot_id, label.source_id)
            )
            step = SwitchedStep(
                label.meaning == "on",
                known.change_volts,
                known.found.step.u_volts,
                shares_level,
                known.simulated,
            )
            switchings.setdefault((label.spot_id, label.source_id), []).append(step)
        before = known
    return {
        key: effect_of([step for step in made if not step.simulated] or made, repeatability)
        for key, made in switchings.items()
    }
