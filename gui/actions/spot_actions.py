"""Actions of the route: choose, add, rename, move and remove spots, print the form of them."""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtCore import QUrl
from PySide6.QtGui import QDesktopServices

from gui.actions.base import Actions
from gui.model.route_controller import USUAL_SPOTS
from gui.model.visit_access import Message
from gui.shell.prompt import Choice, Prompt


class SpotActions(Actions):
    """The list of spots, as it is edited by keys."""

    def ask_room(self) -> None:
        """Ask for a room's name, then which of the usual spots it has."""
        self.show_spots()
        self.prompt.ask(
            Prompt(
                "Which room?",
                "Its usual spots are shown next.",
                on_text=self._ask_usual_spots_of,
                enter_text="show its spots",
            )
        )

    def _ask_usual_spots_of(self, room: str) -> None:
        there = {spot.name.casefold() for spot in self.controller.snapshot.spots}
        self._ask_spots_of(
            room,
            [(place, on, f"{room}: {place}".casefold() not in there) for place, on in USUAL_SPOTS],
        )

    def _ask_spots_of(self, room: str, places: list[tuple[str, str, bool]]) -> None:
        """Ask which spots a room has: place, what has to be on there, and whether it is added."""

        def switch(at: int) -> Callable[[], None]:
            def do() -> None:
                place, reminder, wanted = places[at]
                self._ask_spots_of(room, [*places[:at], (place, reminder, not wanted), *places[at + 1 :]])

            return do

        def another() -> None:
            self.prompt.ask(
                Prompt(
                    f"Another spot in “{room}”",
                    "Place and posture, such as “window seat”.",
                    on_text=lambda place: self._ask_spots_of(room, [*places, (place, "", True)]),
                    enter_text="put it with the others",
                )
            )

        def add() -> None:
            if wanted:
                self.controller.route.add_room(room, wanted)
            else:
                self.controller.message = Message(f"No spot of “{room}” was added.", refused=True)

        wanted = [(place, reminder) for place, reminder, is_wanted in places if is_wanted]
        answers = [
            Choice(
                str(at + 1),
                f"{place}{f' ({reminder})' if reminder else ''}" if is_wanted else f"left out: {place}",
                switch(at),
            )
            for at, (place, reminder, is_wanted) in enumerate(places[:9])
        ]
        if len(places) < 9:
            answers.append(Choice("T", "another one: type it", another))
        count = len(wanted)
        adds = f"add {'this spot' if count == 1 else f'these {count} spots'}" if count else "add none"
        self.prompt.ask(
            Prompt(
                f"Spots of “{room}”",
                "A number leaves that spot out, or takes it in again.",
                (Choice("Return", adds, add), *answers),
                escape_text="add none",
            )
        )

    def ask_reminder(self) -> None:
        """Ask what has to be on when the chosen spot is read."""
        spot = self.controller.route.chosen
        if spot is None:
            return
        self.show_spots()
        self.prompt.ask(
            Prompt(
                f"What has to be on at “{spot.name}”?",
                "Such as “as in the evening” or “screen on”.",
                on_text=lambda text: self.controller.route.set_reminder(spot, text),
                prefilled=spot.reminder,
            )
        )

    def choose_along(self, places: int) -> None:
        """Choose the spot so many places further along the route."""
        self.controller.route.choose_along(places)

    def choose_first_unread(self) -> None:
        """Choose the first spot that is not read under what is on now."""
        if not self.controller.route.choose_first_unread():
            self.controller.message = Message("Every spot is read under what is on now.")

    def choose_spot(self, row: int) -> None:
        """Choose the spot in that row of the list."""
        self.controller.route.chosen_id = self.controller.snapshot.spots[row].id
        self.redraw()

    def move_spot(self, places: int) -> None:
        """Move the chosen spot along the route."""
        if self.controller.route.chosen is not None:
            self.controller.route.move(self.controller.route.chosen, places)

    def ask_new_spot(self, then: Callable[[], None] | None = None, about: str = "") -> None:
        """Ask for the name of a new spot.

        Args:
            then: what goes on once it is added.
            about: which value it is for, in a sentence; empty where it is for none.
        """

        def add(name: str) -> None:
            if self.controller.route.add_spots(name) and then is not None:
                then()

        self.show_spots()
        self.prompt.ask(
            Prompt(
                "New spot",
                " ".join(filter(None, (about, "Place and posture, such as “Bed, lying down”."))),
                on_text=add,
                enter_text="add it",
            )
        )

    def ask_spot_name(self) -> None:
        """Ask for another name for the chosen spot."""
        spot = self.controller.route.chosen
        if spot is None:
            self.controller.message = Message("There is no spot to rename. A adds one.", refused=True)
            return
        self.show_spots()
        self.prompt.ask(
            Prompt(
                "Rename the spot",
                "Readings keep the name that they were taken with.",
                on_text=lambda name: self.controller.route.rename(spot, name),
                prefilled=spot.name,
                enter_text="rename it",
            )
        )

    def ask_remove_spot(self) -> None:
        """Take the chosen spot off the list; asks first when it has been read."""
        spot = self.controller.route.chosen
        if spot is None:
            return
        self.show_spots()
        if not self.controller.route.has_readings(spot):
            self.controller.route.remove(spot)
            return
        self.prompt.ask(
            Prompt(
                f"Remove “{spot.name}” from the list?",
                "Its readings stay in the log.",
                (Choice("Return", "remove it", lambda: self.controller.route.remove(spot), ("Del",)),),
                escape_text="it stays",
            )
        )

    def show_form(self) -> None:
        """Write the empty form beside the visit and open it in the browser, which prints it."""
        path = self.controller.route.write_form()
        if path is None:
            return
        if not QDesktopServices.openUrl(QUrl.fromLocalFile(str(path))):
            self.controller.message = Message(f"The form is in {path}; open it in a browser and print it.")

    def ask_where(self, then: Callable[[], None], about: str = "") -> None:
        """Ask for a spot where none is chosen: there is none yet, or another window removed the chosen one.

        Args:
            then: what goes on once a spot is chosen.
            about: which value it is for, in a sentence; empty where it is for none.
        """
        removed = self.controller.route.removed_spot
        if removed is None:
            self.ask_new_spot(then, about)
            return

        def restore() -> None:
            if self.controller.route.restore(removed):
                then()

        self.prompt.ask(
            Prompt(
                f"“{removed.name}” is no longer on the list",
                " ".join(
                    filter(
                        None,
                        (
                            about,
                            "It was removed in another window; its readings stay. Down and Up choose another spot.",
                        ),
                    )
                ),
                (Choice("B", "bring it back and go on", restore),),
                escape_text="leave it removed",
            )
        )
