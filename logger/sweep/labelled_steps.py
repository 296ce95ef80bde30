"""The steps of the trace with what the user said they were, and what each cord or circuit therefore does.

In: the detector's steps (final ones and those that are still open) and the names given to them. A name points at a
moment; the detector may still move the step by a little, or take it back.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from logger.clock import NS_PER_S
from logger.settling.events import Step
from logger.settling.limits import CONFIRM_S, HIGHER_S
from logger.sweep.confirmation import Effect, SwitchedStep, effect_of
from logger.visit.records.records import StepLabel

MATCH_S = 3.0
"""A step that the detector has placed anew lies within this of where it stood when it was named: two of its steps are
never closer than a meter's averaging allows."""


@dataclass(frozen=True, slots=True)
class DetectedStep:
    """A step of the detector."""

    run_id: int
    step: Step
    final: bool
    """False while the detector may still change it."""
    kept_by_label: bool = False
    """The detector has taken it back; it counts because the user has named it."""

    @property
    def t_ns(self) -> int:
        """Its time since the run's start."""
        return round(self.step.time_s * NS_PER_S)

    @property
    def final_at_s(self) -> float:
        """When it is final at the latest if nothing else changes, in seconds since the run's start: a higher level that
        is left again before may have been an arm that was raised.
        """
        return self.step.time_s + (HIGHER_S if self.step.after_volts > self.step.before_volts else CONFIRM_S)


@dataclass(frozen=True, slots=True)
class KnownStep:
    """A step and what was said of it; `name` is None while nothing was."""

    found: DetectedStep
    label: StepLabel | None

    @property
    def change_volts(self) -> float:
        """After minus before."""
        return self.found.step.after_volts - self.found.step.before_volts

    @property
    def ignored(self) -> bool:
        """The user said that it does not matter."""
        return self.label is not None and self.label.meaning == "ignored"


def known_steps(found: Iterable[DetectedStep], names: Sequence[StepLabel]) -> list[KnownStep]:
    """Every step with the newest word on it, in the order of time; also those that the detector has taken back and
    the user has named.
    """
    steps = sorted(found, key=lambda f: (f.run_id, f.t_ns))
    newest: dict[int, StepLabel] = {}
    for name in names:
        near = [
            (abs(step.t_ns - name.t_ns), index)
            for index, step in enumerate(steps)
            if step.run_id == name.run_id and abs(step.t_ns - name.t_ns) <= MATCH_S * NS_PER_S
        ]
        if near:
            newest[min(near)[1]] = name
    said = {index: name for index, name in newest.items() if name.meaning != "unnamed"}
    known = [KnownStep(step, said.get(index)) for index, step in enumerate(steps)]
    # Who switched it knows better than hindsight that it was no raised arm.
    known += [
        KnownStep(DetectedStep(name.run_id, name.step, final=True, kept_by_label=True), name)
        for name in withdrawn_labels(steps, names)
    ]
    return sorted(known, key=lambda k: (k.found.run_id, k.found.t_ns))


def withdrawn_labels(found: Iterable[DetectedStep], names: Sequence[StepLabel]) -> list[StepLabel]:
    """Names of steps that the detector has taken back since: it was no lasting change. Only the newest word on a step
    counts: one that was taken back by the user, or ignored, is none.
    """
    steps = list(found)
    newest: list[StepLabel] = []
    for name in names:
        newest = [earlier for earlier in newest if not _same(earlier, name.run_id, name.t_ns)]
        newest.append(name)
    return [
        name
        for name in newest
        if name.meaning in ("on", "off") and not any(_same(name, step.run_id, step.t_ns) for step in steps)
    ]


def _same(name: StepLabel, run_id: int, t_ns: int) -> bool:
    """Whether a name may be one of a step there."""
    return name.run_id == run_id and abs(name.t_ns - t_ns) <= MATCH_S * NS_PER_S


def source_effects(steps: Iterable[KnownStep]) -> dict[tuple[int | None, int], Effect]:
    """What each source does at each spot: (spot, source) to its effect, from all steps that were named so."""
    switchings: dict[tuple[int | None, int], list[SwitchedStep]] = {}
    for known in steps:
        name = known.label
        if name is not None and name.source_id is not None:
            step = SwitchedStep(name.meaning == "on", known.change_volts, known.found.step.u_volts)
            switchings.setdefault((name.spot_id, name.source_id), []).append(step)
    return {key: effect_of(made) for key, made in switchings.items()}
