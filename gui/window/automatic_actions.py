"""What the window does without a key: readings that are due, tones, news of steps and of contradictions."""

from __future__ import annotations

from collections.abc import Callable

from gui.model.circuit_labels import plan_with_numbers
from gui.model.stages import SOURCES
from gui.model.status import status, status_value_text
from gui.model.sweep_controller import SweepController
from gui.model.sweep_review import SweepReview
from gui.model.switching_evidence import SweptReading
from gui.model.visit_access import Message
from gui.model.wording import reading_volts_text, spoken_change, value_text
from gui.shell.action_bar import ActionBar
from gui.shell.announcer import Announcer, Kind
from gui.shell.question import QuestionPanel
from gui.sound.sounds import Sounds, Tone
from gui.stages.check.same_meter_prompt import same_meter_prompt
from gui.stages.sources.suspect_prompts import doubt_prompt, repeated_prompt, unchanged_prompt
from gui.stages.sources.sweep_bars import what_to_switch_text
from gui.stages.sources.tonight_content import headline_text
from gui.stages.spots.hands_free_actions import HandsFreeActions
from gui.window.stage_pages import StagePages
from logger.settling.events import State
from logger.sweep.sweep_progress import Combination, circuits_of
from logger.sweep.switch_off_plan import PlanState
from logger.translation import tr
from logger.visit.records.reading_records import Reading
from logger.visit.results.on_off_result import against_target

_TONE_OF = {
    State.SETTLED: Tone.SETTLED,
    State.CHANGING: Tone.MOVING,
    State.CHANGING_LONG: Tone.MOVING,
    State.LOST: Tone.LOST,
}
"""The tone on entering a state; the others are silent."""


_ANNOUNCED = (State.SETTLED, State.LOST, State.OVERLOAD, State.REFUSED)
"""States that are announced when they are entered; while somebody moves, nothing is."""


# long: each thing that is taken, asked or announced by itself is one short method here.
class AutomaticActions:
    """Takes what is due and announces what is new.

    Args:
        sweep_controller: the sweep, whose awaited reading is taken once it has settled.
        hands_free_actions: takes the hands-free reading.
        pages: tell whether steps are looked at.
        prompt: one question is asked at a time.
        sounds: tones and voice.
        announcer: tells a screen reader.
        action_bar: flashes when a reading is refused.
        redraw: shows what is known now.
    """

    def __init__(
        self,
        sweep_controller: SweepController,
        hands_free_actions: HandsFreeActions,
        pages: StagePages,
        prompt: QuestionPanel,
        sounds: Sounds,
        announcer: Announcer,
        action_bar: ActionBar,
        redraw: Callable[[], None],
    ) -> None:
        self._sweep = sweep_controller
        self._controller = sweep_controller.controller
        self._hands_free_actions = hands_free_actions
        self._pages = pages
        self._prompt = prompt
        self._sounds = sounds
        self._announcer = announcer
        self._action_bar = action_bar
        self._redraw = redraw
        now = status(self._controller.snapshot)
        self._state, self._word = now.state, now.word
        """The state that was announced last, and its word: a lost value has one for each reason."""
        chosen = self._controller.route.chosen
        self._spot = chosen.name if chosen is not None else ""
        """The chosen spot that was announced last."""
        self._spot_message = self._controller.message
        """The message at that time: a newer one that names the spot has told of it."""
        self._review = SweepReview(sweep_controller)
        self._forms_asked: set[tuple[str, ...]] = set()
        """Forms of the meter's lines that were asked about."""
        self._swept: tuple[PlanState | None, SweptReading | None, Combination | None] = (None, None, None)
        """State of tonight's list, the newest reading, and the row gone to, as they were announced last."""
        self._listed = {source.id for source in circuits_of(sweep_controller.sources)}
        """Ids of the circuits that were listed when that was looked at last."""
        self._newest_id: int | None = None
        """Id of the newest reading when on and off were announced last; None before the first look."""
        self._to_ask: tuple[Reading, list[str]] | None = None
        """A reading that looks mistaken, with what speaks against it, that was not asked about yet."""
        self._is_asked_of_reading = False
        """A question about a reading of the sweep is open, or was: what is next is announced once it is answered."""

    def take_what_is_due(self) -> None:
        """Take the hands-free reading, or the one that the sweep or tonight's list awaits, when it is time."""
        if self._pages.shows(SOURCES) and self._pages.sources.page is not self._pages.sources.steps:
            self._sweep.stay_at_the_spot()
        self._sweep.note_asked()
        hands_free = self._controller.hands_free
        if hands_free.is_due():
            self._hands_free_actions.take_due()
        if self._sweep.waiting is not None and self._sweep.left_s() == 0.0:
            self._take_switched()
        # At once: what is found out from the reading may put another message in its place.
        self._announcer.follow(self._controller.message)

    def announce_contradiction(self) -> None:
        """Work out beside the window whether the readings of the sweep agree; announce where they do not.

        Where the reading that was taken last is among the suspects, it is asked about while somebody can still look.
        """
        text, suspects = self._review.new_contradiction()
        if not text:
            return
        newest = self._sweep.newest
        # The suspects are as they are now: the one that was taken last may have been corrected since.
        for reading in suspects:
            if newest is not None and reading.id == newest.reading.id:
                self._to_ask = reading, [text]
        if not self._pages.shows(SOURCES) or self._pages.sources.page is not self._pages.sources.tonight:
            self._controller.message = Message(text, refused=True)
        self._sounds.speak(tr("The readings contradict each other."))
        self._redraw()

    def ask_what_is_open(self) -> None:
        """Ask about a meter that looks like another, or the last reading where it looks mistaken; one at a time."""
        if self._prompt.question is not None:
            return
        forms = self._controller.checks.other_line_forms()
        if forms and forms not in self._forms_asked:
            self._forms_asked.add(forms)
            self._prompt.ask(same_meter_prompt(self._controller))
            return
        if self._sweep.unchanged is not None:
            unchanged, self._sweep.unchanged = self._sweep.unchanged, None
            self._prompt.ask(unchanged_prompt(self._sweep, unchanged, self._announce_taken))
            return
        if self._sweep.repeated is not None:
            repeated, self._sweep.repeated = self._sweep.repeated, None
            self._is_asked_of_reading = True
            self._prompt.ask(repeated_prompt(self._review, repeated))
            return
        if self._to_ask is None:
            return
        (reading, doubts), self._to_ask = self._to_ask, None
        valid = [r for r in self._controller.snapshot.readings if r.void_reason is None]
        # What speaks against it was said of the spot and of what was on then: after a correction it is no doubt.
        if (reading.id, reading.spot_id, reading.condition) in [
            (r.id, r.spot_id, r.condition) for r in valid
        ]:
            self._is_asked_of_reading = True
            self._prompt.ask(doubt_prompt(self._review, reading, doubts, self._prompt.ask))

    def announce_state(self) -> None:
        """Play the tone of a state that was entered, and announce what concerns the value; then the last outcome."""
        now = status(self._controller.snapshot)
        if now.state is not self._state and now.state in _TONE_OF:
            self._sounds.play(_TONE_OF[now.state])
        if (now.state, now.word) != (self._state, self._word):
            self._announcer.announce_state(self._state_text)
        self._state, self._word = now.state, now.word
        self._announcer.follow(self._controller.message)
        self._announcer.poll()

    def _state_text(self) -> str:
        """The state of now with its value or what to do; empty for one that is not announced."""
        now = status(self._controller.snapshot)
        outcome = status_value_text(now) if now.state is State.SETTLED else now.detail
        return f"{now.spoken}: {outcome}." if now.state in _ANNOUNCED else ""

    def announce_question(self, text: str) -> None:
        """Announce what a question says while it is open, after the outcome of what was done before it was asked."""
        asked = self._prompt.question
        self._announcer.follow(self._controller.message)
        self._announcer.announce(text, lambda: asked is None or asked is self._prompt.question)

    def announce_page(self) -> None:
        """Announce what the big button does on the page that was gone to, or why not; on Tonight the answer first."""
        self._announcer.announce_page(self._page_text)

    def forget_page(self) -> None:
        """Announce no more what could be done before the key that was just pressed."""
        self._announcer.drop_page()

    def _page_text(self) -> str:
        """What the page in sight says first, and what the big button does there, or why not."""
        why_not = self._action_bar.why_not()  # alone: a page that was gone to is no action that failed
        action = tr("Space here: {action}").format(action=self._action_bar.text())
        sources, first = self._pages.sources, ""
        if self._pages.shows(SOURCES) and sources.page is sources.tonight:
            first = sources.tonight.headline.text()
        elif (
            self._pages.shows(SOURCES)
            and sources.page.place == "sources.breakers"
            and self._sweep.waiting is None
        ):
            first = what_to_switch_text(self._sweep) if self._sweep.rows() else ""
        return " ".join(filter(None, dict.fromkeys((first, why_not or action))))

    def announce_listed(self) -> None:
        """Announce what is switched first, and what the big button does, once circuits were added to the sweep."""
        before, self._listed = self._listed, {source.id for source in circuits_of(self._sweep.sources)}
        sources = self._pages.sources
        is_breakers = self._pages.shows(SOURCES) and sources.page.place == "sources.breakers"
        if self._listed - before and is_breakers:
            self.announce_page()

    def announce_spot(self) -> None:
        """Announce the chosen spot where it is another one, on whatever page: the next reading is filed there."""
        chosen, message = self._controller.route.chosen, self._controller.message
        name = chosen.name if chosen is not None else ""
        is_said = message is not self._spot_message and bool(name) and name in message.spoken()
        if name != self._spot:
            text = tr("Spot: {spot}").format(spot=name) if name else tr("Spot: none is chosen")
            self._announcer.announce_newest(Kind.SPOT, lambda: "" if is_said else text)
        self._spot, self._spot_message = name, message

    def announce_result(self) -> None:
        """Announce what on and off mean at a spot, with each reading that completes or renews the two."""
        snapshot, readings = self._controller.snapshot, self._controller.readings
        newest = max(snapshot.readings, key=lambda reading: reading.id, default=None)
        before, self._newest_id = self._newest_id, 0 if newest is None else newest.id
        if newest is None or before is None or newest.id <= before:
            return
        for spot in snapshot.spots:
            result = readings.result(spot) if spot.id == newest.spot_id else None
            if result is None or result.on is None or result.off is None:
                continue
            if newest.id in (result.on.id, result.off.id):
                self._announcer.announce(result.meaning(self._controller.setup.stated.target_volts))

    def announce_button(self) -> None:
        """Announce what the big button does where that has changed by itself, such as after a switching."""
        if self._action_bar.take_news():
            self._announcer.announce_newest(Kind.BUTTON, self._action_bar.news_text)

    def announce_sweep(self) -> None:
        """Announce that tonight's list is confirmed, and on the stage Sources what is switched next or for a row.

        Whoever corrects a reading of a sweep elsewhere is in the midst of another round.
        """
        now = self._controller.sweep_state, self._sweep.newest, self._sweep.chosen
        is_open = self._sweep.is_computing or self._sweep.waiting is not None
        if (
            self._is_asked_of_reading
            and self._prompt.question is None
            and self._to_ask is None
            and not is_open
        ):
            self._is_asked_of_reading = False
            if self._pages.shows(SOURCES):
                next_text = what_to_switch_text(self._sweep)
                self._announcer.announce_newest(Kind.SWITCHING, lambda: next_text)
                self._swept = now
                return
        if now[1:] == (None, None) or is_open or now == self._swept:
            return
        (state_before, newest_before, _), self._swept = self._swept, now
        text = what_to_switch_text(self._sweep) if self._pages.shows(SOURCES) else ""
        if now[0] is PlanState.CONFIRMED and state_before is not PlanState.CONFIRMED:
            self._announcer.announce(" ".join((tr("Tonight's list is confirmed."), self._list_of_tonight())))
        elif now[1] is newest_before:
            self._announcer.announce_page(
                lambda: text
            )  # of the rows that somebody goes along, the last one's
        else:
            self._announcer.announce_newest(Kind.SWITCHING, lambda: text)

    def _list_of_tonight(self) -> str:
        """What to switch off, and what it leaves at each spot that was swept, in sentences."""
        found = self._sweep.tonight()
        if found is None:
            return ""
        plan = plan_with_numbers(found, self._controller.snapshot.shown_sources)
        left = (
            tr("“{spot}”: {value}, {verdict}.").format(
                spot=spot.name,
                value=value_text(spot.left.volts, spot.left.u_volts),
                verdict=against_target(spot.left, plan.target_volts),
            )
            for spot in plan.spots
        )
        return " ".join((headline_text(self._sweep, plan), *left))

    def announce_steps(self) -> None:
        """Announce on the page Steps a new step, and one that the detector withdraws.

        During a sweep it is known what is switched: the steps add nothing, and what is spoken then is what to switch
        next.
        """
        steps_page = self._pages.sources.steps
        controller = steps_page.step_controller
        news = controller.news()
        if not self._pages.shows(SOURCES) or self._pages.sources.page is not steps_page:
            return
        if news.steps:
            self._sounds.play(Tone.STEP)
            change = spoken_change(self._controller.snapshot.step_size(news.steps[-1]))
            self._sounds.speak(tr("step, {change}").format(change=change))
        for known in news.final:
            self._sounds.speak(tr("{label} is sure").format(label=controller.label_of(known)))
        if news.withdrawn:
            self._controller.message = Message(controller.withdrawal_text(news.withdrawn[-1]), refused=True)

    def _take_switched(self) -> None:
        """Take the reading that is awaited after a switching, and speak what to switch next."""
        reading = self._sweep.take_when_due()
        if self._sweep.unchanged is not None:
            self._action_bar.flash()
            self._sounds.speak(self._sweep.unchanged.spoken_question)
            self._redraw()
        else:
            self._announce_taken(reading)

    def _announce_taken(self, reading: Reading | None) -> None:
        """Announce a reading of the sweep, with what speaks against it; None: it was refused."""
        if reading is None:
            self._action_bar.flash()
            self._sounds.speak(tr("Not taken."))
        else:
            self._sounds.play(Tone.TAKEN)
            volts = reading_volts_text(reading)
            newest = self._sweep.newest
            doubts = self._review.doubts(reading, newest.switched_utc_ns) if newest is not None else []
            if doubts:
                self._to_ask = reading, doubts
            taken = tr("{volts} volts taken at “{spot}”.").format(volts=volts, spot=reading.spot_name)
            self._sounds.speak(f"{taken} {doubts[0] if doubts else self._sweep.what_to_switch()}".strip())
        self._redraw()
