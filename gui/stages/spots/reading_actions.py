"""Takes a reading; whatever is not known is asked first."""

from __future__ import annotations

from gui.model.visit_access import Message
from gui.shell.question import Choice, Question
from gui.sound.sounds import Tone
from gui.stages.spots.action_context import ActionContext, Actions
from gui.stages.spots.reading_questions import ReadingQuestions
from logger.errors import StillvoltError
from logger.translation import tr, tr_kept
from logger.visit.records.condition import EVERYTHING_ON, STILL_AFTER_STATEMENT_S
from logger.visit.records.promised_value import PromisedValue
from logger.visit.results.used_stretch import StretchUse


class ReadingActions(Actions):
    """Take a reading at the chosen spot.

    Args:
        context: the parts of the window.
        questions: what may have to be asked around a reading.
    """

    def __init__(self, context: ActionContext, questions: ReadingQuestions) -> None:
        super().__init__(context)
        self._questions = questions

    def take(self, override: bool = False) -> None:
        """Take the value for the chosen spot; asks first for what is not known."""
        controller = self.controller
        # Another window may have stated what is on, or removed the spot, just now.
        controller.refresh(force=True)
        if not override and controller.snapshot.refusal:
            controller.message = Message(
                tr("Can't take a reading: {refusal}").format(refusal=controller.snapshot.refusal),
                refused=True,
            )
            self.action_bar.flash()
            return
        if doubt := controller.readings.condition_doubt():
            self._questions.condition.ask_condition(self._say_nothing_taken, doubt=doubt)
            return
        promised = controller.readings.begin_take(override)
        if promised is None:
            self.action_bar.flash()
            return
        self._take_once_known(promised)

    def _say_nothing_taken(self) -> None:
        """Say that what is on was entered and nothing taken: the value that was there is older than the answer."""
        entered = self.controller.snapshot.stated.condition
        text = tr(
            "“{condition}” is entered. No reading was taken: hold still for {seconds} s, then take it."
        ).format(condition=tr_kept(entered), seconds=f"{STILL_AFTER_STATEMENT_S:.0f}")
        self.controller.message = Message(text)

    def _take_once_known(self, promised: PromisedValue, *, body_known: bool = False) -> None:
        """Ask for what is not known, and take the value that stood when the key was pressed.

        Args:
            promised: that value.
            body_known: the user has answered how the person is there.
        """
        controller = self.controller
        about = controller.readings.promise_text(promised)

        def go_on() -> None:
            controller.refresh(force=True)
            self._take_once_known(promised)

        if controller.route.chosen is None:
            self._questions.spots.ask_where(go_on, about)
            return
        if not controller.condition.at(controller.route.chosen):
            self._questions.condition.ask_condition(go_on, about)
            return
        if not body_known and (differing := controller.readings.other_body()) is not None:
            self._ask_body(promised, *differing)
            return
        before = controller.readings.unmoved_since(promised)
        if before is not None and not before.without_body:
            self._ask_unmoved(promised, before)
            return
        self._take(promised)

    def _ask_body(self, promised: PromisedValue, before: str, now: str) -> None:
        """Ask where the description of the spot was changed since its last reading.

        Args:
            promised: the value that stood when the key was pressed.
            before: how the last reading there was taken.
            now: how this one would be.
        """
        controller, spot = self.controller, self.controller.route.chosen
        assert spot is not None

        def go_on() -> None:
            controller.refresh(force=True)
            self._take_once_known(promised, body_known=True)

        def correct() -> None:
            if controller.details.correct_earlier(spot):
                go_on()

        self.prompt.ask(
            Question(
                tr("The reading before at “{spot}” was taken so: {before}. Now: {now}.").format(
                    spot=spot.name, before=before, now=now
                ),
                tr("{about} Values of another posture, height or person are not compared.").format(
                    about=controller.readings.promise_text(promised)
                ),
                (
                    Choice(tr("Take it: now it is {now}").format(now=now), go_on, default=True),
                    Choice(tr("It was {now} then too: correct the earlier entry").format(now=now), correct),
                ),
                escape_text=tr("Cancel"),
            )
        )

    def why_not_unsettled(self) -> str:
        """Why no unsettled value can be taken, in a whole sentence; empty where one can."""
        snapshot = self.controller.snapshot
        if not snapshot.recording or snapshot.live is None:
            return tr("Nothing is being recorded.")
        if snapshot.stale or snapshot.live.port_state != "open":
            return snapshot.refusal or tr("No values come from the meter.")
        return "" if snapshot.refusal else tr("The value is settled: take it as usual.")

    def ask_unsettled(self) -> None:
        """Ask whether to take the value although it is not settled."""
        spot = self.controller.route.chosen
        title = (
            tr("Take the value for “{spot}” although it is not settled?").format(spot=spot.name)
            if spot is not None
            else tr("Take the value although it is not settled?")
        )
        self.prompt.ask(
            Question(
                title,
                tr("{refusal} The reading is marked as not settled.").format(
                    refusal=self.controller.snapshot.refusal
                ),
                (Choice(tr("Take it, marked as not settled"), lambda: self.take(override=True)),),
                escape_text=tr("Wait until it is settled"),
            )
        )

    def _ask_unmoved(self, promised: PromisedValue, before: StretchUse) -> None:
        """Ask where nothing has stirred the value since another spot, or something else, was read.

        Args:
            promised: the value that stood when the key was pressed.
            before: what was taken in the still stretch that it is of.
        """
        controller, spot = self.controller, self.controller.route.chosen
        assert spot is not None
        try:
            about = controller.readings.unmoved_text(promised, before)
        except StillvoltError as error:  # a yes could take nothing: there is nothing to ask
            advice = tr("Move at “{spot}”, hold still, and take it again.").format(spot=spot.name)
            text = " ".join((before.not_moved, error.what, advice))
            controller.message = Message(text, refused=True)
            self.action_bar.flash()
            self.redraw()
            return
        condition = controller.condition.at(spot)
        reading = before.reading
        same_spot = reading is not None and reading.void_reason is None and reading.spot_id == spot.id
        if before.stated:
            question = tr("Was it “{condition}” all that time?").format(condition=tr_kept(condition))
        elif same_spot:
            question = tr("Was it switched to {condition}?").format(condition=tr_kept(condition))
        else:
            question = tr("Is this “{spot}”?").format(spot=spot.name)

        def leave() -> None:
            controller.message = Message(
                tr("Not taken. Move at “{spot}”, hold still, and take it again.").format(spot=spot.name)
            )

        self.prompt.ask(
            Question(
                f"{before.not_moved} {question}",
                tr("{about} A yes is kept as a remark beside the reading.").format(about=about),
                (
                    Choice(tr("Yes, take it"), lambda: self._take(promised, before)),
                    Choice(tr("Move first, then read again"), leave, default=True),
                ),
                escape_text=tr("Cancel"),
            )
        )

    def _take(self, promised: PromisedValue, unmoved: StretchUse | None = None) -> None:
        """Take the value with everything known.

        Args:
            promised: the value that stood when the key was pressed.
            unmoved: the value since which nothing has moved, where the user has confirmed that.
        """
        controller = self.controller
        on_before = controller.readings.count_read(EVERYTHING_ON)
        reading = controller.readings.take(unmoved=unmoved, promised=promised)
        if reading is not None:
            self.sounds.play(Tone.TAKEN)
            if not self._questions.rounds.offer_round(on_before):
                self._questions.rounds.go_on_after(reading)
        else:
            self.action_bar.flash()
        self.redraw()
