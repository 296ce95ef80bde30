"""Asks which other visit to open, or for the name of a new one; the present one stays as it is."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import datetime, tzinfo
from pathlib import Path

from gui.model.example_visits import examples_beside, unpack_examples
from gui.model.visit_access import Message
from gui.model.visit_controller import VisitController
from gui.model.visits_folder import own_folder, usual_visits_folder, visit_of_today
from gui.model.wording import moment_text
from gui.shell.question import Choice, Question
from gui.widgets.visit_file_dialog import choose_visit_file
from logger.clock import NS_PER_S
from logger.errors import StillvoltError
from logger.recording.recorder_lock import is_recording
from logger.translation import tr
from logger.visit.storage.visit_brief import VisitBrief, read_brief
from logger.visit.storage.visit_folder import default_name, new_visit, visits_in, written_s


@dataclass(frozen=True, slots=True)
class VisitRequest:
    """The visit to show instead."""

    path: Path
    new: bool = False
    stop: bool = False
    """The recorder of the present visit is asked to stop."""
    message: str = ""
    """Why it is shown, where nobody asked for it."""
    continues: Path | None = None
    """The earlier visit of the same home that a new one begins from; None where it begins empty."""


class OtherVisitActions:
    """Asks for another visit.

    Args:
        controller: the present visit.
        ask: shows a question.
        show: takes the visit that was chosen.
        may_leave: asks what becomes of work under way, before what the sentence says follows; whether it may.
    """

    def __init__(
        self,
        controller: VisitController,
        ask: Callable[[Question], None],
        show: Callable[[VisitRequest], None],
        may_leave: Callable[[str], bool],
    ) -> None:
        self._controller = controller
        self._ask = ask
        self._show = show
        self._may_leave = may_leave
        self._present_path = controller.log.path.resolve()
        self._own_folder = own_folder(self._present_path)
        self._usual_folder = usual_visits_folder().resolve()
        self.go_on_with = self._visit_to_go_on_with()
        """The visit of today that is offered where the present one is not begun yet; None where there is none."""
        self.choose_path: Callable[[Path], Path | None] = choose_visit_file
        """Shows the system's dialog on a folder; a test gives its own."""

    def ask(self) -> None:
        """Show the visits of the folder, the newest first."""
        folders = dict.fromkeys((self._present_path.parent, self._own_folder, self._usual_folder))
        briefs = [
            read_brief(path)
            for folder in folders
            for path in visits_in(folder)
            if path.resolve() != self._present_path
        ]
        others = [brief for brief in briefs if not brief.is_empty or is_recording(brief.path)]
        answers = [
            Choice(
                _visit_text(brief, self._controller.snapshot.zone),
                self._open_on_choice(brief.path),
                default=brief is others[0],
                is_name=True,
            )
            for brief in others
        ]
        listed = {brief.path.resolve() for brief in others}
        examples = [
            Choice(example.describe(), self._example_on_choice(path))
            for example, path in examples_beside(self._present_path)
            if path.resolve() not in listed
        ]
        self._ask(
            Question(
                tr("Which visit?"),
                tr("Open now: {visit}, in {folder}. It is kept as it is.").format(
                    visit=self._present_path.stem, folder=self._present_path.parent
                ),
                (
                    *answers,
                    Choice(tr("Begin a new visit"), self.ask_new, default=not others),
                    *self._continue_choice(),
                    Choice(tr("Another one: choose its file..."), self.choose_file),
                    *examples,
                ),
                escape_text=tr("Stay here"),
            )
        )

    def ask_example(self) -> None:
        """Show the example visits that come with the program."""
        answers = (
            Choice(example.describe(), self._example_on_choice(path), default=at == 0)
            for at, (example, path) in enumerate(examples_beside(self._present_path))
        )
        self._ask(
            Question(
                tr("Which example visit?"),
                tr("They are finished visits, to look at and to compare. Yours is kept as it is."),
                tuple(answers),
                escape_text=tr("Stay here"),
            )
        )

    def go_on(self) -> None:
        """Show the visit of today that is offered."""
        if self.go_on_with is not None:
            self.open(self.go_on_with.path)

    def _visit_to_go_on_with(self) -> VisitBrief | None:
        if not read_brief(self._present_path).is_unused:
            return None
        return visit_of_today(self._own_folder, self._present_path, datetime.now())

    def open(self, path: Path) -> None:
        """Show a visit that was chosen elsewhere; asks first whether a recording of the present one goes on."""
        self._open_or_ask(VisitRequest(path))

    def show_anew(self) -> None:
        """Show the present visit in a window of its own making again, whose texts are in the language chosen since."""
        if self._may_leave(tr("Then the window opens in the other language.")):
            self._show(VisitRequest(self._present_path))
        else:
            self._controller.message = Message(
                tr("The language changes when the window is opened the next time.")
            )

    def ask_new(self) -> None:
        """Ask for the name of a new visit, and begin it."""
        self._ask(
            Question(
                tr("Name of the new visit"),
                tr("It becomes the name of a file in {folder}. No personal names are needed.").format(
                    folder=self._own_folder
                ),
                on_text=lambda name: self._open_or_ask(
                    VisitRequest(new_visit(self._own_folder, name), new=True)
                ),
                prefilled=default_name(datetime.now()),
                enter_text=tr("Begin it"),
            )
        )

    def _visits_to_continue(self) -> list[VisitBrief]:
        """The visits that a new one can begin from: the present one, then the others, the newest first."""
        folders = dict.fromkeys((self._present_path.parent, self._own_folder, self._usual_folder))
        paths = [path.resolve() for folder in folders for path in visits_in(folder)]
        ordered = dict.fromkeys([*(path for path in paths if path == self._present_path), *paths])
        return [brief for brief in map(read_brief, ordered) if not brief.is_unused]

    def ask_continue(self) -> None:
        """Ask of which earlier visit's home a new one is, then for its name."""

        def choose(brief: VisitBrief) -> Callable[[], None]:
            return lambda: self._ask_continued_name(brief)

        briefs = self._visits_to_continue()
        if not briefs:
            text = tr("There is no earlier visit with a spot or a reading.")
            self._controller.message = Message(text, refused=True)
            return
        self._ask(
            Question(
                tr("Of which visit's home?"),
                tr("The new visit begins with what describes that home. The earlier visit stays as it is."),
                tuple(
                    Choice(
                        _visit_text(brief, self._controller.snapshot.zone),
                        choose(brief),
                        default=at == 0,
                        is_name=True,
                    )
                    for at, brief in enumerate(briefs)
                ),
                escape_text=tr("Stay here"),
            )
        )

    def _continue_choice(self) -> tuple[Choice, ...]:
        if not self._visits_to_continue():
            return ()
        return (Choice(tr("Begin a new visit of the same home..."), self.ask_continue),)

    def _ask_continued_name(self, before: VisitBrief) -> None:
        copied = tr(
            "Copied: spots with descriptions and photos, circuits and cords, household, reference, supply, meter and "
            "target."
        )
        left = tr(
            "Not copied: readings, checks, nights and marks, and what is of the day: moisture, laptop, link, weather, "
            "footwear, who was measured and what was plugged in."
        )
        self._ask(
            Question(
                tr("Name of the new visit"),
                f"{before.title}\n{copied}\n{left}",
                on_text=lambda name: self._open_or_ask(
                    VisitRequest(new_visit(self._own_folder, name), new=True, continues=before.path)
                ),
                prefilled=default_name(datetime.now()),
                enter_text=tr("Begin it"),
            )
        )

    def choose_file(self) -> None:
        """Let the user choose a visit log by the system's dialog, and show it."""
        path = self.choose_path(self._own_folder)
        if path is not None:
            self._open_or_ask(VisitRequest(path))

    def _open_on_choice(self, path: Path) -> Callable[[], None]:
        return lambda: self._open_or_ask(VisitRequest(path))

    def _example_on_choice(self, path: Path) -> Callable[[], None]:
        def open_it() -> None:
            try:
                unpack_examples(path.parent)
            except StillvoltError as error:
                self._controller.message = Message(str(error), refused=True)
                return
            self._open_or_ask(VisitRequest(path))

        return open_it

    def _open_or_ask(self, request: VisitRequest) -> None:
        if request.path.resolve() == self._present_path:
            self._controller.message = Message(tr("This visit is open already."), refused=True)
            return
        before = self._controller.message
        if not self._may_leave(tr("Then “{visit}” opens.").format(visit=request.path.stem)):
            return
        if self._controller.message is not before:  # how the work that was waited for has ended
            request = replace(request, message=self._controller.message.text)
        if self._controller.snapshot.recording or self._controller.recording.starting:
            self._ask_recording(request)
        else:
            self._show(request)

    def _ask_recording(self, request: VisitRequest) -> None:
        self._ask(
            Question(
                tr("Does the recording of this visit go on?"),
                tr(
                    "The recording can go on without the window, on its port. When you open this visit "
                    "again, you see it as it is then."
                ),
                (
                    Choice(tr("Recording goes on"), lambda: self._show(request), default=True),
                    Choice(tr("Stop recording"), lambda: self._show(replace(request, stop=True))),
                ),
                escape_text=tr("Stay here"),
            )
        )


def _visit_text(brief: VisitBrief, zone: tzinfo | None) -> str:
    """A visit and its state, in one line.

    Args:
        brief: what is known of it.
        zone: what the times of the window are shown in; None for that of this computer.
    """
    state = (
        tr("being recorded")
        if is_recording(brief.path)
        else tr("last written {moment}").format(
            moment=moment_text(round(written_s(brief.path) * NS_PER_S), zone)
        )
    )
    return f"{brief.title} ({state})"
