"""The route: the spots of the visit in walking order, which one the next reading is for, and edits of the list."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import replace
from pathlib import Path

from gui.model.condition_controller import ConditionController
from gui.model.undo_history import UndoableEdit, UndoHistory
from gui.model.visit_access import VisitAccess
from logger.errors import StillvoltError
from logger.output_file import ReplaceRefusedError
from logger.report.output_paths import form_path
from logger.translation import marked, tr, tr_n
from logger.visit import Spot
from logger.visit.records.condition import OUTSIDE_WALK
from logger.visit.results.body_moves import SpotChoice, WhyChosen

USUAL_SPOTS = (
    (marked("centre"), ""),
    (marked("seat"), marked("as in the evening")),
    (marked("desk"), marked("screen on")),
    (marked("bed, lying down"), marked("as at night")),
)
"""The usual spots of a room, in walking order, and what has to be on at each."""


def usual_spots() -> list[tuple[str, str]]:
    """The usual spots as they are proposed, in the chosen language: names that the user takes over as their own."""
    return [(tr(place), tr(reminder) if reminder else "") for place, reminder in USUAL_SPOTS]


def _reminder_after_renaming(spot: Spot, name: str) -> str:
    """The reminder of a spot under another name: one that came with its usual name goes with that.

    Args:
        spot: as it was.
        name: its new name.
    """
    is_of_old_name = any(
        reminder and spot.reminder == reminder and spot.name.endswith(place)
        for place, reminder in usual_spots()
    )
    if not is_of_old_name:
        return spot.reminder
    return next((reminder for place, reminder in usual_spots() if name.endswith(place)), "")


# long: the choice of a spot and the edits of the list that it follows.
class RouteController:
    """The spots, and the chosen one.

    Args:
        access: the visit.
        condition: what is on, on which it depends which spots are unread.
        history: notes the edits, so that they can be undone.
    """

    def __init__(self, access: VisitAccess, condition: ConditionController, history: UndoHistory) -> None:
        self._access = access
        self._condition = condition
        self._history = history
        self.choices = [SpotChoice(0, None)]
        """Every choice of a spot since the visit was opened, oldest first."""
        self._last_spots: dict[int, Spot] = {}
        """The spots of the list as last seen, by id."""
        self._removed_spot: Spot | None = None
        access.after_action.append(self.keep_choice)
        if access.snapshot.spots:
            self.choices.clear()  # some spot was worked at before, and which one is not known

    # --- the choice --------------------------------------------------------------------------------------

    @property
    def chosen_id(self) -> int | None:
        """The id of the spot that the next reading is for; None where none is chosen."""
        return self.choices[-1].spot_id if self.choices else None

    @chosen_id.setter
    def chosen_id(self, spot_id: int | None) -> None:
        self._choose(spot_id, "user")

    @property
    def is_chosen_by_user(self) -> bool:
        """Whether the user chose the spot, and neither the program nor an edit of the list."""
        return bool(self.choices) and self.choices[-1].why == "user"

    def propose(self, spot_id: int | None) -> None:
        """Choose a spot for the user, who has not said to be there.

        Args:
            spot_id: of the spot; None chooses none.
        """
        self._choose(spot_id, "proposed")

    def _go_on_at(self, spot_id: int | None) -> None:
        """Have the list stand at the spot that an edit leads to: that nobody has said to be there, either."""
        self._choose(spot_id, "edited")

    def edits_chosen(self) -> None:
        """Say that the chosen spot is about to be edited: chosen without a move since, it was chosen for that.

        Where the body has moved since, somebody chose it and went there; that stands.
        """
        last = self.choices[-1] if self.choices else None
        if last is not None and last.why == "user" and not self._access.snapshot.has_moved(last.since_utc_ns):
            self.choices[-1] = replace(last, why="edited")

    def _choose(self, spot_id: int | None, why: WhyChosen) -> None:
        if spot_id != self.chosen_id:
            live = self._access.snapshot.live
            moment = (live.beat_steady_utc_ns, live.run_id) if live is not None else (0, 0)
            self.choices.append(SpotChoice(moment[0], spot_id, why, moment[1]))

    @property
    def chosen_since_utc_ns(self) -> int:
        """Since when the chosen spot has been chosen, on the steady time line; 0 where nothing was recorded before."""
        return self.choices[-1].since_utc_ns if self.choices else 0

    @property
    def chosen(self) -> Spot | None:
        """The spot that the next reading is for."""
        return next((spot for spot in self._access.snapshot.spots if spot.id == self.chosen_id), None)

    @property
    def removed_spot(self) -> Spot | None:
        """The spot that was chosen until another window removed it; None once another is chosen."""
        return self._removed_spot if self.chosen is None else None

    def choose_last_read(self) -> None:
        """Choose the spot that was read last, else the first one."""
        if self._access.snapshot.readings:
            self.propose(self._access.snapshot.readings[-1].spot_id)
        self.keep_choice()

    def choose_along(self, places: int) -> None:
        """Choose the spot so many places further along the route; stops at the ends."""
        ids = [spot.id for spot in self._access.snapshot.spots]
        if ids:
            at = ids.index(self.chosen_id) + places if self.chosen_id in ids else 0
            self.chosen_id = ids[min(max(at, 0), len(ids) - 1)]

    def choose_next_unread(self, condition: str = "") -> bool:
        """Choose the next spot without a valid reading in a condition; after the last spot it goes on with the first.

        Args:
            condition: empty takes what is stated now.

        Returns:
            Whether one was left.
        """
        spots = self._access.snapshot.spots
        at = next((i for i, spot in enumerate(spots) if spot.id == self.chosen_id), -1)
        return self._choose_unread([*spots[at + 1 :], *spots[: at + 1]], condition)

    def choose_first_unread(self, condition: str = "") -> bool:
        """Choose the first spot without a valid reading in a condition.

        Args:
            condition: empty takes what is stated now.

        Returns:
            Whether one was left.
        """
        return self._choose_unread(self._access.snapshot.spots, condition)

    def _choose_unread(self, spots: Sequence[Spot], condition: str) -> bool:
        readings = self._access.snapshot.readings
        read = {(r.spot_id, r.condition) for r in readings if r.void_reason is None}
        unread = next((s for s in spots if (s.id, self._condition.at(s, condition)) not in read), None)
        if unread is not None:
            self.propose(unread.id)
        return unread is not None

    def keep_choice(self) -> None:
        """Choose no spot when another window has removed the chosen one.

        The next reading must not slip to another spot unnoticed; so none is chosen until the user chooses.
        """
        spots = self._access.snapshot.spots
        removed = self._last_spots.get(self.chosen_id) if self.chosen_id is not None else None
        if self.chosen is not None:
            self._removed_spot = None
        elif removed is not None:
            self._removed_spot = removed
            self.propose(None)
            self._access.refuse(
                tr("“{spot}” was removed in another window; its readings stay.").format(spot=removed.name)
            )
        elif self._removed_spot is None:
            self.propose(spots[0].id if spots else None)
        self._last_spots = {spot.id: spot for spot in spots}

    # --- the list ----------------------------------------------------------------------------------------

    def indoor_spots(self) -> list[Spot]:
        """The spots that are read on and off."""
        return [spot for spot in self._access.snapshot.spots if spot.room != OUTSIDE_WALK]

    def has_readings(self, spot: Spot) -> bool:
        """Whether anything was ever read at a spot, voided readings included."""
        return any(reading.spot_id == spot.id for reading in self._access.snapshot.readings)

    def add_spots(self, *names: str) -> bool:
        """Add spots at the end of the route and choose the first of them; False when refused.

        A name such as "Bedroom: window" goes to that room, if there are spots of it; one without a room to
        `room_of_new_spots`.
        """
        return self._add([(*self._named_in_room(name, self.room_of_new_spots), "") for name in names])

    @property
    def room_of_new_spots(self) -> str:
        """The room that a new spot without one in its name goes to: that of the chosen spot; may be empty."""
        spot = self.chosen
        return spot.room if spot is not None and spot.room != OUTSIDE_WALK else ""

    def _named_in_room(self, name: str, own_room: str) -> tuple[str, str]:
        """The whole name of a spot and its room.

        Args:
            name: as typed, with a room before a colon or without.
            own_room: where one without a room is; may be empty.
        """
        named, colon, _ = name.partition(":")
        if colon:
            rooms = {spot.room.casefold(): spot.room for spot in self._access.snapshot.spots if spot.room}
            return name, rooms.get(named.strip().casefold(), "")
        if not own_room or not name.strip() or name.strip().casefold().startswith(own_room.casefold()):
            return name, own_room
        return f"{own_room}: {name.strip()}", own_room

    def add_room(self, room: str, places: Sequence[tuple[str, str]] | None = None) -> bool:
        """Add spots of a room and choose the first; False when refused.

        Args:
            room: its name.
            places: name of each spot, and what has to be on there; None takes the usual ones.
        """
        room = " ".join(room.split())
        chosen = usual_spots() if places is None else places
        return self._add([(f"{room}: {place}", room, reminder) for place, reminder in chosen])

    def add_walk_point(self) -> bool:
        """Add the next point of the outside walk and choose it."""
        points = [spot for spot in self._access.snapshot.spots if spot.room == OUTSIDE_WALK]
        return self._add([(tr("walk {number}").format(number=len(points) + 1), OUTSIDE_WALK, "")])

    def _add(self, spots: Sequence[tuple[str, str, str]]) -> bool:
        """Add spots by name, room and reminder: all of them or none."""
        log = self._access.log
        added: list[Spot] = []
        chosen_before = self.chosen_id

        def undo() -> None:
            self._refuse_if_read(added)
            for spot in added:
                log.spots.remove(spot.id)
            if self.chosen_id in [spot.id for spot in added]:
                self._go_on_at(chosen_before)

        def redo() -> None:
            for spot in added:
                log.spots.restore(spot.id)
            self._go_on_at(added[0].id)

        def do() -> str:
            try:
                for name, room, reminder in spots:
                    added.append(log.spots.add(name, room, reminder))
            except StillvoltError:
                undo()
                added.clear()
                raise
            self._go_on_at(added[0].id)
            names = ", ".join(spot.name for spot in added)
            what = (
                tr("add {names}").format(names=names)
                if len(added) == 1
                else tr_n("add {n} spot", "add {n} spots", len(added)).format(n=len(added))
            )
            self._history.remember_edit(
                UndoableEdit(what, undo, redo, tr("Taken off the list again: {names}").format(names=names))
            )
            return tr("Added: {names}").format(names=names)

        return self._access.do(do)

    def rename(self, spot: Spot, name: str) -> None:
        """Rename a spot; its readings go by the new name. One of a room goes to the room that the name begins with."""
        prefix = f"{spot.room}: "
        is_prefixed = bool(spot.room) and spot.name.casefold().startswith(prefix.casefold())
        name, room = self._named_in_room(name, spot.room if is_prefixed else "")
        if not room and spot.room and spot.room != OUTSIDE_WALK:
            room = " ".join(name.partition(":")[0].split()) if ":" in name else ""
        room = room or spot.room
        spots, reminder = self._access.log.spots, _reminder_after_renaming(spot, name)

        def undo() -> None:
            spots.rename(spot.id, spot.name)
            spots.describe(spot.id, spot.room, spot.reminder)

        def redo() -> None:
            spots.rename(spot.id, name)
            spots.describe(spot.id, room, reminder)

        def do() -> str:
            redo()
            self._history.remember_edit(
                UndoableEdit(
                    tr("rename “{spot}”").format(spot=spot.name),
                    undo,
                    redo,
                    tr("Named “{spot}” again").format(spot=spot.name),
                )
            )
            text = (
                tr("“{spot}” is named “{name}” now, and its readings with it")
                if self.has_readings(spot)
                else tr("“{spot}” is named “{name}” now")
            )
            named = text.format(spot=spot.name, name=name)
            moved = tr("it is of the room “{room}” now").format(room=room)
            return f"{named}; {moved}" if spot.room and room != spot.room else named

        self._access.do(do)

    def move(self, spot: Spot, places: int) -> None:
        """Move a spot along the route."""
        log = self._access.log

        def place() -> int:
            return next(i for i, s in enumerate(log.spots.all()) if s.id == spot.id)

        def do() -> str:
            before = place()
            log.spots.move(spot.id, places)
            moved = place() - before
            if not moved:
                return tr("“{spot}” is at the end of the list").format(spot=spot.name)
            back = UndoableEdit(
                tr("move “{spot}”").format(spot=spot.name),
                lambda: log.spots.move(spot.id, -moved),
                lambda: log.spots.move(spot.id, moved),
                tr("Moved “{spot}” back").format(spot=spot.name),
            )
            self._history.remember_edit(back)
            return (tr("Moved “{spot}” down") if places > 0 else tr("Moved “{spot}” up")).format(
                spot=spot.name
            )

        self._access.do(do)

    def remove(self, spot: Spot) -> None:
        """Take a spot off the route; its readings stay."""
        log = self._access.log
        known = {reading.id for reading in log.readings.all()}

        def undo() -> None:
            log.spots.restore(spot.id)
            self._go_on_at(spot.id)

        def take_off() -> None:
            ids = [s.id for s in self._access.snapshot.spots]
            after = ids.index(spot.id) + 1 if spot.id in ids else len(ids)
            log.spots.remove(spot.id)
            if self.chosen_id == spot.id:
                self._go_on_at(ids[after] if after < len(ids) else (ids[-2] if len(ids) > 1 else None))

        def redo() -> None:
            self._refuse_if_read([spot], known)
            take_off()

        def do() -> str:
            take_off()
            self._history.remember_edit(
                UndoableEdit(
                    tr("remove “{spot}”").format(spot=spot.name),
                    undo,
                    redo,
                    tr("“{spot}” is back").format(spot=spot.name),
                )
            )
            text = (
                tr("Removed “{spot}” from the list; its readings stay. Undo brings it back")
                if self.has_readings(spot)
                else tr("Removed “{spot}” from the list. Undo brings it back")
            )
            return text.format(spot=spot.name)

        self._access.do(do)

    def _refuse_if_read(self, spots: Sequence[Spot], known: Collection[int] = ()) -> None:
        """Refuse to take spots off the list on the way through the edits once one has been read.

        The log is asked, not what this window shows: another window may have read there a moment ago.

        Args:
            spots: the spots that would go.
            known: ids of readings that were there when the user took the spot off, and was asked about them.

        Raises:
            StillvoltError: a valid reading that is not among the known ones is of one of the spots.
        """
        ids = {spot.id for spot in spots}
        for reading in self._access.log.readings.all():
            if reading.spot_id in ids and reading.void_reason is None and reading.id not in known:
                raise StillvoltError(
                    tr("“{spot}” has been read since, so it stays on the list.").format(
                        spot=reading.spot_name
                    ),
                    tr("Nothing was changed."),
                    tr("To remove the spot, choose it and use Remove."),
                )

    def restore(self, spot: Spot) -> bool:
        """Put a spot that was removed back on the route and choose it; False when refused."""

        def do() -> str:
            self._access.log.spots.restore(spot.id)
            self._go_on_at(spot.id)
            return tr("“{spot}” is back on the list").format(spot=spot.name)

        return self._access.do(do)

    def set_reminder(self, spot: Spot, reminder: str) -> None:
        """State what has to be on when a spot is read."""
        log = self._access.log

        def undo() -> None:
            log.spots.describe(spot.id, spot.room, spot.reminder)

        def do() -> str:
            log.spots.describe(spot.id, spot.room, reminder)
            self._history.remember_edit(
                UndoableEdit(
                    tr("reminder for “{spot}”").format(spot=spot.name),
                    undo,
                    lambda: log.spots.describe(spot.id, spot.room, reminder),
                    tr("The reminder for “{spot}” is back as it was.").format(spot=spot.name),
                )
            )
            return tr("Reminder for “{spot}”: {reminder}").format(spot=spot.name, reminder=reminder)

        self._access.do(do)

    def write_form(self, *, replace: bool = False) -> Path | None:
        """Write the blank form of the planned spots next to the visit log.

        Args:
            replace: whether the user wants to replace what may be somebody else's work.

        Returns:
            The file; None when refused, which the message tells.

        Raises:
            ReplaceRefusedError: a file is there that the user has to be asked about.
        """
        from logger.report.blank_form import write_form  # noqa: PLC0415 - Jinja2: the window starts without it

        question: ReplaceRefusedError | None = None
        path = form_path(self._access.log.path)

        def do() -> str:
            nonlocal question
            try:
                write_form(self._access.log.path, path, replace=replace)
            except ReplaceRefusedError as error:
                question = error
                return error.what
            return tr("The form is in {path}").format(path=path)

        is_written = self._access.do(do)
        if question is not None:
            raise question
        return path if is_written else None
