"""What the user does with a visit, without a widget: choose a spot, take, void, mark, start and stop recording."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from gui.feed import Feed
from gui.wording import value_text
from logger.clock import Clock
from logger.errors import StillvoltError
from logger.meter.port import PortSettings
from logger.recorder import DetachedRecorder, start_detached
from logger.visit import Live, Mark, Reading, Spot, VisitLog

STARTING_SPOTS = ("Bed, lying down", "Desk, seated", "Seat", "Centre of the room")


@dataclass(frozen=True, slots=True)
class Said:
    """The outcome of the last action, for the user."""

    text: str
    refused: bool = False


class Session:
    """One window's work on a visit log.

    Args:
        log: open visit log.
        clock: injected time.
        start_recorder: starts a recorder process (a test gives its own).
    """

    def __init__(
        self,
        log: VisitLog,
        clock: Clock | None = None,
        start_recorder: Callable[[Path, PortSettings], DetachedRecorder] = start_detached,
    ) -> None:
        self.log = log
        self.feed = Feed(log, clock)
        self.said = Said("")
        self.chosen_id: int | None = None
        self._start_recorder = start_recorder
        self._starting: DetachedRecorder | None = None
        self._run_before: int | None = None
        self._done: list[tuple[type, int]] = []
        """Readings and marks made by this window, in order."""
        self.feed.refresh(force=True)
        if self.feed.readings:
            self.chosen_id = self.feed.readings[-1].spot_id
        self._keep_choice()

    # --- reading -----------------------------------------------------------------------------------------

    def refresh(self) -> bool:
        """Read what is new in the log; tells whether anything changed."""
        said = self.said
        try:
            changed = self.feed.refresh()
        except sqlite3.Error as error:
            self.said = Said(f"The visit log cannot be read now ({error}). It is tried again.", refused=True)
            return True
        if changed:
            self._keep_choice()
        self._watch_start()
        return changed or said is not self.said

    @property
    def chosen(self) -> Spot | None:
        """The spot that the next reading is for."""
        return next((spot for spot in self.feed.spots if spot.id == self.chosen_id), None)

    @property
    def starting(self) -> bool:
        """A recorder was started and has not said anything yet."""
        return self._starting is not None

    def last_undoable(self) -> Reading | Mark | None:
        """The reading or mark that was made last, here if any was, and still stands."""
        items: list[Reading | Mark] = [*self.feed.readings, *self.feed.marks]
        standing = (item for item in items if item.void_reason is None)
        # By the order of doing: a mark's time is that of its key press, a little before it was written.
        order = {done: place for place, done in enumerate(self._done)}
        return max(standing, key=lambda i: (order.get((type(i), i.id), -1), i.utc_ns), default=None)

    def last_reading(self, spot_id: int) -> Reading | None:
        """The newest reading of a spot that still stands."""
        of_spot = (r for r in reversed(self.feed.readings) if r.spot_id == spot_id and r.void_reason is None)
        return next(of_spot, None)

    def next_take(self) -> Said:
        """What a take would do now, or why it would refuse: the bottom line's text."""
        live = self.feed.live
        if not self.feed.recording or live is None:
            return Said(self.feed.refusal or "Nothing is being recorded.", refused=True)
        if self.feed.refusal:
            return Said(self.feed.refusal, refused=True)
        if live.volts is None or live.u_volts is None:
            return Said("The meter has not sent a value yet.", refused=True)
        value = value_text(live.volts, live.u_volts)
        if self.chosen is None:
            return Said(f"take {value} — asks for which spot")
        last = self.last_reading(self.chosen.id)
        again = ""
        if last is not None and last.condition == self.feed.condition:
            spans_now = last.end_utc_ns is not None and last.end_utc_ns >= live.since_steady_utc_ns
            again = " again" if last.run_id == live.run_id and spans_now else ""
        asks = "" if self.feed.condition else " — asks what is on"
        return Said(f"take {value} for “{self.chosen.name}”{again}{asks}")

    # --- doing -------------------------------------------------------------------------------------------

    def choose(self, places: int) -> None:
        """Choose the spot so many places further along the route; stops at the ends."""
        ids = [spot.id for spot in self.feed.spots]
        if ids:
            at = ids.index(self.chosen_id) + places if self.chosen_id in ids else 0
            self.chosen_id = ids[min(max(at, 0), len(ids) - 1)]

    def take(self, override: bool = False) -> Reading | None:
        """Take a reading at the chosen spot; None when it was refused (`said` tells why)."""
        spot = self.chosen
        if spot is None:
            self.said = Said("There is no spot to take the reading for.", refused=True)
            return None
        taken: list[Reading] = []

        def do() -> str:
            reading = self.log.take_reading(spot.id, self.feed.condition, override=override)
            taken.append(reading)
            self._done.append((Reading, reading.id))
            kind = "Taken although not settled:" if reading.taken == "override" else "Taken:"
            return f"{kind} {value_text(reading.volts, reading.u_volts)} at “{reading.spot_name}”, {reading.condition}"

        self._do(do)
        return taken[0] if taken else None

    def void(self, item: Reading | Mark, reason: str) -> None:
        """Declare a reading or a mark mistaken; it stays in the log."""

        def do() -> str:
            if isinstance(item, Reading):
                self.log.void_reading(item.id, reason)
                return f"Voided: {value_text(item.volts, item.u_volts)} at “{item.spot_name}” ({reason})"
            self.log.void_mark(item.id, reason)
            return f"Voided: mark “{item.text}” ({reason})"

        self._do(do)

    def mark(self, text: str, moment: Live | None = None) -> None:
        """Put free text at a moment of the log: when the recorder told that, or now."""

        def do() -> str:
            mark = self.log.add_mark(text, moment)
            self._done.append((Mark, mark.id))
            return f"Marked: “{mark.text}”"

        self._do(do)

    def state_condition(self, condition: str) -> None:
        """State what is live from now on."""
        condition = " ".join(condition.split())

        def do() -> str:
            self.log.set_fact("condition", condition)
            return f"From now on readings are with {condition}"

        if condition:
            self._do(do)

    def add_spots(self, *names: str) -> bool:
        """Add spots at the end of the route and choose the first of them; False when refused."""
        added: list[Spot] = []

        def do() -> str:
            for name in names:
                added.append(self.log.add_spot(name))
            self.chosen_id = added[0].id
            return f"Added: {', '.join(spot.name for spot in added)}"

        self._do(do)
        return bool(added)

    def rename_spot(self, spot: Spot, name: str) -> None:
        """Rename a spot; readings keep the name that it had."""

        def do() -> str:
            self.log.rename_spot(spot.id, name)
            return f"Renamed “{spot.name}”; its readings keep the name they were taken with"

        self._do(do)

    def move_spot(self, spot: Spot, places: int) -> None:
        """Move a spot along the route."""

        def do() -> str:
            self.log.move_spot(spot.id, places)
            return f"Moved “{spot.name}” {'down' if places > 0 else 'up'}"

        self._do(do)

    def remove_spot(self, spot: Spot) -> None:
        """Take a spot off the route; its readings stay."""

        def do() -> str:
            ids = [s.id for s in self.feed.spots]
            after = ids.index(spot.id) + 1 if spot.id in ids else len(ids)
            self.log.remove_spot(spot.id)
            if self.chosen_id == spot.id:
                self.chosen_id = ids[after] if after < len(ids) else (ids[-2] if len(ids) > 1 else None)
            return f"Removed “{spot.name}” from the list; its readings stay"

        self._do(do)

    # --- the recorder ------------------------------------------------------------------------------------

    def start_recording(self, settings: PortSettings) -> None:
        """Start a recorder process on this visit; what it answers comes with a later `refresh`."""
        if self.feed.recording or self.starting:
            self.said = Said("This visit is being recorded already.", refused=True)
            return

        def do() -> str:
            self._run_before = self.feed.live.run_id if self.feed.live else None
            self._starting = self._start_recorder(self.log.path, settings)
            return f"Opening {settings.url} …"

        self._do(do)

    def stop_recording(self) -> None:
        """Ask the recorder to stop in an orderly way."""

        def do() -> str:
            self.log.request_stop()
            return "The recorder was asked to stop"

        self._do(do)

    def _watch_start(self) -> None:
        if self._starting is None:
            return
        live = self.feed.live
        if live is not None and live.run_id != self._run_before:
            self._starting = None
            self.said = Said(f"Recording {live.port}")
            return
        refusal = self._starting.refusal()
        if refusal is not None:
            self._starting = None
            reason = refusal.removeprefix("stillvolt: ")
            self.said = Said(reason or "The recorder ended without a word.", refused=True)

    def _do(self, action: Callable[[], str]) -> None:
        try:
            self.said = Said(action())
            self.feed.refresh(force=True)
        except StillvoltError as error:
            self.said = Said(str(error), refused=True)
        except (sqlite3.Error, OSError) as error:
            self.said = Said(
                f"The visit log cannot be used now ({error}). Nothing was changed. See whether the disk is full.",
                refused=True,
            )
        self._keep_choice()

    def _keep_choice(self) -> None:
        if self.chosen is None:
            self.chosen_id = self.feed.spots[0].id if self.feed.spots else None
