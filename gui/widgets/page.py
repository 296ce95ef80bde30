"""What the pages of all stages have in common: a title, buttons, a primary action, and questions in their place."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from types import MappingProxyType

from PySide6.QtCore import QSize, Qt, Signal
from PySide6.QtGui import QColor, QPainter, QPaintEvent
from PySide6.QtWidgets import QLabel, QScrollArea, QVBoxLayout, QWidget

from gui.actions.action_buttons import ActionButtons
from gui.actions.registry import ActionRegistry
from gui.model.visit_controller import VisitController
from gui.widgets.appearance import Appearance, StyledWidget, VisitWidget, label
from gui.widgets.row_list import RowList
from logger.simulation.practice_switches import GroupKind
from logger.translation import tr

MARGINS, GAP = (18, 14, 18, 10), 8
"""Around the parts of a page and between them, in pixels."""


@dataclass(frozen=True, slots=True)
class PrimaryAction:
    """What the big button and Space do on a page now."""

    text: str
    """What it does, such as: Take 0.27 V for “Bed, lying down”."""
    run: Callable[[], object]
    why_not: str = ""
    """Why it may not run now, in a whole sentence."""
    takes_value: bool = False
    """Whether it takes the value that the readout shows."""
    does: str = field(kw_only=True)
    """What it does in a word that stays while only the text differs; where it changes by itself, that is announced
    and a key of that moment does not count. Empty: nothing, so that a key is for what comes."""


class Page(VisitWidget):
    """One stage's page.

    Args:
        controller: what the window does with the visit.
        appearance: theme and sizes.
        actions: the actions of the window, of which the page binds its own.
    """

    title = ""
    """In English; it goes through `tr` where it is shown. Empty where the first thing on the page says what it is."""
    place = ""
    """Its name in the table of actions; that of a stage ends before the dot."""
    question_requested = Signal(object)
    """A `gui.shell.question.Question` to put in this page's place."""
    choice_made = Signal()
    """The user chose a row: what the big button does may be another thing."""

    def __init__(self, controller: VisitController, appearance: Appearance, actions: ActionRegistry) -> None:
        super().__init__(controller, appearance)
        self.registry = actions
        self._styled_parts: list[StyledWidget | RowList] = []
        self.column = QVBoxLayout(self)
        self.column.setContentsMargins(*MARGINS)
        self.column.setSpacing(GAP)
        if self.title:
            self.column.addWidget(label(tr(self.title), "title"))

    def restyles(self, *parts: StyledWidget | RowList) -> None:
        """Pass every change of theme and sizes on to these parts of the page."""
        self._styled_parts += parts

    def make_buttons(
        self,
        *action_ids: str,
        more: Sequence[str] = (),
        short_texts: Mapping[str, str] = MappingProxyType({}),
    ) -> ActionButtons:
        """Make the buttons of these actions; the page still has to lay them out.

        Args:
            *action_ids: as in the table.
            more: the rarer ones, in the menu of one button behind the others.
            short_texts: by action, instead of its text where what is around names the rest.
        """
        return ActionButtons(self.registry, *action_ids, more=more, short_texts=short_texts)

    def room_height(self) -> int:
        """The height that there is for the page without scrolling, in pixels."""
        around = self.parentWidget()
        area = around.parentWidget() if around is not None else None
        return area.viewport().height() if isinstance(area, QScrollArea) else self.height()

    def is_too_low(self) -> bool:
        """Whether the page's parts need more height than there is."""
        return self.column.minimumHeightForWidth(self.width()) > self.room_height()

    def wanted_height(self) -> int:
        """The height that there is, or more where the page's parts need it, in pixels."""
        return max(self.room_height(), self.column.minimumHeightForWidth(self.width()))

    def give_way(self, steps: Sequence[Callable[[], object]]) -> None:
        """Take one step after the other until the page's parts have room in it."""
        for step in steps:
            if not self.is_too_low():
                return
            step()

    def places(self) -> tuple[str, ...]:
        """The names in the table of actions that are in sight with this page."""
        return (self.place,)

    def used_switches(self) -> tuple[GroupKind, ...]:
        """What is switched in the practice house for the step in hand, the most needed first; empty for nothing."""
        return ()

    def primary_action(self) -> PrimaryAction | None:
        """What the big button does while this page is in sight; None where it does nothing."""
        return None

    def focus_part(self) -> QWidget | None:
        """The part that gets the keyboard when the page comes into sight, such as its list; None for none."""
        return next(
            (
                part
                for part in self.findChildren(QWidget)
                if part.focusPolicy() & Qt.FocusPolicy.ClickFocus
                and not isinstance(part, QLabel)
                and part.isVisibleTo(self)
                and part.isEnabled()
            ),
            None,
        )

    def set_appearance(self, appearance: Appearance) -> None:
        """See `StyledWidget`; the parts of the page take it over first."""
        for part in self._styled_parts:
            part.set_appearance(appearance)
        super().set_appearance(appearance)

    def sizeHint(self) -> QSize:
        """See Qt."""
        return QSize(self.appearance.sizes.normal * 23, 300)

    def paintEvent(self, _: QPaintEvent) -> None:
        """See Qt."""
        QPainter(self).fillRect(self.rect(), QColor(self.appearance.theme.panel))


class TabPage(Page):
    """One of several pages of a stage, which shows its name."""

    page_name = ""
    """In English; it goes through `tr` where it is shown."""
    reading_taken = Signal()
    """A reading was taken, or a step was labelled: the window plays a sound."""
