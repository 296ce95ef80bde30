"""The page Breakers of the stage Sources: what to switch next, in large letters, and a bar for each circuit."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from PySide6.QtGui import QResizeEvent

from gui.actions.menus import add_context_menu
from gui.actions.registry import ActionRegistry
from gui.actions.spoken_text import delete_hint, set_spoken_description
from gui.model.source_list_controller import stays_text
from gui.model.sweep_controller import SweepController
from gui.model.sweep_review import SweepReview
from gui.model.visit_access import Message
from gui.model.wording import NEW_CIRCUIT_NAME
from gui.stages.sources.source_prompts import (
    circuits_prompt,
    essential_prompt,
    rename_prompt,
    supply_prompt,
    sweep_spot_prompt,
)
from gui.stages.sources.suspect_prompts import void_prompt, which_reading_prompt
from gui.stages.sources.sweep_bars import (
    awaited_text,
    doubt_line,
    progress_text,
    sweep_bar,
    what_to_switch_text,
)
from gui.widgets.appearance import Appearance, label, set_role
from gui.widgets.bar_chart import BarChart
from gui.widgets.page import PrimaryAction, TabPage
from logger import cautions
from logger.sweep.sweep_rows import SweepRow
from logger.translation import marked, tr, tr_all
from logger.visit.records.home_records import Source
from logger.visit.records.reading_records import Reading

MAX_LARGE_LETTERS = 85
"""So many letters fill three lines in large letters; longer texts are set smaller."""

PANEL_CAUTION = (cautions.BREAKERS_ONLY, cautions.PANEL, cautions.ESSENTIAL_CIRCUITS)


# long: what is shown of the sweep, and one small method for each action on a row.
class SweepPage(TabPage):
    """The sweep at the chosen spot.

    Args:
        sweep_controller: what the window does on the stage Sources.
        appearance: theme and sizes.
        actions: the actions of the window.
    """

    page_name = marked("Breakers")
    place = "sources.breakers"

    def __init__(
        self, sweep_controller: SweepController, appearance: Appearance, actions: ActionRegistry
    ) -> None:
        super().__init__(sweep_controller.controller, appearance, actions)
        self.sweep_controller = sweep_controller
        self.where = label("", "quiet")
        self.to_switch = label("", "large")
        self.awaited = label("")
        self.doubt = label("")
        """That readings contradict each other, or that all rests on one of them; hidden otherwise."""
        self.review = SweepReview(sweep_controller)
        self.bars = BarChart(appearance, tr("Breakers"))
        set_spoken_description(self.bars, delete_hint("sweep.remove"))
        self.bars.clicked.connect(self._clicked)
        self.bars.activated.connect(lambda _: actions.trigger("sweep.essential"))
        add_context_menu(
            self.bars, actions, "sweep.again", "sweep.void", "", "sweep.rename", "sweep.essential", "sweep.two_pole",
            "", "sweep.up", "sweep.down", "", "sweep.remove",
        )  # fmt: skip
        self._empty = label(
            tr(
                "No circuit is listed yet.\n\nAdd circuits: type their names as on the panel, separated by commas, "
                "or take a home's usual ones. With their numbers they are entered on the page Panel, as a table."
            )
            + f"\n\n{tr_all(PANEL_CAUTION)}"
        )
        self._chosen: str | None = None
        """The row that the user went to, by `_key`; None follows what is read next."""
        self._chosen_with: frozenset[int] = frozenset()
        """Ids of the readings in the rows at that time: one taken or voided since makes another one the next."""
        self._supply_asked = False
        self._fitted: tuple[object, ...] = ()
        """For what the letters were chosen last."""
        self._buttons = self.make_buttons(
            "sweep.add",
            more=(
                "sweep.essential", "", "sweep.again", "sweep.void", "", "sweep.rename", "sweep.two_pole", "sweep.up",
                "sweep.down", "sweep.remove", "", "spots.next",
            ),
        )  # fmt: skip
        self._bind()
        for part in (self.where, self.doubt, self.to_switch, self.awaited, self._empty):
            self.column.addWidget(part)
        self.column.addWidget(self.bars, 1)
        self.column.addWidget(self._buttons)
        self.restyles(self.bars)
        self.refresh()

    # --- what is shown -----------------------------------------------------------------------------------

    def refresh(self) -> None:
        """See `StyledWidget`."""
        rows = self.sweep_controller.rows()
        snapshot = self.controller.snapshot
        shown = [replace(row, source=row.source and snapshot.shown_source(row.source)) for row in rows]
        self._empty.setVisible(not rows)
        for part in (self.where, self.to_switch, self.bars):
            part.setVisible(bool(rows))
        if rows:
            progress, here = progress_text(self.sweep_controller, rows), self.controller.route.chosen
            if here is not None:
                progress = tr("At “{spot}”: {progress}").format(spot=here.name, progress=progress)
            self.where.setText(progress)
            to_switch = what_to_switch_text(self.sweep_controller)
            self.to_switch.setText(to_switch)
            off = rows[0].value
            suspects = {reading.id for reading in self.review.suspects(self.sweep_controller.tonight())}
            self.bars.show_bars(
                [sweep_bar(row, self.sweep_controller.skipped, suspects) for row in shown],
                self._at(rows),
                self.controller.setup.stated.target_volts,
                off.volts if off else None,
                _newest_row(rows),
            )
        doubt = doubt_line(self.sweep_controller)
        self.doubt.setText(doubt)
        self.doubt.setVisible(bool(rows and doubt))
        awaited = awaited_text(self.sweep_controller)
        self.awaited.setText(awaited)
        self.awaited.setVisible(bool(rows and awaited))
        self._fit_letters()

    def resizeEvent(self, event: QResizeEvent) -> None:
        """See Qt."""
        super().resizeEvent(event)
        self._fit_letters()

    def _fit_letters(self) -> None:
        """Set what to switch in large letters where all of the page has room beside them."""
        fitted = (
            self.width(),
            self.room_height(),
            self.appearance,
            *(
                part.text()
                for part in (self.where, self.doubt, self.to_switch, self.awaited, self._empty)
                if not part.isHidden()
            ),
        )
        if fitted == self._fitted:
            return
        self._fitted = fitted
        set_role(self.to_switch, "large")
        set_role(self._empty, "")
        if not self._empty.isHidden() and self.is_too_low():
            set_role(self._empty, "small")
        if len(self.to_switch.text()) > MAX_LARGE_LETTERS or self.is_too_low():
            set_role(self.to_switch, "title")

    def primary_action(self) -> PrimaryAction:
        """See `Page`."""
        waiting = self.sweep_controller.waiting
        name = tr("Take the reading")
        if waiting is not None:
            return PrimaryAction(
                name,
                self._switched,
                tr("Waiting for {reading}. Esc cancels.").format(reading=waiting.combination.shown),
                does="switched",
            )
        if not self.sweep_controller.rows():
            return PrimaryAction(
                tr("Add circuits..."), lambda: self.registry.trigger("sweep.add"), does="circuits"
            )
        refusal = self.sweep_controller.why_not_switched()
        if self.sweep_controller.next_reading() is None and self.sweep_controller.tonight() is not None:
            return PrimaryAction(
                tr("Go on to tonight's list"), lambda: self.registry.trigger("page.next"), does="tonight"
            )
        if refusal:
            return PrimaryAction(name, self._switched, refusal, does="switched")
        found = self.sweep_controller.next_reading()
        if found is None:
            return PrimaryAction(name, self._switched, tr("Nothing is left to read."), does="switched")
        return PrimaryAction(
            tr("Switched ({reading}): take it at “{spot}” once settled").format(
                reading=found[1].shown, spot=found[0].name
            ),
            self._switched,
            does="switched",
        )

    def _at(self, rows: list[SweepRow]) -> int | None:
        """The row in hand: where the user went, else the one that is read next; None where that is no row."""
        sweep_controller = self.sweep_controller
        keys = [_key(row) for row in rows]
        if self._chosen_with != _reading_ids(rows):
            self._chosen = None
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

    # --- actions -----------------------------------------------------------------------------------------

    def _bind(self) -> None:
        def bind(action_id: str, run: Callable[[Source], object]) -> None:
            def do() -> None:
                if (source := self._source()) is not None:
                    self._mark(str(source.id))
                    run(source)

            self.registry.bind(action_id, do, self._why_no_circuit)

        lists, ask = self.sweep_controller.source_list, self.question_requested.emit
        self.registry.bind("sweep.add", lambda: ask(circuits_prompt(self.sweep_controller, ask)))
        bind("sweep.essential", self._ask_essential)
        bind("sweep.rename", self._ask_name)
        bind("sweep.two_pole", lists.toggle_two_pole)
        bind("sweep.up", lambda source: lists.move(source, -1))
        bind("sweep.down", lambda source: lists.move(source, 1))
        bind("sweep.remove", self._remove)
        self.registry.bind("sweep.again", self._read_again, self._why_not_read)
        self.registry.bind("sweep.void", self._ask_void, self._why_not_read)

    def _readings_in_hand(self) -> tuple[Reading, ...]:
        """The valid readings of the row in hand, oldest first."""
        rows = self.sweep_controller.rows()
        at = self._at(rows)
        return rows[at].readings if at is not None else ()

    def _why_not_read(self) -> str:
        """Why the row in hand cannot be read again or voided, in a whole sentence; empty where it can."""
        if self.sweep_controller.waiting is not None:
            return self._awaited_text()
        return "" if self._readings_in_hand() else tr("Choose a row that was read first.")

    def _read_again(self) -> None:
        self.review.read_again(self._readings_in_hand()[-1])

    def _ask_void(self) -> None:
        readings, ask = self._readings_in_hand(), self.question_requested.emit
        if len(readings) == 1:
            ask(void_prompt(self.review, readings[0], ask))
        else:
            ask(which_reading_prompt(self.review, readings, self.controller.snapshot.zone, ask))

    def _why_no_circuit(self) -> str:
        """Why the list is left as it is, in a whole sentence; empty where the row in hand can be changed."""
        if self.sweep_controller.waiting is not None:
            return self._awaited_text()
        return "" if self._source() is not None else tr("Choose a circuit first.")

    def _awaited_text(self) -> str:
        waiting = self.sweep_controller.waiting
        assert waiting is not None
        return tr("The reading “{reading}” is awaited. Esc cancels.").format(
            reading=waiting.combination.shown
        )

    def _source(self) -> Source | None:
        """The circuit of the row in hand."""
        rows = self.sweep_controller.rows()
        at = self._at(rows)
        return rows[at].source if at is not None else None

    def _ask_name(self, source: Source) -> None:
        self.question_requested.emit(rename_prompt(self.sweep_controller, source, tr(NEW_CIRCUIT_NAME)))

    def _remove(self, source: Source) -> None:
        self.sweep_controller.source_list.remove(source)
        self._chosen = None

    def _mark(self, key: str) -> None:
        """Have the keyboard's row stay where the user went, up to the next reading."""
        self._chosen, self._chosen_with = key, _reading_ids(self.sweep_controller.rows())

    def _go_to(self, row: int) -> None:
        rows = self.sweep_controller.rows()
        if self.sweep_controller.waiting is not None:
            self.controller.message = Message(self._awaited_text(), refused=True)
            return
        self._mark(_key(rows[row]))
        combination = rows[row].combination
        self.sweep_controller.choose(combination)
        if combination is None:
            stays = rows[row].source
            why = stays_text(stays) if stays is not None else ""
            text = tr("“{name}” is not switched ({why}).") if why else tr("“{name}” is not switched.")
            name = self.controller.snapshot.shown_source(stays).name if stays is not None else rows[row].name
            self.controller.message = Message(text.format(name=name, why=why))

    def _switched(self) -> None:
        waiting = self.sweep_controller.waiting
        if waiting is not None:
            self.controller.message = Message(
                tr(
                    "The reading “{reading}” is awaited already. It is taken once the value has settled. "
                    "Esc cancels."
                ).format(reading=waiting.combination.shown)
            )
        elif (
            self.controller.setup.stated.supply is None
            and not self._supply_asked
            and self.sweep_controller.rows()
        ):
            self._supply_asked = True  # once; "not now" stands
            self.question_requested.emit(supply_prompt(self.sweep_controller, self._go_on_after_answer()))
        elif spots := self.sweep_controller.spots_to_ask():
            self.question_requested.emit(
                sweep_spot_prompt(self.sweep_controller, spots, self._go_on_after_answer())
            )
        else:
            self._chosen = None
            self.sweep_controller.switched()

    def _go_on_after_answer(self) -> Callable[[], None]:
        """What is done once a question is answered that came when the user reported what is switched.

        The report still holds, unless the answer has something else switched next.
        """
        reported = self.sweep_controller.next_combination()

        def go_on() -> None:
            if reported is not None and self.sweep_controller.next_combination() == reported:
                self._switched()
            else:
                self._say_what_to_switch()

        return go_on

    def _say_what_to_switch(self) -> None:
        """Say what is switched next, where something else was reported."""
        self.controller.message = Message(
            tr("{what} Press Space when it is switched.").format(what=self.sweep_controller.what_to_switch())
        )

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
            ask = self.question_requested.emit
            ask(essential_prompt(sweep_controller, source, ask))


def _reading_ids(rows: list[SweepRow]) -> frozenset[int]:
    return frozenset(reading.id for row in rows for reading in row.readings)


def _newest_row(rows: list[SweepRow]) -> int | None:
    """The row that was read last; None while none was."""
    read = [at for at, row in enumerate(rows) if row.readings]
    return max(read, key=lambda at: rows[at].readings[-1].utc_ns, default=None)


def _key(row: SweepRow) -> str:
    """What tells a row from the others, also after the list was changed."""
    return str(row.source.id) if row.source is not None else row.name
