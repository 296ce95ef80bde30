"""Actions of the readings: take, hands-free, the round with everything off, by hand, what is on, marks, undo."""

from __future__ import annotations

from collections.abc import Callable

from gui.actions.base import ActionContext, Actions
from gui.actions.spot_actions import SpotActions
from gui.model.hands_free import STILL_CHOICES_S
from gui.model.visit_access import Message
from gui.model.wording import clock_text, moment_text, reading_text
from gui.shell.prompt import Choice, Prompt
from gui.sound.sounds import Tone
from logger.metrology.rounding import form_volts
from logger.visit import Reading
from logger.visit.results.on_off_result import EVERYTHING_OFF, EVERYTHING_ON, OUTSIDE_WALK

WRONG_CONDITION = "wrong about what was on"
"""Why a reading is void; what is on is then asked again."""


class ReadingActions(Actions):
    """Take a reading and what belongs to it; whatever is not known is asked first.

    Args:
        context: the parts of the window.
        spot_actions: ask for a spot where there is none.
    """

    def __init__(self, context: ActionContext, spot_actions: SpotActions) -> None:
        super().__init__(context)
        self._spot_actions = spot_actions

    def take(self, override: bool = False) -> None:
        """Take the value for the chosen spot; asks first for what is not known."""
        controller = self.controller
        # Another window may have stated what is on, or removed the spot, just now.
        controller.refresh(force=True)
        if not override and controller.snapshot.refusal:
            controller.message = Message(f"Not taken: {controller.snapshot.refusal}", refused=True)
            self.action_bar.flash()
            return
        if controller.route.chosen is None:
            self._ask_where(then=lambda: self.take(override))
            return
        if not controller.condition.at(controller.route.chosen):
            self.ask_condition(then=lambda: self.take(override))
            return
        on_before = controller.readings.count_read(EVERYTHING_ON)
        if controller.readings.take(override) is not None:
            self.sounds.play(Tone.TAKEN)
            self._offer_round(on_before)
        else:
            self.action_bar.flash()
        self.redraw()

    def _ask_where(self, then: Callable[[], None]) -> None:
        """Ask for a spot: there is none yet, or the chosen one was removed in another window."""
        gone = self.controller.route.removed_spot
        if gone is None:
            self._spot_actions.ask_new_spot(then)
            return

        def bring_back() -> None:
            if self.controller.route.restore(gone):
                then()

        self.prompt.ask(
            Prompt(
                f"“{gone.name}” is no longer on the list",
                "It was removed in another window; its readings stay. Down and Up choose another spot.",
                (Choice("B", "bring it back and go on", bring_back),),
                escape_says="leave it removed",
            )
        )

    def arm_or_disarm(self) -> None:
        """Hands-free reading on or off; asks first for what is not known."""
        controller = self.controller
        self.show_spots()
        if controller.hands_free.on:
            controller.hands_free.disarm()
            controller.message = Message("Hands-free reading is off.")
        elif controller.route.chosen is None and controller.route.removed_spot is not None:
            self._ask_where(then=self.arm_or_disarm)
        elif controller.route.chosen is None:
            controller.message = Message(
                "There is no spot to read. A adds one, T those of a room.", refused=True
            )
        elif not controller.condition.at(controller.route.chosen):
            self.ask_condition(then=self.arm_or_disarm)
        else:
            controller.hands_free.arm()
            controller.message = Message(
                f"Hands-free: go to “{controller.route.chosen.name}” and hold still; taken once settled for "
                f"{controller.hands_free.still_for_s:g} s, then on to the next spot. H ends it."
            )

    def ask_still_for(self) -> None:
        """Ask how long the value must have been settled before it is taken by itself."""

        def choose(seconds: float) -> Callable[[], None]:
            def do() -> None:
                self.controller.hands_free.set_time(seconds)
                self.controller.message = Message(f"Hands-free: taken once settled for {seconds:g} s")

            return do

        self.prompt.ask(
            Prompt(
                "Settled for how long, hands-free?",
                "The longer, the surer; a body seldom lies still for a minute.",
                tuple(Choice(str(n), f"{s:g} s", choose(s)) for n, s in enumerate(STILL_CHOICES_S, 1)),
            )
        )

    def take_hands_free(self) -> None:
        """Take the reading that is due, say so, and go on to the next spot."""
        controller = self.controller
        if controller.route.chosen is None or not controller.condition.at(controller.route.chosen):
            # Asked like everywhere, never assumed. Who answers has left the spot: it is armed anew.
            controller.hands_free.disarm()
            self.sounds.speak("Not taken. There is a question on the screen.")
            self.arm_or_disarm()
            self.redraw()
            return
        on_before = controller.readings.count_read(EVERYTHING_ON)
        reading = controller.readings.take()
        controller.hands_free.used()  # a refused one too, so that it is not tried again many times a second
        if reading is None:
            self.action_bar.flash()
            self.redraw()
            return
        self.sounds.play(Tone.TAKEN)
        taken = f"{form_volts(reading.volts)} volts taken."
        if controller.route.choose_next_unread() and controller.route.chosen is not None:
            reminder = controller.condition.reminder_at(controller.route.chosen)
            self.sounds.speak(
                f"{taken} Next: {controller.route.chosen.name}{f', {reminder}' if reminder else ''}"
            )
        elif not self._offer_round(on_before):
            controller.hands_free.disarm()
            controller.message = Message(
                f"{controller.message.text}\nThis was the last spot of the round: hands-free is off."
            )
            self.sounds.speak(f"{taken} That was the last spot.")
        else:
            self.sounds.speak(f"{taken} Every spot is read. Next: everything off.")
        self.redraw()

    def _offer_round(self, on_before: int) -> bool:
        """After the reading that completes the round with everything on: offer the one with everything off."""
        controller = self.controller
        if (
            controller.readings.count_read(EVERYTHING_ON) == on_before
            or not controller.readings.off_round_due()
        ):
            return False
        self.ask_round()
        return True

    def ask_round(self) -> None:
        """Ask whether everything is off now, and begin that round."""
        controller = self.controller
        spots = len(controller.route.indoor_spots())
        if not spots:
            controller.message = Message(
                "There is no spot to read. A adds one, T those of a room.", refused=True
            )
            return
        read = controller.readings.count_read(EVERYTHING_ON)

        def begin() -> None:
            controller.condition.state(EVERYTHING_OFF)
            first = next(
                (s for s in controller.route.indoor_spots() if controller.readings.result(s).off is None),
                None,
            )
            controller.route.chosen_id = (first or controller.route.indoor_spots()[0]).id
            if controller.hands_free.on:
                controller.hands_free.arm()
            self.show_spots()

        self.prompt.ask(
            Prompt(
                "Is everything off now?",
                f"{read} of {spots} spots are read with everything on. The same spots follow with everything off. "
                "Leave on what must not go off: refrigerator, alarm, medical device. Have a torch at hand.",
                (
                    Choice("F", "everything is off now: begin the round", begin),
                    Choice("U", "undo the last reading first", self.ask_undo),
                ),
                escape_says="not now",
            )
        )

    def ask_by_hand(self, condition: str = "", typed: str = "") -> None:
        """Ask for values that were read from the meter's display by eye, spot after spot.

        Args:
            condition: what was on when they were read, such as on a form that is entered afterwards; empty: what is
                on now.
            typed: what was typed and not understood.
        """
        controller, spot = self.controller, self.controller.route.chosen
        if spot is None:
            if controller.route.removed_spot is not None:
                self._ask_where(then=lambda: self.ask_by_hand(condition))
            else:
                controller.message = Message(
                    "There is no spot to enter a value for. A adds one.", refused=True
                )
            return
        if not controller.condition.at(spot, condition):
            self._ask_condition_by_hand()
            return

        def keep(text: str) -> None:
            on_before = controller.readings.count_read(EVERYTHING_ON)
            if not controller.readings.enter_by_hand(text, condition):
                self.ask_by_hand(condition, text)
            elif not condition and self._offer_round(on_before):
                pass
            elif controller.route.choose_next_unread(condition):
                self.ask_by_hand(condition)
            elif condition == EVERYTHING_ON and controller.route.choose_first_unread(EVERYTHING_OFF):
                self.ask_by_hand(EVERYTHING_OFF)  # the other column of the form

        self.prompt.ask(
            Prompt(
                f"By hand at “{spot.name}”, {controller.condition.at(spot, condition)}",
                "Such as 0.27, 270 mV, or with how far it wandered: 0.27 +- 0.02. On and off at once, as on the form: "
                "0.9 (0.05). The next spot follows.",
                on_text=keep,
                prefilled=typed,
                enter_says="enter it",
                escape_says="that is all",
            )
        )

    def _ask_condition_by_hand(self) -> None:
        """Ask what was on when the values were read; says nothing of what is on now."""

        def begin(condition: str) -> Callable[[], None]:
            def do() -> None:
                self.ask_by_hand(condition)

            return do

        def by_name() -> None:
            self.prompt.ask(
                Prompt(
                    "What was on?",
                    "Name the circuits and cords that were live.",
                    on_text=lambda text: begin(text)(),
                )
            )

        self.prompt.ask(
            Prompt(
                "What was on when they were read?",
                "For the values by hand that follow.",
                (
                    Choice("O", "Everything on, as in the evening", begin(EVERYTHING_ON), ("1",)),
                    Choice("F", "Everything off", begin(EVERYTHING_OFF), ("2",)),
                    Choice("T", "Something else: type it", by_name, ("3",)),
                ),
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
            Prompt(
                "Begin the outside walk?",
                "Readings along a path, such as towards a power line: does the value rise? Stay on public or own "
                "ground, away from live parts, and not in or before a thunderstorm. G adds each further point.",
                (Choice("G", "the first point", go, ("Return",)),),
            )
        )

    def ask_condition(self, then: Callable[[], None] | None = None) -> None:
        """Ask what is on; never assumed."""

        def state(condition: str) -> None:
            self.controller.condition.state(condition)
            if then is not None:
                then()
            self.redraw()

        def by_name() -> None:
            self.prompt.ask(
                Prompt(
                    "What is on?",
                    "Name the circuits and cords that are live.",
                    on_text=state,
                    prefilled=self.controller.snapshot.condition,
                )
            )

        stated = self.controller.snapshot.stated
        text = "It stands with every reading until you change it."
        still: tuple[Choice, ...] = ()
        if stated.condition and not self.controller.snapshot.condition:
            text = f"Last stated {moment_text(stated.utc_ns)}: {stated.condition}. Is it still so?"
            still = (Choice("S", f"Still {stated.condition}", lambda: state(stated.condition)),)
        self.prompt.ask(
            Prompt(
                "What is on now?",
                text,
                (
                    *still,
                    Choice("O", "Everything on, as in the evening", lambda: state(EVERYTHING_ON), ("1",)),
                    Choice("F", "Everything off", lambda: state(EVERYTHING_OFF), ("2",)),
                    Choice("T", "Something else: type it", by_name, ("3",)),
                ),
            )
        )

    def ask_mark(self) -> None:
        """Ask for the text of a mark; its moment is that of the key, not of the last letter."""
        moment = self.controller.snapshot.live if self.controller.snapshot.recording else None
        self.prompt.ask(
            Prompt(
                "Mark",
                f"What happened at {clock_text(moment.beat_utc_ns) if moment else 'this moment'}?",
                on_text=lambda text: self.controller.readings.mark(text, moment),
                enter_says="put the mark",
            )
        )

    def ask_undo(self) -> None:
        """Undo the last change of the route at once; ask why the last reading or mark is void."""
        change = self.controller.history.last_edit()
        if change is not None:
            self.controller.history.undo(change)
            return
        last = self.controller.history.last_voidable()
        if last is None:
            self.controller.message = Message("There is nothing to undo.", refused=True)
            return
        if isinstance(last, Reading):
            reasons: tuple[tuple[str, str], ...] = (
                ("1", "moved"),
                ("2", "wrong spot"),
                ("3", WRONG_CONDITION),
            )
            what = f"{reading_text(last)} at “{last.spot_name}”, {last.condition}"
        else:
            what = f"the mark “{last.text}”"
            reasons = (("1", "mistyped"), ("2", "wrong moment"))

        def because(reason: str) -> Callable[[], None]:
            def do() -> None:
                self.controller.readings.void(last, reason)
                if reason == WRONG_CONDITION:
                    self.controller.condition.forget()
                    self.ask_condition()

            return do

        def by_words() -> None:
            self.prompt.ask(
                Prompt(
                    "Why is it void?",
                    what,
                    on_text=lambda text: self.controller.readings.void(last, text),
                    enter_says="void it",
                )
            )

        answers = tuple(Choice(key, reason, because(reason)) for key, reason in reasons)
        last_key = str(len(reasons) + 1)
        self.prompt.ask(
            Prompt(
                "Void the last one? Why?",
                f"{what}\nIt stays in the log with the reason.",
                (*answers, Choice(last_key, "another reason: type it", by_words)),
                escape_says="it stands",
            )
        )
