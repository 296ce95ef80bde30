"""The page Start of the stage Night: begins the recording.

It shows how long disk and battery last, what is planned, and what to be careful about.
"""

from __future__ import annotations

from PySide6.QtCore import Signal

from gui.actions.menus import add_context_menu
from gui.actions.registry import ActionRegistry
from gui.model.night_condition_controller import WHAT_IS_ON
from gui.model.night_controller import NightController
from gui.model.night_spot_controller import WHERE_SOMEBODY_LIES
from gui.model.visit_access import Message
from gui.model.wording import clock_text
from gui.widgets.appearance import Appearance, label
from gui.widgets.badge import BAD, GOOD, OPEN, UNCLEAR
from gui.widgets.page import PrimaryAction, TabPage
from gui.widgets.row_list import RowList
from gui.widgets.row_model import ListRow
from logger.cautions import CHARGER_TONIGHT, NIGHT_CAUTIONS
from logger.clock import format_duration
from logger.metrology.rounding import fixed
from logger.night.night_conditions import NOT_ENTERED
from logger.night.schedule import parse_schedule
from logger.translation import marked, tr, tr_all, tr_kept

RUNS_ON = marked("It runs on when this window is closed or the screen is locked. Leave the lid open.")

ASKED_BY = ("night.condition", "night.spot", "", "", "night.plan")
"""The action that asks what each row shows, by its place; empty where there is nothing to enter."""
TOLD_BY_COMPUTER = marked("Disk and power are told by this computer: there is nothing to enter.")

NIGHT_S = 9 * 3600.0
"""What disk and battery are held against."""


class StartPage(TabPage):
    """Before and during the night.

    Args:
        night_controller: what the window does on the stage Night.
        appearance: theme and sizes.
        actions: the actions of the window.
    """

    page_name = marked("Start")
    place = "night.start"
    recording_requested = Signal()

    def __init__(
        self, night_controller: NightController, appearance: Appearance, actions: ActionRegistry
    ) -> None:
        super().__init__(night_controller.controller, appearance, actions)
        self.night_controller = night_controller
        self.headline = label("", "large")
        self.detail = label("", "small")
        self.chosen: int | None = None
        """Place of the row that the user chose."""
        self.rows = RowList(appearance, tr("What is on, the spot, disk, power and planned switchings"))
        self.rows.row_chosen.connect(self._choose)
        self.rows.row_activated.connect(self._ask)
        add_context_menu(self.rows, actions, *filter(None, ASKED_BY))
        # Beside the list, not in it: they must not be scrolled out of sight.
        self.cautions = label(tr_all(NIGHT_CAUTIONS), "quiet")
        self._buttons = self.make_buttons("night.condition", "night.spot", "night.screen", "night.plan")
        for part in (self.headline, self.detail):
            self.column.addWidget(part)
        self.column.addWidget(self.rows, 1)
        # Above the cautions, which fill a low screen: what is still to be entered is in sight.
        self.column.addWidget(self._buttons)
        self.column.addWidget(label(tr("Cautions"), "heading"))
        self.column.addWidget(self.cautions)
        self.restyles(self.rows)
        self.refresh()

    def refresh(self) -> None:
        """See `StyledWidget`."""
        self.night_controller.supplies.poll()
        headline, detail = self._state()
        self.headline.setText(headline)
        self.detail.setText(detail)
        shown = [self._condition(), self._spot(), self._disk(), self._battery(), self._planned()]
        self.rows.show_rows(shown, self.chosen)

    def primary_action(self) -> PrimaryAction:
        """See `Page`."""
        if self.controller.recording.starting:
            return PrimaryAction(
                tr("Start recording"),
                self.recording_requested.emit,
                tr("The port is being opened."),
                does="record",
            )
        if self.controller.snapshot.recording and self.night_controller.conditions.needs_answer():
            return PrimaryAction(
                tr("What is on in the night?"),
                lambda: self.registry.trigger("night.condition"),
                does="condition",
            )
        if self.controller.snapshot.recording and self.night_controller.spots.needs_answer():
            return PrimaryAction(
                tr("Where does the person lie in the night?"),
                lambda: self.registry.trigger("night.spot"),
                does="spot",
            )
        if self.controller.snapshot.recording:
            return PrimaryAction(
                tr("Night screen"), lambda: self.registry.trigger("night.screen"), does="screen"
            )
        return PrimaryAction(tr("Start recording"), self.recording_requested.emit, does="record")

    def _choose(self, row: int) -> None:
        self.chosen = row

    def _ask(self, row: int) -> None:
        """Ask what a row shows."""
        if action_id := ASKED_BY[row]:
            self.registry.trigger(action_id)
        else:
            self.controller.message = Message(tr(TOLD_BY_COMPUTER))

    def _state(self) -> tuple[str, str]:
        snapshot = self.controller.snapshot
        if self.controller.recording.starting:
            return tr("The recording begins …"), tr(RUNS_ON)
        if snapshot.recording and snapshot.live is not None:
            return (
                tr("Recording since {time}").format(
                    time=clock_text(snapshot.live.run_started_utc_ns, snapshot.zone, seconds=False)
                ),
                tr(RUNS_ON),
            )
        return tr("Start the night"), tr(RUNS_ON)

    def _condition(self) -> ListRow:
        condition = self.night_controller.conditions.tonight()
        if doubt := self.night_controller.conditions.doubt():
            return ListRow(tr(WHAT_IS_ON), tr_kept(condition), note=doubt, badge=UNCLEAR)
        return ListRow(
            tr(WHAT_IS_ON), tr_kept(condition) or tr(NOT_ENTERED), badge=GOOD if condition else OPEN
        )

    def _spot(self) -> ListRow:
        spot, proposed = self.night_controller.spots.tonight(), self.night_controller.spots.proposed()
        note = ""
        if proposed is not None and not spot.is_known:
            note = tr("Perhaps “{spot}”, which is chosen on the stage Spots?").format(spot=proposed.name)
        # Nobody has to say where: it is open, and holds up nothing.
        return ListRow(tr(WHERE_SOMEBODY_LIES), spot.text, note=note, badge=GOOD if spot.is_known else OPEN)

    def _disk(self) -> ListRow:
        problem = self.night_controller.supplies.disk_warning()
        badge = BAD if problem else GOOD
        return ListRow(
            tr("Disk"),
            self.night_controller.supplies.disk_room_text(),
            note=problem,
            badge=badge,
        )

    def _battery(self) -> ListRow:
        now = self.night_controller.supplies.power
        if now is None:
            return ListRow(
                tr("Battery"), tr("not told by the system"), note=tr(CHARGER_TONIGHT), badge=UNCLEAR
            )
        if now.plugged_in:
            return ListRow(
                tr("Charger"),
                tr("plugged in, {percent} %").format(percent=fixed(now.percent, 0)),
                note=tr(CHARGER_TONIGHT),
                badge=UNCLEAR,
            )
        text = self.night_controller.supplies.charge_text()
        if now.left_s is not None and now.left_s < NIGHT_S:
            less = tr("That is less than a night of {duration}.").format(duration=format_duration(NIGHT_S))
            return ListRow(tr("Battery"), text, note=f"{less} {tr(CHARGER_TONIGHT)}", badge=BAD)
        return ListRow(tr("Battery"), text, note=tr(CHARGER_TONIGHT), badge=GOOD)

    def _planned(self) -> ListRow:
        entries = parse_schedule(self.night_controller.schedule)
        if not entries:
            return ListRow(
                tr("Planned"),
                tr("nothing"),
                note=tr("Such as “23:00 breakers off; 06:30 breakers on”"),
                badge=OPEN,
            )
        message = "; ".join(f"{hour:02d}:{minute:02d} {what}" for hour, minute, what in entries)
        return ListRow(tr("Planned"), note=message, badge=GOOD)
