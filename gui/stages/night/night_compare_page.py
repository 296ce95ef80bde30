"""The page Before and after of the stage Night: two nights side by side, such as breakers on and breakers off."""

from __future__ import annotations

from functools import partial

from PySide6.QtCore import Signal
from PySide6.QtGui import QResizeEvent, QShowEvent

from gui.actions.registry import ActionRegistry
from gui.model.night_controller import NightController
from gui.model.visit_access import Message
from gui.shell.question import Choice, Question
from gui.stages.night.levels_chart import LevelsChart
from gui.widgets.appearance import Appearance, label, set_role
from gui.widgets.bar_chart import BarChart
from gui.widgets.bar_painter import Bar
from gui.widgets.page import PrimaryAction, TabPage
from logger.night.night_analysis import NightAnalysis, NightPair
from logger.night.night_text import (
    compared_figures,
    conditions_text,
    difference_text,
    parts_text,
    verdict_text,
)
from logger.translation import marked, tr


class NightComparePage(TabPage):
    """The comparison.

    Args:
        night_controller: what the window does on the stage Night.
        appearance: theme and sizes.
        actions: the actions of the window.
    """

    page_name = marked("Before and after")
    place = "night.compare"
    start_requested = Signal()
    """The page is wanted from which a night is recorded."""

    def __init__(
        self, night_controller: NightController, appearance: Appearance, actions: ActionRegistry
    ) -> None:
        super().__init__(night_controller.controller, appearance, actions)
        self.night_controller = night_controller
        self._others_of: NightAnalysis | None = None
        self._has_other = False
        """Whether there is a night to compare with, and for which summary that was looked up: it reads the folder."""
        self.headline = label("", "large")
        self.levels = BarChart(appearance, tr("Levels of the nights"), whole=True)
        self.picture = LevelsChart(appearance)
        self.sentence = label("", "small")
        self._buttons = self.make_buttons("night.compare", "night.screen")
        actions.bind("night.compare", self._ask_other)
        for part in (self.headline, self.levels, self.picture, self.sentence):
            self.column.addWidget(part)
        self.column.addStretch(1)
        self.column.addWidget(self._buttons)
        self.restyles(self.levels, self.picture)
        self.refresh()

    def refresh(self) -> None:
        """See `StyledWidget`."""
        if not self.isVisible():
            return
        found = self.night_controller.side_by_side()
        if self.night_controller.analysis() is not self._others_of:
            self._look_up_others()
        headline, sentence = self._texts(found)
        self.headline.setText(headline)
        self.sentence.setText(sentence)
        compared = found.compared if found is not None else None
        shown = compared is not None and compared.before is not None
        self.levels.setVisible(shown)
        if found is not None:
            self._show_levels(found)
        self._make_room()

    def showEvent(self, event: QShowEvent) -> None:
        """See Qt."""
        super().showEvent(event)
        self._look_up_others()

    def _look_up_others(self) -> None:
        self._others_of = self.night_controller.analysis()
        self._has_other = bool(self.night_controller.other_nights())

    def primary_action(self) -> PrimaryAction:
        """See `Page`."""
        if self._has_other:
            return PrimaryAction(
                tr("Choose the night to compare with"),
                lambda: self.registry.trigger("night.compare"),
                does="compare",
            )
        if self._others_of is None and self.night_controller.is_computing:
            return PrimaryAction(
                tr("Choose the night to compare with"),
                lambda: None,
                tr("The night is being summed up."),
                does="compare",
            )
        text = tr("Record a night") if self._others_of is None else tr("Record a second night")
        return PrimaryAction(text, self.start_requested.emit, does="record")

    def resizeEvent(self, event: QResizeEvent) -> None:
        """See Qt."""
        super().resizeEvent(event)
        self._make_room()

    def _make_room(self) -> None:
        """What goes first where the window is too low for everything."""
        found = self.night_controller.side_by_side()
        self.picture.setVisible(found is not None and found.distributions is not None)
        self.picture.set_low(False)
        self.levels.set_dense(False)
        set_role(self.headline, "large")
        self.give_way(
            (
                partial(set_role, self.headline, "title"),
                partial(self.levels.set_dense, True),
                partial(self.picture.set_low, True),
                self.picture.hide,
            )
        )

    def _show_levels(self, found: NightPair) -> None:
        before, after = found.compared.before, found.compared.after
        figures = compared_figures(found.compared)
        if before is not None and after is not None and figures is not None:
            words, levels = (tr("Before"), tr("After")), (before, after)
            self.levels.show_bars(
                [
                    Bar(when, f"{shown.volts} ± {shown.expanded} V", level.volts, level.expanded_volts, name)
                    for when, name, level, shown in zip(words, found.names, levels, figures[:2], strict=True)
                ],
                None,
                self.controller.setup.stated.target_volts,
            )
        if found.distributions is not None:
            self.picture.show_levels(found.distributions)

    def _texts(self, found: NightPair | None) -> tuple[str, str]:
        if self.night_controller.comparison_refusal:
            return tr("Not comparable"), self.night_controller.comparison_refusal
        if self.night_controller.other is None and not self._has_other:
            return (
                tr("A second night is needed"),
                tr(
                    "Two nights are compared, such as one with the breakers on and one with them off: the same bed, "
                    "posture, meter and reference, and the laptop powered alike. This visit has no other night, "
                    "nor has another visit of its folder."
                ),
            )
        if self.night_controller.other is None:
            return (
                tr("Choose the night to compare with"),
                tr(
                    "Such as a night with the breakers on and one with them off: the same bed, posture, "
                    "meter and reference, and the laptop powered alike."
                ),
            )
        if found is None:
            return tr("The nights are being compared …"), ""
        if found.compared.why_not:
            return tr("Not comparable"), " ".join(
                filter(
                    None,
                    (found.compared.why_not, conditions_text(found.compared), parts_text(found.compared)),
                )
            )
        return (
            tr("After: {verdict}, these two nights only").format(
                verdict=verdict_text(found.compared.verdict)
            ),
            " ".join(
                filter(
                    None,
                    (
                        difference_text(found.compared),
                        conditions_text(found.compared),
                        parts_text(found.compared),
                    ),
                )
            ),
        )

    def _ask_other(self) -> None:
        others = self.night_controller.other_nights()
        self._has_other = bool(others)
        if not others:
            self.controller.message = Message(
                tr("There is no other night, neither in this visit nor in a file NAME.visit of its folder."),
                refused=True,
            )
            return
        self.question_requested.emit(
            Question(
                tr("Compare with which night?"),
                tr("Whichever was recorded earlier counts as before."),
                tuple(
                    Choice(
                        other.label,
                        partial(self.night_controller.compare_with, other),
                        default=other is others[0],
                    )
                    for other in others
                ),
            )
        )
