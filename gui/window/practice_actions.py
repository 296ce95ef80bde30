"""Actions of the practice house: its panel below the trace, and which house it is."""

from __future__ import annotations

from collections.abc import Callable

from gui.model.practice_controller import PracticeController
from gui.practice.practice_panel import PracticePanel
from gui.stages.connect.connect_page import ConnectPage
from logger.meter.port import PortSettings
from logger.simulation.practice_switches import control_path_of, is_house


class PracticeActions:
    """Shows and hides the practice house, and has a night recorded in it.

    Args:
        practice_controller: the house.
        panel: its switches.
        connect_page: holds the chosen port.
        panel_shown: is called when the panel has come into sight, for its size.
    """

    def __init__(
        self,
        practice_controller: PracticeController,
        panel: PracticePanel,
        connect_page: ConnectPage,
        panel_shown: Callable[[], None],
    ) -> None:
        self._practice = practice_controller
        self._panel = panel
        self._connect_page = connect_page
        self._panel_shown = panel_shown

    def show_house(self, url: str) -> None:
        """Show the house of a port that is switched by a control file, the keyboard staying with the window."""
        if control_path_of(url) is not None and self._practice.open(url):
            self._panel.show()
            self._panel_shown()

    def show_or_hide(self) -> None:
        """Show the panel, or hide it."""
        if self._panel.is_shown:
            self._panel.hide()
        elif self._practice.open(self._house_url()):
            self._panel.show()
            self._panel_shown()

    def give_keyboard(self) -> None:
        """Give the keyboard to the switches, showing the house where it is hidden."""
        if not self._panel.is_shown:
            self.show_or_hide()
        if self._panel.is_shown:
            self._panel.board.setFocus()

    def record_or_cancel_night(self) -> None:
        """Have a night recorded in a minute; cancel it when one is being recorded."""
        self._practice.record_or_cancel_night(self._house_url())

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
