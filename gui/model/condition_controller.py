"""What is on: stated by the user, never assumed."""

from __future__ import annotations

from gui.model.visit_access import VisitAccess
from gui.model.wording import clock_text, day_and_time
from logger.errors import StillvoltError
from logger.translation import tr, tr_kept
from logger.visit import Spot
from logger.visit.records.condition import (
    EVERYTHING_OFF,
    EVERYTHING_ON,
    OUTSIDE_WALK,
    typed_condition,
    unlisted_on,
)
from logger.visit.results.typed_value import looks_like_value
from logger.visit.storage.time_zone import local_time


def refuse_value_as_condition(condition: str) -> None:
    """Refuse a number as the name of what is on.

    Raises:
        StillvoltError: it is one.
    """
    if looks_like_value(condition):
        raise StillvoltError(
            tr("“{condition}” is a value, and names nothing that is on.").format(condition=condition),
            tr("Nothing was stated."),
            tr("Name the circuits and cords that are live."),
        )


def in_words(condition: str) -> str:
    """A condition, with what the user may not expect of one that was typed: that it is none of the form's two."""
    if (
        condition == OUTSIDE_WALK or unlisted_on(condition) is not None
    ):  # the form's two, or a label of the sweep
        return tr_kept(condition)
    return tr("“{condition}”. Its readings count for neither “{on}” nor “{off}”.").format(
        condition=condition, on=tr_kept(EVERYTHING_ON), off=tr_kept(EVERYTHING_OFF)
    )


class ConditionController:
    """The condition that readings are taken in.

    Args:
        access: the visit.
    """

    def __init__(self, access: VisitAccess) -> None:
        self._access = access
        self._to_be_set_utc_ns = 0
        """When the statement was made that something is to be switched for; 0 for none."""

    def state_to_be_set(self, condition: str) -> None:
        """State what is to be on for the next reading, before it is switched: the switching is no doubt of it.

        Args:
            condition: as it is kept.
        """
        self.state(condition)
        stated = self._access.snapshot.stated
        self._to_be_set_utc_ns = stated.utc_ns if stated.condition == typed_condition(condition) else 0

    def is_to_be_set(self) -> bool:
        """Whether what is stated now was stated before it was switched, and nothing was read since."""
        stated_utc_ns = self._access.snapshot.stated.utc_ns
        return stated_utc_ns == self._to_be_set_utc_ns != 0 and all(
            reading.utc_ns < stated_utc_ns for reading in self._access.snapshot.readings
        )

    def state(self, condition: str) -> None:
        """State what is live from now on; an empty text states nothing."""
        condition = typed_condition(condition)

        def do() -> str:
            refuse_value_as_condition(condition)
            self._access.log.facts.state_condition(condition, self._access.snapshot.live)
            return tr("Now measuring with {condition}").format(condition=in_words(condition))

        if condition:
            self._access.do(do)

    def at(self, spot: Spot, condition: str = "") -> str:
        """The condition of a reading at a spot.

        Outdoors it is always the walk, whatever is on in the house.

        Args:
            spot: where it is read.
            condition: what is on indoors; empty takes what is stated now.
        """
        return OUTSIDE_WALK if spot.room == OUTSIDE_WALK else condition or self._access.snapshot.condition

    def ended_with_sweep(self) -> bool:
        """Whether what is on was entered, and is not known any more since a sweep was over or was left."""
        stated = self._access.snapshot.stated
        # The sweep ends a statement at a moment of its run; one that was called mistaken held at none.
        return stated.run_id is not None and not stated.condition

    def why_missing(self) -> str:
        """Why what is on has to be entered, in a sentence: nobody is told of nothing who has entered it before."""
        snapshot = self._access.snapshot
        stated = snapshot.stated
        if self.ended_with_sweep():
            return tr("It ended with the sweep: enter it again")
        if not stated.condition:
            return tr("Enter it again") if stated.utc_ns else tr("Not entered yet")
        now = local_time(self._access.clock.utc_ns(), snapshot.zone)
        is_of_today = local_time(stated.utc_ns, snapshot.zone).date() == now.date()
        entered = (
            clock_text(stated.utc_ns, snapshot.zone, seconds=False)
            if is_of_today
            else day_and_time(stated.utc_ns, snapshot.zone)
        )
        return tr("Last entered {time}: enter it again").format(time=entered)

    def reminder_at(self, spot: Spot) -> str:
        """What has to be on at a spot now; nothing in the round with everything off."""
        return "" if self.at(spot) == EVERYTHING_OFF else spot.reminder
