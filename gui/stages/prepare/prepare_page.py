"""The page of the stage Prepare: what is stated once for a visit, one thing after the other."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

from gui.actions.menus import add_context_menu
from gui.actions.registry import ActionRegistry
from gui.model.reference_corrections import KeptStatement
from gui.model.visit_controller import VisitController
from gui.model.wording import day_at_time
from gui.shell.question import Choice, Question
from gui.stages.prepare.setup_items import (
    ITEMS,
    LAPTOP,
    METER,
    SetupItem,
    circumstance_row,
    circumstance_text,
    consequence_text,
    setup_row,
)
from gui.stages.prepare.setup_prompts import SetupPrompts
from gui.widgets.appearance import Appearance, label, separator
from gui.widgets.badge import UNCLEAR
from gui.widgets.page import Page, PrimaryAction
from gui.widgets.row_list import RowList
from gui.widgets.row_model import ListHeading, ListRow
from logger import cautions
from logger.metrology.lengths import LengthUnit
from logger.metrology.rounding import grouped
from logger.translation import marked, tr, tr_all, tr_n

GENERAL_CAUTION = (cautions.LIVE_CONDUCTOR, cautions.THUNDERSTORM, cautions.EARTHING_CODES)


class PreparePage(Page):
    """Rows of what is stated and what is not, with the consequence of leaving it open.

    Args:
        controller: what the window does with the visit.
        appearance: theme and sizes.
        actions: the actions of the window.
    """

    title = marked("Prepare the visit")
    place = "prepare"

    def __init__(self, controller: VisitController, appearance: Appearance, actions: ActionRegistry) -> None:
        super().__init__(controller, appearance, actions)
        self._skipped: set[str] = set()
        """Names of the items that the user skipped in this window: the big button goes on without them."""
        self.prompts = SetupPrompts(controller, self.question_requested.emit, self._keep, self._ask_next)
        self.at = 0
        """Place of the chosen item."""
        self.list = RowList(appearance, tr("What is entered once for the visit"))
        self.list.row_chosen.connect(self._choose)
        self.list.row_activated.connect(lambda _: actions.trigger("prepare.change"))
        add_context_menu(self.list, actions, "prepare.change", "prepare.take_over")
        self.contradictions = label("", "question")
        """What the system knows otherwise than it was stated."""
        self.contradictions.setMargin(8)
        self.missing = label("", "small")
        self._caution = label(tr_all(GENERAL_CAUTION), "quiet")
        self._buttons = self.make_buttons("prepare.change", "prepare.take_over")
        actions.bind("prepare.change", self._ask_this)
        self._goes_on = False
        """Whether an answer is followed by the next question: only where the big button began."""
        actions.bind("prepare.take_over", controller.setup.take_over_meter, self._why_not_take_over)
        self.column.addWidget(self.contradictions)
        self.column.addWidget(self.missing)
        self.column.addWidget(self.list, 1)
        self.column.addWidget(self._buttons)
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
        rows: list[ListRow | ListHeading] = [self._row(item) for item in items]
        first_optional = next(at for at, item in enumerate(items) if item.optional)
        rows.insert(first_optional, ListHeading(tr("Optional: so that it can be repeated")))
        self.list.show_rows(rows, self.at)
        self.missing.setText(consequence_text(setup))
        against = self._contradictions()
        self._buttons.buttons["prepare.take_over"].setVisible(bool(self.controller.setup.meter_difference()))
        self.contradictions.setText("\n".join(against))
        self.contradictions.setVisible(bool(against))

    def primary_action(self) -> PrimaryAction:
        """See `Page`."""
        first = self._first_open()
        if first is None:
            return PrimaryAction(
                tr("Go on to the checks"), lambda: self.registry.trigger("stage.check"), does="check"
            )
        return PrimaryAction(
            tr("Fill in what is missing: {item}").format(item=tr(self.items()[first].name)),
            lambda: self._ask_from(first),
            does=f"fill in {self.items()[first].name}",
        )

    def _why_not_take_over(self) -> str:
        return (
            ""
            if self.controller.setup.meter_difference()
            else tr("Nothing to change: the visit's meter is the one that is recorded with.")
        )

    def _contradictions(self) -> list[str]:
        """What the system knows otherwise than it was stated, each with what to do."""
        out = []
        if power := self.controller.setup.power_contradiction():
            out.append(tr("Laptop: {power}. Unplug it, or state it anew.").format(power=power))
        if differs := self.controller.setup.meter_difference():
            out.append(differs)
        return out

    def _stated_row(self, item: SetupItem) -> ListRow:
        """What is stated; a length in the unit that it was typed in, else in that of the settings."""
        stated, unit = self.controller.setup.stated, self.controller.length_unit
        if item.circumstance:
            circumstances = self.controller.setup.circumstances
            if getattr(circumstances, item.circumstance) in self.controller.typed_in_feet:
                unit = LengthUnit.FEET
            return circumstance_row(item, circumstances, unit)
        if item.length and item.length(stated) in self.controller.typed_in_feet:
            unit = LengthUnit.FEET
        return setup_row(item, stated, unit)

    def _row(self, item: SetupItem) -> ListRow:
        row = self._stated_row(item)
        against = ""
        if item.name == LAPTOP:
            against = self.controller.setup.power_contradiction()
        elif item.name == METER and self.controller.setup.meter_difference():
            recorded = self.controller.setup.recorded_meter
            assert recorded is not None
            against = tr("recorded with “{meter}”").format(meter=recorded.name)
        return replace(row, small=against, badge=UNCLEAR) if against else row

    # --- asking ------------------------------------------------------------------------------------------

    def _keep(self, what: str, /, **changes: Any) -> None:
        """Keep it, and ask the next thing that is open."""
        at = next((i for i, item in enumerate(ITEMS) if item is self.items()[self.at]), 0)
        setup = self.controller.setup
        if ITEMS[at].circumstance:
            setup.state_circumstances(what, **changes)
            self._ask_next(at)
            return
        shown = self._stated_row(ITEMS[at])
        setup.state(what, f"{shown.head}, {shown.value}", **changes)
        if setup.kept is not None:
            self._ask_kept(setup.kept, lambda: self._ask_next(at))
            return
        self._ask_next(at)

    def _ask_kept(self, kept: KeptStatement, go_on: Callable[[], None]) -> None:
        """Ask whether what is stated now held for the readings that keep what was stated before.

        Args:
            kept: the readings.
            go_on: asks the next thing.
        """
        self.refresh()
        n, first = len(kept.readings), kept.readings[0]

        def correct() -> None:
            self.controller.setup.correct_kept(kept)
            go_on()

        texts = {"n": grouped(n), "before": kept.before, "now": kept.now}
        since = day_at_time(first.utc_ns, self.controller.snapshot.zone)
        self.question_requested.emit(
            Question(
                tr("Was it “{now}” from the start?").format(**texts),
                tr_n(
                    "{n} reading since {since} counts as read with “{before}”. A correction is a row of its own in the "
                    "log and can be undone.",
                    "{n} readings since {since} count as read with “{before}”. Each correction is a row of its own in "
                    "the log and can be undone.",
                    n,
                ).format(since=since, **texts),
                (
                    Choice(
                        tr_n(
                            "It was so from the start: correct {n} reading",
                            "It was so from the start: correct {n} readings",
                            n,
                        ).format(n=grouped(n)),
                        correct,
                    ),
                    Choice(tr("It was changed only now: they stay"), go_on, default=True),
                ),
                escape_text=tr("They stay"),
            )
        )

    def _ask_next(self, after: int | None = None) -> None:
        """Ask what is open further down; back at the top stays quiet, so that nobody goes round in circles.

        Who has asked for one row is back at the list after its answer.
        """
        if after is None:
            skipped = self.items()[self.at]
            self._skipped.add(skipped.name)
            after = ITEMS.index(skipped)
        if not self._goes_on:
            self.refresh()
            return
        is_optional = ITEMS[after].optional
        for index, item in enumerate(self.items()):
            if ITEMS.index(item) > after and item.optional is is_optional and not self._is_stated(item):
                self._ask_at(index)
                return
        self.refresh()

    def _ask_this(self) -> None:
        """Ask for the chosen row alone."""
        self._goes_on = False
        self.items()[self.at].ask(self.prompts)

    def _ask_from(self, index: int) -> None:
        """Ask for a row, and for each open one after it."""
        self._goes_on = True
        self._ask_at(index)

    def _ask_at(self, index: int) -> None:
        self.at = index
        self.items()[index].ask(self.prompts)

    def _first_open(self) -> int | None:
        is_open = [
            not (item.optional or self._is_stated(item) or item.name in self._skipped)
            for item in self.items()
        ]
        return is_open.index(True) if True in is_open else None

    def _is_stated(self, item: SetupItem) -> bool:
        setup = self.controller.setup
        if item.circumstance:
            return bool(circumstance_text(item, setup.circumstances, LengthUnit.METRES))
        return bool(item.value(setup.stated))

    def _choose(self, row: int) -> None:
        self.at = row
        self.refresh()
