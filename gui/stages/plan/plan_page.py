"""The page of the stage Plan: what can be done, what the ticked remedies would bring, and what was done and proven."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QDialog

from gui.actions.menus import add_context_menu
from gui.actions.registry import ActionRegistry
from gui.model.plan_controller import Key, PlanController, key_of
from gui.model.report_controller import ReportController
from gui.shell.question import Choice, Question
from gui.stages.plan.plan_content import (
    detail_lines,
    in_groups,
    least_effort_text,
    remedy_rows,
    spot_bars,
    status_words,
)
from gui.stages.plan.remedy_dialogs import DAY_FORM, DoneDialog, OwnRemedyDialog, why_no_day
from gui.widgets.appearance import Appearance, label
from gui.widgets.bar_chart import BarChart
from gui.widgets.foldable_text import FoldableText
from gui.widgets.page import Page, PrimaryAction
from gui.widgets.row_list import RowList
from logger.cautions import ELECTRICIAN_DECIDES
from logger.metrology.reference_answers import ReferenceAnswers
from logger.metrology.rounding import plain
from logger.name_list import joined
from logger.plan.planned_remedy import PlannedRemedy, RemedyPlan, RouteStop
from logger.plan.remedy_kinds import Who
from logger.plan.remedy_text import nothing_found_text, stop_text, way_out
from logger.translation import marked, tr, tr_n
from logger.visit.records.remedy_records import RemedyDecision, RemedyEntry
from logger.visit.storage.time_zone import local_time

NOTHING_CHOSEN = marked("Choose a remedy in the list first.")

MIN_ROWS = 5
"""Rows and headings of the list that are in sight, whatever stands below it."""

MIN_ROWS_WITH_BARS = 2
"""The same in a low window while something is ticked, so that what it brings is in sight as well."""

NOTHING_UNSTATED = marked("Nothing that is missing in Prepare stands against the chosen remedy.")

IN_MENU = (
    "plan.tick", "plan.plan", "plan.done", "plan.read", "plan.state", "plan.same", "",
    "plan.undone", "plan.not_wanted", "plan.note", "plan.own", "plan.print",
)  # fmt: skip


# long: the list, the bars and what is asked about a remedy belong to one page
class PlanPage(Page):
    """The stage Plan.

    Args:
        plan_controller: the work of the stage.
        report_controller: writes the plan to be printed.
        appearance: theme and sizes.
        actions: the actions of the window.
    """

    place = "plan"

    def __init__(
        self,
        plan_controller: PlanController,
        report_controller: ReportController,
        appearance: Appearance,
        actions: ActionRegistry,
    ) -> None:
        super().__init__(plan_controller.controller, appearance, actions)
        self.plan_controller = plan_controller
        self.report_controller = report_controller
        self._remedies: list[PlannedRemedy] = []
        self.chosen = 0
        """The row that the actions are about."""
        self._wanted: Key | None = None
        """The remedy whose row is chosen once the plan has it."""
        self._lines: list[str] = []
        """All that is known of the chosen remedy."""
        self._least = ""
        """What is said of the set of least effort."""
        self._has_bars = False
        """Whether something is ticked, of which bars show what it brings."""
        self._made_room_for: tuple[object, ...] = ()
        """What the room was last made for: the page's size, and what its parts show."""
        self.headline = label("", "title")
        self.missing = label("", "small")
        self.rows = RowList(appearance, tr("Remedies"), min_rows=MIN_ROWS)
        self.rows.row_chosen.connect(self._choose)
        self.rows.row_activated.connect(lambda _: actions.trigger("plan.tick"))
        self.rows.tick_clicked.connect(self._click_tick)
        add_context_menu(self.rows, actions, *IN_MENU)
        self.detail = FoldableText("quiet")
        self.brings = label("", "heading")
        self.spots = BarChart(appearance, tr("What the ticked remedies leave at each spot"), whole=True)
        self.least = FoldableText("small")
        self._buttons = self.make_buttons(
            "plan.least",
            "plan.plan",
            "plan.done",
            "plan.read",
            "plan.state",
            "plan.same",
            "plan.missing",
            more=("plan.tick", "plan.undone", "plan.not_wanted", "plan.note", "plan.own", "plan.print"),
        )
        self._bind(actions)
        self.column.addWidget(self.headline)
        self.column.addWidget(self.missing)
        self.column.addWidget(self._buttons)
        self.column.addWidget(self.rows, 12)
        self.column.addWidget(self.brings)
        self.column.addWidget(self.spots)
        self.column.addLayout(self.least)
        self.column.addLayout(self.detail)
        self.restyles(self.rows, self.spots)
        self.refresh()

    def _bind(self, actions: ActionRegistry) -> None:
        actions.bind("plan.tick", self._tick, self._why_not_tick)
        actions.bind("plan.least", self._tick_least, self._why_no_least)
        actions.bind("plan.plan", self._plan, self._why_not_plan)
        actions.bind("plan.done", self._ask_done, self._why_not_done)
        actions.bind("plan.undone", self._ask_undone, self._why_not_undone)
        actions.bind("plan.not_wanted", self._not_wanted, self._why_not_unwanted)
        actions.bind("plan.note", self._ask_due, self._why_no_note)
        actions.bind("plan.own", self._ask_own)
        actions.bind("plan.read", self._read, self._why_not_read)
        actions.bind("plan.state", lambda: self.registry.trigger("stage.prepare"), self._why_nothing_to_state)
        actions.bind("plan.same", self._ask_same, self._why_not_same)
        actions.bind("plan.missing", self._go_to_missing, self._why_nothing_missing)
        actions.bind("plan.print", self.report_controller.print_plan, self._why_not_print)

    # --- what is shown -----------------------------------------------------------------------------------

    @property
    def remedy(self) -> PlannedRemedy | None:
        """The chosen remedy; None where the list is empty."""
        return self._remedies[min(self.chosen, len(self._remedies) - 1)] if self._remedies else None

    def refresh(self) -> None:
        """See `StyledWidget`."""
        if not self.isVisibleTo(self.window()) and self.plan_controller.shown is None:
            return  # nobody looks: what takes a second begins with the stage
        if (question := self.report_controller.take_replace_question()) is not None:
            why, replace = question
            self.question_requested.emit(
                Question(tr("Replace the file?"), why, (Choice(tr("Replace it"), replace),))
            )
        plan = self.plan_controller.plan()
        self.headline.setText(self._headline(plan))
        self.missing.setText(self._missing(plan))
        self.missing.setVisible(bool(self.missing.text()))
        self._remedies = in_groups(plan) if plan is not None else []
        if self._wanted is not None and self._wanted in (keys := list(map(key_of, self._remedies))):
            self.chosen, self._wanted = keys.index(self._wanted), None
        self.rows.show_rows(
            remedy_rows(self._remedies, self.plan_controller.is_ticked),
            min(self.chosen, len(self._remedies) - 1) if self._remedies else None,
        )
        self.rows.setVisible(bool(self._remedies))
        remedy = self.remedy
        self._lines = detail_lines(remedy) if remedy is not None else []
        self._show_brings(plan)
        self._least = self._least_text(plan)
        self._make_room()
        buttons = self._buttons.buttons
        buttons["plan.missing"].setVisible(plan is not None and bool(plan.why_open))
        buttons["plan.least"].setVisible(not self._why_no_least())
        buttons["plan.read"].setVisible(not self._why_not_read())
        buttons["plan.state"].setVisible(not self._why_nothing_to_state())
        buttons["plan.same"].setVisible(not self._why_not_same())

    def _make_room(self) -> None:
        """What is set closer or folded first where the window is too low for everything."""
        needs = (
            self.width(), self.room_height(), self.appearance, self._least, self._lines, self.spots.bars,
            self._has_bars,
        )  # fmt: skip
        if needs == self._made_room_for:
            return
        self._made_room_for = needs
        self.spots.set_dense(False)
        self.rows.give_room(MIN_ROWS)
        self.least.show_whole(self._least)
        self.detail.show_whole("\n".join(self._lines))
        self.give_way(
            [
                lambda: self.detail.cut(" ".join(self._lines[:1])),
                lambda: self.spots.set_dense(True),
                lambda: self.least.cut(self._least.partition(". ")[0]),
                lambda: self.rows.give_room(
                    MIN_ROWS_WITH_BARS if self._has_bars else MIN_ROWS, is_short=True
                ),
            ]
        )

    def _headline(self, plan: RemedyPlan | None) -> str:
        if plan is None:
            return tr("The plan is being worked out …")
        if self.plan_controller.is_computing:
            text = tr("The plan is being worked out again; this is the last one.")
        elif not plan.remedies:
            text = nothing_found_text(plan)
        else:
            kept = [remedy for remedy in plan.remedies if remedy.kept is not None and remedy.is_chosen]
            text = tr("{planned} planned or done, target {target} V").format(
                planned=len(kept), target=plain(plan.target_volts)
            )
        return " ".join((tr("Simulated."), text)) if plan.simulated else text

    def _missing(self, plan: RemedyPlan | None) -> str:
        parts = []
        if earlier := self.plan_controller.open_of_earlier():
            text = tr_n(
                "{n} open remedy from {visit}: {remedies}.",
                "{n} open remedies from {visit}: {remedies}.",
                len(earlier),
            )
            visit = earlier[0].kept.from_visit if earlier[0].kept else ""
            names = joined([f"{remedy.shown} ({status_words(remedy)})" for remedy in earlier])
            parts.append(text.format(n=len(earlier), visit=visit, remedies=names))
        if plan is not None and plan.why_open:
            parts.append(tr("Not confirmed. {why}").format(why=plan.why_open))
        stop = self.plan_controller.next_stop()
        if stop is not None:
            parts.append(stop_text(stop))
        return "\n".join(parts)

    def _show_brings(self, plan: RemedyPlan | None) -> None:
        predicted = self.plan_controller.predicted()
        ticked = len(self.plan_controller.ticked())
        text = tr_n("With the ticked remedy", "With the {n} ticked remedies", ticked).format(n=ticked)
        self._has_bars = bool(predicted)
        self.brings.setText(text if predicted else "")
        self.brings.setVisible(bool(predicted))
        self.spots.setVisible(bool(predicted))
        if plan is not None and predicted:
            self.spots.show_bars(spot_bars(predicted, plan.target_volts), None, plan.target_volts)

    def _least_text(self, plan: RemedyPlan | None) -> str:
        text = least_effort_text(plan) if plan is not None else ""
        if self._remedies and any(remedy.facts.who is Who.ELECTRICIAN for remedy in self._remedies):
            text = f"{text} {tr(ELECTRICIAN_DECIDES)}".strip()
        return text

    def primary_action(self) -> PrimaryAction:
        """See `Page`."""
        controller, trigger = self.plan_controller, self.registry.trigger
        if to_plan := controller.to_plan():
            text = tr_n("Plan what is ticked", "Plan the {n} ticked remedies", len(to_plan)).format(
                n=len(to_plan)
            )
            return PrimaryAction(text, lambda: trigger("plan.plan"), does="plan")
        if stops := controller.stops():
            text = tr("Read “{spot}” again").format(spot=stops[0].spot_name)
            return PrimaryAction(text, lambda: self._go_and_read(stops), does="read")
        if not self._why_nothing_to_state():
            return PrimaryAction(
                tr("State what is missing in Prepare"), lambda: trigger("plan.state"), does="state"
            )
        if not self._why_nothing_missing():
            return PrimaryAction(tr("Read what is missing"), lambda: trigger("plan.missing"), does="missing")
        if not controller.ticked() and not self._why_no_least():
            return PrimaryAction(
                tr("Tick the least effort that reaches the target")
                if controller.shown is not None and controller.shown.reaches_target
                else tr("Tick what comes closest to the target"),
                lambda: trigger("plan.least"),
                does="least",
            )
        return PrimaryAction(tr("Go on to the report"), lambda: trigger("stage.report"), does="report")

    def _choose(self, row: int) -> None:
        self.chosen = row
        self.refresh()
        self.choice_made.emit()

    def _click_tick(self, row: int) -> None:
        self.chosen = row
        self.registry.trigger("plan.tick")

    # --- ticking -----------------------------------------------------------------------------------------

    def _tick(self) -> None:
        if (remedy := self.remedy) is not None:
            self.plan_controller.tick(remedy)
            self.refresh()

    def _why_not_tick(self) -> str:
        remedy = self.remedy
        if remedy is None:
            return tr(NOTHING_CHOSEN)
        if remedy.not_wanted:
            return tr("It is not wanted. “Plan it” takes it in again.")
        return tr("It is done, and counts.") if remedy.is_done else ""

    def _tick_least(self) -> None:
        self.plan_controller.tick_least_effort()
        ticked = map(key_of, filter(self.plan_controller.is_ticked, self._remedies))
        self._wanted = next(ticked, None)
        self.refresh()

    def _why_no_least(self) -> str:
        plan = self.plan_controller.shown
        if plan is None:
            return tr("The plan is not worked out yet.")
        if plan.least_effort:
            return ""
        return plan.why_open or tr("No set of remedies is needed, or none brings anything.")

    # --- decisions ---------------------------------------------------------------------------------------

    def _to_plan(self) -> list[PlannedRemedy]:
        if to_plan := self.plan_controller.to_plan():
            return to_plan
        remedy = self.remedy
        return [remedy] if remedy is not None and not remedy.is_chosen else []

    def _why_not_plan(self) -> str:
        if self._to_plan():
            return ""
        return tr(NOTHING_CHOSEN) if self.remedy is None else tr("It is planned or done already.")

    def _plan(self) -> None:
        remedies = self._to_plan()
        names = joined([remedy.shown for remedy in remedies])
        self.plan_controller.decide(
            remedies,
            RemedyEntry(0, RemedyDecision.PLANNED),
            tr("plan “{remedy}”").format(remedy=names),
            tr("Planned: {remedies}.").format(remedies=names),
        )

    def _why_not_done(self) -> str:
        remedy = self.remedy
        if remedy is None:
            return tr(NOTHING_CHOSEN)
        return tr("It is done already.") if remedy.is_done else ""

    def _today(self) -> date:
        return local_time(self.controller.clock.utc_ns(), self.controller.snapshot.zone).date()

    def _ask_done(self) -> None:
        remedy = self.remedy
        if remedy is None:
            return

        def keep(day: str, by_whom: str, note: str) -> str | None:
            entry = RemedyEntry(0, RemedyDecision.DONE, done_on=day, by_whom=by_whom, note=note)
            said = tr("Done: {remedy}. Read again now to prove what it brought.").format(remedy=remedy.shown)
            name = tr("“{remedy}” is done").format(remedy=remedy.shown)
            return self._refusal(self.plan_controller.decide([remedy], entry, name, said))

        practitioner = self.controller.log.practitioner.current().name
        self._open(
            DoneDialog(remedy.shown, self._today(), remedy.facts.who, practitioner, keep, self.window())
        )

    def _refusal(self, is_kept: object) -> str | None:
        return None if is_kept else self.controller.message.text

    def _open(self, dialog: QDialog) -> None:
        dialog.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        dialog.finished.connect(lambda _: self.refresh())
        dialog.open()

    def _why_not_undone(self) -> str:
        remedy = self.remedy
        if remedy is None:
            return tr(NOTHING_CHOSEN)
        return "" if remedy.is_chosen else tr("It is neither planned nor done.")

    def _ask_undone(self) -> None:
        remedy = self.remedy
        if remedy is None:
            return

        def undone(note: str) -> str | None:
            said = tr("No longer planned or done: {remedy}. What was before stays in the log.")
            is_kept = self.plan_controller.decide(
                [remedy],
                RemedyEntry(0, RemedyDecision.UNDONE, note=note.strip()),
                tr("“{remedy}” is undone").format(remedy=remedy.shown),
                said.format(remedy=remedy.shown),
            )
            return None if is_kept else self.controller.message.text

        self.question_requested.emit(
            Question(
                tr("Is it undone again?"),
                tr("{remedy}\nType a reason, if you like.").format(remedy=remedy.shown),
                (Choice(tr("It is undone now"), lambda: undone("")),),
                on_text=undone,
            )
        )

    def _why_not_unwanted(self) -> str:
        remedy = self.remedy
        if remedy is None:
            return tr(NOTHING_CHOSEN)
        if remedy.not_wanted:
            return tr("That is stated already.")
        return tr("It is done. “Undone again” comes first.") if remedy.is_done else ""

    def _not_wanted(self) -> None:
        if (remedy := self.remedy) is not None:
            self.plan_controller.decide(
                [remedy],
                RemedyEntry(0, RemedyDecision.NOT_WANTED),
                tr("“{remedy}” is not wanted").format(remedy=remedy.shown),
                tr("Not wanted: {remedy}. It is in no set any more.").format(remedy=remedy.shown),
            )

    def _why_no_note(self) -> str:
        remedy = self.remedy
        if remedy is None:
            return tr(NOTHING_CHOSEN)
        if remedy.is_done:
            return tr("It is done. A note is asked for when that is stated.")
        return "" if remedy.is_chosen else tr("Plan it first.")

    def _ask_due(self) -> None:
        remedy = self.remedy
        if remedy is None or remedy.kept is None:
            return
        kept = remedy.kept

        def until(day: str) -> None:
            self.question_requested.emit(
                Question(
                    tr("A note?"),
                    remedy.shown,
                    on_text=lambda note: self._keep_note(remedy, day, note),
                    prefilled=kept.note,
                    enter_text=tr("Keep it"),
                )
            )

        def typed(text: str) -> str | None:
            if why := why_no_day(text):
                return why
            until(text.strip())
            return None

        self.question_requested.emit(
            Question(
                tr("Until when is it to be done?"),
                f"{remedy.shown}\n{tr(DAY_FORM)}",
                (Choice(tr("No date"), lambda: until("")),),
                on_text=typed,
                why_invalid=why_no_day,
                prefilled=kept.due,
            )
        )

    def _keep_note(self, remedy: PlannedRemedy, day: str, note: str) -> str | None:
        is_kept = self.plan_controller.decide(
            [remedy],
            RemedyEntry(0, RemedyDecision.PLANNED, due=day, note=note.strip()),
            tr("note on “{remedy}”").format(remedy=remedy.shown),
            tr("Kept: {remedy}").format(remedy=remedy.shown),
        )
        return None if is_kept else self.controller.message.text

    def _ask_own(self) -> None:
        spots = self.controller.snapshot.spots
        here = self.remedy.spot_id if self.remedy is not None else None
        here = here or self.controller.route.chosen_id
        chosen = next((place for place, spot in enumerate(spots) if spot.id == here), -1)

        def keep(text: str, spot_id: int | None, by_whom: str) -> str | None:
            own = self.plan_controller.add_own(text, spot_id, by_whom)
            self._wanted = key_of(own) if own is not None else self._wanted
            return self._refusal(own)

        self._open(OwnRemedyDialog(spots, chosen, keep, self.window()))

    # --- readings ----------------------------------------------------------------------------------------

    def _why_not_read(self) -> str:
        if self.plan_controller.next_stop(self.remedy) is not None:
            return ""
        return tr("Nothing waits for a reading. First state what is done.")

    def _read(self) -> None:
        self._go_and_read(self.plan_controller.stops(self.remedy))

    def _go_and_read(self, stops: Sequence[RouteStop]) -> None:
        if stops:
            self.registry.trigger("stage.spots")
            self.plan_controller.read(stops)

    def _why_nothing_to_state(self) -> str:
        result = self.remedy.result if self.remedy is not None else None
        return "" if result is not None and way_out(result) and result.not_stated else tr(NOTHING_UNSTATED)

    def _why_not_same(self) -> str:
        result = self.remedy.result if self.remedy is not None else None
        if result is None or not result.wide_readings:
            return tr("No reading of the chosen remedy was taken before something was stated.")
        return ""

    def _ask_same(self) -> None:
        remedy = self.remedy
        if remedy is None or remedy.result is None:
            return
        numbers = joined([str(id_) for id_ in remedy.result.wide_readings])
        answers = ReferenceAnswers.of(self.controller.snapshot.setup).words
        self.question_requested.emit(
            Question(
                tr("Was it the same when they were read?"),
                tr(
                    "Readings {numbers} were taken before this was stated: {answers}. Say yes only if you know that "
                    "nothing of it was otherwise. It is kept as a correction, and can be undone."
                ).format(numbers=numbers, answers=answers),
                (
                    Choice(
                        tr("Yes, it was all the same"),
                        lambda: self.plan_controller.count_as_stated_now(remedy),
                    ),
                    Choice(tr("I do not know: read them again"), lambda: self.registry.trigger("plan.read")),
                ),
            )
        )

    def _why_nothing_missing(self) -> str:
        plan = self.plan_controller.shown
        if plan is None:
            return tr("The plan is not worked out yet.")
        return "" if plan.why_open else tr("Nothing is missing: the findings are proved.")

    def _go_to_missing(self) -> None:
        has_sweep = self.controller.sweep_state is not None
        self.registry.trigger("tonight.show" if has_sweep else "sweep.show")

    def _why_not_print(self) -> str:
        if any(remedy.newest is not None for remedy in self.controller.snapshot.remedies):
            return self.report_controller.why_busy()
        return tr("Nothing is planned yet.")
