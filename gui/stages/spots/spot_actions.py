"""Actions of the route: choose, add, rename, move and remove spots, print the form of them."""

from __future__ import annotations

from collections.abc import Callable

from gui.model.route_controller import usual_spots
from gui.model.visit_access import Message
from gui.model.wording import NEW_SPOT_NAME
from gui.shell.question import Choice, Question, Tick
from gui.stages.spots.action_context import Actions
from gui.widgets.open_file import open_file
from logger.output_file import ReplaceRefusedError
from logger.translation import tr
from logger.visit.records.home_records import Spot


class SpotActions(Actions):
    """What is done with the list of spots."""

    def ask_room(self) -> None:
        """Ask for a room's name, then which of the usual spots it has."""
        self.show_spots()
        self.prompt.ask(
            Question(
                tr("Which room?"),
                tr("With its floor, such as: study, upper floor. Its usual spots are shown next."),
                on_text=self._ask_usual_spots_of,
                enter_text=tr("Show its spots"),
            )
        )

    def _ask_usual_spots_of(self, room: str) -> None:
        there = {spot.name.casefold() for spot in self.controller.snapshot.spots}
        self._ask_spots_of(
            room,
            [(place, on, f"{room}: {place}".casefold() not in there) for place, on in usual_spots()],
        )

    def _ask_spots_of(self, room: str, places: list[tuple[str, str, bool]]) -> None:
        """Ask which spots a room has: place, what has to be on there, and whether its box is ticked."""

        def add(ticked: tuple[int, ...]) -> None:
            wanted = [places[at][:2] for at in ticked]
            if wanted:
                self.controller.route.add_room(room, wanted)
            else:
                self.controller.message = Message(
                    tr("No spot of “{room}” was added.").format(room=room), refused=True
                )

        self.prompt.ask(
            Question(
                tr("Spots of “{room}”").format(room=room),
                tr("Those that are ticked are added. More can be added by name afterwards."),
                ticks=tuple(
                    Tick(f"{place} ({reminder})" if reminder else place, wanted)
                    for place, reminder, wanted in places
                ),
                on_ticks=add,
                enter_text=tr("Add these"),
            )
        )

    def why_no_spot(self) -> str:
        """Why nothing can be done with the chosen spot, in a whole sentence; empty where something can."""
        return "" if self.controller.route.chosen is not None else tr("There is no chosen spot.")

    def ask_reminder(self) -> None:
        """Ask what has to be on when the chosen spot is read."""
        spot = self.controller.route.chosen
        if spot is None:
            return
        self.controller.route.edits_chosen()
        self.show_spots()
        self.prompt.ask(
            Question(
                tr("What has to be on when “{spot}” is read?").format(spot=spot.name),
                tr("Such as “as in the evening” or “screen on”."),
                on_text=lambda text: self.controller.route.set_reminder(spot, text),
                prefilled=spot.reminder,
            )
        )

    def ask_which_spot(self) -> None:
        """Ask at which of all spots the person is now."""
        route = self.controller.route

        def choose(spot: Spot) -> Callable[[], None]:
            def run() -> None:
                route.chosen_id = spot.id
                self.controller.message = Message(tr("The chosen spot is “{spot}”.").format(spot=spot.name))
                self.redraw()

            return run

        self.prompt.ask(
            Question(
                tr("At which spot is the person now?"),
                tr("Readings and labels of steps are filed at the chosen spot."),
                tuple(
                    Choice(spot.name, choose(spot), default=spot.id == route.chosen_id, is_name=True)
                    for spot in self.controller.snapshot.spots
                ),
            )
        )

    def choose_along(self, places: int) -> None:
        """Choose the spot so many places further along the route."""
        self.controller.route.choose_along(places)

    def choose_first_unread(self) -> None:
        """Choose the first spot that is not read under what is on now."""
        if not self.controller.route.choose_first_unread():
            self.controller.message = Message(tr("Every spot has a reading with what is on now."))

    def choose_spot(self, row: int) -> None:
        """Choose the spot in that row of the list."""
        self.controller.route.chosen_id = self.controller.snapshot.spots[row].id
        self.redraw()

    def drag_spot(self, row: int, to: int) -> None:
        """Move the spot of one row of the list to another row."""
        self.controller.route.edits_chosen()
        self.controller.route.move(self.controller.snapshot.spots[row], to - row)
        self.redraw()

    def move_spot(self, places: int) -> None:
        """Move the chosen spot along the route."""
        if self.controller.route.chosen is not None:
            self.controller.route.edits_chosen()
            self.controller.route.move(self.controller.route.chosen, places)

    def ask_new_spot(self, then: Callable[[], None] | None = None, about: str = "") -> None:
        """Ask for the name of a new spot.

        Args:
            then: what goes on once it is added.
            about: which value it is for, in a sentence; empty where it is for none.
        """

        def add(name: str) -> str | None:
            if not self.controller.route.add_spots(name):
                return self.controller.message.text
            if then is not None:
                then()
            return None

        room = self.controller.route.room_of_new_spots
        elsewhere = tr("For one in another room, write that room first: “Study: desk”.") if room else ""
        self.show_spots()
        self.prompt.ask(
            Question(
                tr("New spot in “{room}”").format(room=room) if room else tr("New spot"),
                " ".join(
                    filter(None, (about, tr("Place and posture, such as “Bed, lying down”."), elsewhere))
                ),
                on_text=add,
                enter_text=tr("Add it"),
            )
        )

    def ask_spot_name(self) -> None:
        """Ask for another name for the chosen spot."""
        spot = self.controller.route.chosen
        if spot is None:
            self.controller.message = Message(tr("There is no spot to rename. Add one first."), refused=True)
            return

        def rename(name: str) -> str | None:
            self.controller.route.rename(spot, name)
            return self.controller.message.text if self.controller.message.refused else None

        self.controller.route.edits_chosen()
        self.show_spots()
        self.prompt.ask(
            Question(
                tr("Rename the spot"),
                tr(NEW_SPOT_NAME),
                on_text=rename,
                prefilled=spot.name,
                enter_text=tr("Rename it"),
            )
        )

    @property
    def asks_before_removing(self) -> bool:
        """Whether it is asked before the chosen spot goes off the list: it has been read."""
        spot = self.controller.route.chosen
        return spot is None or self.controller.route.has_readings(spot)

    def ask_remove_spot(self) -> None:
        """Take the chosen spot off the list; asks first when it has been read."""
        spot = self.controller.route.chosen
        if spot is None:
            return
        self.controller.route.edits_chosen()
        self.show_spots()
        if not self.asks_before_removing:
            self.controller.route.remove(spot)
            return
        self.prompt.ask(
            Question(
                tr("Remove “{spot}” from the list?").format(spot=spot.name),
                tr("Its readings stay in the log."),
                (Choice(tr("Remove it"), lambda: self.controller.route.remove(spot)),),
                escape_text=tr("Keep it"),
            )
        )

    def show_form(self, replace: bool = False) -> None:
        """Write the empty form beside the visit and open it in the browser, which prints it.

        Args:
            replace: whether the user wants to replace what may be somebody else's work.
        """
        try:
            path = self.controller.route.write_form(replace=replace)
        except ReplaceRefusedError as error:
            replace_it = Choice(tr("Replace it"), lambda: self.show_form(replace=True))
            self.prompt.ask(
                Question(tr("Replace the file?"), error.what, (replace_it,), escape_text=tr("Keep it"))
            )
            return
        if path is None:
            return

        def on_failure() -> None:
            self.controller.message = Message(
                tr("The form is in {path}; open it in a browser and print it.").format(path=path)
            )

        open_file(path, on_failure)

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

        removed_text = tr(
            "The spot was removed in another window; its readings stay. Choose another spot, or bring it back."
        )
        self.prompt.ask(
            Question(
                tr("“{spot}” is no longer on the list").format(spot=removed.name),
                " ".join(filter(None, (about, removed_text))),
                (Choice(tr("Bring it back and go on"), restore),),
                escape_text=tr("Leave it removed"),
            )
        )
