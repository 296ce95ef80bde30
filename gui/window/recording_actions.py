"""Actions of the recorder and the meter: start, stop, identify a meter, choose a kept one, ask before closing."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial

from gui.model.stages import CONNECT
from gui.model.visit_access import Message
from gui.model.visit_controller import VisitController
from gui.shell.question import Choice, Question, QuestionPanel
from gui.stages.connect.connect_page import NO_PORT_CHOSEN
from gui.window.close_dialog import CloseAnswer
from gui.window.navigator import Navigator
from gui.window.stage_pages import StagePages
from logger.errors import StillvoltError
from logger.meter.description_folder import folder, list_descriptions, load
from logger.meter.port import PortSettings
from logger.translation import tr


class RecordingActions:
    """What the user does with the recorder and the meter.

    Args:
        controller: the visit.
        pages: whose pages Connect and Identify hold the port.
        navigator: goes back to the stage Connect.
        prompt: where is asked.
        redraw: shows what is known now.
    """

    def __init__(
        self,
        controller: VisitController,
        pages: StagePages,
        navigator: Navigator,
        prompt: QuestionPanel,
        redraw: Callable[[], None],
    ) -> None:
        self._controller = controller
        self._pages = pages
        self._navigator = navigator
        self._prompt = prompt
        self._redraw = redraw

    # --- the recorder ------------------------------------------------------------------------------------

    def start(self) -> None:
        """Start the recorder on the chosen port."""
        self._pages.identify.leave()
        settings = self._pages.connect.settings()
        if settings.url or self._controller.snapshot.recording:
            self._controller.recording.start(settings)
        else:
            self._controller.message = Message(tr(NO_PORT_CHOSEN), refused=True)
        self._redraw()

    def start_with(self, settings: PortSettings) -> None:
        """Start the recorder with the port and meter that were identified."""
        self._pages.connect.use(settings)
        self._navigator.go_to(CONNECT)
        self.start()

    def ask_stop(self) -> None:
        """Ask whether to stop recording."""
        self._prompt.ask(
            Question(
                tr("Stop recording?"),
                tr("Everything recorded is kept. Recording can go on later in the same visit log."),
                (Choice(tr("Stop recording"), self._controller.recording.stop, default=True),),
                escape_text=tr("Go on recording"),
            )
        )

    def why_not_start(self) -> str:
        """Why recording cannot be started now, in a whole sentence; empty where it can."""
        if self._controller.snapshot.recording or self._controller.recording.starting:
            return tr("It is being recorded already.")
        return "" if self._pages.connect.settings().url else tr(NO_PORT_CHOSEN)

    def why_not_stop(self) -> str:
        """Why recording cannot be stopped now, in a whole sentence; empty where it can."""
        return "" if self._controller.snapshot.recording else tr("Nothing is being recorded.")

    def may_close(self, ask: Callable[[], CloseAnswer]) -> bool:
        """Whether the window may close; while it is recorded, the user is asked what becomes of the recording.

        Args:
            ask: shows the dialog and gives the answer.
        """
        if not self._controller.snapshot.recording:
            return True
        answer = ask()
        if answer is CloseAnswer.STOP and self._controller.snapshot.recording:
            self._controller.recording.stop()
        return answer is not CloseAnswer.STAY

    # --- the meter ---------------------------------------------------------------------------------------

    def identify(self) -> None:
        """Find out what the meter at the chosen port sends."""
        if not self._pages.connect.settings().url:
            self._controller.message = Message(tr(NO_PORT_CHOSEN), refused=True)
            return
        self._pages.show(self._pages.identify)
        self._pages.identify.begin(self._pages.connect.settings())

    def ask_meter(self) -> None:
        """Ask which of the kept meters is connected."""
        controller, connect = self._controller, self._pages.connect

        def use(name: str) -> None:
            try:
                connect.use(load(name).settings(""))
                controller.message = Message(tr("Meter: {meter}").format(meter=name))
            except StillvoltError as error:
                controller.message = Message(str(error), refused=True)

        def use_none() -> None:
            connect.use(PortSettings(connect.settings().url))
            controller.message = Message(tr("No saved meter; the usual settings"))

        names = list_descriptions()
        if not names:
            controller.message = Message(
                tr(
                    "No meter is kept yet. “Identify the meter” finds out what it sends, and keeps it under a "
                    "name."
                ),
                refused=True,
            )
            return
        choices = [Choice(name, partial(use, name), is_name=True) for n, name in enumerate(names, 1)]
        choices.append(Choice(tr("None of them"), use_none))
        self._prompt.ask(
            Question(
                tr("Which meter?"), tr("They are kept in {folder}.").format(folder=folder()), tuple(choices)
            )
        )
