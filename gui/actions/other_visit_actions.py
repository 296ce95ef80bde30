"""Asks which other visit to open, or for the name of a new one; the present one stays as it is."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path

from gui.model.visit_access import Message
from gui.model.visit_controller import VisitController
from gui.model.wording import moment_text
from gui.shell.prompt import Choice, Prompt
from logger.clock import NS_PER_S
from logger.recording.recorder_lock import is_recording
from logger.visit.storage.visit_folder import default_name, new_visit, visits_in, written_s

MAX_SHOWN = 8
"""Visits that are listed; more do not fit, and older ones are opened by their path."""


@dataclass(frozen=True, slots=True)
class VisitRequest:
    """The visit to show instead."""

    path: Path
    new: bool = False
    stop: bool = False
    """The recorder of the present visit is asked to stop."""
    message: str = ""
    """Why it is shown, where nobody asked for it."""


class OtherVisitActions:
    """Asks for another visit.

    Args:
        controller: the present visit.
        ask: shows a question.
        show: takes the visit that was chosen.
    """

    def __init__(
        self, controller: VisitController, ask: Callable[[Prompt], None], show: Callable[[VisitRequest], None]
    ) -> None:
        self._controller = controller
        self._ask = ask
        self._show = show
        self._present_path = controller.log.path.resolve()

    def ask(self) -> None:
        """Show the visits of the folder, the newest first."""
        folder = self._present_path.parent
        others = [path for path in visits_in(folder) if path.resolve() != self._present_path]
        answers = [
            Choice(str(n), _visit_text(path), self._open_on_choice(path))
            for n, path in enumerate(others[:MAX_SHOWN], 1)
        ]
        self._ask(
            Prompt(
                "Which visit?",
                f"Open now: {self._present_path.stem}, in {folder}. It is kept as it is.",
                (
                    *answers,
                    Choice("N", "begin a new visit", self._ask_new),
                    Choice("T", "another one: type its path", self._ask_path),
                ),
                escape_text="stay here",
            )
        )

    def open(self, path: Path) -> None:
        """Show a visit that was chosen elsewhere; asks first whether a recording of the present one goes on."""
        self._open_or_ask(VisitRequest(path))

    def _ask_new(self) -> None:
        self._ask(
            Prompt(
                "Name of the new visit",
                f"A file in {self._present_path.parent}. No personal names are needed.",
                on_text=lambda name: self._open_or_ask(
                    VisitRequest(new_visit(self._present_path.parent, name), new=True)
                ),
                prefilled=default_name(datetime.now()),
                enter_text="begin it",
            )
        )

    def _ask_path(self) -> None:
        self._ask(
            Prompt(
                "Path of the visit log",
                f"Without a folder it is looked for in {self._present_path.parent}.",
                on_text=lambda text: self._open_or_ask(
                    VisitRequest(self._present_path.parent / Path(text).expanduser())
                ),
                enter_text="open it",
            )
        )

    def _open_on_choice(self, path: Path) -> Callable[[], None]:
        return lambda: self._open_or_ask(VisitRequest(path))

    def _open_or_ask(self, request: VisitRequest) -> None:
        if request.path.resolve() == self._present_path:
            self._controller.message = Message("This visit is open already.", refused=True)
        elif self._controller.snapshot.recording or self._controller.recording.starting:
            self._ask_recording(request)
        else:
            self._show(request)

    def _ask_recording(self, request: VisitRequest) -> None:
        self._ask(
            Prompt(
                "Does the recording of this visit go on?",
                "It can go on without the window, on its port. Opening this visit again shows it from where it is.",
                (
                    Choice("G", "recording goes on", lambda: self._show(request), ("Return",)),
                    Choice("S", "stop recording", lambda: self._show(replace(request, stop=True))),
                ),
                escape_text="stay here",
            )
        )


def _visit_text(path: Path) -> str:
    state = (
        "being recorded"
        if is_recording(path)
        else f"last written {moment_text(round(written_s(path) * NS_PER_S))}"
    )
    return f"{path.stem} ({state})"
