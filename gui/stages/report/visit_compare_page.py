"""The page Compare of the stage Report: this visit beside another one, spot by spot, with what may be said of each."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from functools import partial
from pathlib import Path

from PySide6.QtGui import QResizeEvent

from gui.actions.registry import ActionRegistry
from gui.model.example_visits import examples_beside, unpack_examples
from gui.model.report_controller import ReportController
from gui.model.report_jobs import HomeQuestion
from gui.model.visit_access import Message
from gui.model.wording import date_text, short_condition
from gui.shell.question import Choice, Question
from gui.stages.verdict_badges import comparison_badge
from gui.widgets.appearance import Appearance, label, set_role
from gui.widgets.foldable_text import FoldableText
from gui.widgets.page import PrimaryAction, TabPage
from gui.widgets.row_list import RowList
from gui.widgets.row_model import ListRow
from gui.widgets.visit_file_dialog import choose_text_file, choose_visit_file
from logger.errors import StillvoltError
from logger.metrology.rounding import rounded, rounded_change
from logger.report.compare.compared_visit import ComparedVisit
from logger.report.compare.comparison import Comparison, SpotChange
from logger.report.compare.listing import details_text, summary_text
from logger.report.compare.spot_matching import HOW_WORDS
from logger.report.compare.value_change import ValueChange
from logger.report.output_paths import comparison_path
from logger.translation import marked, tr, tr_kept
from logger.visit.storage.visit_brief import read_brief
from logger.visit.storage.visit_folder import visits_in

MIN_SPOTS = 4
"""So many spots compared are in sight where the page is low."""


class VisitComparePage(TabPage):
    """Which visits, then a row a spot and condition; Enter corrects which spot is which.

    Args:
        report_controller: what the window does on the stage Report.
        appearance: theme and sizes.
        actions: the actions of the window.
    """

    page_name = marked("Compare")
    place = "report.compare"

    def __init__(
        self, report_controller: ReportController, appearance: Appearance, actions: ActionRegistry
    ) -> None:
        super().__init__(report_controller.controller, appearance, actions)
        self.report_controller = report_controller
        self.chosen = 0
        self._made_room_for: tuple[object, ...] = ()
        """What the room was last made for: the comparison, and the page's size."""
        self.choose_path: Callable[[Path], Path | None] = choose_visit_file
        """Shows the system's dialog on a folder; a test gives its own."""
        self.choose_file: Callable[[Path], Path | None] = choose_text_file
        """Shows the system's dialog for a file to be written; a test gives its own."""
        self.summary = label("")
        self.head = FoldableText("small")
        self.notes = FoldableText("quiet")
        self.rows = RowList(appearance, tr("Spots compared"))
        self.rows.row_chosen.connect(self._choose)
        self.rows.row_activated.connect(lambda _: actions.trigger("compare.which_spot"))
        actions.bind("compare.which_spot", self._ask_match, self._why_no_row)
        actions.bind("compare.save", self._save, self._why_no_row)
        self._buttons = self.make_buttons(
            "compare.save", "compare.which_spot", "practice.examples", "view.back"
        )
        self.column.addWidget(self.summary)
        self.column.addLayout(self.head)
        self.column.addLayout(self.notes)
        self.column.addWidget(self.rows, 1)
        self.column.addWidget(self._buttons)
        self.restyles(self.rows)
        self.refresh()

    def refresh(self) -> None:
        """See `StyledWidget`."""
        question = self.report_controller.take_home_question()
        if question is not None:
            self._ask_home(question)
        found = self.report_controller.comparison
        self.notes.setVisible(found is not None and bool(found.notes))
        self.summary.setVisible(found is not None)
        if found is None:
            self.head.show_whole(
                tr(
                    "Choose the visit to compare with, such as the one of a year ago. Spots are matched by name; where "
                    "that is wrong, Enter on its row corrects it. To try it, open an example visit and compare it with "
                    "the other."
                )
            )
            self.rows.show_rows([], None)
            return
        rows = [row for _, row in self._all(found)]
        self.chosen = min(self.chosen, max(len(rows) - 1, 0))
        self.rows.show_rows(rows, self.chosen if rows else None)
        self._make_room()

    def resizeEvent(self, event: QResizeEvent) -> None:
        """See Qt."""
        super().resizeEvent(event)
        self._make_room()

    def _make_room(self) -> None:
        """What goes first where the window is too low for everything."""
        found = self.report_controller.comparison
        needs = (found, self.width(), self.room_height(), self.appearance)
        if found is None or needs == self._made_room_for:  # rows set anew have the whole page laid out anew
            return
        self._made_room_for = needs
        before = tr("Before: {visit}").format(visit=_called(found.before))
        after = tr("After: {visit}").format(visit=_called(found.after))
        head, notes = f"{before}\n{after}", found.notes_without_options
        dates = [_day_of(visited) for visited in (found.before, found.after)]
        short_head = tr("{before}, then {after}.").format(before=dates[0], after=dates[1])
        # The first one says most: that it is not surely one home, or that a file is damaged.
        first = "".join(notes[:1]).removesuffix(".")
        cut_notes = partial(self.notes.cut, f"{first}.")
        self.summary.setText(summary_text(found))
        set_role(self.summary, "")
        self.head.show_whole(head)
        self.notes.show_whole("\n".join(notes))
        self.rows.give_room(MIN_SPOTS)
        self.give_way(
            (
                partial(self.head.cut, short_head),
                partial(set_role, self.summary, "small"),
                partial(self.rows.give_room, MIN_SPOTS, is_short=True),
                *([cut_notes] if len(notes) > 1 else []),
            )
        )

    def primary_action(self) -> PrimaryAction:
        """See `Page`."""
        return PrimaryAction(
            tr("Choose the visit to compare with"),
            self.ask_visit,
            self.report_controller.why_busy(),
            does="choose",
        )

    def _why_no_row(self) -> str:
        return "" if self.rows.rows else tr("Choose the visit to compare with first.")

    def _save(self) -> None:
        """Ask by the system's dialog where the comparison goes; it has asked about a file that exists already."""
        path = self.choose_file(comparison_path(self.controller.log.path.resolve()))
        if path is not None:
            self.report_controller.save_comparison(path)

    def ask_visit(self) -> None:
        """Ask which visit to compare with."""
        here = self.controller.log.path.resolve()
        folder = self.report_controller.folder
        briefs = [read_brief(path) for path in visits_in(folder) if path.resolve() != here]
        others = [brief for brief in briefs if not brief.is_empty]
        listed = {brief.path.resolve() for brief in others}
        examples = [(e, path) for e, path in examples_beside(here) if path.resolve() not in listed]

        def with_(path: Path) -> Callable[[], None]:
            return lambda: self.report_controller.compare(path)

        def with_example(path: Path) -> Callable[[], None]:
            return lambda: self._compare_with_example(path)

        self.question_requested.emit(
            Question(
                tr("Compare with which visit?"),
                (
                    tr("The last written first, of {folder}.")
                    if others
                    else tr("There is no other in {folder}.")
                ).format(folder=folder),
                (
                    *(
                        Choice(brief.title, with_(brief.path), default=brief is others[0], is_name=True)
                        for brief in others
                    ),
                    Choice(tr("Choose a file..."), self._choose_file, default=not others),
                    *(Choice(example.describe(), with_example(path)) for example, path in examples),
                ),
            )
        )

    def _choose_file(self) -> None:
        path = self.choose_path(self.report_controller.folder)
        if path is not None:
            self.report_controller.compare(path)

    def _compare_with_example(self, path: Path) -> None:
        try:
            unpack_examples(path.parent)
        except StillvoltError as error:
            self.controller.message = Message(str(error), refused=True)
            return
        self.report_controller.compare(path)

    def _ask_home(self, question: HomeQuestion) -> None:
        self.question_requested.emit(
            Question(
                tr("Is it the same home?"),
                " ".join((question.why, tr("Values of two homes cannot be compared."))),
                (
                    Choice(
                        tr("Yes, compare them"),
                        lambda: self.report_controller.compare(question.other, same_home=True),
                    ),
                ),
                escape_text=tr("No, do not compare"),
            )
        )

    def _all(self, found: Comparison) -> list[tuple[SpotChange, ListRow]]:
        rows = []
        for spot in found.spots:
            changes = [c for c in (spot.on, spot.off) if c.verdict != "not read"] or [spot.on]
            rows += [(spot, _row(spot, change)) for change in changes]
        return rows

    def _ask_match(self) -> None:
        found = self.report_controller.comparison
        if found is None:
            return
        spot = self._all(found)[self.chosen][0]
        after, before = spot.pair.after, spot.pair.before
        if after is None:
            if before is not None:
                self._ask_after(found, before.name)
            return
        earlier = [s.pair.before.name for s in found.spots if s.pair.before is not None]

        def is_(name: str) -> Callable[[], None]:
            return lambda: self.report_controller.match(name, after.name)

        answers = [Choice(name, is_(name), is_name=True) for name in earlier]
        if before is not None:
            old = before.name
            answers.append(Choice(tr("None of them"), lambda: self.report_controller.match(old, "")))
        self.question_requested.emit(
            Question(
                tr("What was “{spot}” in the earlier visit?").format(spot=after.name),
                tr("Now matched with “{spot}” ({how}).").format(
                    spot=before.name, how=tr(HOW_WORDS[spot.pair.how])
                )
                if before
                else tr("Not matched now."),
                tuple(answers),
                on_text=lambda text: self.report_controller.match(text, after.name),
                enter_text=tr("That spot"),
                suggest=lambda typed: [n for n in earlier if typed.casefold() in n.casefold()],
            )
        )

    def _ask_after(self, found: Comparison, before: str) -> None:
        later = [s.pair.after.name for s in found.spots if s.pair.after is not None]

        def is_(name: str) -> Callable[[], None]:
            return lambda: self.report_controller.match(before, name)

        self.question_requested.emit(
            Question(
                tr("What is “{spot}” in the later visit?").format(spot=before),
                tr("It is not matched now."),
                tuple(Choice(name, is_(name), is_name=True) for name in later),
                on_text=lambda text: self.report_controller.match(before, text),
                enter_text=tr("That spot"),
                suggest=lambda typed: [n for n in later if typed.casefold() in n.casefold()],
            )
        )

    def _choose(self, row: int) -> None:
        self.chosen = row
        self.refresh()


def _row(spot: SpotChange, change: ValueChange) -> ListRow:
    pair = spot.pair
    called = ""
    if pair.before is not None and pair.after is not None and pair.before.name != pair.after.name:
        called = tr("before: “{spot}” ({how})").format(spot=pair.before.name, how=tr(HOW_WORDS[pair.how]))
    return ListRow(
        spot.name,
        _values(change),
        tr_kept(change.condition),
        change.verdict_text,
        note="\n".join(filter(None, (called, details_text(change)))),
        badge=comparison_badge(change.verdict),
        short=(f"{spot.name} · {short_condition(change.condition)}", _values(change)),
        short_cut=spot.name,
        short_small=change.verdict_text,
    )


def _values(change: ValueChange) -> str:
    """Both values as they are shown beside the verdict: '1.84 → 0.58 V'; the one where there is only one."""
    before, after = change.before, change.after
    if change.change is not None:
        found = change.change
        figures = rounded_change(
            (found.before.volts, found.before.expanded_volts),
            (found.after.volts, found.after.expanded_volts),
            found.difference.expanded_volts,
        )
        first, second = figures.before.volts, figures.after.volts
    elif before is not None and after is not None:
        first, second = rounded(before.volts).volts, rounded(after.volts).volts
    else:
        one = after or before
        return f"{rounded(one.volts).volts} V" if one is not None else ""
    return tr("{before} → {after} V").format(before=first, after=second)


def _called(visited: ComparedVisit) -> str:
    name = visited.household or visited.path.stem
    return tr("{name}, {day} ({file})").format(name=name, day=_day_of(visited), file=visited.path.name)


def _day_of(visited: ComparedVisit) -> str:
    return date_text(date.fromisoformat(visited.date)) if visited.date else tr("no date")
