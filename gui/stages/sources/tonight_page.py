"""The page Tonight of the stage Sources: what to switch off, as readings confirm it, and what that leaves.

As long as there is no answer it says why, and which reading comes next; readings that contradict each other are listed,
to be read again or voided. Enter shows what each circuit gives, on which leg, and what can be done about it.
"""

from __future__ import annotations

from PySide6.QtGui import QResizeEvent
from PySide6.QtWidgets import QWidget

from gui.actions.registry import ActionRegistry
from gui.actions.spoken_text import delete_hint
from gui.model.circuit_labels import plan_with_numbers
from gui.model.sweep_controller import SweepController
from gui.model.sweep_review import SweepReview
from gui.model.visit_access import Message
from gui.stages.sources.source_prompts import supply_prompt
from gui.stages.sources.suspect_prompts import void_prompt
from gui.stages.sources.sweep_page import PANEL_CAUTION
from gui.stages.sources.tonight_content import (
    advice_rows,
    alternatives_text,
    circuit_bars,
    circuits_meaning_in_short,
    circuits_meaning_text,
    essential_text,
    headline_text,
    next_reading_text,
    not_swept_text,
    plain_rule_text,
    spot_bar,
    suspect_rows,
    why_next_reading_text,
    why_no_list,
)
from gui.widgets.appearance import Appearance, label, set_role
from gui.widgets.bar_chart import BarChart
from gui.widgets.foldable_text import FoldableText
from gui.widgets.page import PrimaryAction, TabPage
from gui.widgets.row_list import RowList
from gui.widgets.row_model import ListRow
from logger.sweep.plan_text import likely_causes
from logger.sweep.spot_plan import SpotPlan
from logger.sweep.sweep_progress import Combination
from logger.sweep.switch_off_plan import PlanState, SwitchOffPlan
from logger.translation import marked, tr, tr_all
from logger.visit.records.home_records import Spot
from logger.visit.records.reading_records import Reading

MIN_SUSPECTS_HEIGHT = 6
"""Of the list of suspect readings, in heights of a letter: a heading and a row; more of them may be scrolled."""

MIN_CIRCUITS, MIN_ADVICE, SCARCE_ADVICE = 5, 3, 2
"""So many circuits, and rows of what can be done about them, are in sight; the last one where the page is low."""

MAX_LARGE_LETTERS = 60
"""So many letters fill two lines in large letters; longer lists are set smaller, for the rest of the page."""


# long: the answer, the suspects and the details take each other's place on one page, and give way together
class TonightPage(TabPage):
    """Tonight's list beside the plain rule, with what it leaves.

    Args:
        sweep_controller: what the window does on the stage Sources.
        appearance: theme and sizes.
        actions: the actions of the window.
    """

    page_name = marked("Tonight")
    place = "sources.tonight"

    def __init__(
        self, sweep_controller: SweepController, appearance: Appearance, actions: ActionRegistry
    ) -> None:
        super().__init__(sweep_controller.controller, appearance, actions)
        self.sweep_controller = sweep_controller
        self.plan: SwitchOffPlan | None = None
        """What to switch off, as last worked out: it stays in sight while the next one is being worked out."""
        self.shows_details = False
        """What each circuit gives and the advice are in sight instead of the list."""
        self.review = SweepReview(sweep_controller)
        self.headline = label("", "large")
        self.suspects = RowList(appearance, tr("Readings that contradict each other"))
        self.suspects.row_model.key_hint = delete_hint("tonight.void")
        self.suspects.row_chosen.connect(self._choose_suspect)
        self._suspect = 0
        """The suspect that the keys are about."""
        self.plain = label("", "small")
        self.robust = label("", "small")
        self.essential = label("", "quiet")
        self.spots = BarChart(appearance, tr("Spots"), whole=True)
        self.spots.clicked.connect(self._choose)
        self.not_swept = label("", "quiet")
        self.next = label("")
        self.why = FoldableText("small")
        """Why there is no list yet, and what the next reading is for: folded."""
        self._why = ""
        self.meaning = FoldableText("small")
        self._meaning = ""
        """What the bars of circuits show."""
        self._meaning_in_short = ""
        self.circuits = BarChart(appearance, tr("Circuits"))
        self.advice = RowList(appearance, tr("What can be done"))
        self.advice.row_chosen.connect(self._choose_advice)
        self.spots.activated.connect(lambda _: actions.trigger("tonight.details"))
        self.advice.row_activated.connect(lambda _: actions.trigger("tonight.details"))
        self._read_row = 0
        """The piece of advice that is kept in sight."""
        self._made_room_for: tuple[object, ...] = ()
        """What the room was last made for: the page's size, and what its parts show."""
        self._buttons = self.make_buttons("tonight.supply", "tonight.details", "tonight.void")
        actions.bind("tonight.details", self._toggle_details, self._why_no_details)
        actions.bind("tonight.void", self._void, self._why_no_suspect)
        actions.bind("tonight.supply", self._ask_supply)
        for part in (
            self.headline, self.plain, self.robust, self.spots, self.suspects, self.next, self.essential,
            self.not_swept,
        ):  # fmt: skip
            self.column.addWidget(part, 10 if part is self.suspects else 0)
        self.column.addLayout(self.why)
        self.column.addLayout(self.meaning)
        self.column.addWidget(self.circuits, 10)
        self.column.addWidget(self.advice, 12)
        self.column.addStretch(1)
        self.column.addWidget(self._buttons)
        self.restyles(self.spots, self.suspects, self.circuits, self.advice)
        self.refresh()

    # --- what is shown -----------------------------------------------------------------------------------

    def refresh(self) -> None:
        """See `StyledWidget`."""
        found = self.sweep_controller.tonight()
        if found is not None or not self.sweep_controller.is_computing:
            shown = self.controller.snapshot.shown_sources
            self.plan = found and plan_with_numbers(found, shown)
        plan = self.plan
        if self.is_contradictory:
            self.shows_details = False
        self.headline.setText(headline_text(self.sweep_controller, plan))
        self._buttons.buttons["tonight.void"].setVisible(self.is_contradictory)
        self._buttons.buttons["tonight.details"].setVisible(not self.is_contradictory)
        is_supply_asked = self.review.is_supply_asked or (plan is not None and bool(plan.supply_doubt))
        self._buttons.buttons["tonight.supply"].setVisible(is_supply_asked)
        self._show_not_swept(plan)
        if plan is not None and self.shows_details:
            self._show_details(plan)
        elif plan is not None:
            self._show_lists(plan)
            self._show_spots(plan)
            self._show_suspects(plan)
            self.next.setText(next_reading_text(self.sweep_controller, plan, self._wanted()))
            self._why = why_next_reading_text(self.sweep_controller, plan)
        self._make_room()

    def resizeEvent(self, event: QResizeEvent) -> None:
        """See Qt."""
        super().resizeEvent(event)
        self._make_room()

    def _parts_to_show(self) -> dict[QWidget | FoldableText, bool]:
        """Which parts have something to show now, whether or not there is room for all of them."""
        plan, lists, details = self.plan, self.plan is not None, self.shows_details
        confirmed = plan is not None and plan.state is PlanState.CONFIRMED
        shown: dict[QWidget | FoldableText, bool] = {
            part: lists and not details and bool(part.text())
            for part in (self.plain, self.robust, self.essential)
        }
        shown[self.next] = lists and not details
        shown[self.why] = lists and not details and bool(self._why)
        shown[self.not_swept] = not details and bool(self.not_swept.text())
        shown[self.spots] = confirmed and not details
        shown[self.suspects] = self.is_contradictory
        return shown | dict.fromkeys((self.meaning, self.circuits, self.advice), lists and details)

    def _make_room(self) -> None:
        """What goes first where the window is too low for everything."""
        shown = self._parts_to_show()
        texts = (self.headline, self.plain, self.robust, self.essential, self.not_swept, self.next)
        needs = (
            self.width(), self.room_height(), self.appearance, tuple(shown.values()), *(part.text() for part in texts),
            self.spots.bars, self.suspects.minimumSizeHint().height(), self.advice.row_model.rowCount(),
            self.circuits.bars, self._meaning, self._why,
        )  # fmt: skip
        if needs == self._made_room_for:
            return
        self._made_room_for = needs  # a part that is shown and hidden has the whole page laid out anew
        for part, is_shown in shown.items():
            part.setVisible(is_shown)
        is_short = len(self.headline.text()) <= MAX_LARGE_LETTERS and not self.shows_details
        set_role(self.headline, "large" if is_short else "title")
        set_role(self.next, "")
        self.spots.set_dense(False)
        self.suspects.setMinimumHeight(MIN_SUSPECTS_HEIGHT * self.appearance.sizes.normal)
        self.meaning.show_whole(self._meaning)
        self.why.show_whole(self._why)
        self.why.cut(tr("Why is it needed?"))
        self.circuits.keep_rows(MIN_CIRCUITS)
        self.advice.give_room(MIN_ADVICE)
        if self.shows_details:
            self.give_way(
                [
                    lambda: self.meaning.cut(self._meaning_in_short),
                    lambda: set_role(self.headline, "small"),
                    lambda: self.advice.give_room(SCARCE_ADVICE),
                ]
            )
            return
        self.give_way(
            [
                self.essential.hide,
                *([self.not_swept.hide] if self.plan is not None else []),
                lambda: self.spots.set_dense(True),
                lambda: set_role(self.headline, "title"),
                self.why.hide,
                lambda: set_role(self.next, "small"),
                self.plain.hide,
            ]
        )

    def primary_action(self) -> PrimaryAction:
        """See `Page`."""
        waiting, name = self.sweep_controller.waiting, tr("Take the reading")
        if waiting is not None:
            return PrimaryAction(
                name,
                self._switched,
                tr("Waiting for {reading}. Esc cancels.").format(reading=waiting.combination.shown),
                does="switched",
            )
        if self.controller.setup.stated.supply is None:
            return PrimaryAction(tr("Enter what supply the home has"), self._switched, does="supply")
        wanted = self._wanted()
        if wanted is None:
            if self.sweep_controller.is_computing:
                return PrimaryAction(
                    name, self._switched, tr("Tonight's list is being worked out."), does="switched"
                )
            if self.plan is None:
                return PrimaryAction(
                    name, self._switched, why_no_list(self.sweep_controller), does="switched"
                )
            if self.is_contradictory:
                return PrimaryAction(
                    name,
                    self._switched,
                    tr("Void a mistaken reading, or read one of them again."),
                    does="switched",
                )
            return PrimaryAction(
                tr("Go on to the night"), lambda: self.registry.trigger("stage.night"), does="night"
            )
        spot, combination = wanted
        what = tr("take it again") if self.is_contradictory else tr("take it")
        text = tr("Switched ({label}): {what} at “{spot}” once settled")
        return PrimaryAction(
            text.format(label=combination.shown, what=what, spot=spot.name), self._switched, does="switched"
        )

    @property
    def is_contradictory(self) -> bool:
        """Whether readings contradict each other, so that there is no answer."""
        return self.plan is not None and self.plan.state is PlanState.CONTRADICTORY

    def _show_lists(self, plan: SwitchOffPlan) -> None:
        for part, text in (
            (self.plain, plain_rule_text(plan)),
            (self.robust, "\n".join(filter(None, (self._causes_text(plan), alternatives_text(plan))))),
            (self.essential, essential_text(plan)),
        ):
            part.setText(text)

    def _causes_text(self, plan: SwitchOffPlan) -> str:
        """What may be behind readings that contradict each other, numbered, the likeliest first."""
        causes = likely_causes(plan, self.controller.setup.stated.supply)
        return "\n".join(
            tr("{n}. {cause}").format(n=number, cause=cause) for number, cause in enumerate(causes, 1)
        )

    def _show_suspects(self, plan: SwitchOffPlan) -> None:
        rows = suspect_rows(plan, self.controller.snapshot.zone)
        if rows and self.controller.message.text == self.review.contradictions_text(plan):
            self.controller.message = Message("")  # the page has it, and the room is needed
        self._suspect = min(self._suspect, max(len(self.review.suspects(plan)) - 1, 0))
        self.suspects.show_rows(rows, self._suspect if rows else None)

    def _show_spots(self, plan: SwitchOffPlan) -> None:
        if plan.state is not PlanState.CONFIRMED:
            return
        target_volts = plan.target_volts
        chosen = plan.spots.index(self._here(plan)) if len(plan.spots) > 1 else None
        self.spots.show_bars([spot_bar(spot, target_volts) for spot in plan.spots], chosen, target_volts)

    def _show_not_swept(self, plan: SwitchOffPlan | None) -> None:
        """Which spots have not been swept; before anything is known, the caution of the panel."""
        spots = [(spot.id, spot.name) for spot in self.controller.route.indoor_spots()]
        text = tr_all(PANEL_CAUTION) if plan is None else not_swept_text(plan, spots)
        self.not_swept.setText(text)

    def _show_details(self, plan: SwitchOffPlan) -> None:
        """What each circuit gives at the chosen spot, and what can be done."""
        here = self._here(plan)
        target_volts = self.controller.setup.stated.target_volts
        background = here.background.volts if here.background is not None else None
        asks_next = self._wanted() is not None
        # How much of it is in sight, `_make_room` sees.
        self._meaning = circuits_meaning_text(plan, here, asks_next=asks_next)
        self._meaning_in_short = circuits_meaning_in_short(plan, self._meaning, asks_next=asks_next)
        effects = self.sweep_controller.effects()
        bars = circuit_bars(
            here,
            {source_id: effect for (where, source_id), effect in effects.items() if where == here.spot_id},
            supply_in_doubt=bool(plan.supply_doubt),
        )
        self.circuits.show_bars(bars, None, target_volts, background)
        rows = advice_rows(plan, effects)
        last = sum(isinstance(row, ListRow) for row in rows) - 1
        self.advice.show_rows(rows, min(self._read_row, last))

    def _here(self, plan: SwitchOffPlan) -> SpotPlan:
        """The chosen spot, if it was swept; else the first that was."""
        return next(
            (spot for spot in plan.spots if spot.spot_id == self.controller.route.chosen_id),
            plan.spots[0],
        )

    # --- actions -----------------------------------------------------------------------------------------

    def _toggle_details(self) -> None:
        self.shows_details, self._read_row = not self.shows_details, 0
        self.refresh()

    def _why_no_details(self) -> str:
        if self.plan is None:
            return tr("There is no list yet.")
        return tr("What each circuit gives is not known yet.") if self.is_contradictory else ""

    def _chosen_suspect(self) -> Reading | None:
        """The suspect that the actions are about; None while no readings contradict each other."""
        suspects = self.review.suspects(self.plan)
        return suspects[min(self._suspect, len(suspects) - 1)] if suspects else None

    def _void(self) -> None:
        suspect = self._chosen_suspect()
        if suspect is not None:
            self.question_requested.emit(void_prompt(self.review, suspect, self.question_requested.emit))

    def _why_no_suspect(self) -> str:
        return "" if self._chosen_suspect() is not None else tr("No readings contradict each other.")

    def _ask_supply(self) -> None:
        self.question_requested.emit(supply_prompt(self.sweep_controller))

    def _choose_suspect(self, row: int) -> None:
        self._suspect = row
        self.refresh()

    def _choose_advice(self, row: int) -> None:
        self._read_row = row

    def _wanted(self) -> tuple[Spot, Combination] | None:
        """What Space reads: the chosen suspect again, or what is read next on any page."""
        suspect = None if self.sweep_controller.is_computing else self._chosen_suspect()
        again = self.review.combination_of(suspect) if suspect is not None else None
        return again or self.sweep_controller.next_on_tonight()

    def _choose(self, row: int) -> None:
        if self.plan is not None:
            self.controller.route.chosen_id = self.plan.spots[row].spot_id
            self.refresh()

    def _switched(self) -> None:
        if self.controller.setup.stated.supply is None:
            self._ask_supply()
            return
        wanted = self._wanted()
        if wanted is None:
            return
        spot, combination = wanted
        self.controller.route.chosen_id = spot.id
        self.sweep_controller.choose(combination)
        self.sweep_controller.switched()
