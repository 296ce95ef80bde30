"""Steps named in the real window by keyboard only, on the simulated practice house; counts keys, compares with truth.

    python scripts/bench/sources_window.py [WIDTHxHEIGHT [FOLDER]]

Somebody lies on the left side of the bed; somebody else switches a lamp on and off, unplugs and plugs another cord in,
and switches a breaker. Each step is named as soon as the window shows it. Pictures go to FOLDER if one is given. Needs
Xvfb, xdotool and ImageMagick's `import`.
"""

from __future__ import annotations

import contextlib
import sys
import tempfile
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))  # so that the tree itself can be imported

from logger.settling.events import Step
from logger.simulation.house.control import send_command
from logger.sweep.confirmation import ConfirmationVerdict, effect_text
from logger.sweep.labelled_steps import DetectedStep, known_steps, source_effects
from logger.visit import VisitLog
from scripts.window_user import Keys
from scripts.x_screen import Screen

SPOT = "Bed, left"
CORDS = ("Aquarium heater", "Lamp")
CIRCUITS = ("Bedroom outlets", "Bedroom light")


class Bed:
    """Somebody on the bed with one hand at the window's keys.

    Args:
        screen: where the window is.
        folder: where the visit and the control file of the house are.
        pictures: where pictures go; None draws none.
    """

    def __init__(self, screen: Screen, folder: Path, pictures: Path | None) -> None:
        self._screen = screen
        self._pictures = pictures
        self._control = folder / "control"
        self._control.touch()
        self.visit = folder / "Practice house.visit"
        self.port = f"sim://house?scene=practice&control={self._control}&seed=5"
        log = VisitLog.create(self.visit)
        log.spots.add(SPOT)
        for name in CORDS:
            log.circuits.add("cord", name)
        for name in CIRCUITS:
            log.circuits.add("circuit", name)
        self.log = log
        self.user = Keys(screen, ["logger", "--visit", str(self.visit), "--port", self.port])

    def do(self, *commands: str) -> None:
        """Do something in the house."""
        for command in commands:
            send_command(self._control, command)

    def shot(self, name: str) -> None:
        """Save a picture."""
        if self._pictures is not None:
            self._screen.picture(self._pictures / f"{self._screen.size[0]}-{name}.png")

    def found(self) -> list[DetectedStep]:
        """Steps of the detector so far, also those that are not final yet."""
        live = self.log.recorder.live()
        final = [
            DetectedStep(e.run_id, e.event, True)
            for e in self.log.events.after()
            if isinstance(e.event, Step)
        ]
        open_ones = [e for e in live.open_events if isinstance(e, Step)] if live is not None else []
        known = {(f.run_id, f.t_ns) for f in final}
        more = [DetectedStep(live.run_id, e, False) for e in open_ones] if live is not None else []
        return [*final, *(f for f in more if (f.run_id, f.t_ns) not in known)]

    def switch(self, *commands: str) -> None:
        """Switch something, and wait until its step is known; what was switched before is left alone until sure."""
        self.user.wait("the steps so far are sure", lambda: all(step.final for step in self.found()))
        before = len(self.found())
        began = time.monotonic()
        self.do(*commands)
        self.user.wait(f"the step of {commands} is known", lambda: len(self.found()) > before)
        print(f"{commands}: its step is known after {time.monotonic() - began:.1f} s")
        time.sleep(1.0)


def lie_and_name(bed: Bed) -> None:
    """Everything that is done at the keys."""
    user = bed.user
    user.begin("set up")
    user.act("measure.record")
    user.wait("it records", lambda: bed.log.recorder.live() is not None)
    bed.do("lamp off", f"go to {SPOT}")
    time.sleep(12.0)
    user.stage("Sources")
    bed.shot("steps-empty")
    user.begin("lamp on, off, on, off")
    bed.switch("lamp on")
    bed.shot("steps-first-waits")
    user.primary("label")
    bed.shot("steps-which")
    user.answer("lamp")
    bed.switch("lamp off")
    bed.shot("steps-off-waits")
    user.primary("label")
    user.wait("it is sure", lambda: all(step.final for step in bed.found()))
    bed.do("turn over")
    time.sleep(3.0)
    bed.do("lie still")
    time.sleep(12.0)
    bed.shot("steps-motion-in-between")
    for command in ("lamp on", "lamp off"):
        bed.switch(command)
        user.primary("label")
    bed.shot("steps-confirmed")
    user.begin("a new cord, by its name")
    bed.switch("heating pad plug", "heating pad on")
    user.primary("label")
    user.type("heat")
    bed.shot("steps-type-ahead")
    user.type("ing pad")
    user.keys("Return")
    user.answer("A cord")
    bed.switch("heating pad unplug")
    user.primary("label")
    user.begin("a breaker, by its first letters")
    bed.switch("breaker Bedroom light off")
    user.primary("label")
    user.type("bedroom l")
    user.keys("Return")
    bed.switch("breaker Bedroom light on")
    user.primary("label")
    bed.shot("steps-list")
    user.begin("")
    user.keys("Down", "Down")
    user.act("view.dark")
    time.sleep(1.0)
    bed.shot("steps-dark")
    user.act("view.dark", "help.actions")
    user.keys(*["Next"] * 12)
    time.sleep(1.0)
    bed.shot("all-actions")


def main() -> int:
    """Returns the exit code."""
    size = sys.argv[1] if len(sys.argv) > 1 else "1280x720"
    pictures = Path(sys.argv[2]) if len(sys.argv) > 2 else None
    if pictures is not None:
        pictures.mkdir(parents=True, exist_ok=True)
    screen = Screen(*map(int, size.split("x")))
    with contextlib.closing(screen), tempfile.TemporaryDirectory(prefix="stillvolt-steps-") as folder:
        bed = Bed(screen, Path(folder), pictures)
        try:
            lie_and_name(bed)
        finally:
            bed.user.close(stop=True)
            names = {source.id: source.name for source in bed.log.circuits.all()}
            known = known_steps(bed.found(), bed.log.step_labels.all(), bed.log.runs.simulated_ids())
            found = {names[i]: effect for (_, i), effect in source_effects(known).items()}
            for name, effect in found.items():
                print(f"{name}: {effect_text(effect)}")
            print(f"{sum(step.label is None for step in known)} steps without a name")
            bed.user.print_counts()
            bed.log.close()
    confirmed = {name for name, effect in found.items() if effect.verdict is ConfirmationVerdict.CONFIRMED}
    return 0 if {"Lamp", "heating pad"} <= confirmed else 1


if __name__ == "__main__":
    sys.exit(main())
