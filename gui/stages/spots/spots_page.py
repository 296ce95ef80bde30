"""The page of the stage Spots: the spots with their last readings, and every reading, voided ones too."""

from __future__ import annotations

import re
from collections.abc import Callable

from PySide6.QtCore import Signal
from PySide6.QtGui import QResizeEvent
from PySide6.QtWidgets import QWidget

from gui.actions.action_buttons import ActionButtons
from gui.actions.menus import add_context_menu
from gui.actions.registry import ActionRegistry
from gui.actions.spoken_text import delete_hint
from gui.model.route_controller import usual_spots
from gui.model.sources_work import waiting_page
from gui.model.visit_controller import VisitController
from gui.model.wording import (
    clock_text,
    mark_text,
    reading_text,
    reading_volts_text,
    short_condition,
    u_of,
    uncertainty_text,
)
from gui.stages.spots.spot_card import SpotCard
from gui.widgets.appearance import Appearance, label
from gui.widgets.foldable_text import FoldableText
from gui.widgets.page import GAP, MARGINS, Page, PrimaryAction
from gui.widgets.row_list import RowList
from gui.widgets.row_model import ListHeading, ListRow
from gui.widgets.split import Split
from gui.widgets.theme import font, line_height
from logger.metrology.check_validity import Lapse
from logger.metrology.check_words import checks_in_short, listed_checks, state_text
from logger.metrology.checks import CheckKind, CheckVerdict, open_checks
from logger.name_list import quoted
from logger.simulation.practice_switches import GroupKind
from logger.sweep.words_of_the_list import remark_by_words
from logger.translation import tr, tr_kept
from logger.visit import Mark, Reading, Spot
from logger.visit.records.condition import EVERYTHING_OFF, EVERYTHING_ON, OUTSIDE_WALK
from logger.visit.records.simulated_run import SIMULATED, SIMULATED_WORDS
from logger.visit.results.chronology import in_order
from logger.visit.results.correction_history import footnote
from logger.visit.results.on_off_result import SpotResult
from logger.visit.results.outside_walk import is_point_apart, walk_meaning

MIN_SPOT_ROWS, MIN_ENTRY_ROWS = 5, 5
"""Rows of the spots and of the readings that are in sight, headings included: a room's name with four spots, which are
what one works along, and the readings of both rounds at the chosen one."""

SCARCE_ENTRY_ROWS = 4
"""Of the readings where the page is low: the name of the chosen spot with three of its readings."""

FEWEST_SPOT_ROWS, FEWEST_ENTRY_ROWS = 3, 2
"""The same with the largest text on the lowest screen, and where the user has dragged the border."""

LOW_LINES = 22
"""A page of fewer lines of small print is low: its buttons and its edge take less room. It goes by the room alone, so
that nothing that is read moves a button."""

LOW_MARGINS, LOW_GAP = (12, 5, 12, 3), 4
"""Around the parts of a low page and between them, in pixels."""

USUAL_PERMILLE = 640
"""Of the height, that the spots have with what is said of the chosen one, until the user drags the border."""


# long: two lists with their rows, and which part gives way to which.
class SpotsPage(Page):
    """Spots above, readings and marks below.

    Args:
        controller: what the window does with the visit.
        appearance: theme and sizes.
        actions: the actions of the window.
    """

    place = "spots"

    spot_clicked = Signal(int)
    """The user chose the spot in that row."""
    spot_dragged = Signal(int, int)
    """The user dragged the spot of that row to another row."""
    photo_opened = Signal(object)
    """A photo of the chosen spot was clicked."""
    reading_dragged = Signal(object, object)
    """The user dragged a reading or a mark onto a spot: both."""
    border_dragged = Signal(int)
    """The user dragged the border between spots and readings: the spots' part of the height, in permille."""
    files_dropped = Signal(int, list)
    """Files were dropped on the spot in that row: their paths."""
    entry_activated = Signal(object)
    """A reading or mark was double-clicked, or Enter was pressed on it."""

    # long: every part of the page is made and joined to the others here, once.
    def __init__(self, controller: VisitController, appearance: Appearance, actions: ActionRegistry) -> None:
        super().__init__(controller, appearance, actions)
        self.spots = RowList(appearance, tr("Spots"), MIN_SPOT_ROWS)
        self.entries = RowList(appearance, tr("Readings and marks"), MIN_ENTRY_ROWS)
        self._items: list[Reading | Mark] = []
        self._empty = label(
            tr(
                "No spot yet. A spot is a place and posture where somebody spends time.\n\n"
                "Add one by name, or the usual ones of a room: {spots}"
            ).format(spots="; ".join(name for name, _ in usual_spots()))
        )
        self._entry_heading = label(tr("Readings and marks"), "heading")
        self.meaning = FoldableText("small")
        self.remarks = label("", "quiet")
        self._card = SpotCard(controller, actions)
        self._card.photo_opened.connect(self.photo_opened)
        self._buttons = self._make_all_buttons()
        self.column.addWidget(self._buttons)  # above what grows, so that nothing that appears moves them
        self.split = Split(self.column.spacing(), USUAL_PERMILLE)
        for part in (self._empty, self.spots, self._card):
            self.split.above.column.addWidget(part, 1 if part is self.spots else 0)
        self.split.above.column.addLayout(self.meaning)
        self.split.above.column.addWidget(self.remarks)
        for part in (self._entry_heading, self.entries):
            self.split.below.column.addWidget(part, 1 if part is self.entries else 0)
        self.column.addWidget(self.split, 1)
        self.setTabOrder(self.spots, self.meaning.button)
        self.setTabOrder(self.meaning.button, self.entries)
        self.split.grasped.connect(self._let_border_move)
        self.split.dragged.connect(self.border_dragged)
        self._border_is_users = False
        """The user has dragged the border between spots and readings: neither insists on its rows."""
        self.spots.let_pack()
        self.entries.let_pack()
        self.spots.let_drag_rows()
        self.spots.let_drop_files()
        self.spots.let_take_rows_of(self.entries)
        self.spots.row_of_other_dropped.connect(
            lambda to, entry: self.reading_dragged.emit(self._items[entry], controller.snapshot.spots[to])
        )
        self.spots.row_model.key_hint = delete_hint("spots.remove")
        self.entries.row_model.key_hint = delete_hint("reading.void")
        self.spots.files_dropped.connect(self.files_dropped)
        self.spots.row_chosen.connect(self.spot_clicked)
        self.spots.row_dragged.connect(self.spot_dragged)
        self.spots.row_activated.connect(lambda _: actions.trigger("spots.rename"))
        self.entries.row_chosen.connect(self._choose_entry)
        self.entries.let_delete()
        self.entries.delete_pressed.connect(lambda: actions.trigger("reading.void"))
        self.entries.row_activated.connect(lambda row: self.entry_activated.emit(self._items[row]))
        self._meaning = ""
        """What the chosen spot's readings mean."""
        self._is_warning = False
        """Whether that is a warning."""
        self._made_room_for: tuple[object, ...] = ()
        """What the room was last made for: the page's size, and what its parts need."""
        self._entry: Reading | Mark | None = None
        self._newest_utc_ns: int | None = None
        """When the newest reading or mark was taken that is listed; None before the list is filled."""
        self.take: Callable[[], object] = lambda: None
        """Takes the reading at the chosen spot; the window gives it."""
        self.restyles(self.spots, self.entries)
        self.refresh()

    def _make_all_buttons(self) -> ActionButtons:
        """The buttons, and what a right click on a row offers."""
        buttons = self.make_buttons(
            "spots.add", "spots.room", "measure.condition",
            more=(
                "spots.room", "", "measure.hands_free", "measure.by_hand", "", "spots.describe", "spots.photos",
                "spots.rename", "spots.budget",
            ),
        )  # fmt: skip
        add_context_menu(
            self.spots, self.registry, "spots.describe", "spots.photos", "spots.rename", "spots.reminder",
            "spots.budget", "", "spots.up", "spots.down", "",
            "spots.again", "measure.by_hand", "measure.condition", "measure.take_unsettled", "", "spots.remove",
            beside_rows=("spots.add", "spots.room", "", "measure.condition"),
        )  # fmt: skip
        add_context_menu(
            self.entries, self.registry, "reading.open", "", "reading.move", "reading.condition", "reading.reference",
            "reading.void", "reading.valid",
        )  # fmt: skip
        return buttons

    def refresh(self) -> None:
        """See `StyledWidget`."""
        controller = self.controller
        spots = controller.snapshot.spots
        chosen = next((i for i, spot in enumerate(spots) if spot.id == controller.route.chosen_id), None)
        self.spots.show_rows(self._spot_rows(), chosen)
        self._empty.setVisible(not spots)
        self.spots.setVisible(bool(spots))
        self._card.show_spot(controller.route.chosen)
        self._show_meaning()
        items = in_order(controller.snapshot.readings, controller.snapshot.marks)
        items.reverse()
        self._choose_newest(items)
        self._show_entries(items)
        self.entries.setVisible(bool(items))
        self.split.let_drag(bool(items))
        standing = sum(reading.void_reason is None for reading in controller.snapshot.readings)
        void = len(controller.snapshot.readings) - standing
        heading = tr("Readings and marks — none yet")
        if items:
            heading = (
                tr("Readings and marks — {valid} valid, {void} voided")
                if void
                else tr("Readings and marks — {valid} valid")
            )
        self._entry_heading.setText(heading.format(valid=standing, void=void))
        self._make_room()

    def _show_entries(self, items: list[Reading | Mark]) -> None:
        """List readings and marks, the newest first; those at the chosen spot under its name before the others."""
        spot = self.controller.route.chosen
        here = [item for item in items if spot is not None and _is_at(item, spot)]
        elsewhere = [item for item in items if spot is None or not _is_at(item, spot)]
        self._items = here + elsewhere
        rows: list[ListRow | ListHeading] = [self._entry_row(item, has_heading=True) for item in here]
        if spot is not None and here:
            rows.insert(0, ListHeading(spot.name))
            if elsewhere:
                rows.append(ListHeading(tr("Elsewhere")))
        rows += [self._entry_row(item) for item in elsewhere]
        chosen = next((at for at, item in enumerate(self._items) if _is_same(item, self._entry)), None)
        self.entries.show_rows(rows, chosen)

    def resizeEvent(self, event: QResizeEvent) -> None:
        """See Qt."""
        super().resizeEvent(event)
        self._make_room()

    def _make_room(self) -> None:
        """Where the page is too low, what is said of the last reading stands with that reading only."""
        needs = (
            self.width(), self.room_height(), self.appearance, self._meaning, self.remarks.text(),
            self._card.content(),
            self.spots.row_model.rowCount(), self.entries.row_model.rowCount(),
        )  # fmt: skip
        if needs != self._made_room_for:  # a part that is shown and hidden has the whole page laid out anew
            self._made_room_for = needs
            is_low = self.room_height() < LOW_LINES * line_height(font(self.appearance.sizes.small))
            self.column.setContentsMargins(*(LOW_MARGINS if is_low else MARGINS))
            self._set_gap(LOW_GAP if is_low else GAP)
            self._buttons.give_way({"spots.room"} if is_low else set(), has_keys=not is_low)
            self.remarks.setVisible(bool(self.remarks.text()))
            self._entry_heading.show()
            self._card.take_room()
            self.spots.give_room(MIN_SPOT_ROWS)
            self.entries.give_room(MIN_ENTRY_ROWS)
            self.meaning.show_whole(self._meaning)
            self.give_way(
                [
                    self.remarks.hide,
                    self._card.give_way,
                    lambda: self.entries.give_room(MIN_ENTRY_ROWS, is_short=True),
                    self._fold_meaning,
                    lambda: self.entries.give_room(SCARCE_ENTRY_ROWS, is_short=True),
                    self._card.hide,
                    lambda: self.spots.give_room(MIN_SPOT_ROWS, is_short=True),
                    self._hide_entry_heading,
                    self._cut_meaning,
                    lambda: self.entries.give_room(SCARCE_ENTRY_ROWS - 1, is_short=True),
                    lambda: self.spots.give_room(MIN_SPOT_ROWS - 1, is_short=True),
                    lambda: self.entries.give_room(FEWEST_ENTRY_ROWS, is_short=True),
                    lambda: self.spots.give_room(FEWEST_SPOT_ROWS, is_short=True),
                    lambda: self.entries.give_room(1, is_short=True),
                ]
            )
            if self._border_is_users:
                self.spots.give_room(FEWEST_SPOT_ROWS, is_short=self.spots.is_short)
                self.entries.give_room(FEWEST_ENTRY_ROWS, is_short=self.entries.is_short)
            self.split.most_above = self._most_above()
            self.split.lay_out()  # what gave way leaves its room to the lists before anything is painted

    def focus_part(self) -> QWidget | None:
        """See `Page`; the spots come first, in whatever order Qt keeps the two parts."""
        return self.spots if self.controller.snapshot.spots else super().focus_part()

    def is_too_low(self) -> bool:
        """See `Page`; what was hidden in one of the two parts counts at once."""
        self.split.updateGeometry()
        return super().is_too_low()

    def place_border(self, permille: int) -> None:
        """Give the spots so much of the height, as the user had dragged the border."""
        self.split.share(permille)
        self._let_border_move()

    def _let_border_move(self) -> None:
        if not self._border_is_users:
            self._border_is_users, self._made_room_for = True, ()
            self._make_room()

    def _set_gap(self, pixels: int) -> None:
        """Set the room between the parts of the page."""
        for column in (self.column, self.split.above.column, self.split.below.column):
            column.setSpacing(pixels)

    def _most_above(self) -> int:
        """The height in pixels that shows every spot, of which more would leave the list blank below them."""
        around = self.split.above.minimumSizeHint().height() - self.spots.minimumSizeHint().height()
        return around + self.spots.whole_height()

    def _hide_entry_heading(self) -> None:
        """Leave what is listed to the headings in the list, where there are any."""
        self._entry_heading.setVisible(
            not isinstance(next(iter(self.entries.row_model.items), None), ListHeading)
        )

    def _cut_meaning(self) -> None:
        """Show one line of what the readings mean, unless they are warned of."""
        if not self._is_warning:
            self.meaning.cut_to_line(self.split.width())

    def _fold_meaning(self) -> None:
        """Show the first statement of what the readings mean, unless they are warned of."""
        if self._is_warning:
            return
        first = re.split(r"(?<=\S\S)[:.] ", self._meaning, maxsplit=1)[0].removesuffix(".")
        is_within_name = first.count("“") != first.count("”")
        if first != self._meaning.removesuffix(".") and not is_within_name:
            self.meaning.cut(f"{first}.")

    def _show_meaning(self) -> None:
        """What the chosen spot's readings mean, and what has to be said beside them."""
        controller, spot = self.controller, self.controller.route.chosen
        meaning = remarks = ""
        is_warning = False
        if spot is not None and spot.room == OUTSIDE_WALK:
            readings, spots = controller.snapshot.readings, controller.snapshot.spots
            meaning = walk_meaning(readings, spots)
            is_warning = any(is_point_apart(readings, each) for each in spots)
        elif spot is not None:
            result = controller.readings.result(spot)
            meaning = result.meaning(controller.setup.stated.target_volts)
            is_warning = result.is_in_doubt()
        last = controller.readings.last_at(spot.id) if spot is not None else None
        if last is not None:
            message = _remarks(last)
            read_with = tr("Read with: {remarks}.").format(remarks="; ".join(message)) if message else ""
            remarks = "\n".join(filter(None, (controller.readings.doubt(last), read_with)))
        self._meaning, self._is_warning = meaning, is_warning  # how much of it is in sight, `_make_room` sees
        self.meaning.setVisible(bool(meaning))
        self.remarks.setText(remarks)  # whether there is room for it, `_make_room` sees

    def chosen_entry(self) -> Reading | Mark | None:
        """The reading or mark that is chosen in the list; None while none is."""
        return next((item for item in self._items if _is_same(item, self._entry)), None)

    def used_switches(self) -> tuple[GroupKind, ...]:
        """See `Page`."""
        return (GroupKind.PERSON, GroupKind.BREAKERS)

    def primary_action(self) -> PrimaryAction:
        """See `Page`."""
        message = self.controller.readings.next_take()
        if fault := self.controller.snapshot.fault:  # no offer stands in its place
            return PrimaryAction(tr("Take the reading"), self.take, fault, takes_value=True, does="take")
        if not self.controller.snapshot.spots:  # the same whatever the value does meanwhile
            return PrimaryAction(
                tr("Add a room..."), lambda: self.registry.trigger("spots.room"), does="room"
            )
        if message.refused and (text := self.controller.readings.switched_after_rounds()):
            return PrimaryAction(text, lambda: self.registry.trigger("measure.condition"), does="enter")
        is_again = self.controller.readings.is_read_again()  # what comes after the readings can wait
        if message.refused and not is_again and self.controller.readings.rounds_are_done():
            return PrimaryAction(
                tr("Go on to the sources"),
                lambda: self.registry.trigger(waiting_page(self.controller)),
                does="sources",
            )
        # A value that was taken, and then moved or voided, is not offered again for a spot that is read already.
        is_taken = message.refused or self.controller.snapshot.has_taken_stretch()
        if is_taken and not is_again and self.controller.readings.off_round_due():
            return PrimaryAction(
                tr("Begin the round with everything off"),
                lambda: self.registry.trigger("measure.round_off"),
                does="round_off",
            )
        if message.refused:
            return PrimaryAction(
                tr("Take the reading"), self.take, message.text, takes_value=True, does="take"
            )
        return PrimaryAction(message.text, self.take, takes_value=True, does="take")

    def _choose_newest(self, items: list[Reading | Mark]) -> None:
        """Choose what was just taken, so that it is in sight; what was there before the page is left as it is."""
        newest = items[0] if items else None
        if newest is not None and self._newest_utc_ns is not None and newest.utc_ns > self._newest_utc_ns:
            self._entry = newest
        self._newest_utc_ns = newest.utc_ns if newest is not None else 0

    def _choose_entry(self, row: int) -> None:
        self._entry = self._items[row]

    def _spot_rows(self) -> list[ListRow | ListHeading]:
        """The spots along the route, under the name of each room that it comes to."""
        rows: list[ListRow | ListHeading] = []
        room = ""
        for index, spot in enumerate(self.controller.snapshot.spots):
            if spot.room != room:
                room = spot.room
                title = tr("Outside walk") if room == OUTSIDE_WALK else room[:1].upper() + room[1:]
                rows.append(ListHeading(title or tr("Without a room")))
            rows.append(self._spot_row(index, spot))
        return rows

    def _spot_row(self, index: int, spot: Spot) -> ListRow:
        controller = self.controller
        last = controller.readings.last_at(spot.id)
        name = name_in_room(spot)
        head, tip = f"{index + 1}  {name}", self._card.tip_of(spot)
        if last is None:
            unread = tr("not read yet")
            return ListRow(head, "", unread, spot.reminder, tip=tip, short=(head, unread), short_cut=name)
        result = controller.readings.result(spot)
        if result.pair():  # of the values that the row shows, whatever was read with something else on since
            last = max(filter(None, (result.on, result.off)), key=lambda reading: reading.utc_ns)
        right = f"{_how_taken(last)}{clock_text(last.utc_ns, controller.snapshot.zone, seconds=False)}"
        if not result.pair():
            value = f"{reading_volts_text(last)} V"
            small = tr_kept(last.condition) or tr("what was on: not entered")
            if is_point_apart(controller.snapshot.readings, spot):
                small = tr("not known: its readings contradict each other")
            in_short = {EVERYTHING_ON: tr("on {volts} V"), EVERYTHING_OFF: tr("off {volts} V")}.get(
                last.condition
            )
            has_short = in_short is not None and small == tr_kept(last.condition)
            shown = in_short.format(volts=reading_volts_text(last)) if in_short and has_short else value
            more = " · ".join(filter(None, ("" if has_short else small, _not_settled(last))))
            return ListRow(
                head, value, small, right, tip=tip, short=(head, shown), short_cut=name, short_more=more
            )
        small = result.verdict(controller.setup.stated.target_volts)
        if result.why_not_comparable():
            small = tr("not comparable")
        elif small and result.on is not None and result.off is not None:
            target_volts = controller.setup.stated.target_volts
            text = tr("on and off: {verdict}") if result.both_above(target_volts) else tr("on: {verdict}")
            small = text.format(verdict=small)  # beside two values
            if result.is_alike(target_volts):
                small = tr("on and off alike: was everything off?")
        if result.on is not None and result.off is not None:
            # Below the list it stands of the chosen spot alone, and where a screen reader does not come by itself.
            meaning = result.meaning(controller.setup.stated.target_volts)
            tip = "\n".join(filter(None, (tip, meaning)))
        doubts = [small] if result.why_not_comparable() else []
        doubts += list(filter(None, map(_not_settled, filter(None, (result.on, result.off)))))[:1]
        return ListRow(
            head, value := _on_and_off(result), small or tr_kept(last.condition), right, tip=tip,
            short=(head, value), short_cut=name, short_more=" · ".join(doubts),
        )  # fmt: skip

    def _entry_row(self, item: Reading | Mark, *, has_heading: bool = False) -> ListRow:
        """The row of a reading or mark.

        Args:
            item: what is listed.
            has_heading: whether the name of its spot stands above it.
        """
        void = item.void_reason is not None
        why_void = tr("void: {reason}").format(reason=tr_kept(item.void_reason or ""))
        time = clock_text(item.utc_ns, self.controller.snapshot.zone)
        if isinstance(item, Mark):
            small = why_void if void else tr("mark")
            return ListRow(quoted(mark_text(item)), "", small, time, void, void)
        small = why_void if void else tr_kept(item.condition) or tr("what was on: not entered")
        value = f"{reading_volts_text(item)} V"
        right = time if void else f"{_how_taken(item)}{uncertainty_text(item.volts, u_of(item))} · {time}"
        note = ""
        if not void:
            # What speaks against this one reading stands before what holds for many.
            by_words = remark_by_words(item, self.controller.snapshot.sources)
            notes = self.controller.readings.doubt(item), _corrected(item), by_words, _short(item)
            note = "\n".join(filter(None, notes))
        said = short_condition(item.condition) if item.condition and not void else small
        name = self._short_name(item)
        volts = (
            f"{reading_text(item)} · {clock_text(item.utc_ns, self.controller.snapshot.zone, seconds=False)}"
        )
        return ListRow(
            item.spot_name, value, small, right, void, void,
            note=note, short=(said if has_heading else f"{said} · {name}", volts),
            short_cut="" if has_heading else name, short_more=self._short_more(item),
        )  # fmt: skip

    def _short_name(self, reading: Reading) -> str:
        """Where a reading was taken; without the room where no other spot that was read has the same name in its."""
        read_ids = {each.spot_id for each in self.controller.snapshot.readings}
        spots = {spot.id: spot for spot in self.controller.snapshot.spots if spot.id in read_ids}
        spot = spots.get(reading.spot_id)
        if spot is None or spot.name != reading.spot_name:
            return reading.spot_name
        in_room = name_in_room(spot)
        is_unique = [name_in_room(one) for one in spots.values()].count(in_room) == 1
        return in_room if is_unique else reading.spot_name

    def _short_more(self, reading: Reading) -> str:
        """What is said of a reading in short besides; empty for one that does not count."""
        if reading.void_reason is not None:
            return ""
        parts = [tr("in doubt")] if self.controller.readings.doubt(reading) else []
        parts += [tr("corrected")] if _corrected(reading) else []
        # Where all are simulated, the readout says it.
        readings = self.controller.snapshot.readings
        mixed = reading.simulated and not all(each.simulated for each in readings)
        how = _how_taken(reading) if mixed or not reading.simulated else ""
        return " · ".join([*parts, *([how.removesuffix(" · ")] if how else [])])


def _on_and_off(result: SpotResult) -> str:
    """What a spot was read as with everything on and off, by these words and the figures of the list: 'on 1.85 V'.

    Args:
        result: of a spot that was read in one of both.
    """
    on, off = (reading_volts_text(one) if one is not None else "" for one in (result.on, result.off))
    if on and off:
        return tr("on {on}, off {off} V").format(on=on, off=off)
    return tr("on {volts} V").format(volts=on) if on else tr("off {volts} V").format(volts=off)


def _is_at(item: Reading | Mark, spot: Spot) -> bool:
    return isinstance(item, Reading) and item.spot_id == spot.id


def _is_same(item: Reading | Mark, other: Reading | Mark | None) -> bool:
    return other is not None and type(item) is type(other) and item.id == other.id


def _corrected(reading: Reading) -> str:
    """What a reading was before it was corrected, in a sentence; empty where it counts as it was taken."""
    was = footnote(reading)
    return tr("Corrected: {what}.").format(what=was) if was else ""


def _not_settled(reading: Reading) -> str:
    return tr("not settled") if reading.taken == "override" else ""


def _how_taken(reading: Reading) -> str:
    words = [tr(SIMULATED_WORDS[SIMULATED])] if reading.simulated else []
    if not_settled := _not_settled(reading):
        words.append(not_settled)
    elif reading.taken == "by hand":
        words.append(tr("by hand"))
    return "".join(f"{word} · " for word in words)


def name_in_room(spot: Spot) -> str:
    """A spot's name as it stands below its room's: "Bedroom: desk" is the desk."""
    heading = f"{spot.room}: "
    place = spot.name[len(heading) :]
    is_below = spot.room and place and spot.name[: len(heading)].casefold() == heading.casefold()
    return place if is_below else spot.name


def _remarks(reading: Reading) -> list[str]:
    """What has to stand beside a reading, with one remark for all checks of which the same is said."""
    context = reading.context
    if context is None:
        return []
    by_state: dict[CheckVerdict | Lapse | None, list[CheckKind]] = {}
    for kind in open_checks(context.verdicts):
        by_state.setdefault(context.check_state(kind), []).append(kind)
    checks = [state_text(listed_checks(kinds), state) for state, kinds in by_state.items()]
    return [*context.remarks_but_of_checks(reading.volts), *checks]


def _short(reading: Reading) -> str:
    """What has to be said beside a reading, in few words; the checks together, since there are up to three."""
    context = reading.context
    if context is None:
        return ""
    states = {kind: context.check_state(kind) for kind in open_checks(context.verdicts)}
    out = [*context.remarks_but_of_checks(reading.volts), *checks_in_short(states)]
    return "; ".join(out)
