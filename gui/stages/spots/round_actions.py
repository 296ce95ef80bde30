"""The rounds: with everything off after everything on, and the walk outside."""

from __future__ import annotations

from gui.model.visit_access import Message
from gui.shell.question import Choice, Question
from gui.stages.spots.action_context import ActionContext, Actions
from gui.stages.spots.history_actions import HistoryActions
from logger import cautions
from logger.translation import tr, tr_kept, tr_n
from logger.visit.records.condition import EVERYTHING_OFF, EVERYTHING_ON, OUTSIDE_WALK
from logger.visit.records.reading_records import Reading


class RoundActions(Actions):
    """Begin a round, and offer it when the one before is complete.

    Args:
        context: the parts of the window.
        history_actions: undo the last reading instead.
    """

    def __init__(self, context: ActionContext, history_actions: HistoryActions) -> None:
        super().__init__(context)
        self._history_actions = history_actions

    def offer_round(self, on_before: int) -> bool:
        """Offer the round with everything off after the reading that completes the one with everything on.

        Args:
            on_before: how many spots had been read with everything on before that reading.

        Returns:
            Whether it was offered.
        """
        controller = self.controller
        if (
            controller.readings.count_read(EVERYTHING_ON) == on_before
            or not controller.readings.off_round_due()
        ):
            return False
        self.ask_round()
        return True

    def go_on_after(self, reading: Reading) -> None:
        """Choose the next unread spot after a reading of one of both rounds, and say which.

        Args:
            reading: just taken.
        """
        controller, condition = self.controller, reading.condition
        if condition not in (EVERYTHING_ON, EVERYTHING_OFF) or reading.spot_id != controller.route.chosen_id:
            return
        taken = controller.message.text
        if controller.readings.count_read(condition) == len(controller.route.indoor_spots()):
            controller.message = Message(
                tr("{taken}. Every spot is read with {condition}.").format(
                    taken=taken, condition=tr_kept(condition)
                )
            )
        elif controller.route.choose_next_unread(condition) and controller.route.chosen is not None:
            name = controller.route.chosen.name
            controller.message = Message(tr("{taken}. Next: “{spot}”").format(taken=taken, spot=name))
            self.sounds.speak(tr("Next: {spot}").format(spot=name))

    def ask_round(self) -> None:
        """Ask whether everything is off now, and begin that round."""
        controller = self.controller
        spots = len(controller.route.indoor_spots())
        if not spots:
            controller.message = Message(
                tr("There is no spot to read. Add one first, or the usual ones of a room."), refused=True
            )
            return
        read = controller.readings.count_read(EVERYTHING_ON)

        def begin() -> None:
            controller.condition.state(EVERYTHING_OFF)
            first = next(
                (s for s in controller.route.indoor_spots() if controller.readings.result(s).off is None),
                None,
            )
            controller.route.propose((first or controller.route.indoor_spots()[0]).id)
            if controller.hands_free.is_armed:
                controller.hands_free.arm()
            self.show_spots()

        self.prompt.ask(
            Question(
                tr("Is everything off now?"),
                tr_n(
                    "The spot is read with everything on, and follows with everything off.",
                    "{read} of {n} spots are read with everything on. The same spots follow with everything off, one "
                    "after the other.",
                    spots,
                ).format(read=read, n=spots)
                + " "
                + tr(
                    "Leave on what must not go off: refrigerator, alarm, medical device. Have a torch at hand."
                ),
                (
                    Choice(tr("Everything is off now: begin the round"), begin),
                    Choice(tr("Void the last reading first"), self._history_actions.ask_void),
                ),
                escape_text=tr("Not now"),
            )
        )

    def go_outside(self) -> None:
        """The next point of the walk outside, towards whatever may be the source."""

        def go() -> None:
            self.controller.route.add_walk_point()
            self.show_spots()

        if self.controller.route.chosen is not None and self.controller.route.chosen.room == OUTSIDE_WALK:
            go()
            return
        self.prompt.ask(
            Question(
                tr("Begin the outside walk?"),
                tr("Readings along a path, such as towards a power line: does the value rise?")
                + f" {tr(cautions.OUTSIDE_WALK_CAUTION)}",
                (Choice(tr("The first point"), go, default=True),),
            )
        )
