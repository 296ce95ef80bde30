"""What the user does on the stage Sources, without a widget: name steps, sweep the breakers, ask for tonight's list.

Everything that is shown is worked out from the log (`logger.sweep`);
here is only what is chosen, and the moment at which something was switched.
"""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import Future, ThreadPoolExecutor, wait
from dataclasses import dataclass, replace
from functools import partial

from gui.model.undo_history import UndoableEdit
from gui.model.visit_access import Message
from gui.model.visit_controller import VisitController
from gui.model.wording import reading_text
from logger.clock import NS_PER_S
from logger.errors import StillvoltError
from logger.metrology.setup import Setup
from logger.metrology.setup import Supply as StatedSupply
from logger.settling.events import State
from logger.sweep.sweep_progress import (
    SKIPPED_FACT,
    Combination,
    Progress,
    circuits_of,
    combination_of,
    progress,
    switching,
)
from logger.sweep.sweep_rows import SweepRow, sweep_rows
from logger.sweep.switch_off_plan import SwitchOffPlan, switch_off_plan
from logger.visit.records.records import Reading, Source, SourceKind, Spot

STILL_AFTER_SWITCHING_S = 5.0
"""So long the value must have been settled after something was switched, before it is taken: a meter's averaging and
the detector's own delay are over by then."""

FEW = 3
"""So many names are said one by one when they are added."""


@dataclass(frozen=True, slots=True)
class PendingSwitching:
    """A combination is set and its reading is awaited."""

    spot: Spot
    combination: Combination
    since_utc_ns: int
    """When the user said that it is set, on the steady time line."""


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
        self._worker = ThreadPoolExecutor(1)
        self._asked: tuple[object, Future[SwitchOffPlan | None]] | None = None
        self._told = True
        """Whether `has_news` has told of the answer that was last asked for."""

    # --- the list ----------------------------------------------------------------------------------------

    @property
    def sources(self) -> list[Source]:
        """Circuits and cords, in the order of the list."""
        return self.controller.snapshot.sources

    def add(self, kind: SourceKind, *names: str) -> list[Source]:
        """Add circuits or cords; those whose names suggest it are marked as ones that must stay on."""
        added: list[Source] = []

        def do() -> str:
            for name in names:
                added.append(self.controller.log.circuits.add(kind, name))
                self._can_undo(
                    f"“{name}” is off the list again",
                    partial(self.controller.log.circuits.remove, added[-1].id),
                )
            few = len(added) <= FEW
            stay = [f"“{s.name}” ({s.stays})" if few else s.name for s in added if s.stays]
            message = f"Added: {', '.join(s.name for s in added)}" if few else f"Added {len(added)} {kind}s"
            return f"{message}. Must stay on: {', '.join(stay)}. K changes that" if stay else message

        self.controller.do(do)
        return added

    def switch_stays(self, source: Source, because: str = "as the household decided") -> None:
        """Mark a circuit or cord as one that must stay on, or take the mark away."""
        why = "" if source.stays else because

        def do() -> str:
            self.controller.log.circuits.set_essential(source.id, why)
            back = source.stays
            self._can_undo(
                f"“{source.name}” as it was",
                lambda: self.controller.log.circuits.set_essential(source.id, back),
            )
            return f"“{source.name}” must stay on: {why}" if why else f"“{source.name}” may be switched off"

        self._edit(do)

    def switch_two_pole(self, source: Source) -> None:
        """State that a breaker switches two legs together, or that it does not."""

        def do() -> str:
            self.controller.log.circuits.set_two_pole(source.id, not source.two_pole)
            self._can_undo(
                f"“{source.name}” as it was",
                lambda: self.controller.log.circuits.set_two_pole(source.id, source.two_pole),
            )
            return f"“{source.name}” is a {'single-pole' if source.two_pole else 'two-pole'} breaker"

        self._edit(do)

    def rename(self, source: Source, name: str) -> None:
        """Rename a circuit or cord."""

        def do() -> str:
            self.controller.log.circuits.rename(source.id, name)
            self._can_undo(
                f"Named “{source.name}” again",
                lambda: self.controller.log.circuits.rename(source.id, source.name),
            )
            return f"“{source.name}” is “{name}” now"

        self._edit(do)

    def plug_into(self, cord: Source, circuit: Source | None) -> None:
        """State which circuit a cord is plugged into; None: not known."""

        def do() -> str:
            self.controller.log.circuits.set_circuit(cord.id, circuit.id if circuit else None)
            self._can_undo(
                f"“{cord.name}” as it was",
                lambda: self.controller.log.circuits.set_circuit(cord.id, cord.circuit_id),
            )
            return f"“{cord.name}” is plugged into {f'“{circuit.name}”' if circuit else 'an unknown circuit'}"

        self._edit(do)

    def remove(self, source: Source) -> None:
        """Take a circuit or cord off the list."""

        def do() -> str:
            self.controller.log.circuits.remove(source.id)
            self._can_undo(
                f"“{source.name}” is back", lambda: self.controller.log.circuits.restore(source.id)
            )
            return f"Removed “{source.name}”; its readings stay. U brings it back"

        self._edit(do)

    def move(self, source: Source, places: int) -> None:
        """Move a circuit along the panel, or a cord along the cords; stops at the ends."""
        of_kind = [s.id for s in self.sources if s.kind == source.kind]
        to = of_kind.index(source.id) + places
        if not 0 <= to < len(of_kind):
            return
        every = [s.id for s in self.sources]
        by = every.index(of_kind[to]) - every.index(source.id)

        def do() -> str:
            self.controller.log.circuits.move(source.id, by)
            self._can_undo(
                f"Moved “{source.name}” back", lambda: self.controller.log.circuits.move(source.id, -by)
            )
            return f"Moved “{source.name}” {'down' if places > 0 else 'up'}"

        self._edit(do)

    def state_supply(self, supply: StatedSupply) -> None:
        """State how the home is supplied: which legs there are hangs on it."""
        self.controller.setup.state(f"supply {supply}", supply=supply)

    def _edit(self, do: Callable[[], str]) -> None:
        """Change the list: what was chosen to be read next is worked out anew from it."""
        self.chosen = None
        self.controller.do(do)

    def _can_undo(self, says: str, undo: Callable[[], None]) -> None:
        self.controller.history.remember_edit(UndoableEdit(says, undo))

    # --- the breaker sweep -------------------------------------------------------------------------------

    def progress(self) -> Progress:
        """How far the sweep at the chosen spot is; what was skipped is not left."""
        found = progress(
            self.controller.snapshot.readings, self.controller.route.chosen_id or 0, self.sources
        )
        skipped = {self.alone(s).live for s in self.sources if s.id in self.skipped and s.kind == "circuit"}
        return replace(found, left=tuple(c for c in found.left if c.live not in skipped))

    def rows(self) -> list[SweepRow]:
        """The sweep at the chosen spot, row by row."""
        return sweep_rows(self.progress(), self.sources)

    @property
    def skipped(self) -> frozenset[int]:
        """Ids of circuits that are not read alone in this visit."""
        return frozenset(map(int, self.controller.snapshot.skipped.split()))

    def switch_skip(self, circuit: Source) -> None:
        """Do not read a circuit alone, or read it after all."""

        def do() -> str:
            was = self.skipped
            now = was ^ {circuit.id}
            self.controller.log.facts.set(SKIPPED_FACT, " ".join(map(str, sorted(now))))
            self._can_undo(
                f"“{circuit.name}” as it was",
                lambda: self.controller.log.facts.set(SKIPPED_FACT, " ".join(map(str, sorted(was)))),
            )
            return f"“{circuit.name}” is {'skipped' if circuit.id in now else 'read after all'}"

        self._edit(do)

    def next_reading(self) -> tuple[Spot, Combination] | None:
        """Where to lie and what to set and read next: as chosen, else as planned at the chosen spot, else what
        tonight's answer asks for. None: nothing is left, or there is no spot."""
        here = self.controller.route.chosen
        if here is None:
            return None
        left = self.progress().left
        planned = self.chosen or (left[0] if left else None)
        return (here, planned) if planned is not None else self.wanted_for_tonight()

    def wanted_for_tonight(self) -> tuple[Spot, Combination] | None:
        """The reading that tonight's answer asks for: the one that would decide, or the one that confirms it at the
        first spot where that is missing (the chosen one before the others)."""
        found, here = self.tonight(), self.controller.route.chosen
        if found is None or here is None:
            return None
        spots = {spot.id: spot for spot in self.controller.snapshot.spots}
        if found.next_combination is not None:
            return spots.get(found.next_spot_id or 0, here), found.next_combination
        if found.to_confirm is None:
            return None
        missing = [spot.spot_id for spot in found.spots if spot.confirming is None]
        at = here.id if here.id in missing or not missing else missing[0]
        return spots.get(at, here), found.to_confirm

    def next_combination(self) -> Combination | None:
        """What to set and read next; see `next_reading`."""
        found = self.next_reading()
        return found[1] if found else None

    def choose(self, combination: Combination | None) -> None:
        """Read this one next, whatever the plan says; None goes back to the plan."""
        self.chosen, self.waiting = combination, None

    def alone(self, circuit: Source) -> Combination:
        """Only that circuit on, besides those that must stay on."""
        return combination_of([circuit.id], self.sources)

    def live_now(self) -> frozenset[int] | None:
        """Which circuits are live, as far as is known: those of the last reading that says so."""
        if self.waiting is not None:
            return self.waiting.combination.live
        stated = (r.live for r in reversed(self.controller.snapshot.readings) if r.live is not None)
        return next(stated, None)

    def what_to_switch(self) -> str:
        """For the person at the panel: what to switch to come to the next combination; empty when none is left."""
        found = self.next_reading()
        return self.to_switch_for(found[1]) if found else ""

    def to_switch_for(self, combination: Combination) -> str:
        """For the person at the panel: what to switch to come to a combination."""
        return switching(self.live_now(), combination.live, self.sources)

    def switched(self) -> None:
        """The next combination is set: its reading is taken once the value has settled since."""
        refusal, snapshot, found = self.why_not_switched(), self.controller.snapshot, self.next_reading()
        if refusal or found is None or snapshot.live is None:
            self.controller.message = Message(refusal, refused=True)
            return
        spot, combination = found
        self.controller.route.chosen_id = spot.id
        if self.controller.snapshot.condition != combination.says:
            # Whatever was stated before is no longer so, for a reading on the stage Spots neither.
            self.controller.condition.state(combination.says)
        self.waiting = PendingSwitching(spot, combination, snapshot.live.beat_steady_utc_ns)
        self.controller.message = Message(f"{combination.says}: hold still, it is taken by itself")

    def why_not_switched(self) -> str:
        """Why nothing can be awaited now; empty when something can."""
        snapshot = self.controller.snapshot
        if self.controller.route.chosen is None:
            return "There is no spot to read. The stage Spots adds one."
        if len(circuits_of(self.sources)) == 0:
            return "No circuit is listed yet."
        if not snapshot.recording or snapshot.live is None:
            return snapshot.refusal or "Nothing is being recorded."
        if self.next_reading() is None:
            return "Tonight's answer is being worked out." if self.thinking else "Nothing is left to read."
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
        """Take the awaited reading if it is time; None otherwise, or when it was refused."""
        waiting = self.waiting
        if waiting is None or self.left_s() != 0.0:
            return None
        taken: list[Reading] = []

        def do() -> str:
            reading = self.controller.log.readings.take(
                waiting.spot.id,
                waiting.combination.says,
                live=waiting.combination.live,
                switched_utc_ns=waiting.since_utc_ns,
            )
            taken.append(reading)
            self.controller.history.remember(reading)
            return f"Taken: {reading_text(reading)} at “{reading.spot_name}”, {waiting.combination.says}"

        self.waiting = None
        self.controller.do(do)
        if taken:
            self.chosen = None
        return taken[0] if taken else None

    # --- tonight -----------------------------------------------------------------------------------------

    def tonight(self) -> SwitchOffPlan | None:
        """What to switch off tonight, from all spots that were swept; None while it is being worked out, or while
        there is nothing to work it out from. It takes up to a second, so it is done beside the window."""
        prompt = self._question()
        if self._asked is None or self._asked[0] != prompt:
            self._asked = (prompt, self._worker.submit(switch_off_plan, *prompt))
            self._told = False
        future = self._asked[1]
        if not future.done():
            return None
        try:
            return future.result()
        except StillvoltError as error:
            self.controller.message = Message(str(error), refused=True)
            return None

    @property
    def thinking(self) -> bool:
        """Tonight's answer is being worked out."""
        return self._asked is not None and not self._asked[1].done()

    def wait(self) -> None:
        """Wait until tonight's answer is worked out; the window never does, a test and a picture do."""
        if self._asked is not None:
            wait([self._asked[1]])

    def has_news(self) -> bool:
        """Tonight's answer has come since this was last asked."""
        if self._told or self.thinking:
            return False
        self._told = True
        return True

    def _question(
        self,
    ) -> tuple[tuple[Reading, ...], tuple[tuple[int, str], ...], tuple[Source, ...], Setup]:
        snapshot = self.controller.snapshot
        spots = tuple((spot.id, spot.name) for spot in self.controller.route.indoor_spots())
        return tuple(snapshot.readings), spots, tuple(self.sources), snapshot.setup
