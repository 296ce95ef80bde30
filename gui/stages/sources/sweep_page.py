"""The page Breakers of the stage Sources: what to switch next, in large letters, and a bar for each circuit."""

from __future__ import annotations

import math
import re
from collections.abc import Callable

from PySide6.QtGui import QResizeEvent

from gui.model.sweep_controller import SweepController
from gui.model.visit_access import Message
from gui.model.wording import counted, value_text
from gui.shell.prompt import Choice, Prompt
from gui.widgets.appearance import Appearance, label, set_role
from gui.widgets.badge import GOOD, LEFT_OUT, OPEN
from gui.widgets.bar_chart import BarChart
from gui.widgets.bar_painter import Bar
from gui.widgets.keys import ACTION_OF
from gui.widgets.page import TabPage
from logger.metrology.supply import SUPPLY_WORDS, Supply
from logger.metrology.uncertainty import COVERAGE_FACTOR
from logger.sweep.sweep_progress import circuits_of
from logger.sweep.sweep_rows import SweepRow
from logger.visit.records.records import Source

USUAL_CIRCUITS = (
    "Bedroom outlets", "Bedroom light", "Second bedroom", "Living room", "Study", "Hall", "Kitchen outlets",
    "Refrigerator", "Range", "Bathroom", "Washing machine", "Water heater",
)  # fmt: skip
"""A home's usual circuits, to begin with; common practice, no source."""

STAYS = (
    "as the household decided",
    "keeps food cold",
    "may be a medical device",
    "is an alarm or a pump",
    "may carry emergency calls",
)
"""Why a circuit must stay on."""

LONG_TEXT = 85
"""So many letters fill three lines in large letters; longer texts are set smaller."""

PANEL_CAUTION = (
    "Whoever is at the panel switches breakers only; what is behind its cover is for a licensed electrician, "
    "and local codes come first. Alarms, medical devices, pumps, refrigerators stay on."
)


def ask_supply(sweep_controller: SweepController, then: Callable[[], None] | None = None) -> Prompt:
    """How the home is supplied: which legs there are hangs on it."""

    def state(supply: Supply) -> Callable[[], None]:
        def do() -> None:
            sweep_controller.source_list.state_supply(supply)
            if then is not None:
                then()

        return do

    return Prompt(
        "What supply has the home?",
        "Which circuits can cancel each other hangs on it. It stands on the meter or in the panel's papers.",
        tuple(
            Choice(str(n), f"{supply}: {means}", state(supply))
            for n, (supply, means) in enumerate(SUPPLY_WORDS.items(), 1)
        ),
        escape_text="not now",
    )


# long: each text and bar of the page is worked out from the same list of what has been read.
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
        for part in (self.where, self.to_switch, self.awaited, self._empty):
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
            self.where.setText(self._say_where(rows))
            self._say_what_to_switch()
            off = rows[0].value
            self.bars.show_bars(
                [self._bar(row) for row in rows],
                self._at(rows),
                self.controller.setup.stated.target_volts,
                off.volts if off else None,
            )
        awaited = self._say_awaited()
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
            return Message(f"{waiting.combination.says} is awaited; Esc gives it up", refused=True)
        refusal = self.sweep_controller.why_not_switched()
        if refusal:
            return Message(refusal, refused=True)
        combination = self.sweep_controller.next_combination()
        return Message(f"it is switched ({combination.says}): take it once settled") if combination else None

    def _say_where(self, rows: list[SweepRow]) -> str:
        spot = self.controller.route.chosen
        if spot is None:
            return "There is no spot to read. The stage Spots adds one."
        switched = [row for row in rows if row.combination is not None]
        read = sum(bool(row.readings) for row in switched)
        other = ". N: next spot" if len(self.controller.route.indoor_spots()) > 1 else ""
        return f"At “{spot.name}”: {read} of {len(switched)} read{other}"

    def _say_what_to_switch(self) -> None:
        sweep_controller = self.sweep_controller
        found = sweep_controller.next_reading()
        if sweep_controller.waiting is not None:
            says = sweep_controller.waiting.combination.says
            text = f"{says[0].upper()}{says[1:]}: hold still"
        elif found is None:
            text = (
                "Every circuit is read; tonight's list is being worked out."
                if sweep_controller.is_computing
                else "Every circuit is read. Tab shows tonight's list."
            )
        else:
            spot, combination = found
            lie = f"Lie at “{spot.name}”. " if spot.id != self.controller.route.chosen_id else ""
            text = f"{lie}{sweep_controller.to_switch_for(combination)}"
        self.to_switch.setText(text)
        set_role(self.to_switch, "large" if len(text) <= LONG_TEXT else "title")

    def _say_awaited(self) -> str:
        sweep_controller = self.sweep_controller
        waiting = sweep_controller.waiting
        if waiting is None:
            return ""
        left_s = sweep_controller.left_s()
        if left_s is None:
            return f"Waiting at “{waiting.spot.name}” until the value has settled. Esc gives it up."
        return f"Settled at “{waiting.spot.name}”: taken in {math.ceil(left_s)} s."

    def _bar(self, row: SweepRow) -> Bar:
        source = row.source
        notes = ["two-pole"] if source is not None and source.two_pole else []
        if len(row.readings) > 1:
            notes.append(counted(len(row.readings), "reading"))
        skipped = source is not None and source.id in self.sweep_controller.skipped
        if row.value is not None:
            if source is not None and source.kind == "cord":
                notes.insert(0, "everything on without it")
            return Bar(
                row.name,
                value_text(row.value.volts, row.value.u_volts),
                row.value.volts,
                COVERAGE_FACTOR * row.value.u_volts,
                ", ".join(notes),
                GOOD,
            )
        if source is not None and source.stays:
            note = ", ".join([source.stays, *notes])
            return Bar(row.name, "stays on", note=note, badge=LEFT_OUT, has_bar=False)
        if row.combination is None:
            notes.append("on which circuit? The page Steps states it")
            return Bar(
                row.name,
                "cord",
                note=", ".join(notes),
                badge=OPEN,
                quiet=True,
                has_bar=False,
            )
        if skipped:
            return Bar(
                row.name,
                "skipped",
                note=", ".join(notes),
                badge=LEFT_OUT,
                quiet=True,
                has_bar=False,
            )
        return Bar(row.name, "not read yet", note=", ".join(notes), badge=OPEN, quiet=True)

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
            self._ask_circuits()
        elif name in ("K", "E", "T", "Del", "Backspace") or ACTION_OF.get(name) in ("later", "earlier"):
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
            self._ask_stays(source)
        elif name == "E":
            self.prompt_requested.emit(
                Prompt(
                    f"Rename “{source.name}”",
                    "Readings keep what was said when they were taken.",
                    on_text=lambda text: self.sweep_controller.source_list.rename(source, text),
                    prefilled=source.name,
                    enter_text="rename it",
                )
            )
        elif name == "T":
            self.sweep_controller.source_list.toggle_two_pole(source)
        elif name in ("Del", "Backspace"):
            self.sweep_controller.source_list.remove(source)
            self._chosen = None
        else:
            self.sweep_controller.source_list.move(source, 1 if ACTION_OF[name] == "later" else -1)

    def _go_to(self, row: int) -> None:
        rows = self.sweep_controller.rows()
        if self.sweep_controller.waiting is not None:
            says = self.sweep_controller.waiting.combination.says
            self.controller.message = Message(f"{says} is awaited. Esc gives it up.", refused=True)
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
                f"{waiting.combination.says} is awaited already: taken once settled. Esc gives it up."
            )
        elif (
            self.controller.setup.stated.supply is None
            and not self._supply_asked
            and self.sweep_controller.rows()
        ):
            self._supply_asked = True  # once; "not now" stands
            self.prompt_requested.emit(ask_supply(self.sweep_controller, self._switched))
        else:
            self._chosen = None
            self.sweep_controller.switched()

    def _clicked(self, row: int) -> None:
        self._go_to(row)
        self.refresh()

    def _ask_circuits(self) -> None:
        def add(text: str) -> None:
            names = [name for part in re.split(r"[,;\n]", text) if (name := " ".join(part.split()))]
            self.sweep_controller.source_list.add("circuit", *names)

        there = {source.name.casefold() for source in self.sweep_controller.sources}
        usual = [name for name in USUAL_CIRCUITS if name.casefold() not in there]
        answers: tuple[Choice, ...] = ()
        if usual and not circuits_of(self.sweep_controller.sources):
            answers = (Choice("Tab", f"the usual ones: {', '.join(usual)}", lambda: add(",".join(usual))),)
        self.prompt_requested.emit(
            Prompt(
                "Which circuits?",
                "As they stand on the panel, in its order, several separated by commas.",
                answers,
                on_text=add,
                enter_text="add them",
            )
        )

    def _ask_stays(self, source: Source) -> None:
        sweep_controller = self.sweep_controller
        if source.stays:
            sweep_controller.source_list.toggle_essential(source)
            return
        if source.id in sweep_controller.skipped:
            sweep_controller.toggle_skipped(source)
            return

        def because(reason: str) -> Callable[[], None]:
            return lambda: sweep_controller.source_list.toggle_essential(source, reason)

        def by_words() -> None:
            self.prompt_requested.emit(
                Prompt(
                    f"Why must “{source.name}” stay on?",
                    on_text=lambda text: sweep_controller.source_list.toggle_essential(source, text),
                )
            )

        skip = (
            Choice(
                "K",
                "skip it: not read alone, but switched off",
                lambda: sweep_controller.toggle_skipped(source),
            ),
        )
        self.prompt_requested.emit(
            Prompt(
                f"Must “{source.name}” stay on?",
                "It is then live in every reading and on no list. K once more takes it back.",
                (
                    *(Choice(str(n), reason, because(reason)) for n, reason in enumerate(STAYS, 1)),
                    Choice("T", "another reason: type it", by_words),
                    *(skip if source.kind == "circuit" else ()),
                ),
            )
        )


def _key(row: SweepRow) -> str:
    """What tells a row from the others, also after the list was changed."""
    return str(row.source.id) if row.source is not None else row.name
