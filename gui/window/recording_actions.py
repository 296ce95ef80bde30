"""Actions of the recorder and the meter: start, stop, identify a meter, choose a kept one, ask before closing."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial

from gui.model.stages import CONNECT
from gui.model.visit_access import Message
from gui.model.visit_controller import VisitController
from gui.shell.prompt import Choice, Prompt, PromptPanel
from gui.window.navigator import Navigator
from gui.window.stage_pages import StagePages
from logger.errors import StillvoltError
from logger.meter.description_folder import folder, list_descriptions, load
from logger.meter.port import PortSettings

NO_PORT_CHOSEN = (
    "No port is chosen. Plug the meter's cable in and press L, or press P to practise without a meter."
)

MAX_METERS = 9
"""Kept meters that can be chosen by a digit."""


class RecordingActions:
    """What the user does with the recorder and the meter.

    Args:
        controller: the visit.
        pages: whose pages Connect and Identify hold the port.
        navigator: goes back to the stage Connect.
        prompt: where is asked.
        take_focus: gives the keyboard to the window.
        redraw: shows what is known now.
    """

    def __init__(
        self,
        controller: VisitController,
        pages: StagePages,
        navigator: Navigator,
        prompt: PromptPanel,
        take_focus: Callable[[], None],
        redraw: Callable[[], None],
    ) -> None:
        self._controller = controller
        self._pages = pages
        self._navigator = navigator
        self._prompt = prompt
        self._take_focus = take_focus
        self._redraw = redraw
        self._close_prompt: Prompt | None = None

    # --- the recorder ------------------------------------------------------------------------------------

    def start(self) -> None:
        """Start the recorder on the chosen port."""
        self._take_focus()
        self._pages.identify.leave()
        settings = self._pages.connect.settings()
        if settings.url or self._controller.snapshot.recording:
            self._controller.recording.start(settings)
        else:
            self._controller.message = Message(NO_PORT_CHOSEN, refused=True)
        self._redraw()

    def start_with(self, settings: PortSettings) -> None:
        """Start the recorder with the port and meter that were identified."""
        self._pages.connect.use(settings)
        self._navigator.go_to(CONNECT)
        self.start()

    def start_or_ask_stop(self) -> None:
        """Start recording, or ask whether to stop it."""
        if not self._controller.snapshot.recording:
            self.start()
            return
        self._prompt.ask(
            Prompt(
                "Stop recording?",
                "Everything recorded is kept. Recording can go on later in the same visit log.",
                (Choice("R", "stop recording", self._controller.recording.stop, ("Return",)),),
                escape_text="go on recording",
            )
        )

    def confirms_closing(self, close: Callable[[], None]) -> bool:
        """Whether the window closes at once; asks whether recording goes on where it does not.

        Closing twice closes: recording goes on, as the safe answer.

        Args:
            close: closes the window without a further question.
        """
        asked_already = self._close_prompt is not None and self._prompt.prompt is self._close_prompt
        if asked_already or not self._controller.snapshot.recording:
            return True

        def stop_and_close() -> None:
            self._controller.recording.stop()
            close()

        self._close_prompt = Prompt(
            "Close the window. Does recording go on?",
            "It can go on without the window. Opening the visit again shows it from where it is.",
            (
                Choice("G", "recording goes on", close, ("Return",)),
                Choice("S", "stop recording", stop_and_close),
            ),
            escape_text="do not close",
        )
        self._prompt.ask(self._close_prompt)
        return False

    # --- the meter ---------------------------------------------------------------------------------------

    def identify(self) -> None:
        """Find out what the meter at the chosen port sends."""
        self._take_focus()
        if not self._pages.connect.settings().url:
            self._controller.message = Message(NO_PORT_CHOSEN, refused=True)
            return
        self._pages.show(self._pages.identify)
        self._pages.identify.begin(self._pages.connect.settings())

    def ask_meter(self) -> None:
        """Ask which of the kept meters is connected."""
        controller, connect = self._controller, self._pages.connect

        def use(name: str) -> None:
            try:
                connect.use(load(name).settings(""))
                controller.message = Message(f"Meter: {name}")
            except StillvoltError as error:
                controller.message = Message(str(error), refused=True)

        def use_none() -> None:
            connect.use(PortSettings(connect.settings().url))
            controller.message = Message("No kept meter; settings as usual")

        names = list_descriptions()
        if not names:
            controller.message = Message(
                "No meter is kept yet. I identifies one, and keeps it under a name.", refused=True
            )
            return
        choices = [Choice(str(n), name, partial(use, name)) for n, name in enumerate(names[:MAX_METERS], 1)]
        choices.append(Choice("0", "none of them", use_none))
        self._prompt.ask(Prompt("Which meter?", f"They are kept in {folder()}.", tuple(choices)))
