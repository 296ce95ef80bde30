"""The set-up of the visit, and what speaks against it: the meter that is recorded with, the laptop's charger."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from typing import Any

from gui.model.reference_corrections import ENTERED_WRONGLY, KeptStatement, ReferenceCorrections
from gui.model.undo_history import UndoableEdit, UndoHistory
from gui.model.visit_access import Message, VisitAccess
from logger.clock import NS_PER_S
from logger.meter.description import MeterDescription
from logger.meter.description_folder import save
from logger.metrology.reference_answers import ReferenceAnswers
from logger.metrology.rounding import grouped
from logger.metrology.setup import UNKNOWN_METER, MeterFacts, Setup
from logger.translation import at_start, tr, tr_n
from logger.visit.records.circumstances import Circumstances
from logger.visit.storage.run_meter import meter_of
from logger.visit.storage.setup_store import NOT_OF_A_ROD

CHARGER_READ_NS = 2 * NS_PER_S
"""How often the system is asked whether the charger is plugged in."""


class SetupController:
    """States the set-up, and compares it with what the log and the system report.

    Args:
        access: the visit.
        history: notes the edits, so that they can be undone.
        corrections: correct what readings were read against.
        read_charger: tells whether the computer's charger is plugged in; None where that is not known.
    """

    def __init__(
        self,
        access: VisitAccess,
        history: UndoHistory,
        corrections: ReferenceCorrections,
        read_charger: Callable[[], bool | None],
    ) -> None:
        self._access = access
        self._history = history
        self._corrections = corrections
        self.kept: KeptStatement | None = None
        """The readings that keep what the last statement has changed; None while there are none."""
        self._read_charger = read_charger
        self._charger_read_ns = access.clock.steady_ns() - CHARGER_READ_NS
        self._meter_run: int | None = None
        self.charger_plugged_in: bool | None = None
        """As the system last reported; None where it does not."""
        self.recorded_meter: MeterFacts | None = None
        """The kept meter that the newest run is recorded with; None without one."""

    @property
    def stated(self) -> Setup:
        """The set-up as last stated."""
        return self._access.snapshot.setup

    def state(self, what: str, before: str = "", **changes: object) -> None:
        """State parts of the set-up; readings taken before keep the one that held then.

        Args:
            what: name of the changed part, for the message.
            before: what it was until now, in words, for the message once this is undone; empty names only the part.
            **changes: fields of `Setup` with their new values.
        """

        def change(fields: dict[str, object]) -> None:
            self._access.log.setup.set(self._access.log.setup.current().with_changes(**fields))

        self.kept = None

        def do() -> str:
            stated = self._access.log.setup.current()
            was = {field: getattr(stated, field) for field in changes}
            change(changes)
            self.kept = self._corrections.kept_since(ReferenceAnswers.of(stated))
            self._history.remember_edit(
                UndoableEdit(
                    what,
                    lambda: change(was),
                    lambda: change(changes),
                    tr("Undone: {what}. Now again: {before}").format(what=what, before=before)
                    if before
                    else "",
                )
            )
            entered = tr("Entered: {what}").format(what=at_start(what))
            return " ".join(filter(None, (entered, self._readings_that_keep(was))))

        self._access.do(do)

    def _readings_that_keep(self, was: Mapping[str, object]) -> str:
        """How many readings keep what had been stated of the reference and is stated otherwise now, in sentences.

        Args:
            was: the fields that are stated anew, as they were.
        """
        now = self._access.log.setup.current()
        changed = [
            name
            for name in NOT_OF_A_ROD
            if was.get(name) not in (None, "") and was[name] != getattr(now, name)
        ]
        n = sum(
            reading.void_reason is None
            and reading.context is not None
            and any(getattr(reading.context.setup, name) == was[name] for name in changed)
            for reading in self._access.log.readings.all()
        )
        if not n:
            return ""
        return tr_n(
            "{n} reading before keeps what was stated then. If that was wrong, correct it there.",
            "{n} readings before keep what was stated then. If that was wrong, correct them there.",
            n,
        ).format(n=grouped(n))

    def correct_kept(self, kept: KeptStatement) -> bool:
        """Let readings count as read against what is stated now; False when refused.

        Args:
            kept: the readings that keep what was stated before.
        """
        return self._corrections.correct(kept.readings, kept.corrected, ENTERED_WRONGLY) is not None

    @property
    def circumstances(self) -> Circumstances:
        """The circumstances as last stated."""
        return self._access.snapshot.circumstances

    def state_circumstances(self, what: str, **changes: Any) -> None:
        """State parts of the circumstances.

        Args:
            what: name of the changed part with what it is now, for the message.
            **changes: fields of `Circumstances` with their new values.
        """
        store = self._access.log.circumstances

        def change(fields: dict[str, Any]) -> None:
            store.set(replace(store.current(), **fields))

        def do() -> str:
            stated = store.current()
            was = {field: getattr(stated, field) for field in changes}
            change(changes)
            self._history.remember_edit(UndoableEdit(what, lambda: change(was), lambda: change(changes)))
            return tr("Entered: {what}").format(what=at_start(what))

        self._access.do(do)

    def keep_meter(self, meter: MeterDescription) -> bool:
        """Keep a meter's description on this computer; False when refused."""

        def do() -> str:
            save(meter)
            return tr("Kept on this computer: {meter}").format(meter=meter.name)

        return self._access.do(do)

    def meter_difference(self) -> str:
        """Why the stated meter is not the one that is recorded with, in one sentence.

        Returns:
            An empty text when they are the same, or when no kept meter is recorded with.
        """
        recorded, stated = self.recorded_meter, self.stated.meter
        if recorded is None or recorded == stated:
            return ""
        if recorded.name == stated.name:
            return tr("The kept description of “{recorded}” has changed since it was stated.").format(
                recorded=recorded.name
            )
        return tr(
            "“{stated}” is entered as the meter, but the recording is made with “{recorded}”: "
            "the data of “{recorded}” count."
        ).format(recorded=recorded.name, stated=stated.name_shown())

    def take_over_meter(self) -> None:
        """State the meter that is recorded with as the visit's."""
        if self.recorded_meter is not None:
            words = tr("meter {meter}")
            self.state(
                words.format(meter=self.recorded_meter.name),
                words.format(meter=self.stated.meter.name_shown()),
                meter=self.recorded_meter,
            )

    def power_contradiction(self) -> str:
        """What the system reports against the stated power of the laptop, in a few words; empty when nothing."""
        stated = self.stated.on_battery
        if stated is None or self.charger_plugged_in is not stated:
            return ""
        return (
            tr("entered as on battery, but the laptop's charger is plugged in")
            if stated
            else tr("entered as on its charger, but the laptop runs on battery")
        )

    def poll_charger(self) -> bool:
        """Ask the system for the charger, at most every `CHARGER_READ_NS`; True when the answer differs."""
        now_ns = self._access.clock.steady_ns()
        if now_ns - self._charger_read_ns < CHARGER_READ_NS:
            return False
        self._charger_read_ns = now_ns
        before, self.charger_plugged_in = self.charger_plugged_in, self._read_charger()
        return before is not self.charger_plugged_in

    def watch_meter(self) -> None:
        """With each new run, find the meter that it is recorded with; a visit without a stated one takes it over."""
        access = self._access
        live = access.snapshot.live
        if live is None or live.run_id == self._meter_run:
            return
        self._meter_run = live.run_id
        self.recorded_meter = next(
            (meter_of(run) for run in reversed(access.log.runs.all()) if run.id == live.run_id), None
        )
        if (
            self.recorded_meter is not None
            and access.snapshot.recording
            and self.stated.meter == UNKNOWN_METER
        ):
            before = access.message.text if not access.message.refused else ""
            self.take_over_meter()
            if not access.message.refused:
                meter = tr("The visit's meter is “{meter}”, as it is kept; Prepare shows it.")
                text = meter.format(meter=self.recorded_meter.name)
                access.message = Message(f"{before}. {text}" if before else text)
