"""The page Morning of the stage Night: what the night was like, hour by hour and fact by fact.

Enter shows the place of a fact in the trace.
"""

from __future__ import annotations

from datetime import datetime, tzinfo
from functools import partial

from PySide6.QtCore import Signal
from PySide6.QtGui import QResizeEvent

from gui.actions.menus import add_context_menu
from gui.actions.registry import ActionRegistry
from gui.model.night_controller import NightController, recording_text
from gui.model.visit_access import Message
from gui.model.wording import date_text
from gui.shell.question import Choice, Question
from gui.stages.night.hours_chart import HoursChart
from gui.widgets.appearance import Appearance, label, set_role
from gui.widgets.badge import GOOD, UNCLEAR, Badge
from gui.widgets.page import PrimaryAction, TabPage
from gui.widgets.row_list import RowList
from gui.widgets.row_model import ListHeading, ListRow
from logger.clock import from_to, month_text
from logger.night.analysis.night_record import Stretch
from logger.night.night_analysis import NightAnalysis
from logger.night.night_facts import EnteredFact, FactGroup, FactKind, NightFact, night_facts
from logger.translation import marked, tr
from logger.visit.storage.time_zone import offset_unlike

MIN_FACTS, FEWEST_FACTS = 6, 3
"""So many facts of the night, with their heading, are in sight where the page is low, and where it is lowest."""

ENTERED_BY = {EnteredFact.CONDITION: "night.condition", EnteredFact.SPOT: "night.spot"}
"""The action that enters a fact."""


class MorningPage(TabPage):
    """The summary.

    Args:
        night_controller: what the window does on the stage Night.
        appearance: theme and sizes.
        actions: the actions of the window.
    """

    page_name = marked("Morning")
    place = "night.morning"
    stretch_requested = Signal(float, float)
    """Show that stretch of the trace: start and end in its seconds."""

    def __init__(
        self, night_controller: NightController, appearance: Appearance, actions: ActionRegistry
    ) -> None:
        super().__init__(night_controller.controller, appearance, actions)
        self.night_controller = night_controller
        self.chosen = 0
        self.facts: list[NightFact] = []
        self._shown: NightAnalysis | None = None
        self._made_room_for: tuple[object, ...] = ()
        """What the room was last made for: the page's size, and what its parts show."""
        self._described: tuple[NightAnalysis, object, list[FactGroup]] | None = None
        """The facts of a night, with the labels of its steps that they were made from."""
        self.headline = label("", "title")
        self.hours = HoursChart(appearance)
        self.hours.clicked.connect(self._show_hour)
        self.hours.edges_dragged.connect(self._drag_edges)
        self.rows = RowList(appearance, tr("Facts of the night"))
        self.rows.row_chosen.connect(self._choose_fact)
        self.rows.row_activated.connect(lambda _: actions.trigger("night.show"))
        entered = ("night.condition", "night.spot")
        rarer = ("night.edges", "night.other")
        add_context_menu(self.rows, actions, "night.show", "night.whole", "", *entered, *rarer)
        self._bind()
        self._buttons = self.make_buttons(
            "night.show",
            "night.condition",
            more=("night.spot", "night.whole", *rarer, "", "night.plan", "night.screen"),
        )
        for part in (self.headline, self.hours):
            self.column.addWidget(part)
        self.column.addWidget(self.rows, 1)
        self.column.addWidget(self._buttons)
        self.restyles(self.hours, self.rows)
        self.refresh()

    # --- what is shown -----------------------------------------------------------------------------------

    def refresh(self) -> None:
        """See `StyledWidget`."""
        if not self.isVisible():  # a night is summed up for who looks at it
            return
        morning = self.night_controller.analysis()
        self.headline.setText(self._headline_text(morning))
        for part in (self.hours, self.rows):
            part.setVisible(morning is not None)
        if morning is None:
            return
        if morning is not self._shown:
            another = self._shown is None or self._shown.night.number != morning.night.number
            self._shown = morning
            if another:
                self._show_whole()
            self.hours.show_night(morning.night, morning.summary, morning.target_volts)
        self._show_facts(morning)
        self._make_room()

    def resizeEvent(self, event: QResizeEvent) -> None:
        """See Qt."""
        super().resizeEvent(event)
        self._make_room()

    def _make_room(self) -> None:
        """What goes first where the window is too low for everything."""
        needs = (
            self.width(), self.room_height(), self.appearance, self.headline.text(), self.rows.row_model.items,
        )  # fmt: skip
        if needs == self._made_room_for:  # rows that are set anew have the whole page laid out anew
            return
        self._made_room_for = (*needs[:-1], list(self.rows.row_model.items))
        self.hours.set_low(False)
        set_role(self.headline, "title")
        self.rows.give_room(MIN_FACTS)
        self.give_way(
            (
                partial(self.hours.set_low, True),
                lambda: set_role(self.headline, "small"),
                lambda: self.rows.give_room(MIN_FACTS, is_short=True),
                lambda: self.rows.give_room(FEWEST_FACTS, is_short=True),
            )
        )

    def primary_action(self) -> PrimaryAction:
        """See `Page`."""
        morning, sum_up = self.night_controller.analysis(), self.night_controller.summarise_again
        if morning is None or self.night_controller.refusal:
            nothing = not (self.night_controller.refusal or self.night_controller.is_computing)
            why_not = tr("Nothing has been recorded yet.") if nothing else ""
            return PrimaryAction(tr("Sum the night up"), sum_up, why_not, does="sum_up")
        snapshot = self.controller.snapshot
        if snapshot.recording and snapshot.live and snapshot.live.run_id in morning.night.run_starts_s:
            ends = morning.night.clock_minute(morning.summary.end_s)
            return PrimaryAction(
                tr("Update the summary: it ends at {time}").format(time=ends),
                sum_up,
                does="sum_up_to_now",
            )
        return PrimaryAction(
            tr("Go on to the plan"), lambda: self.registry.trigger("stage.plan"), does="plan"
        )

    def whole(self) -> Stretch | None:
        """The whole night on the trace's time line; None while it is not known."""
        morning = self.night_controller.analysis()
        if morning is None:
            return None
        return self.night_controller.on_trace(morning.night, (0.0, morning.summary.end_s))

    def _headline_text(self, morning: NightAnalysis | None) -> str:
        if self.night_controller.refusal:
            return self.night_controller.refusal
        if morning is None:
            return (
                tr("The night is being summed up …")
                if self.night_controller.is_computing
                else tr("Nothing has been recorded yet.")
            )
        text = tr("{night} — being summed up anew …") if self.night_controller.is_computing else "{night}"
        return text.format(night=_night_text(morning, self.controller.snapshot.zone))

    def _show_facts(self, morning: NightAnalysis) -> None:
        snapshot = self.controller.snapshot
        labelled = (snapshot.step_labels, snapshot.every_source)
        if self._described is None or self._described[0] is not morning or self._described[1] != labelled:
            names = self.night_controller.step_labels(morning)
            groups = night_facts(morning, names)
            self._described = (morning, labelled, groups)
        groups = self._described[2]
        self.facts = [fact for group in groups for fact in group.facts]
        self.chosen = min(self.chosen, len(self.facts) - 1)
        rows: list[ListRow | ListHeading] = []
        for group in groups:
            rows.append(ListHeading(group.heading))
            planned = group.kind is FactKind.PLANNED
            rows += [
                ListRow(
                    fact.what,
                    fact.text,
                    note=_note(fact),
                    badge=_badge(fact) if planned else None,
                    short=(fact.what, fact.text) if fact.text else None,
                )
                for fact in group.facts
            ]
        self.rows.show_rows(rows, self.chosen)

    # --- actions -----------------------------------------------------------------------------------------

    def _bind(self) -> None:
        def why_nothing() -> str:
            return "" if self.facts else tr("Nothing has been recorded yet.")

        def why_one_night() -> str:
            morning = self.night_controller.analysis()
            several = morning is not None and len(morning.recordings) > 1
            return "" if several else tr("There is one night in this visit.")

        self.registry.bind("night.show", self._jump, why_nothing)
        self.registry.bind("night.whole", self._show_whole, why_nothing)
        self.registry.bind("night.other", self._ask_night, why_one_night)
        self.registry.bind("night.edges", self.ask_edges, why_nothing)

    def _jump(self) -> None:
        fact = self.facts[self.chosen]
        if fact.entered is not None:
            self.registry.trigger(ENTERED_BY[fact.entered])
        elif fact.stretch_s is None or self._shown is None:
            self._show_whole()
        else:
            self.stretch_requested.emit(*self.night_controller.on_trace(self._shown.night, fact.stretch_s))

    def _show_whole(self) -> None:
        whole = self.whole()
        if whole is not None:
            self.stretch_requested.emit(*whole)

    def _show_hour(self, index: int) -> None:
        if self._shown is not None:
            hour = self._shown.summary.hours[index]
            self.stretch_requested.emit(
                *self.night_controller.on_trace(self._shown.night, (hour.start_s, hour.end_s))
            )

    def _choose_fact(self, row: int) -> None:
        self.chosen = row
        self.refresh()

    def _drag_edges(self, start_s: float | None, end_s: float | None) -> None:
        if not self.night_controller.drag_edges(start_s, end_s):
            self.hours.drop_drag()

    def ask_edges(self) -> None:
        """Ask when the night begins and ends."""
        morning = self.night_controller.analysis()
        if morning is None:
            self.controller.message = Message(tr("Nothing has been recorded yet."), refused=True)
            return

        def keep(text: str) -> str | None:
            return None if self.night_controller.type_edges(text) else self.controller.message.text

        night = morning.night
        began_s, ended_s = night.edges.recording_s if night.edges is not None else (0.0, night.record.end_s)
        self.question_requested.emit(
            Question(
                tr("When does the night begin and end?"),
                tr(
                    "The recording covers {began} to {ended}. Type when the night begins and ends, or a single dash "
                    "to use the times that the program found. You can also drag the two lines where the night begins "
                    "and ends in the chart of the hours."
                ).format(began=night.clock_minute(began_s), ended=night.clock_minute(ended_s)),
                on_text=keep,
                prefilled=from_to(*map(night.clock_minute, self.night_controller.edges_s(night))),
                enter_text=tr("Keep them"),
            )
        )

    def _ask_night(self) -> None:
        morning = self.night_controller.analysis()
        if morning is None or len(morning.recordings) < 2:
            self.controller.message = Message(tr("There is one night in this visit."), refused=True)
            return

        def choose(number: int) -> None:
            self.night_controller.choose(number)
            self.chosen = 0

        self.question_requested.emit(
            Question(
                tr("Which night?"),
                tr("The longest night comes first. A recording that is too short for a night comes last."),
                tuple(
                    Choice(recording_text(one), partial(choose, one.number), default=at == 0)
                    for at, one in enumerate(morning.recordings)
                ),
            )
        )


def _night_text(morning: NightAnalysis, zone: tzinfo | None) -> str:
    """Which night is shown: 'Night of 25 to 26 Nov 2026'; a recording that does not count as one is shown too.

    Args:
        morning: the night.
        zone: what the times of the window are shown in; None for that of this computer.
    """
    night = morning.night
    if night.simulated:
        text = tr("Simulated night of {days}") if night.counts else tr("Simulated recording of {days}")
    else:
        text = tr("Night of {days}") if night.counts else tr("Recording of {days}")
    began = night.local(0.0)
    which = text.format(days=_days(began, night.local(morning.summary.end_s)))
    if night.spot.is_known:
        which = tr("{night}, lying at “{place}”").format(night=which, place=night.spot.name)
    if len(morning.recordings) > 1:
        which = tr("{night}, recording {number} of {count}").format(
            night=which, number=night.number, count=len(morning.recordings)
        )
    # Where the clocks change in it, each time has its offset. The window's other times may be those of a later run.
    offset = offset_unlike(began, None, zone)
    if offset and not night.clock_changes:
        which = tr("{night}, times in {offset}").format(night=which, offset=offset)
    return which


def _badge(fact: NightFact) -> Badge:
    """Of a planned switching: found or not."""
    return UNCLEAR if fact.is_missing else GOOD


def _note(fact: NightFact) -> str:
    """The remark on a fact; of what nobody entered, how it is entered."""
    if fact.entered is not None and fact.is_missing:
        return tr("double-click to enter it")
    return fact.note


def _days(began: datetime, ended: datetime) -> str:
    """The day of a night, or both: '25 to 26 Nov 2026'."""
    if began.date() == ended.date():
        return date_text(ended)
    text = (
        tr("{first} to {last} {month} {year}")
        if (began.year, began.month) == (ended.year, ended.month)
        else tr("{first} {first_month} to {last} {month} {year}")
    )
    return text.format(
        first=began.day,
        first_month=month_text(began),
        last=ended.day,
        month=month_text(ended),
        year=ended.year,
    )
