"""Which step, circuit or cord of the page Steps is chosen, and what a step probably was. No widget."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from gui.model.step_controller import StepController
from logger.clock import NS_PER_S
from logger.sweep.labelled_steps import MATCH_S, KnownStep
from logger.visit.records.home_records import Source


@dataclass(frozen=True, slots=True)
class NightSteps:
    """The steps that came while somebody slept, in one row.

    Args:
        run_ids: ids of the runs of the night.
    """

    run_ids: tuple[int, ...]


Item = KnownStep | Source | NightSteps
"""What one row of the list stands for."""

StepKey = tuple[int, int]
"""Run and time in nanoseconds of a step."""


class StepSelection:
    """The choice of the user, which stays with its step or source while the list changes.

    Args:
        step_controller: the steps of the visit.
    """

    def __init__(self, step_controller: StepController) -> None:
        self._steps = step_controller
        self.items: Sequence[Item] = ()
        """What the rows of the list stand for, from the top."""
        self._chosen: StepKey | int | NightSteps | None = None
        """A step, a night, or the id of a source, that the user chose; None: the newest step without a label."""
        self.open_nights: frozenset[NightSteps] = frozenset()
        """The nights whose steps are listed one by one."""
        self._reversed: StepKey | None = None
        """The step without a label of which the user reversed the likely direction."""

    @property
    def index(self) -> int | None:
        """Place of the chosen item; None while none is chosen."""
        if self._chosen is None:
            return None
        return next((at for at, item in enumerate(self.items) if _is_item(item, self._chosen)), None)

    @property
    def item(self) -> Item | None:
        """The chosen item."""
        index = self.index
        return None if index is None else self.items[index]

    def choose(self, item: Item) -> None:
        """Choose an item."""
        if isinstance(item, Source):
            self._chosen = item.id
        else:
            self._chosen = item if isinstance(item, NightSteps) else step_key(item)

    def open_or_close(self, night: NightSteps) -> None:
        """List the steps of a night one by one, or fold them again."""
        self.open_nights ^= {night}

    def choose_along(self, places: int) -> None:
        """Choose the item that many rows further down (or up); from none, the first (or the last)."""
        if not self.items:
            return
        index = self.index
        start = -1 if places > 0 else len(self.items)
        to = (start if index is None else index) + places
        self.choose(self.items[min(max(to, 0), len(self.items) - 1)])

    def clear(self) -> None:
        """Go back to the newest step without a label."""
        self._chosen = None

    def clear_all(self) -> None:
        """The same, and forget a reversed direction."""
        self._chosen = self._reversed = None

    def unlabelled_step(self) -> KnownStep | None:
        """The step that the next label is for: the chosen one if it has none, else the newest that has none."""
        item = self.item
        if isinstance(item, KnownStep) and item.label is None:
            return item
        return next(iter(self._steps.unlabelled()), None)

    def step(self) -> KnownStep | None:
        """The step that a key is about: the chosen one, labelled or not, else the newest without a label."""
        item = self.item
        return item if isinstance(item, KnownStep) else self.unlabelled_step()

    def is_reversed(self, step: KnownStep) -> bool:
        """Whether the user reversed the likely direction of a step."""
        return self._reversed is not None and _is_same_step(step, self._reversed)

    def reverse(self, step: KnownStep) -> None:
        """Reverse the likely direction of a step, or go back to it."""
        self._reversed = None if self.is_reversed(step) else step_key(step)

    def guess(self, step: KnownStep) -> tuple[Source, bool] | None:
        """Guess what a step without a label was: a source whose last step it undoes, by size and sign.

        Returns:
            The source and whether it was turned on. None where no source fits, and for a step that was passed over,
            such as one of a movement, unless it was chosen: one key too many must not label it.
        """
        found = self._steps.likely_source(step)
        if found is None or (self.is_passed_over(step) and self.item is not step):
            return None
        source, turned_on = found
        return source, turned_on is not self.is_reversed(step)

    def is_passed_over(self, step: KnownStep) -> bool:
        """Whether a later step has a label already."""
        labelled = (known for known in self._steps.labelled() if not known.ignored)
        return any(step_key(known) > step_key(step) for known in labelled)


def step_key(step: KnownStep) -> StepKey:
    """Run and time of a step, by which steps are ordered."""
    return step.found.run_id, step.found.t_ns


def _is_same_step(step: KnownStep, key: StepKey) -> bool:
    """Whether that is the step, though the detector may have placed it anew."""
    return step.found.run_id == key[0] and abs(step.found.t_ns - key[1]) <= MATCH_S * NS_PER_S


def _is_item(item: Item, chosen: StepKey | int | NightSteps) -> bool:
    if isinstance(item, Source):
        return item.id == chosen
    if isinstance(item, NightSteps) or isinstance(chosen, NightSteps):
        return item == chosen
    return not isinstance(chosen, int) and _is_same_step(item, chosen)
