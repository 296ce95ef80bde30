"""Actions of the practice house: its panel below the trace, and which house it is."""

from __future__ import annotations

from collections.abc import Callable

from gui.model.practice_controller import PracticeController
from gui.model.visit_access import Message
from gui.practice.practice_dock import PracticeDock
from gui.practice.practice_panel import KEYS_TEXT
from gui.shell.question import Choice, Question
from gui.stages.connect.connect_page import ConnectPage
from logger.meter.port import PortSettings
from logger.simulation.practice_switches import control_path_of, is_house
from logger.translation import tr


class PracticeActions:
    """Shows and hides the practice house, and has a night recorded in it.

    Args:
        practice_controller: the house.
        dock: holds its switches.
        connect_page: holds the chosen port.
        panel_shown: is called when the panel has come into sight, for its size.
        start_recording: starts recording from the chosen port.
        ask: shows a question.
        with_condition: does what it is given once what is on in the night was answered.
    """

    def __init__(
        self,
        practice_controller: PracticeController,
        dock: PracticeDock,
        connect_page: ConnectPage,
        panel_shown: Callable[[], None],
        start_recording: Callable[[], None],
        ask: Callable[[Question], None],
        with_condition: Callable[[Callable[[], object]], None],
    ) -> None:
        self._practice = practice_controller
        self._dock, self._panel = dock, dock.panel
        self._connect_page = connect_page
        self._panel_shown = panel_shown
        self._start_recording = start_recording
        self._ask = ask
        self._with_condition = with_condition

    def practise(self) -> None:
        """Show a house that the user switches, and record from it."""
        settings = self._connect_page.settings()
        url = settings.url if control_path_of(settings.url) is not None else self._practice.own_url()
        self._connect_page.use(PortSettings(url))
        self._start_recording()

    def show_house(self, url: str) -> None:
        """Show the house of a port that is switched by a control file, the keyboard staying with the window."""
        if control_path_of(url) is not None and self._practice.open(url):
            self._dock.open()
            self._panel_shown()

    def show_or_hide(self) -> None:
        """Show the panel, or hide it."""
        controller = self._practice.controller
        if self._panel.is_shown:
            self._dock.hide()
            controller.message = Message(tr("The practice house is hidden."))
        elif self._practice.open(self._house_url()):
            self._dock.open()
            self._panel_shown()
            controller.message = Message(tr("The practice house is shown. F6 goes to its switches."))

    def give_keyboard(self) -> None:
        """Give the keyboard to the switches, showing the house where it is hidden; where they have it, back."""
        if self._panel.has_keyboard:
            self._panel.left.emit()
            return
        if not self._panel.is_shown:
            self.show_or_hide()
        if self._panel.is_shown:
            self._panel.activateWindow()  # it may be a window of its own
            self._panel.board.setFocus()
            self._panel.show_chosen()
            self._practice.controller.message = Message(tr(KEYS_TEXT))

    def move_out_or_in(self) -> None:
        """Make it a window of its own, or put it below the trace again."""
        self._dock.move_out_or_in()

    def why_not_move(self) -> str:
        """Why it cannot be moved; empty where it can."""
        return "" if self._panel.is_shown else tr("The practice house is not shown.")

    def why_no_night(self) -> str:
        """Why no night can be recorded or cancelled now; empty where one can."""
        snapshot = self._practice.controller.snapshot
        recorded = snapshot.live.port if snapshot.recording and snapshot.live is not None else ""
        return self._practice.why_no_night(recorded or self._connect_page.settings().url)

    def record_or_cancel_night(self) -> None:
        """Have a night recorded in a minute; cancel it when one is being recorded.

        While the house is recorded, it is asked first whether that ends.
        """
        url, practice = self._house_url(), self._practice
        records_house = practice.controller.snapshot.recording and control_path_of(url) is not None
        if practice.records_night:
            practice.record_or_cancel_night(url)
        elif not practice.open(url):
            return
        elif not records_house:
            self._with_condition(lambda: practice.record_or_cancel_night(url))
        else:
            self._ask(
                Question(
                    tr("Stop recording and begin the night?"),
                    tr(
                        "The night is a recording of its own. It stands under the last evening before this visit: a "
                        "whole night has to be over by now. Everything recorded so far is kept."
                    ),
                    (
                        Choice(
                            tr("Stop recording and begin the night"),
                            lambda: self._with_condition(lambda: practice.stop_and_record_night(url)),
                            default=True,
                        ),
                    ),
                    escape_text=tr("Go on recording"),
                )
            )

    def _house_url(self) -> str:
        """The port that is recorded or chosen.

        A simulated house in which things happen by themselves is replaced by one that is switched, unless it is being
        recorded.
        """
        snapshot = self._practice.controller.snapshot
        if snapshot.recording and snapshot.live is not None:
            return snapshot.live.port
        url = self._connect_page.settings().url
        if not url or (is_house(url) and control_path_of(url) is None):
            url = self._practice.own_url()
            self._connect_page.use(PortSettings(url))
        return url
