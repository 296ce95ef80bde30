"""A practitioner at the simulated house, faster than time.

Goes to spots, does the checks, takes readings, sweeps the breakers: for the demo visit, for tests and benches.
Everything is taken through the visit log as the window does it.
"""

from __future__ import annotations

from pathlib import Path

from logger.errors import StillvoltError
from logger.meter.description import MeterDescription
from logger.metrology.checks import STEPS, VALUE_MAY_STAY, CheckKind
from logger.settling.events import Step
from logger.simulation.fast_forward import FastForward
from logger.simulation.house.scene import Scene
from logger.sweep.sweep_progress import (
    Combination,
    circuits_of,
    combination_as_at_night,
    combination_of,
    live_with_everything,
    sweep_progress,
)
from logger.sweep.switch_off_plan import SwitchOffPlan, switch_off_plan
from logger.visit import VisitLog
from logger.visit.records.condition import EVERYTHING_OFF, EVERYTHING_ON
from logger.visit.records.home_records import Source, Spot
from logger.visit.records.reading_records import Reading, Span
from logger.visit.results.used_stretch import StretchInUseError

STILL_S = 12.0
"""For so long a value has been settled before it is taken."""

PATIENCE_S = 300.0

MAX_MOVES = 4
"""So often a practitioner moves for one reading: a small move at a quiet spot may not be seen on the trace."""

MAX_EXTRA_READINGS = 8
"""Readings that may be asked for after the plain sweep."""

MAX_CONFIRMING_READINGS = 12
"""Readings that may be asked for after all sweeps, until the answer for tonight is confirmed."""


class Practitioner:
    """One recording of a visit with somebody at work in it.

    Args:
        visit: an existing visit log.
        scene: used up by this recording. Nothing in it should switch by itself.
        start_utc_ns: when it begins.
        zone: IANA name of the time zone.
        seed: draws motion and noise.
        meter: the kept meter that the recording states; None for none.
    """

    def __init__(
        self,
        visit: Path,
        scene: Scene,
        start_utc_ns: int,
        zone: str = "UTC",
        seed: int = 0,
        meter: MeterDescription | None = None,
    ) -> None:
        self.run = FastForward(visit, scene, start_utc_ns, zone, seed, meter)
        self.log = VisitLog.open(visit, self.run.clock)
        self._live = {source.id: True for source in self.log.circuits.all()}

    def end(self) -> None:
        """Stop recording and close the log."""
        self.run.end("stopped")
        self.log.close()

    def wait(self, seconds: float) -> None:
        """Let time pass."""
        self.run.run(self.run.simulation.now_s + seconds)

    def send_commands(self, *commands: str) -> None:
        """Give the house commands."""
        for command in commands:
            self.run.send_command(command)

    def settle(self) -> None:
        """Wait until a value has been settled for a while; raises StillvoltError when none comes."""
        self.wait(2.0)
        waited_s = 0.0
        while True:
            live = self.log.recorder.live()
            still_ns = live.beat_steady_utc_ns - live.since_steady_utc_ns if live else 0
            if not self.log.current_value.why_not_settled() and still_ns >= STILL_S * 1e9:
                return
            if waited_s > PATIENCE_S:
                raise StillvoltError(f"No value has settled: {self.log.current_value.why_not_settled()}")
            self.wait(1.0)
            waited_s += 1.0

    def check(self, kind: CheckKind, *steps: tuple[str, ...], at: Spot | None = None) -> None:
        """Do a check.

        Args:
            kind: which one.
            *steps: the commands before each of its values; fewer than it has leave it unfinished.
            at: the spot that it is done at; None where that is not recorded.
        """
        spans: list[Span] = []
        for commands in steps:
            live = self.log.recorder.live()
            before_ns = live.beat_steady_utc_ns if live else 0
            self.send_commands(*commands)
            if kind in VALUE_MAY_STAY:
                self.wait(STILL_S)
            self.settle()
            spans.append(self.log.current_value.settled_span(before_ns))
            if at is not None:
                with self.log._connection.writing():
                    self.log.checks.note_step(kind, STEPS[kind][len(spans) - 1].name, spans[-1], at)
        if len(spans) == len(STEPS[kind]):
            self.log.checks.add(kind, spans)

    def read(self, spot: Spot, combination: Combination | None = None, condition: str = "") -> Reading:
        """Take the settled value at a spot; a combination is set first.

        Where nothing has moved since another value, the practitioner moves and holds still again, as advised.
        """
        switched_ns = self.switch(combination) if combination is not None else 0
        if combination is not None:
            self.wait(STILL_S)  # too small a change begins no new span
        self.settle()
        for _ in range(MAX_MOVES):
            try:
                return self._take(spot, combination, condition, switched_ns)
            except StretchInUseError:  # what was switched gives nothing here, so that nothing shows it
                self.send_commands("move")
                self.settle()
        return self._take(spot, combination, condition, switched_ns)

    def _take(
        self, spot: Spot, combination: Combination | None, condition: str, switched_utc_ns: int
    ) -> Reading:
        """Take the value that has settled.

        Args:
            spot: where.
            combination: what is live; None where it is not stated one by one.
            condition: what is on in words, where there is no combination.
            switched_utc_ns: when something was last switched, on the steady time line.
        """
        everything = live_with_everything(condition, self.log.circuits.all())  # as the window keeps it
        return self.log.readings.take(
            spot.id,
            combination.label if combination is not None else condition,
            live=combination.live if combination is not None else everything,
            switched_utc_ns=switched_utc_ns,
        )

    def round_of(self, spots: list[Spot], condition: str) -> None:
        """Read every spot with everything on, or with everything off that may be switched off."""
        self.log.facts.set("condition", condition)
        sources = self.log.circuits.all()
        if sources:
            everything = {EVERYTHING_ON: [s.id for s in sources], EVERYTHING_OFF: []}[condition]
            self.switch(combination_of(everything, sources))
        for spot in spots:
            self.send_commands(f"go to {spot.name}")
            self.wait(6.0)
            self.read(spot, condition=condition)

    def sweep(self, spot: Spot) -> SwitchOffPlan | None:
        """Sweep the breakers at a spot, and read what tonight's answer asks for there."""
        self.send_commands(f"go to {spot.name}")
        self.wait(6.0)
        sources = self.log.circuits.all()
        while left := sweep_progress(self.log.readings.all(), spot.id, sources).left:
            self.read(spot, left[0])
        found = self._tonight()
        for _ in range(MAX_EXTRA_READINGS):
            wanted = found.next_combination if found else None
            if found is None or wanted is None or found.next_spot_id != spot.id:
                break
            self.read(spot, wanted)
            found = self._tonight()
        return found

    def confirm(self) -> Combination:
        """Read what the answer for tonight still asks for, switch the home as it says; returns what is live then.

        Raises:
            StillvoltError: the answer stays open.
        """
        for _ in range(MAX_CONFIRMING_READINGS):
            found = self._tonight()
            assert found is not None
            if found.next_combination is None:
                off, out = ([source.id for source in listed] for listed in (found.off, found.unplug))
                as_listed = combination_as_at_night(off, self.log.circuits.all(), out)
                self.switch(as_listed)
                self.wait(2.0)
                return as_listed
            spot = next(s for s in self.log.spots.all() if s.id == found.next_spot_id)
            self.send_commands(f"go to {spot.name}")
            self.wait(6.0)
            self.read(spot, found.next_combination)
        raise StillvoltError("The answer for tonight stays open: the scene has to be changed.")

    def name_steps(self, cord: Source, spot: Spot) -> None:
        """Unplug a cord and plug it in again, twice, with everything else on, and name each step.

        Args:
            cord: listed, and plugged in.
            spot: where the person is meanwhile.
        """
        log = self.log
        sources = log.circuits.all()
        self.switch(combination_of([c.id for c in circuits_of(sources)], sources))
        log.facts.set("condition", EVERYTHING_ON)
        self.send_commands(f"go to {spot.name}")
        self.wait(6.0)
        self.settle()
        run_id = log.runs.all()[-1].id
        for word in ("unplug", "plug", "unplug", "plug"):
            seen = len(self._steps())
            self.send_commands(f"{cord.name} {word}")
            self.settle()
            self.wait(10.0)
            (step,) = self._steps()[seen:]
            log.step_labels.add(run_id, step, spot.id, "on" if word == "plug" else "off", cord.id)

    def _steps(self) -> list[Step]:
        """The steps as the detector has them now."""
        live = self.log.recorder.live()
        assert live is not None
        found = [*(logged.event for logged in self.log.events.after()), *live.open_events]
        return sorted((e for e in found if isinstance(e, Step)), key=lambda e: e.time_s)

    def switch(self, combination: Combination) -> int:
        """Switch breakers and cords so that just that is live; gives the moment."""
        for source in self.log.circuits.all():
            on = source.id in combination.live
            if self._live.get(source.id, True) != on:
                words = ("plug", "unplug") if source.kind == "cord" else ("on", "off")
                before = "" if source.kind == "cord" else "breaker "
                self.send_commands(f"{before}{source.name} {words[0 if on else 1]}")
                self._live[source.id] = on
        live = self.log.recorder.live()
        return live.beat_steady_utc_ns if live else 0

    def _tonight(self) -> SwitchOffPlan | None:
        log = self.log
        return switch_off_plan(
            log.readings.all(),
            [(s.id, s.name) for s in log.spots.all()],
            log.circuits.all(),
            log.setup.current(),
        )
