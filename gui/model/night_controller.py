"""The work of the stage Night, without a widget: nights of the visit summed up beside the window, one compared with
another, the planned switchings, and for how long disk and battery last."""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import Executor, Future, ProcessPoolExecutor, wait
from concurrent.futures.process import BrokenProcessPool
from functools import partial
from multiprocessing import get_context
from pathlib import Path
from typing import Generic, TypeVar

from gui.model.undo_history import UndoableEdit
from gui.model.visit_access import Message
from gui.model.visit_controller import VisitController
from logger.clock import NS_PER_S, Clock, SystemClock, how_long
from logger.errors import StillvoltError
from logger.night.night_facts import Stretch
from logger.night.night_job import NightAnalysis, OtherNight, SideBySide, compare_with, sum_up
from logger.night.recorded_nights import Night
from logger.night.schedule import FACT as SCHEDULE_FACT
from logger.night.schedule import parse_schedule
from logger.recording.watch.disk_space import USUAL_BYTES_PER_S, free_bytes, lasts_s
from logger.recording.watch.disk_space import warning as disk_warning
from logger.recording.watch.power import LOW_PERCENT, Power, power
from logger.settling.events import Step
from logger.visit.storage.visit_folder import visits_in

T = TypeVar("T")

RESUMMARISE_AFTER_S = 300.0
"""So much more has to be recorded before a night is summed up again by itself."""

NOTHING = ("", "-", "none")
"""Typed where nothing is planned."""

ASK_SYSTEM_NS = 2 * NS_PER_S
"""How often disk and battery are asked."""

MOST_DAYS = 30
"""More is not counted."""

LOW_DISK_S = 3600.0
"""The night screen says so from here on; the stage and the log say it long before."""


class CachedTask(Generic[T]):
    """Something that is worked out beside the window, anew when the question is another one."""

    def __init__(self, worker: Callable[[], Executor]) -> None:
        self._worker = worker
        self._asked: tuple[object, Future[T]] | None = None
        self.told = True
        """Whether somebody was told that the answer is there."""
        self.refusal = ""

    def ask(self, prompt: object, work: Callable[[], T]) -> None:
        """Begin with a question, unless it is the one that was asked last."""
        if self._asked is None or self._asked[0] != prompt:
            self._asked = (prompt, self._worker().submit(work))
            self.told = False

    def forget(self) -> None:
        """The next question is a new one, whatever it is."""
        self._asked = None

    @property
    def thinking(self) -> bool:
        """The answer is not there yet."""
        return self._asked is not None and not self._asked[1].done()

    def answer(self) -> T | None:
        """The answer; None while there is none, or when it was refused (`refusal` tells why)."""
        if self._asked is None or self.thinking:
            return None
        try:
            found = self._asked[1].result()
        except StillvoltError as error:
            self.refusal = str(error)
            return None
        except BrokenProcessPool:  # it was killed, such as for want of memory
            self.refusal = "What works out the night was ended from outside. Space tries again."
            return None
        self.refusal = ""
        return found

    def wait(self) -> None:
        """Wait for the answer; the window never does, a test and a picture do."""
        if self._asked is not None:
            wait([self._asked[1]])


def worker_process() -> Executor:
    """A process of its own: a thread would take turns with the window at Python, and the window would stutter."""
    return ProcessPoolExecutor(1, get_context("spawn"))


class NightController:
    """The work of the stage Night.

    Args:
        controller: the visit.
        ask_power: what the system says of battery and charger.
        ask_free: bytes that the disk of a folder still takes.
        clock_: injected time.
        worker: where nights are worked out.
    """

    def __init__(
        self,
        controller: VisitController,
        ask_power: Callable[[], Power | None] = power,
        ask_free: Callable[[Path], int] = free_bytes,
        clock_: Clock | None = None,
        worker: Callable[[], Executor] = worker_process,
    ) -> None:
        self.controller = controller
        self.number: int | None = None
        """The night that was chosen; None: the longest."""
        self.other: OtherNight | None = None
        """The night that it is compared with."""
        self.morning: NightAnalysis | None = None
        """As last worked out: it stays in sight while the next one is being worked out."""
        self.power: Power | None = None
        self.disk_s = 0.0
        """For how long the disk has room."""
        self._ask_power, self._ask_free = ask_power, ask_free
        self._clock = clock_ or SystemClock()
        self._asked_system_ns: int | None = None
        self._make_worker = worker
        self._worker: Executor | None = None
        self._summing: CachedTask[NightAnalysis] = CachedTask(self._at_work)
        self._comparing: CachedTask[SideBySide] = CachedTask(self._at_work)
        self._recorded = (0, 0.0, False)
        """Run, end and whether it was recording, when it was last summed up."""

    # --- the morning -------------------------------------------------------------------------------------

    def analysis(self) -> NightAnalysis | None:
        """The chosen night summed up, as far as it is known; asks for it anew where something differs."""
        snapshot = self.controller.snapshot
        if snapshot.live is None:
            return None
        run_id, end_s, was_recording = self._recorded
        news = snapshot.live.run_id != run_id or snapshot.now_s - end_s >= RESUMMARISE_AFTER_S
        if news or (was_recording and not snapshot.recording):
            self._recorded = (snapshot.live.run_id, snapshot.now_s, snapshot.recording)
        target_volts = snapshot.setup.target_volts
        self._summing.ask(
            (self._recorded, self.number, target_volts, self.schedule),
            partial(sum_up, self.controller.log.path, self.number, target_volts, self.schedule),
        )
        found = self._summing.answer()
        if found is not None:
            self.morning = found
        return self.morning

    @property
    def thinking(self) -> bool:
        """Something is being worked out."""
        return self._summing.thinking or self._comparing.thinking

    @property
    def refusal(self) -> str:
        """Why there is no summary; empty when nothing is wrong."""
        return self._summing.refusal

    def close(self) -> None:
        """End what works beside the window."""
        if self._worker is not None:
            self._worker.shutdown(wait=False, cancel_futures=True)
            self._worker = None

    def _at_work(self) -> Executor:
        """The worker, once there is something to do."""
        if self._worker is None:
            self._worker = self._make_worker()
        return self._worker

    def again(self) -> None:
        """Sum up anew with what was recorded since."""
        if self.refusal:
            self.close()
        self._summing.forget()
        self._comparing.forget()
        self.controller.message = Message("The night is being summed up …")

    def choose(self, number: int) -> None:
        """Look at another night of the visit, counted from 1."""
        self.number = number

    def wait(self) -> None:
        """Wait until everything is worked out; the window never does, a test and a picture do."""
        self._summing.wait()
        self._comparing.wait()

    def has_news(self) -> bool:
        """Something that was asked for has been worked out since this was last asked."""
        news = [b for b in (self._summing, self._comparing) if not b.told and not b.thinking]
        for worker_process in news:
            worker_process.told = True
        return bool(news)

    def step_names(self, morning: NightAnalysis) -> dict[Step, str]:
        """What was said on the stage Sources that steps of a night were."""
        from gui.model.wording import step_name_text

        snapshot, starts_s = self.controller.snapshot, morning.night.run_starts_s
        message = {
            (round(starts_s[k.found.run_id] + k.found.step.time_s, 3)): step_name_text(
                k, snapshot.every_source
            )
            for k in snapshot.known_steps()
            if k.name is not None and k.found.run_id in starts_s
        }
        return {
            step: message[round(step.time_s, 3)]
            for step in morning.summary.steps
            if round(step.time_s, 3) in message
        }

    def in_trace(self, night: Night, stretch_s: Stretch) -> Stretch:
        """Where a stretch of a night lies on the trace's time line."""
        moment = night.moment(stretch_s[0])
        if moment is None:
            return stretch_s
        run_id, since_s = moment
        started_ns = self.controller.snapshot.run_started_utc_ns(run_id)
        start_s = self.controller.snapshot.trace.seconds(started_ns + round(since_s * NS_PER_S), run_id)
        return start_s, start_s + stretch_s[1] - stretch_s[0]

    # --- before and after --------------------------------------------------------------------------------

    def others(self) -> list[OtherNight]:
        """What the chosen night may be compared with: the visit's other nights, then the longest of other visits."""
        morning, here = self.morning, self.controller.log.path
        found = []
        if morning is not None:
            longest_first = sorted(enumerate(morning.lengths_s, 1), key=lambda pair: -pair[1])
            found = [
                OtherNight(f"night {number} of this visit, {how_long(length_s)}", here, number)
                for number, length_s in longest_first
                if number != morning.night.number
            ]
        return found + [
            OtherNight(f"the longest night of “{path.stem}”", path, None)
            for path in visits_in(here.parent)
            if path.resolve() != here.resolve()
        ]

    def compare_with(self, other: OtherNight) -> None:
        """Compare the chosen night with another one."""
        self.other = other

    def side_by_side(self) -> SideBySide | None:
        """The comparison; None while it is being worked out or nothing is chosen."""
        morning = self.analysis()
        if self.other is None or morning is None:
            return None
        self._comparing.ask(
            (self._recorded, morning.night.number, self.other),
            partial(compare_with, morning.night, self.other),
        )
        return self._comparing.answer()

    @property
    def comparison_refusal(self) -> str:
        """Why the nights cannot be compared; empty when nothing is wrong."""
        return self._comparing.refusal

    # --- planned switchings ------------------------------------------------------------------------------

    @property
    def schedule(self) -> str:
        """The planned switchings, as typed."""
        return self.controller.snapshot.schedule

    def plan(self, text: str) -> bool:
        """Keep planned switchings; False when refused. A dash plans nothing."""
        kept: list[str] = []
        before = self.schedule

        text = "" if text.strip() in NOTHING else text.strip()

        def do() -> str:
            entries = parse_schedule(text)
            self.controller.log.facts.set(SCHEDULE_FACT, text)
            self.controller.history.remember_edit(
                UndoableEdit(
                    "Planned switchings as they were",
                    lambda: self.controller.log.facts.set(SCHEDULE_FACT, before),
                )
            )
            kept.append(text)
            if not entries:
                return "Nothing is planned"
            return "Planned: " + "; ".join(
                f"{hour:02d}:{minute:02d} {what}" for hour, minute, what in entries
            )

        self.controller.do(do)
        return bool(kept)

    # --- disk and battery --------------------------------------------------------------------------------

    def ask_system(self) -> bool:
        """Ask the system now and then for disk and battery; tells whether something differs."""
        now_ns = self._clock.steady_ns()
        if self._asked_system_ns is not None and now_ns - self._asked_system_ns < ASK_SYSTEM_NS:
            return False
        self._asked_system_ns = now_ns
        before = self.power, self.disk_s
        self.power = self._ask_power()
        try:
            free = self._ask_free(self.controller.log.path.parent)
        except OSError:  # a disk that went away shows at the recorder
            free = 0
        self.disk_s = lasts_s(free, USUAL_BYTES_PER_S)
        return before != (self.power, self.disk_s)

    def disk_words(self) -> str:
        """Disk room in a few words."""
        return f"disk {_days(self.disk_s)}"

    def battery_words(self) -> str:
        """Battery and charger in a few words; empty where the system does not tell."""
        now = self.power
        if now is None:
            return ""
        if now.plugged_in:
            return f"on charger, {now.percent:.0f} %"
        left = f", {how_long(now.left_s)}" if now.left_s is not None else ""
        return f"battery {now.percent:.0f} %{left}"

    def disk_problem(self) -> str:
        """What to say of a disk without room for the night; empty when there is enough."""
        return disk_warning(self.disk_s)

    def problems(self) -> list[str]:
        """What must be known at the bedside of disk and battery, each in two or three words."""
        found = []
        if self.disk_s < LOW_DISK_S:
            found.append("DISK FULL" if self.disk_s <= 0 else f"DISK ONLY {how_long(self.disk_s).upper()}")
        if self.power is not None and not self.power.plugged_in and self.power.percent <= LOW_PERCENT:
            found.append(f"BATTERY {self.power.percent:.0f} %")
        return found


def _days(seconds: float) -> str:
    days = seconds / 86400
    if days > MOST_DAYS:
        return f"over {MOST_DAYS} days"
    return f"{days:.0f} days" if days >= 3 else how_long(seconds)
