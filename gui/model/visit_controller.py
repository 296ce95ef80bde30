"""What the user does with a visit, without a widget: choose a spot, take, void, mark, start and stop recording."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

from gui.model.hands_free import HandsFree
from gui.model.visit_snapshot import VisitSnapshot
from gui.model.wording import value_text
from logger.clock import NS_PER_S, Clock, SystemClock
from logger.errors import StillvoltError
from logger.meter.description import Description
from logger.meter.description_folder import save
from logger.meter.port import PortSettings
from logger.metrology.checks import STEPS, CheckKind, CheckVerdict, step_budget
from logger.metrology.setup import UNKNOWN_METER, MeterFacts, Setup
from logger.recording.recorder import DetachedRecorder, start_detached
from logger.recording.watch.power import charger_plugged_in
from logger.report.blank_form import form_path, write_form
from logger.simulation.practice_house import named
from logger.sweep.sweep_progress import live_under
from logger.visit import Live, Mark, Reading, Spot, VisitLog
from logger.visit.records.condition import FACT as CONDITION_FACT
from logger.visit.records.records import CheckResult, Span
from logger.visit.results.chronology import in_order
from logger.visit.results.on_off_result import (
    EVERYTHING_OFF,
    EVERYTHING_ON,
    OUTSIDE_WALK,
    SpotResult,
    budget_of,
)
from logger.visit.results.typed_value import read_pair_by_hand
from logger.visit.storage.run_meter import meter_of

STARTING_SPOTS = (
    ("centre", ""),
    ("seat", "as in the evening"),
    ("desk", "screen on"),
    ("bed, lying down", "as at night"),
)
"""The usual spots of a room, in walking order, and what has to be on at each."""

CHARGER_READ_NS = 2 * NS_PER_S
"""How often the system is asked whether the charger is plugged in."""


@dataclass(frozen=True, slots=True)
class Message:
    """The outcome of the last action, for the user."""

    text: str
    refused: bool = False


@dataclass(frozen=True, slots=True)
class RouteEdit:
    """A change of the route made by this window, with the way back."""

    says: str
    """What was brought back, once it is."""
    undo: Callable[[], None]


def shown_value(reading: Reading) -> str:
    """A reading's value with its whole uncertainty, where that is known: '0.27 ± 0.02 V'."""
    budget = budget_of(reading)
    return value_text(reading.volts, budget.u_volts if budget else reading.u_volts)


class VisitController:
    """One window's work on a visit log.

    Args:
        log: open visit log.
        clock: injected time.
        start_recorder: starts a recorder process (a test gives its own).
        charger: tells whether the computer's charger is plugged in; None where that is not known.
    """

    def __init__(
        self,
        log: VisitLog,
        clock: Clock | None = None,
        start_recorder: Callable[[Path, PortSettings], DetachedRecorder] = start_detached,
        charger: Callable[[], bool | None] = charger_plugged_in,
    ) -> None:
        self.log = log
        self.snapshot = VisitSnapshot(log, clock)
        self.hands_free = HandsFree(self.snapshot)
        self.message = Message("")
        self.chosen_id: int | None = None
        self._seen: dict[int, Spot] = {}
        """The spots as they were on the list when it was last looked at."""
        self._gone: Spot | None = None
        self._start_recorder = start_recorder
        self._starting: DetachedRecorder | None = None
        self._run_before: int | None = None
        self._done: list[tuple[type, int] | RouteEdit] = []
        """Readings and marks made by this window, and changes of the route, in order."""
        self.check = CheckKind.ZERO
        """The check that is done or looked at now."""
        self.check_spans: list[Span] = []
        """The values of its steps so far."""
        self.charger_plugged_in: bool | None = None
        """As the system last told; None where it does not."""
        self.recorded_meter: MeterFacts | None = None
        """The kept meter that the newest run is recorded with; None without one."""
        self._clock = clock or SystemClock()
        self._charger = charger
        self._charger_read_ns = self._clock.steady_ns() - CHARGER_READ_NS
        self._meter_run: int | None = None
        self.snapshot.refresh(force=True)
        self._look_at_charger()
        self._look_at_meter()
        self.check = self._next_check()
        if self.snapshot.readings:
            self.chosen_id = self.snapshot.readings[-1].spot_id
        self._keep_choice()

    # --- reading -----------------------------------------------------------------------------------------

    @property
    def clock(self) -> Clock:
        """The time that this window goes by."""
        return self._clock

    def refresh(self, force: bool = False) -> bool:
        """Read what is new in the log (`force`: also what only people change); tells whether anything changed."""
        message = self.message
        try:
            changed = self.snapshot.refresh(force)
        except StillvoltError as error:
            self.message = Message(str(error), refused=True)
            return True
        if changed:
            self._keep_choice()
        self._watch_start()
        self._look_at_meter()
        return self._look_at_charger() or changed or message is not self.message

    @property
    def chosen(self) -> Spot | None:
        """The spot that the next reading is for."""
        return next((spot for spot in self.snapshot.spots if spot.id == self.chosen_id), None)

    @property
    def gone(self) -> Spot | None:
        """The spot that was chosen until it was removed elsewhere; None once another is chosen."""
        return self._gone if self.chosen is None else None

    @property
    def starting(self) -> bool:
        """A recorder was started and has not said anything yet."""
        return self._starting is not None

    def last_undoable(self) -> Reading | Mark | None:
        """The reading or mark that was made last, here if any was, and still stands."""
        items = in_order(self.snapshot.readings, self.snapshot.marks)
        standing = reversed([item for item in items if item.void_reason is None])
        # By the order of doing: a mark's time is that of its key press, a little before it was written.
        order = {done: place for place, done in enumerate(self._done)}
        return max(standing, key=lambda i: order.get((type(i), i.id), -1), default=None)

    def last_spot_change(self) -> RouteEdit | None:
        """The change of the route that is undone next; None when a reading or a mark came after it."""
        items: list[Reading | Mark] = [*self.snapshot.readings, *self.snapshot.marks]
        void = {(type(item), item.id) for item in items if item.void_reason is not None}
        last = next((done for done in reversed(self._done) if done not in void), None)
        return last if isinstance(last, RouteEdit) else None

    def last_reading(self, spot_id: int) -> Reading | None:
        """The newest reading of a spot that still stands."""
        of_spot = (
            r for r in reversed(self.snapshot.readings) if r.spot_id == spot_id and r.void_reason is None
        )
        return next(of_spot, None)

    def remarks(self, reading: Reading) -> list[str]:
        """What has to be said beside a reading, each in a few words."""
        return reading.context.remarks() if reading.context is not None else []

    def doubt(self, reading: Reading) -> str:
        """What the detector found later that speaks against a reading, in one sentence; "" when nothing does."""
        return self.snapshot.standing.of_reading(reading)

    def check_doubts(self, check: CheckResult) -> dict[str, str]:
        """The same for the steps of a check, by their names; only those in doubt."""
        doubts = {step.name: self.snapshot.standing.of_span(step.span) for step in check.steps}
        return {name: doubt for name, doubt in doubts.items() if doubt}

    def next_take(self) -> Message:
        """What a take would do now, or why it would refuse: the bottom line's text."""
        live = self.snapshot.live
        if not self.snapshot.recording or live is None:
            return Message(self.snapshot.refusal or "Nothing is being recorded.", refused=True)
        if self.snapshot.refusal:
            return Message(self.snapshot.refusal, refused=True)
        budget = self.snapshot.budget
        if budget is None:
            return Message("The meter has not sent a value yet.", refused=True)
        value = value_text(budget.volts, budget.u_volts)
        if self.chosen is None:
            return Message(f"take {value} — asks for which spot")
        last = self.last_reading(self.chosen.id)
        again = ""
        condition = self.condition_at(self.chosen)
        if last is not None and last.condition == condition:
            spans_now = last.end_utc_ns is not None and last.end_utc_ns >= live.since_steady_utc_ns
            again = " again" if last.run_id == live.run_id and spans_now else ""
        asks = "" if condition else " — asks what is on"
        return Message(f"take {value} for “{self.chosen.name}”{again}{asks}")

    # --- doing -------------------------------------------------------------------------------------------

    def choose(self, places: int) -> None:
        """Choose the spot so many places further along the route; stops at the ends."""
        ids = [spot.id for spot in self.snapshot.spots]
        if ids:
            at = ids.index(self.chosen_id) + places if self.chosen_id in ids else 0
            self.chosen_id = ids[min(max(at, 0), len(ids) - 1)]

    def take(self, override: bool = False) -> Reading | None:
        """Take a reading at the chosen spot; None when it was refused (`message` tells why)."""
        spot = self.chosen
        if spot is None:
            self.message = Message("There is no spot to take the reading for.", refused=True)
            return None
        taken: list[Reading] = []

        def do() -> str:
            condition = self.condition_at(spot)
            live = live_under(condition, self.snapshot.sources)
            reading = self.log.readings.take(spot.id, condition, override, live)
            taken.append(reading)
            self.remember(reading)
            self.hands_free.used()
            kind = "Taken although not settled:" if reading.taken == "override" else "Taken:"
            return f"{kind} {shown_value(reading)} at “{reading.spot_name}”, {reading.condition}"

        self.do(do)
        return taken[0] if taken else None

    def void(self, item: Reading | Mark, reason: str) -> None:
        """Declare a reading or a mark mistaken; it stays in the log."""

        def do() -> str:
            if isinstance(item, Reading):
                self.log.readings.void(item.id, reason)
                return f"Voided: {shown_value(item)} at “{item.spot_name}” ({reason})"
            self.log.marks.void(item.id, reason)
            return f"Voided: mark “{item.text}” ({reason})"

        self.do(do)

    def mark(self, text: str, moment: Live | None = None) -> None:
        """Put free text at a moment of the log: when the recorder told that, or now."""

        def do() -> str:
            mark = self.log.marks.add(text, moment)
            self._done.append((Mark, mark.id))
            return f"Marked: “{mark.text}”"

        self.do(do)

    def state_condition(self, condition: str) -> None:
        """State what is live from now on."""
        condition = " ".join(condition.split())

        def do() -> str:
            self.log.facts.set(CONDITION_FACT, condition)
            return f"From now on readings are with {condition}"

        if condition:
            self.do(do)

    def forget_condition(self) -> None:
        """What is on is not known: it will be asked before the next reading."""

        def do() -> str:
            self.log.facts.set(CONDITION_FACT, "")
            return "What is on is not stated now"

        self.do(do)

    def add_spots(self, *names: str) -> bool:
        """Add spots at the end of the route and choose the first of them; False when refused. A name such as
        "Bedroom: window" goes to that room, if there are spots of it."""
        rooms = {spot.room.casefold(): spot.room for spot in self.snapshot.spots if spot.room}
        parts = [(name, name.partition(":")) for name in names]
        return self._add(
            [
                (name, rooms.get(room.strip().casefold(), "") if colon else "", "")
                for name, (room, colon, _) in parts
            ]
        )

    def add_room(self, room: str, places: Sequence[tuple[str, str]] = STARTING_SPOTS) -> bool:
        """Add spots of a room, each with what has to be on there, and choose the first; False when refused."""
        room = " ".join(room.split())
        return self._add([(f"{room}: {place}", room, reminder) for place, reminder in places])

    def _add(self, spots: Sequence[tuple[str, str, str]]) -> bool:
        """Add spots by name, room and reminder."""
        added: list[Spot] = []
        chosen_before = self.chosen_id

        def undo() -> None:
            for spot in added:
                self.log.spots.remove(spot.id)
            if self.chosen_id in [spot.id for spot in added]:
                self.chosen_id = chosen_before

        def do() -> str:
            try:
                for name, room, reminder in spots:
                    added.append(self.log.spots.add(name, room, reminder))
            except StillvoltError:
                undo()
                added.clear()
                raise
            self.chosen_id = added[0].id
            names = ", ".join(spot.name for spot in added)
            self._done.append(RouteEdit(f"Taken off the list again: {names}", undo))
            return f"Added: {names}"

        self.do(do)
        return bool(added)

    def rename_spot(self, spot: Spot, name: str) -> None:
        """Rename a spot; readings keep the name that it had."""

        def do() -> str:
            self.log.spots.rename(spot.id, name)
            self._done.append(
                RouteEdit(f"Named “{spot.name}” again", lambda: self.log.spots.rename(spot.id, spot.name))
            )
            return f"Renamed “{spot.name}”; its readings keep the name they were taken with"

        self.do(do)

    def move_spot(self, spot: Spot, places: int) -> None:
        """Move a spot along the route."""

        def place() -> int:
            return next(i for i, s in enumerate(self.log.spots.all()) if s.id == spot.id)

        def do() -> str:
            before = place()
            self.log.spots.move(spot.id, places)
            moved = place() - before
            if not moved:
                return f"“{spot.name}” is at the end of the list"
            self._done.append(
                RouteEdit(f"Moved “{spot.name}” back", lambda: self.log.spots.move(spot.id, -moved))
            )
            return f"Moved “{spot.name}” {'down' if places > 0 else 'up'}"

        self.do(do)

    def has_readings(self, spot: Spot) -> bool:
        """Whether anything was ever read there, voided readings included."""
        return any(reading.spot_id == spot.id for reading in self.snapshot.readings)

    def remove_spot(self, spot: Spot) -> None:
        """Take a spot off the route; its readings stay."""

        def undo() -> None:
            self.log.spots.restore(spot.id)
            self.chosen_id = spot.id

        def do() -> str:
            ids = [s.id for s in self.snapshot.spots]
            after = ids.index(spot.id) + 1 if spot.id in ids else len(ids)
            self.log.spots.remove(spot.id)
            self._done.append(RouteEdit(f"“{spot.name}” is back", undo))
            if self.chosen_id == spot.id:
                self.chosen_id = ids[after] if after < len(ids) else (ids[-2] if len(ids) > 1 else None)
            kept = "; its readings stay" if self.has_readings(spot) else ""
            return f"Removed “{spot.name}” from the list{kept}. U brings it back"

        self.do(do)

    def undo_spot_change(self, change: RouteEdit) -> None:
        """Undo a change of the route."""

        def do() -> str:
            self._done.remove(change)
            change.undo()
            return change.says

        self.do(do)

    def bring_back(self, spot: Spot) -> bool:
        """Put a spot that was removed back on the route and choose it; False when refused."""
        back: list[Spot] = []

        def do() -> str:
            self.log.spots.restore(spot.id)
            self.chosen_id = spot.id
            back.append(spot)
            return f"“{spot.name}” is back on the list"

        self.do(do)
        return bool(back)

    def remind(self, spot: Spot, reminder: str) -> None:
        """State what has to be on when a spot is read."""

        def do() -> str:
            self.log.spots.describe(spot.id, spot.room, reminder)
            self._done.append(
                RouteEdit(
                    f"Reminder for “{spot.name}” as it was",
                    lambda: self.log.spots.describe(spot.id, spot.room, spot.reminder),
                )
            )
            return f"Reminder for “{spot.name}”: {reminder}"

        self.do(do)

    def add_walk_point(self) -> bool:
        """Add the next point of the outside walk and choose it."""
        points = [spot for spot in self.snapshot.spots if spot.room == OUTSIDE_WALK]
        return self._add([(f"walk {len(points) + 1}", OUTSIDE_WALK, "")])

    def enter_by_hand(self, text: str, condition: str = "") -> Sequence[Reading]:
        """Keep a value that was read from the meter's display by eye, or two as they stand on a form: on (off).

        Args:
            text: as it was typed.
            condition: what was on then; empty: what is on now. A pair says it itself.

        Returns:
            What was entered; nothing when it was refused (`message` tells why).
        """
        spot, entered = self.chosen, list[Reading]()

        def do() -> str:
            if spot is None:
                raise StillvoltError("There is no spot to enter a value for.", "No reading was entered.")
            on, off = read_pair_by_hand(text)
            if off is None:
                values = [(self.condition_at(spot, condition), on)]
            elif spot.room == OUTSIDE_WALK:
                raise StillvoltError(
                    "On the outside walk there is no off.", "No reading was entered.", "Type one value."
                )
            else:
                values = [(EVERYTHING_ON, on), (EVERYTHING_OFF, off)]
            for was_on, value in values:
                if value is not None:
                    live = live_under(was_on, self.snapshot.sources)
                    reading = self.log.readings.enter(spot.id, was_on, *value, live)
                    entered.append(reading)
                    self.remember(reading)
            shown = "; ".join(
                f"{value_text(r.volts, budget.u_volts if (budget := budget_of(r)) else r.u_volts)}, {r.condition}"
                for r in entered
            )
            return f"Entered by hand at “{spot.name}”: {shown}"

        self.do(do)
        return entered

    def write_form(self) -> Path | None:
        """Write the empty form of the planned spots beside the visit; None when refused."""
        path = form_path(self.log.path)
        written: list[Path] = []

        def do() -> str:
            write_form(self.log.path, path)
            written.append(path)
            return f"The form is in {path}"

        self.do(do)
        return written[0] if written else None

    # --- the round ---------------------------------------------------------------------------------------

    def condition_at(self, spot: Spot, condition: str = "") -> str:
        """What stands with a reading there, `condition` or what is on now: outdoors it is the walk, whatever is on in
        the house."""
        return OUTSIDE_WALK if spot.room == OUTSIDE_WALK else condition or self.snapshot.condition

    def reminder_at(self, spot: Spot) -> str:
        """What has to be on there now: nothing in the round with everything off."""
        return "" if self.condition_at(spot) == EVERYTHING_OFF else spot.reminder

    def result(self, spot: Spot) -> SpotResult:
        """On and off of a spot."""
        return SpotResult.of(self.snapshot.readings, spot.id)

    def indoor_spots(self) -> list[Spot]:
        """The spots that are read on and off."""
        return [spot for spot in self.snapshot.spots if spot.room != OUTSIDE_WALK]

    def count_read(self, condition: str) -> int:
        """How many spots have been read under that condition."""
        results = [self.result(spot) for spot in self.indoor_spots()]
        return sum((r.on if condition == EVERYTHING_ON else r.off) is not None for r in results)

    def off_round_due(self) -> bool:
        """Every spot has been read with everything on, and not every one with everything off."""
        spots = len(self.indoor_spots())
        return (
            spots > 0
            and self.snapshot.condition == EVERYTHING_ON
            and self.count_read(EVERYTHING_ON) == spots
            and self.count_read(EVERYTHING_OFF) < spots
        )

    def choose_next_unread(self, condition: str = "") -> bool:
        """Choose the next spot along the route that has not been read under that (or the present) condition; after
        the last one it goes on with the first. False: none is left."""
        spots = self.snapshot.spots
        at = next((i for i, spot in enumerate(spots) if spot.id == self.chosen_id), -1)
        return self._choose_unread([*spots[at + 1 :], *spots[: at + 1]], condition)

    def choose_first_unread(self, condition: str = "") -> bool:
        """Choose the first spot of the route that has not been read under that (or the present) condition; False:
        none."""
        return self._choose_unread(self.snapshot.spots, condition)

    def _choose_unread(self, spots: Sequence[Spot], condition: str) -> bool:
        read = {(r.spot_id, r.condition) for r in self.snapshot.readings if r.void_reason is None}
        unread = next((s for s in spots if (s.id, self.condition_at(s, condition)) not in read), None)
        if unread is not None:
            self.chosen_id = unread.id
        return unread is not None

    # --- set-up and checks -------------------------------------------------------------------------------

    def state_setup(self, what: str, **changes: object) -> None:
        """State parts of the set-up; readings taken before keep the one that held then."""

        def do() -> str:
            self.log.setup.set(self.log.setup.current().with_changes(**changes))
            return f"Stated: {what}"

        self.do(do)

    def last_check(self, kind: CheckKind) -> CheckResult | None:
        """The newest result of a check."""
        return next((check for check in reversed(self.snapshot.checks) if check.kind is kind), None)

    def choose_check(self, kind: CheckKind) -> None:
        """Look at another check; steps of one that was begun are given up."""
        if kind is not self.check:
            self.check, self.check_spans = kind, []

    def take_check_step(self) -> bool:
        """Take the settled value for the next step of the check; False when refused."""
        step = STEPS[self.check][len(self.check_spans)]
        done = False

        def do() -> str:
            nonlocal done
            span = self.log.current_value.settled_span()
            before = self.check_spans[-1] if self.check_spans else None
            if before and (before.run_id, before.start_t_ns) == (span.run_id, span.start_t_ns):
                raise StillvoltError(
                    "This is still the value of the step before.",
                    "Nothing was taken.",
                    "Do what the step asks for, then hold still until a new value has settled.",
                )
            self.check_spans.append(span)
            done = True
            return f"Taken: {self.step_text(span.volts, span.u_volts)}, {step.name}"

        self.do(do)
        if done and len(self.check_spans) == len(STEPS[self.check]):
            self._keep_check()
        return done

    def skip_check(self, reason: str) -> None:
        """Keep that the check is not done, and why."""
        kind = self.check

        def do() -> str:
            result = self.log.checks.skip(kind, reason)
            return f"{kind.value.capitalize()}: {result.outcome.sentence}"

        self.do(do)
        self.check_spans = []
        self.check = self._next_check()

    def begin_check_again(self) -> None:
        """Give up the steps so far."""
        self.check_spans = []
        self.message = Message(f"{self.check.value.capitalize()}: from the first step again")

    def next_check_step(self) -> Message:
        """What Space does on the sheet of the checks, or why it would refuse."""
        snapshot = self.snapshot
        if not snapshot.recording or snapshot.refusal:
            return Message(snapshot.refusal or "Nothing is being recorded.", refused=True)
        live, step = snapshot.live, STEPS[self.check][len(self.check_spans)]
        if live is None or live.volts is None or live.u_volts is None:
            return Message("The meter has not sent a value yet.", refused=True)
        return Message(f"take {self.step_text(live.volts, live.u_volts)} for the {self.check}, {step.name}")

    def step_text(self, volts: float, u_volts: float) -> str:
        """A value for a check's step, as its verdict counts it: with what the meter may be off by."""
        budget = step_budget((volts, u_volts), self.setup.meter)
        return value_text(budget.volts, budget.u_volts)

    def _keep_check(self) -> None:
        kind, spans = self.check, self.check_spans
        passed: list[bool] = []

        def do() -> str:
            result = self.log.checks.add(kind, spans)
            passed.append(result.outcome.verdict is CheckVerdict.PASSED)
            return f"{kind.value.capitalize()} {result.outcome.verdict}"  # the sheet shows the sentence

        self.do(do)
        self.check_spans = []
        if passed == [True]:
            self.check = self._next_check()
            if self.check is not kind:
                self.message = Message(f"{self.message.text}. Next: {self.check}")

    def _next_check(self) -> CheckKind:
        """The first that was not done yet; the present one when all were."""
        return next((kind for kind in CheckKind if self.last_check(kind) is None), self.check)

    @property
    def setup(self) -> Setup:
        """As last stated."""
        return self.snapshot.setup

    def meter_differs(self) -> str:
        """Why the stated meter is not the one that is recorded with, in one sentence; empty when it is, or when
        nothing kept is recorded with."""
        recorded, stated = self.recorded_meter, self.setup.meter
        if recorded is None or recorded == stated:
            return ""
        if recorded.name == stated.name:
            return f"The kept description of “{recorded.name}” has changed since it was stated."
        return f"Recorded with “{recorded.name}”, stated is “{stated.name}”."

    def take_over_meter(self) -> None:
        """State the meter that is recorded with as the visit's."""
        if self.recorded_meter is not None:
            self.state_setup(f"meter {self.recorded_meter.name}", meter=self.recorded_meter)

    def power_contradicts(self) -> str:
        """What the system says against the stated power of the laptop, in a few words; empty when nothing."""
        stated = self.setup.on_battery
        if stated is None or self.charger_plugged_in is not stated:
            return ""
        return (
            "stated on battery, but the charger is plugged in"
            if stated
            else "stated on its charger, but it runs on battery"
        )

    def _look_at_charger(self) -> bool:
        """Ask the system now and then; tells whether the answer is another one."""
        now_ns = self._clock.steady_ns()
        if now_ns - self._charger_read_ns < CHARGER_READ_NS:
            return False
        self._charger_read_ns = now_ns
        before, self.charger_plugged_in = self.charger_plugged_in, self._charger()
        return before is not self.charger_plugged_in

    def _look_at_meter(self) -> None:
        """With each new run: which meter it is recorded with; a visit without a stated one takes it over."""
        live = self.snapshot.live
        if live is None or live.run_id == self._meter_run:
            return
        self._meter_run = live.run_id
        self.recorded_meter = next(
            (meter_of(run) for run in reversed(self.log.runs.all()) if run.id == live.run_id), None
        )
        if self.recorded_meter is not None and self.snapshot.recording and self.setup.meter == UNKNOWN_METER:
            before = f"{self.message.text}. " if self.message.text and not self.message.refused else ""
            self.take_over_meter()
            if not self.message.refused:
                self.message = Message(
                    f"{before}The visit's meter is “{self.recorded_meter.name}”, as it is kept; "
                    "Prepare shows it."
                )

    def keep_meter(self, meter: Description) -> bool:
        """Keep a meter's description on this computer; False when refused."""
        kept: list[Path] = []

        def do() -> str:
            kept.append(save(meter))
            return f"Kept on this computer: {meter.name}"

        self.do(do)
        return bool(kept)

    # --- the recorder ------------------------------------------------------------------------------------

    def start_recording(self, settings: PortSettings) -> None:
        """Start a recorder process on this visit; what it answers comes with a later `refresh`."""
        if self.snapshot.recording or self.starting:
            self.message = Message("This visit is being recorded already.", refused=True)
            return

        def do() -> str:
            self._run_before = self.snapshot.live.run_id if self.snapshot.live else None
            self._starting = self._start_recorder(self.log.path, settings)
            return f"Opening {named(settings.url)} …"

        self.do(do)

    def stop_recording(self) -> None:
        """Ask the recorder to stop in an orderly way."""

        def do() -> str:
            self.log.recorder.request_stop()
            return "The recorder was asked to stop"

        self.do(do)

    def _watch_start(self) -> None:
        if self._starting is None:
            return
        live = self.snapshot.live
        if live is not None and live.run_id != self._run_before:
            self._starting = None
            self.message = Message(f"Recording {named(live.port)}")
            return
        refusal = self._starting.refusal()
        if refusal is not None:
            self._starting = None
            reason = refusal.removeprefix("stillvolt: ")
            self.message = Message(reason or "The recorder ended without a word.", refused=True)

    def remember(self, reading: Reading) -> None:
        """A reading was taken by this window: undo voids it first."""
        self._done.append((Reading, reading.id))

    def remember_change(self, change: RouteEdit) -> None:
        """A list was changed by this window: undo changes it back first."""
        self._done.append(change)

    def do(self, action: Callable[[], str]) -> None:
        """Do something to the log; what it says, or why it was refused, is told to the user."""
        try:
            self.message = Message(action())
            self.snapshot.refresh(force=True)
        except StillvoltError as error:
            self.message = Message(str(error), refused=True)
        except OSError as error:  # such as no room for what the recorder says
            self.message = Message(
                f"The system refuses ({error.strerror}). Nothing was changed.", refused=True
            )
        self._keep_choice()

    def _keep_choice(self) -> None:
        """The next reading must not slip to another spot when its own was removed in another window: then none is
        chosen until somebody chooses."""
        gone = self._seen.get(self.chosen_id) if self.chosen_id is not None else None
        if self.chosen is not None:
            self._gone = None
        elif gone is not None:
            self._gone, self.chosen_id = gone, None
            self.message = Message(
                f"“{gone.name}” was removed in another window; its readings stay.", refused=True
            )
        elif self._gone is None:
            self.chosen_id = self.snapshot.spots[0].id if self.snapshot.spots else None
        self._seen = {spot.id: spot for spot in self.snapshot.spots}
