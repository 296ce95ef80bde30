"""The page Start of the stage Night: begins the recording.

It shows how long disk and battery last, what is planned, and what to be careful about.
"""

from __future__ import annotations

from PySide6.QtCore import Signal

from gui.actions.registry import ActionRegistry
from gui.model.night_condition_controller import WHAT_IS_ON
from gui.model.night_controller import NightController
from gui.model.wording import clock_text
from gui.translation import tr
from gui.widgets.appearance import Appearance, label
from gui.widgets.badge import BAD, GOOD, OPEN, UNCLEAR
from gui.widgets.page import PrimaryAction, TabPage
from gui.widgets.row_list import RowList
from gui.widgets.row_model import ListRow
from logger.cautions import CHARGER_TONIGHT, NIGHT_CAUTIONS
from logger.clock import format_duration
from logger.night.night_conditions import NOT_ENTERED
from logger.night.schedule import parse_schedule

RUNS_ON = "It runs on when this window is closed or the screen is locked. Leave the lid open."

NIGHT_S = 9 * 3600.0
"""What disk and battery are held against."""


class StartPage(TabPage):
    """Before and during the night.

    Args:
        night_controller: what the window does on the stage Night.
        appearance: theme and sizes.
        actions: the actions of the window.
    """

    page_name = "Start"
    place = "night.start"
    recording_requested = Signal()

    def __init__(
        self, night_controller: NightController, appearance: Appearance, actions: ActionRegistry
    ) -> None:
        super().__init__(night_controller.controller, appearance, actions)
        self.night_controller = night_controller
        self.headline = label("", "large")
        self.detail = label("", "small")
        self.rows = RowList(appearance, "What is on, disk, power and planned switchings")
        # Beside the list, not in it: they must not be scrolled out of sight.
        self.cautions = label(" ".join(NIGHT_CAUTIONS), "quiet")
        self._buttons = self.make_buttons("night.condition", "night.screen", "night.plan")
        for part in (self.headline, self.detail):
            self.column.addWidget(part)
        self.column.addWidget(self.rows, 1)
        self.column.addWidget(label("Cautions", "heading"))
        self.column.addWidget(self.cautions)
        self.column.addWidget(self._buttons)
        self.restyles(self.rows)
        self.refresh()

    def refresh(self) -> None:
        """See `StyledWidget`."""
        self.night_controller.supplies.poll()
        headline, detail = self._state()
        self.headline.setText(headline)
        self.detail.setText(detail)
        self.rows.show_rows([self._condition(), self._disk(), self._battery(), self._planned()], None)

    def primary_action(self) -> PrimaryAction:
        """See `Page`."""
        if self.controller.recording.starting:
            return PrimaryAction(
                "Start recording", self.recording_requested.emit, "The port is being opened."
            )
        if self.controller.snapshot.recording:
            return PrimaryAction(tr("Night screen"), lambda: self.registry.trigger("night.screen"))
        return PrimaryAction("Start recording", self.recording_requested.emit)

    def _state(self) -> tuple[str, str]:
        snapshot = self.controller.snapshot
        if self.controller.recording.starting:
            return "The recording begins …", RUNS_ON
        if snapshot.recording and snapshot.live is not None:
            return (
                f"Recording since {clock_text(snapshot.live.run_started_utc_ns, snapshot.zone, seconds=False)}",
                RUNS_ON,
            )
        return "Start the night", RUNS_ON

    def _condition(self) -> ListRow:
        condition = self.night_controller.conditions.tonight()
        return ListRow(WHAT_IS_ON, condition or NOT_ENTERED, badge=GOOD if condition else OPEN)

    def _disk(self) -> ListRow:
        problem = self.night_controller.supplies.disk_warning()
        badge = BAD if problem else GOOD
        return ListRow(
            "Disk",
            self.night_controller.supplies.disk_text().removeprefix("disk "),
            note=problem,
            badge=badge,
        )

    def _battery(self) -> ListRow:
        now, words = self.night_controller.supplies.power, self.night_controller.supplies.battery_text()
        if now is None:
            return ListRow("Battery", "not told by the system", note=CHARGER_TONIGHT, badge=UNCLEAR)
        if now.plugged_in:
            return ListRow(
                "Charger",
                f"plugged in, {now.percent:.0f} %",
                note=CHARGER_TONIGHT,
                badge=UNCLEAR,
            )
        text = words.removeprefix("battery ")
        if now.left_s is not None and now.left_s < NIGHT_S:
            note = f"That is less than a night of {format_duration(NIGHT_S)}. {CHARGER_TONIGHT}"
            return ListRow("Battery", text, note=note, badge=BAD)
        return ListRow("Battery", text, note=CHARGER_TONIGHT, badge=GOOD)

    def _planned(self) -> ListRow:
        entries = parse_schedule(self.night_controller.schedule)
        if not entries:
            return ListRow(
                "Planned",
                "nothing",
                note="Such as “23:00 breakers off; 06:30 breakers on”",
                badge=OPEN,
            )
        message = "; ".join(f"{hour:02d}:{minute:02d} {what}" for hour, minute, what in entries)
        return ListRow("Planned", note=message, badge=GOOD)
