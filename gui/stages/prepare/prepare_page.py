"""The page of the stage Prepare: what is stated once for a visit. Space asks one thing after the other."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from gui.model.visit_access import Message
from gui.model.visit_controller import VisitController
from gui.stages.prepare.setup_items import ITEMS, LAPTOP, METER, SetupItem, consequence_text, setup_row
from gui.stages.prepare.setup_prompts import SetupPrompts
from gui.widgets.appearance import Appearance, label, separator
from gui.widgets.badge import UNCLEAR
from gui.widgets.page import Page
from gui.widgets.row_list import RowList
from gui.widgets.row_painter import ListRow
from logger import cautions

TAKE_OVER = "T"
"""The key that takes over the meter that is recorded with."""

GENERAL_CAUTION = f"{cautions.LIVE_CONDUCTOR} {cautions.THUNDERSTORM} {cautions.EARTHING_CODES}"


class PreparePage(Page):
    """Rows of what is stated and what is not, with the consequence of leaving it open."""

    title = "Prepare the visit"

    def __init__(self, controller: VisitController, appearance: Appearance) -> None:
        super().__init__(controller, appearance)
        self.prompts = SetupPrompts(controller, self.prompt_requested.emit, self._keep, self._ask_next)
        self.at = 0
        """Place of the chosen item."""
        self.list = RowList(appearance)
        self.list.itemClicked.connect(lambda item: self._clicked(self.list.row(item)))
        self.contradictions = label("", "question")
        """What the system knows otherwise than it was stated."""
        self.contradictions.setMargin(8)
        self.missing = label("", "small")
        self._caution = label(GENERAL_CAUTION, "quiet")
        self._hints = self.make_shortcuts(("Space", "what is open"), ("Enter", "change"))
        self.column.addWidget(self.contradictions)
        self.column.addWidget(self.missing)
        self.column.addWidget(self.list, 1)
        self.column.addWidget(self._hints)
        self.column.addWidget(separator())
        self.column.addWidget(self._caution)
        self.at = self._first_open() or 0
        self.restyles(self.list)
        self.refresh()

    def items(self) -> list[SetupItem]:
        """What is to be stated, given what is stated already."""
        return [item for item in ITEMS if item.applies(self.controller.setup.stated)]

    def refresh(self) -> None:
        """See `StyledWidget`."""
        setup, items = self.controller.setup.stated, self.items()
        self.at = min(self.at, len(items) - 1)
        self.list.show_rows([self._row(item) for item in items], self.at)
        self.missing.setText(consequence_text(setup))
        against = self._contradictions()
        self.contradictions.setText("\n".join(against))
        self.contradictions.setVisible(bool(against))

    def handle(self, name: str) -> bool:
        """See `Page`."""
        if name == "Return":
            self.items()[self.at].ask(self.prompts)
        elif name == "Space":
            first = self._first_open()
            if first is None:
                self.controller.message = Message(
                    "Everything is stated. Enter changes one; 3 goes on to the checks."
                )
            else:
                self._ask_at(first)
        elif name == TAKE_OVER and self.controller.setup.meter_difference():
            self.controller.setup.take_over_meter()
        elif name in ("Up", "Down", "PgUp", "PgDown"):
            step = 1 if name in ("Down", "PgDown") else -1
            self.at = min(max(self.at + step, 0), len(self.items()) - 1)
        else:
            return False
        return True

    def primary_action(self) -> Message | None:
        """See `Page`."""
        first = self._first_open()
        if first is None:
            return Message("nothing is open; 3 goes on to the checks")
        return Message(f"state what is open: {self.items()[first].name}")

    def _contradictions(self) -> list[str]:
        """What the system knows otherwise than it was stated, each with what to do."""
        out = []
        if power := self.controller.setup.power_contradiction():
            out.append(f"Laptop: {power}. Unplug it, or state it anew.")
        if differs := self.controller.setup.meter_difference():
            out.append(f"{differs} {TAKE_OVER} takes it over.")
        return out

    def _row(self, item: SetupItem) -> ListRow:
        row = setup_row(item, self.controller.setup.stated)
        against = ""
        if item.name == LAPTOP:
            against = self.controller.setup.power_contradiction()
        elif item.name == METER and self.controller.setup.meter_difference():
            recorded = self.controller.setup.recorded_meter
            assert recorded is not None
            against = f"recorded with “{recorded.name}”; {TAKE_OVER} takes it over"
        return replace(row, small=against, badge=UNCLEAR) if against else row

    # --- asking ------------------------------------------------------------------------------------------

    def _keep(self, what: str, /, **changes: Any) -> None:
        """Keep it, and ask the next thing that is open."""
        at = next((i for i, item in enumerate(ITEMS) if item is self.items()[self.at]), 0)
        self.controller.setup.state(what, **changes)
        self._ask_next(at)

    def _ask_next(self, after: int | None = None) -> None:
        """Ask what is open further down; back at the top stays quiet, so that nobody goes round in circles."""
        if after is None:
            after = ITEMS.index(self.items()[self.at])
        setup = self.controller.setup.stated
        for index, item in enumerate(self.items()):
            if ITEMS.index(item) > after and not item.value(setup):
                self._ask_at(index)
                return
        self.refresh()

    def _ask_at(self, index: int) -> None:
        self.at = index
        self.items()[index].ask(self.prompts)

    def _first_open(self) -> int | None:
        setup = self.controller.setup.stated
        return next((i for i, item in enumerate(self.items()) if not item.value(setup)), None)

    def _clicked(self, row: int) -> None:
        self.at = row
        self.refresh()
        self.key_clicked.emit("Return")
