"""What the user does on the stage Sources, without a widget: name steps, sweep the breakers, ask for tonight's list.

Everything that is shown is worked out from the log (`logger.visit.steps`, `logger.visit.sweeping`, `logger.sources`);
here is only what is chosen, and the moment at which something was switched.
"""

from __future__ import annotations

from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass

from gui.session import Said, Session
from gui.wording import step_text, value_text
from logger.clock import NS_PER_S
from logger.errors import StillvoltError
from logger.sources.confirm import Effect
from logger.still.events import State
from logger.visit.for_tonight import Tonight, for_tonight
from logger.visit.model import Reading, Source, SourceKind
from logger.visit.setup import Setup
from logger.visit.steps import KnownStep, effects
from logger.visit.sweeping import Combination, Progress, circuits_of, combination_of, progress, switching

STILL_AFTER_SWITCHING_S = 5.0
"""So long the value must have been settled after something was switched, before it is taken: a meter's averaging and
the detector's own delay are over by then."""


@dataclass(frozen=True, slots=True)
class Waiting:
    """A combination is set and its reading is awaited."""

    combination: Combination
    since_utc_ns: int
    """When the user said that it is set, on the steady time line."""


class Sourcing:
    """The work of the stage Sources.

    Args:
        session: the visit.
    """

    def __init__(self, session: Session) -> None:
        self.session = session
        self.waiting: Waiting | None = None
        self.chosen: Combination | None = None
        """A combination that the user chose instead of the next one of the plan."""
        self._worker = ThreadPoolExecutor(1)
        self._asked: tuple[object, Future[Tonight | None]] | None = None

    # --- the list ----------------------------------------------------------------------------------------

    @property
    def sources(self) -> list[Source]:
        """Circuits and cords, in the order of the list."""
        return self.session.feed.sources

    def add(self, kind: SourceKind, *names: str) -> list[Source]:
        """Add circuits or cords; those whose names suggest it are marked as ones that must stay on."""
        added: list[Source] = []

        def do() -> str:
            for name in names:
                added.append(self.session.log.add_source(kind, name))
            stay = [f"“{s.name}” stays on ({s.stays})" for s in added if s.stays]
            said = f"Added: {', '.join(s.name for s in added)}"
            return f"{said}. {'; '.join(stay)}" if stay else said

        self.session.do(do)
        return added

    def switch_stays(self, source: Source) -> None:
        """Mark a circuit or cord as one that must stay on, or take the mark away."""
        why = "" if source.stays else "as the household decided"

        def do() -> str:
            self.session.log.state_stays(source.id, why)
            return f"“{source.name}” must stay on" if why else f"“{source.name}” may be switched off"

        self.session.do(do)

    # --- steps -------------------------------------------------------------------------------------------

    def known(self) -> list[KnownStep]:
        """All steps of the visit with what was said of them, oldest first."""
        return self.session.feed.known_steps()

    def unnamed(self) -> list[KnownStep]:
        """Steps that wait for a name, newest first."""
        return [known for known in reversed(self.known()) if known.name is None]

    def last_used(self) -> Source | None:
        """What the newest name said that was switched."""
        by_id = {source.id: source for source in self.sources}
        named = (n.source_id for n in reversed(self.session.feed.step_names) if n.source_id in by_id)
        return next((by_id[i] for i in named if i is not None), None)

    def likely_on(self, source: Source, step: KnownStep) -> bool:
        """Whether a step was more likely on than off: the other way than its last one; the first one by its sign."""
        last = next(
            (
                known.name.meaning
                for known in reversed(self.known())
                if known.name is not None and known.name.source_id == source.id
            ),
            None,
        )
        return step.change_volts > 0 if last is None else last == "off"

    def name(self, step: KnownStep, source: Source, turned_on: bool) -> None:
        """Say what a step was."""

        def do() -> str:
            spot = self.session.chosen
            self.session.log.name_step(
                step.found.run_id,
                step.found.t_ns,
                spot.id if spot else None,
                "on" if turned_on else "off",
                source.id,
            )
            word = "on" if turned_on else "off"
            return f"{step_text(step.change_volts)}: {source.name} {word}"

        self.session.do(do)

    def ignore(self, step: KnownStep) -> None:
        """Say that a step is to be ignored."""

        def do() -> str:
            self.session.log.name_step(step.found.run_id, step.found.t_ns, None, "ignored")
            return f"{step_text(step.change_volts)} is ignored"

        self.session.do(do)

    def take_name_back(self) -> bool:
        """Undo the newest word on a step; False when there is none."""
        said = next((known for known in reversed(self._by_saying()) if known.name is not None), None)
        if said is None:
            return False

        def do() -> str:
            self.session.log.name_step(said.found.run_id, said.found.t_ns, None, "unnamed")
            return f"{step_text(said.change_volts)} waits for a name again"

        self.session.do(do)
        return True

    def _by_saying(self) -> list[KnownStep]:
        named = [known for known in self.known() if known.name is not None]
        return sorted(named, key=lambda known: known.name.id if known.name else 0)

    def effects(self) -> list[tuple[Source, Effect]]:
        """What each source does at the chosen spot, the largest first."""
        spot_id = self.session.chosen_id
        by_id = {source.id: source for source in self.sources}
        found = [
            (by_id[source_id], effect)
            for (where, source_id), effect in effects(self.known()).items()
            if where == spot_id and source_id in by_id
        ]
        return sorted(found, key=lambda item: -abs(item[1].volts))

    # --- the breaker sweep -------------------------------------------------------------------------------

    def progress(self) -> Progress:
        """How far the sweep at the chosen spot is."""
        return progress(self.session.feed.readings, self.session.chosen_id or 0, self.sources)

    def next_combination(self) -> Combination | None:
        """What to set and read next: as chosen, else as planned, else what tonight's answer asks for."""
        if self.chosen is not None:
            return self.chosen
        left = self.progress().left
        if left:
            return left[0]
        found = self.tonight()
        if found is None:
            return None
        return found.next_combination or found.to_confirm

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
        stated = (r.live for r in reversed(self.session.feed.readings) if r.live is not None)
        return next(stated, None)

    def what_to_switch(self) -> str:
        """For the person at the panel: what to switch to come to the next combination; empty when none is left."""
        combination = self.next_combination()
        if combination is None:
            return ""
        return switching(self.live_now(), combination.live, self.sources)

    def switched(self) -> None:
        """The next combination is set: its reading is taken once the value has settled since."""
        feed, combination = self.session.feed, self.next_combination()
        if self.session.chosen is None:
            self.session.said = Said("There is no spot to read. The stage Spots adds one.", refused=True)
        elif len(circuits_of(self.sources)) == 0:
            self.session.said = Said("No circuit is listed yet.", refused=True)
        elif not feed.recording or feed.live is None:
            self.session.said = Said(feed.refusal or "Nothing is being recorded.", refused=True)
        elif combination is None:
            self.session.said = Said("Nothing is left to read.", refused=True)
        else:
            self.waiting = Waiting(combination, feed.live.beat_steady_utc_ns)
            self.session.said = Said(f"{combination.says}: hold still, it is taken by itself")

    def give_up_waiting(self) -> bool:
        """Do not take it; False when nothing was awaited."""
        was, self.waiting = self.waiting, None
        return was is not None

    def left_s(self) -> float | None:
        """Seconds until the awaited reading is taken; None while it is not settled, or nothing is awaited."""
        live = self.session.feed.live
        if (
            self.waiting is None
            or live is None
            or self.session.feed.refusal
            or live.state is not State.SETTLED
        ):
            return None
        since_ns = max(self.waiting.since_utc_ns, live.since_steady_utc_ns)
        return max(STILL_AFTER_SWITCHING_S - (live.beat_steady_utc_ns - since_ns) / NS_PER_S, 0.0)

    def take_when_due(self) -> Reading | None:
        """Take the awaited reading if it is time; None otherwise, or when it was refused."""
        waiting, spot = self.waiting, self.session.chosen
        if waiting is None or spot is None or self.left_s() != 0.0:
            return None
        taken: list[Reading] = []

        def do() -> str:
            reading = self.session.log.take_reading(
                spot.id,
                waiting.combination.says,
                live=waiting.combination.live,
                switched_utc_ns=waiting.since_utc_ns,
            )
            taken.append(reading)
            self.session.remember(reading)
            return f"Taken: {value_text(reading.volts, reading.u_volts)}, {waiting.combination.says}"

        self.waiting = self.chosen = None
        self.session.do(do)
        return taken[0] if taken else None

    # --- tonight -----------------------------------------------------------------------------------------

    def tonight(self) -> Tonight | None:
        """What to switch off tonight, from all spots that were swept; None while it is being worked out, or while
        there is nothing to work it out from. It takes up to a second, so it is done beside the window."""
        question = self._question()
        if self._asked is None or self._asked[0] != question:
            self._asked = (question, self._worker.submit(for_tonight, *question))
        future = self._asked[1]
        if not future.done():
            return None
        try:
            return future.result()
        except StillvoltError as error:
            self.session.said = Said(str(error), refused=True)
            return None

    @property
    def thinking(self) -> bool:
        """Tonight's answer is being worked out."""
        return self._asked is not None and not self._asked[1].done()

    def _question(
        self,
    ) -> tuple[tuple[Reading, ...], tuple[tuple[int, str], ...], tuple[Source, ...], Setup]:
        feed = self.session.feed
        spots = tuple((spot.id, spot.name) for spot in self.session.indoor_spots())
        return tuple(feed.readings), spots, tuple(self.sources), feed.setup
