"""Which page is in sight, and which stretch the trace shows with it."""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QApplication, QWidget
from shiboken6 import isValid

from gui.model.night_controller import RESUMMARISE_AFTER_S
from gui.model.stages import NIGHT, SOURCES, SPOTS, Stage
from gui.model.visit_access import Message
from gui.model.visit_controller import VisitController
from gui.shell.stage_list import StageList
from gui.trace.time_window import ViewRange
from gui.trace.trace_plot import TracePlot
from gui.widgets.page import Page
from gui.window.stage_pages import StagePages
from logger.translation import tr


class Navigator:
    """Goes from stage to stage, and to the pages that any stage can open.

    Args:
        controller: the visit.
        pages: all pages.
        stage_list: shows the stage that the work is at.
        trace: shows the whole night on the stage Night.
        redraw: shows what is known now, after a stage was chosen.
        give_keyboard: lets keys go to the page in sight, after a stage was chosen.
        close_question: takes an open question away unanswered.
    """

    def __init__(
        self,
        controller: VisitController,
        pages: StagePages,
        stage_list: StageList,
        trace: TracePlot,
        redraw: Callable[[], None],
        give_keyboard: Callable[[], None],
        close_question: Callable[[], None],
    ) -> None:
        self._controller = controller
        self._pages = pages
        self._stage_list = stage_list
        self._trace = trace
        self._redraw = redraw
        self._give_keyboard = give_keyboard
        self._close_question = close_question
        self._range_before_night: ViewRange | None = None
        """What the trace showed before the stage Night; None elsewhere."""
        self._came_from: QWidget | None = None
        """What had the keyboard before a page was opened that any stage can open; None once that was left."""
        trace.whole_s = self._whole_night

    @property
    def stage(self) -> Stage:
        """The stage that the work is at."""
        return self._stage_list.current

    def go_to(self, stage: Stage) -> None:
        """Show a stage's page; a question of another stage is closed unanswered, hands-free reading ends."""
        self._came_from = None
        if stage is not self.stage:
            self._close_question()
        controller = self._controller
        if stage is not SPOTS and controller.hands_free.is_armed:
            controller.hands_free.disarm()
            controller.message = Message(tr("Hands-free reading ended: the page of the spots was left."))
        self._stage_list.current = stage
        self._trace.ask_for_labels(stage is SOURCES)
        self._pages.show_stage(stage)
        if stage is NIGHT:
            self._show_night()
        else:
            self._leave_night()
        self._redraw()
        self._give_keyboard()

    def go_back(self) -> None:
        """Show the page of the stage that the work is at; the keyboard goes back to where it was there."""
        part = self._came_from
        self.go_to(self._stage_list.current)
        if part is not None and isValid(part) and part.isVisible() and part.isEnabled():
            part.setFocus(Qt.FocusReason.OtherFocusReason)

    def toggle(self, page: Page) -> None:
        """Show a page that any stage can open; the stage again when it is shown already."""
        if self._pages.current is page:
            self.go_back()
        else:
            self._came_from = QApplication.focusWidget()
            self._pages.show(page)

    def show_stretch(self, start_s: float, end_s: float) -> None:
        """Show a stretch of the trace; a whole night that is still being recorded is followed.

        Args:
            start_s: on the trace's time line.
            end_s: on the trace's time line.
        """
        if self._goes_on(end_s) and start_s <= 1.0:
            self._trace.show_all()
        else:
            self._trace.show_stretch(start_s, end_s)

    def _whole_night(self) -> tuple[float, float] | None:
        """The whole night, on its stage; one that goes on is followed, as is the whole trace."""
        whole = self._pages.night.morning.whole()
        return None if self.stage is not NIGHT or whole is None or self._goes_on(whole[1]) else whole

    def _goes_on(self, end_s: float) -> bool:
        """Whether a night with that end is still being recorded."""
        snapshot = self._controller.snapshot
        return snapshot.recording and end_s >= snapshot.now_s - RESUMMARISE_AFTER_S

    def _show_night(self) -> None:
        if self._range_before_night is not None:
            return
        self._range_before_night = self._trace.view_range
        whole = self._pages.night.morning.whole()
        if whole is None:
            self._trace.show_all()
        else:
            self.show_stretch(*whole)

    def _leave_night(self) -> None:
        if self._range_before_night is not None:
            self._trace.view_range, self._range_before_night = self._range_before_night, None
