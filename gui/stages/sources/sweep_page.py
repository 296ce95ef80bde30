"""The page Breakers of the stage Sources: what to switch next, in large letters, and a bar for each circuit."""

from __future__ import annotations

from PySide6.QtGui import QResizeEvent

from gui.model.sweep_controller import SweepController
from gui.model.sweep_review import SweepReview
from gui.model.visit_access import Message
from gui.stages.sources.source_prompts import circuits_prompt, essential_prompt, rename_prompt, supply_prompt
from gui.stages.sources.sweep_bars import (
    awaited_text,
    contradiction_line,
    progress_text,
    sweep_bar,
    what_to_switch_text,
)
from gui.widgets.appearance import Appearance, label, set_role
from gui.widgets.bar_chart import BarChart
from gui.widgets.keys import ACTION_OF
from gui.widgets.page import TabPage
from logger import cautions
from logger.sweep.sweep_rows import SweepRow
from logger.visit.records.home_records import Source

MAX_LARGE_LETTERS = 85
"""So many letters fill three lines in large letters; longer texts are set smaller."""

PANEL_CAUTION = f"{cautions.BREAKERS_ONLY} {cautions.PANEL} {cautions.ESSENTIAL_CIRCUITS}"


class SweepPage(TabPage):
    """The sweep at the chosen spot.

    Args:
        sweep_controller: what the window does on the stage Sources.
        appearance: theme and sizes.
    """

    page_name = "Breakers"

    def __init__(self, sweep_controller: SweepController, appearance: Appearance) -> None:
        super().__init__(sweep_controller.controller, appearance)
        self.sweep_controller = sweep_controller
        self.where = label("", "quiet")
        self.to_switch = label("", "large")
        self.awaited = label("")
        self.contradiction = label("")
        """That readings contradict each other; hidden while they agree."""
        self.review = SweepReview(sweep_controller)
        self.bars = BarChart(appearance)
        self.bars.clicked.connect(self._clicked)
        self._empty = label(
            "No circuit is listed yet.\n\nA   adds circuits: type their names as on the panel, separated by commas,\n"
            "or takes a home's usual ones\n\n" + PANEL_CAUTION
        )
        self._chosen: str | None = None
        """The row that the user went to, by `_key`; None follows what is read next."""
        self._supply_asked = False
        self._hints = self.make_shortcuts(("A", "add"), ("K", "stays on, skip"), ("E", "rename"), ("T", "two-pole"),
            ("Delete", "remove"),
        )  # fmt: skip
        for part in (self.where, self.contradiction, self.to_switch, self.awaited, self._empty):
            self.column.addWidget(part)
        self.column.addWidget(self.bars, 20)
        self.column.addStretch(1)
        self.column.addWidget(self._hints)
        self.restyles(self.bars)
        self.refresh()

    # --- what is shown -----------------------------------------------------------------------------------

    def refresh(self) -> None:
        """See `StyledWidget`."""
        rows = self.sweep_controller.rows()
        self._empty.setVisible(not rows)
        for part in (self.where, self.to_switch, self.bars):
            part.setVisible(bool(rows))
        if rows:
            self.where.setText(progress_text(self.sweep_controller, rows))
            to_switch = what_to_switch_text(self.sweep_controller)
            self.to_switch.setText(to_switch)
            set_role(self.to_switch, "large" if len(to_switch) <= MAX_LARGE_LETTERS else "title")
            off = rows[0].value
            suspects = {reading.id for reading in self.review.suspects(self.sweep_controller.tonight())}
            self.bars.show_bars(
                [sweep_bar(row, self.sweep_controller.skipped, suspects) for row in rows],
                self._at(rows),
                self.controller.setup.stated.target_volts,
                off.volts if off else None,
            )
        contradiction = contradiction_line(self.sweep_controller)
        self.contradiction.setText(contradiction)
        self.contradiction.setVisible(bool(rows and contradiction))
        awaited = awaited_text(self.sweep_controller)
        self.awaited.setText(awaited)
        self.awaited.setVisible(bool(rows and awaited))
        self._make_room()

    def resizeEvent(self, event: QResizeEvent) -> None:
        """See Qt."""
        super().resizeEvent(event)
        self._make_room()

    def _make_room(self) -> None:
        """What goes first where the window is too low for everything."""
        self._hints.show()
        for part in (self._hints, self.where):
            if self.column.minimumHeightForWidth(self.width()) > self.height():
                part.hide()
        self.column.activate()

    def primary_action(self) -> Message | None:
        """See `Page`."""
        waiting = self.sweep_controller.waiting
        if waiting is not None:
            return Message(f"{waiting.combination.label} is awaited. Esc cancels", refused=True)
        refusal = self.sweep_controller.why_not_switched()
        if refusal:
            return Message(refusal, refused=True)
        combination = self.sweep_controller.next_combination()
        return Message(f"it is switched ({combination.label}): take it once settled") if combination else None

    def _at(self, rows: list[SweepRow]) -> int | None:
        """The row in hand: where the user went, else the one that is read next; None where that is no row."""
        sweep_controller = self.sweep_controller
        keys = [_key(row) for row in rows]
        if self._chosen in keys and sweep_controller.waiting is None:
            return keys.index(self._chosen)
        combination = (
            sweep_controller.waiting.combination
            if sweep_controller.waiting
            else sweep_controller.next_combination()
        )
        if combination is None:
            return None
        return next((i for i, row in enumerate(rows) if row.combination == combination), None)

    # --- keys --------------------------------------------------------------------------------------------

    def handle(self, name: str) -> bool:
        """See `Page`."""
        rows = self.sweep_controller.rows()
        at = self._at(rows)
        source = rows[at].source if at is not None else None
        if ACTION_OF.get(name) == "take":
            self._switched()
        elif name in ("Down", "Up") and rows:
            last = len(rows) - 1
            self._go_to(0 if at is None else min(max(at + (1 if name == "Down" else -1), 0), last))
        elif name == "A":
            ask = self.prompt_requested.emit
            ask(circuits_prompt(self.sweep_controller, ask))
        elif name in ("K", "E", "T", "Del", "Backspace") or ACTION_OF.get(name) in ("move_down", "move_up"):
            if source is None:
                self.controller.message = Message("Choose a circuit by Up and Down first.", refused=True)
            else:
                self._edit(name, source)
        else:
            return False
        return True

    def _edit(self, name: str, source: Source) -> None:
        self._chosen = str(source.id)
        if name == "K":
            self._ask_essential(source)
        elif name == "E":
            self.prompt_requested.emit(
                rename_prompt(
                    self.sweep_controller, source, "Readings keep what was said when they were taken."
                )
            )
        elif name == "T":
            self.sweep_controller.source_list.toggle_two_pole(source)
        elif name in ("Del", "Backspace"):
            self.sweep_controller.source_list.remove(source)
            self._chosen = None
        else:
            self.sweep_controller.source_list.move(source, 1 if ACTION_OF[name] == "move_down" else -1)

    def _go_to(self, row: int) -> None:
        rows = self.sweep_controller.rows()
        if self.sweep_controller.waiting is not None:
            label = self.sweep_controller.waiting.combination.label
            self.controller.message = Message(f"{label} is awaited. Esc cancels.", refused=True)
            return
        self._chosen = _key(rows[row])
        combination = rows[row].combination
        self.sweep_controller.choose(combination)
        if combination is None:
            stays = rows[row].source
            why = f" ({stays.stays})" if stays is not None and stays.stays else ""
            self.controller.message = Message(f"“{rows[row].name}” is not switched{why}.")

    def _switched(self) -> None:
        waiting = self.sweep_controller.waiting
        if waiting is not None:
            self.controller.message = Message(
                f"{waiting.combination.label} is awaited already: taken once settled. Esc cancels."
            )
        elif (
            self.controller.setup.stated.supply is None
            and not self._supply_asked
            and self.sweep_controller.rows()
        ):
            self._supply_asked = True  # once; "not now" stands
            self.prompt_requested.emit(supply_prompt(self.sweep_controller, self._switched))
        else:
            self._chosen = None
            self.sweep_controller.switched()

    def _clicked(self, row: int) -> None:
        self._go_to(row)
        self.refresh()

    def _ask_essential(self, source: Source) -> None:
        """Ask why a source must stay on; one that stays on or is skipped already is read again."""
        sweep_controller = self.sweep_controller
        if source.stays:
            sweep_controller.source_list.toggle_essential(source)
        elif source.id in sweep_controller.skipped:
            sweep_controller.toggle_skipped(source)
        else:
            ask = self.prompt_requested.emit
            ask(essential_prompt(sweep_controller, source, ask))


def _key(row: SweepRow) -> str:
    """What tells a row from the others, also after the list was changed."""
    return str(row.source.id) if row.source is not None else row.name
