"""Hands-free reading: armed, it takes a reading once the value has settled, and goes on to the next spot."""

from __future__ import annotations

from collections.abc import Callable

from gui.model.hands_free import STILL_CHOICES_S
from gui.model.visit_access import Message
from gui.model.wording import reading_volts_text
from gui.shell.question import Choice, Question
from gui.sound.sounds import Tone
from gui.stages.spots.action_context import ActionContext, Actions
from gui.stages.spots.reading_questions import ReadingQuestions
from logger.metrology.rounding import plain
from logger.translation import tr
from logger.visit.records.condition import EVERYTHING_ON


class HandsFreeActions(Actions):
    """Arm hands-free reading, and take the reading that is due.

    Args:
        context: the parts of the window.
        questions: what may have to be asked around a reading.
    """

    def __init__(self, context: ActionContext, questions: ReadingQuestions) -> None:
        super().__init__(context)
        self._questions = questions

    def arm_or_disarm(self) -> None:
        """Hands-free reading on or off; asks first for what is not known."""
        controller = self.controller
        self.show_spots()
        if controller.hands_free.is_armed:
            controller.hands_free.disarm()
            controller.message = Message(tr("Hands-free reading is off."))
        elif controller.route.chosen is None and controller.route.removed_spot is not None:
            self._questions.spots.ask_where(then=self.arm_or_disarm)
        elif controller.route.chosen is None:
            controller.message = Message(
                tr("There is no spot to read. Add one first, or the usual ones of a room."), refused=True
            )
        elif not controller.condition.at(controller.route.chosen):
            self._questions.condition.ask_condition(then=self.arm_or_disarm)
        else:
            controller.hands_free.arm()
            controller.message = Message(
                tr(
                    "Hands-free: go to “{spot}” and hold still. The reading is taken after {seconds} s settled. Then "
                    "go on to the next spot."
                ).format(spot=controller.route.chosen.name, seconds=plain(controller.hands_free.still_for_s))
            )

    def ask_still_for(self) -> None:
        """Ask how long the value must have been settled before it is taken by itself."""

        def choose(seconds: float) -> Callable[[], None]:
            def do() -> None:
                self.controller.hands_free.set_still_for(seconds)
                self.controller.message = Message(
                    tr("Hands-free: a reading is taken after {seconds} s settled").format(
                        seconds=plain(seconds)
                    )
                )

            return do

        self.prompt.ask(
            Question(
                tr("Settled for how long, hands-free?"),
                tr("The longer, the surer; a body seldom lies still for a minute."),
                tuple(
                    Choice(
                        tr("{seconds} s").format(seconds=plain(s)),
                        choose(s),
                        default=s == self.controller.hands_free.still_for_s,
                    )
                    for s in STILL_CHOICES_S
                ),
            )
        )

    def take_due(self) -> None:
        """Take the reading that is due, say so, and go on to the next spot."""
        controller = self.controller
        if controller.route.chosen is None or not controller.condition.at(controller.route.chosen):
            # Asked like everywhere, never assumed. Who answers has left the spot: it is armed anew.
            controller.hands_free.disarm()
            self.sounds.speak(tr("Not taken. There is a question on the screen."))
            self.arm_or_disarm()
            self.redraw()
            return
        if doubt := controller.readings.condition_doubt():
            self.sounds.speak(tr("Not taken. There is a question on the screen."))
            self._questions.condition.ask_condition(doubt=doubt)
            self.redraw()
            return
        on_before = controller.readings.count_read(EVERYTHING_ON)
        reading = controller.readings.take()
        controller.hands_free.note_taken()  # a refused one too, so that it is not tried again many times a second
        elsewhere = controller.readings.taken_elsewhere
        if reading is None and elsewhere is not None:
            # Two windows go the same round: this one follows the other. At another spot nobody was for this one.
            self.sounds.speak(tr("Already taken in another window."))
            same_spot = elsewhere.spot_id == controller.route.chosen_id
            if same_spot and not controller.route.choose_next_unread():
                controller.hands_free.disarm()
            self.redraw()
            return
        if reading is None:
            self.action_bar.flash()
            self.redraw()
            return
        self.sounds.play(Tone.TAKEN)
        taken = tr("{volts} volts taken at “{spot}”.").format(
            volts=reading_volts_text(reading), spot=reading.spot_name
        )
        if controller.route.choose_next_unread() and controller.route.chosen is not None:
            spot = controller.route.chosen
            reminder = controller.condition.reminder_at(spot)
            text = tr("{taken} Next: {spot}, {reminder}") if reminder else tr("{taken} Next: {spot}")
            self.sounds.speak(text.format(taken=taken, spot=spot.name, reminder=reminder))
        elif not self._questions.rounds.offer_round(on_before):
            controller.hands_free.disarm()
            controller.message = Message(
                tr("{message}\nThis was the last spot of the round: hands-free is off.").format(
                    message=controller.message.text
                )
            )
            self.sounds.speak(tr("{taken} That was the last spot.").format(taken=taken))
        else:
            self.sounds.speak(tr("{taken} Every spot is read. Next: everything off.").format(taken=taken))
        self.redraw()
