"""The page Compare of the stage Report: this visit beside another one, spot by spot, with what may be said of each."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from gui.model.report_controller import ReportController
from gui.model.report_jobs import HomeQuestion
from gui.model.visit_access import Message
from gui.shell.prompt import Choice, Prompt
from gui.stages.verdict_badges import comparison_badge
from gui.widgets.appearance import Appearance, label
from gui.widgets.keys import ACTION_OF
from gui.widgets.page import TabPage
from gui.widgets.row_list import RowList
from gui.widgets.row_painter import ListRow
from logger.report.compare.compared_visit import ComparedVisit
from logger.report.compare.comparison import Comparison, SpotChange
from logger.report.compare.listing import details_text
from logger.report.compare.value_change import ValueChange
from logger.visit.storage.visit_folder import visits_in

MAX_CHOICES = 7
"""More choices do not fit into the page."""


class VisitComparePage(TabPage):
    """Which visits, then a row a spot and condition; Enter corrects which spot is which.

    Args:
        report_controller: what the window does on the stage Report.
        appearance: theme and sizes.
    """

    page_name = "Compare"

    def __init__(self, report_controller: ReportController, appearance: Appearance) -> None:
        super().__init__(report_controller.controller, appearance)
        self.report_controller = report_controller
        self.chosen = 0
        self.head = label("", "small")
        self.notes = label("", "quiet")
        self.rows = RowList(appearance)
        self.rows.itemClicked.connect(self._clicked)
        self._hints = self.make_shortcuts(
            ("Space", "choose the other visit"),
            ("Enter", "which spot it was"),
            ("Esc", "back"),
        )
        for part in (self.head, self.notes):
            self.column.addWidget(part)
        self.column.addWidget(self.rows, 1)
        self.column.addWidget(self._hints)
        self.restyles(self.rows)
        self.refresh()

    def refresh(self) -> None:
        """See `StyledWidget`."""
        question = self.report_controller.take_home_question()
        if question is not None:
            self._ask_home(question)
        found = self.report_controller.comparison
        self.notes.setVisible(found is not None and bool(found.notes))
        if found is None:
            self.head.setText(
                "Before and after, or a year apart: Space chooses the other visit. Spots are matched by name; where "
                "that is wrong, Enter corrects it."
            )
            self.rows.show_rows([], None)
            return
        self.head.setText(f"Before: {_called(found.before)}\nAfter: {_called(found.after)}")
        self.notes.setText("\n".join(_without_option(note) for note in found.notes))
        rows = [row for _, row in self._all(found)]
        self.chosen = min(self.chosen, max(len(rows) - 1, 0))
        self.rows.show_rows(rows, self.chosen if rows else None)

    def primary_action(self) -> Message | None:
        """See `Page`."""
        return (
            Message(self.report_controller.busy, refused=True)
            if self.report_controller.busy
            else Message("choose the visit to compare with")
        )

    def handle(self, name: str) -> bool:
        """See `Page`."""
        rows = len(self.rows.rows)
        steps = {"Up": -1, "Down": 1, "PgUp": -6, "PgDown": 6}
        if ACTION_OF.get(name) == "take":
            self.ask_visit()
        elif name in steps:
            self.chosen = min(max(self.chosen + steps[name], 0), max(rows - 1, 0))
        elif name == "Return" and rows:
            self._ask_match()
        else:
            return False
        return True

    def ask_visit(self) -> None:
        """Ask which visit to compare with."""
        here = self.controller.log.path.resolve()
        others = [path for path in visits_in(self.report_controller.folder) if path.resolve() != here]

        def with_(path: Path) -> Callable[[], None]:
            return lambda: self.report_controller.compare(path)

        self.prompt_requested.emit(
            Prompt(
                "Compare with which visit?",
                f"The last written first, of {self.report_controller.folder}. Or type a path.",
                tuple(
                    Choice(str(n), path.stem, with_(path)) for n, path in enumerate(others[:MAX_CHOICES], 1)
                ),
                on_text=lambda text: self.report_controller.compare(
                    self.report_controller.folder / Path(text).expanduser()
                ),
                enter_text="compare",
            )
        )

    def _ask_home(self, question: HomeQuestion) -> None:
        self.prompt_requested.emit(
            Prompt(
                "Is it the same home?",
                f"{question.why} Values of two homes cannot be compared.",
                (
                    Choice(
                        "Y",
                        "Yes, compare them",
                        lambda: self.report_controller.compare(question.other, same_home=True),
                    ),
                ),
                escape_text="No, do not compare",
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

        answers = [Choice(str(n), name, is_(name)) for n, name in enumerate(earlier[:MAX_CHOICES], 1)]
        if before is not None:
            old = before.name
            answers.append(Choice("0", "none of them", lambda: self.report_controller.match(old, "")))
        self.prompt_requested.emit(
            Prompt(
                f"What was “{after.name}” in the earlier visit?",
                f"Now matched with “{before.name}” ({spot.pair.how})." if before else "Not matched now.",
                tuple(answers),
                on_text=lambda text: self.report_controller.match(text, after.name),
                enter_text="that spot",
                suggest=lambda typed: [n for n in earlier if typed.casefold() in n.casefold()],
            )
        )

    def _ask_after(self, found: Comparison, before: str) -> None:
        later = [s.pair.after.name for s in found.spots if s.pair.after is not None]

        def is_(name: str) -> Callable[[], None]:
            return lambda: self.report_controller.match(before, name)

        self.prompt_requested.emit(
            Prompt(
                f"What is “{before}” in the later visit?",
                "It is not matched now.",
                tuple(Choice(str(n), name, is_(name)) for n, name in enumerate(later[:MAX_CHOICES], 1)),
                on_text=lambda text: self.report_controller.match(before, text),
                enter_text="that spot",
                suggest=lambda typed: [n for n in later if typed.casefold() in n.casefold()],
            )
        )

    def _clicked(self, item: object) -> None:
        row = self.rows.row_at(item)  # type: ignore[arg-type]
        if row is not None:
            self.chosen = row
            self.refresh()


def _row(spot: SpotChange, change: ValueChange) -> ListRow:
    pair = spot.pair
    called = ""
    if pair.before is not None and pair.after is not None and pair.before.name != pair.after.name:
        called = f"before: “{pair.before.name}” ({pair.how})"
    return ListRow(
        spot.name,
        change.verdict_text,
        change.condition,
        called,
        note=details_text(change),
        badge=comparison_badge(change.verdict),
    )


def _called(visited: ComparedVisit) -> str:
    name = visited.household or visited.path.stem
    return f"{name}, {visited.date or 'no date'} ({visited.path.name})"


def _without_option(note: str) -> str:
    """A note of the comparison says how the command line corrects a match; here Enter does."""
    return note.partition(" If they are not the same spot:")[0]
