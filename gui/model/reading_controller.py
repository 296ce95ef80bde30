"""Readings of the visit: take, enter by hand; and how far the rounds on and off are."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from gui.model.condition_controller import ConditionController
from gui.model.hands_free import HandsFree, RestsOn
from gui.model.promised_value_check import refuse_withdrawn
from gui.model.route_controller import RouteController
from gui.model.undo_history import UndoHistory
from gui.model.visit_access import NOTHING_RECORDED, Message, VisitAccess
from gui.model.wording import reading_text, value_text
from logger.errors import StillvoltError
from logger.metrology.lengths import length_text
from logger.sweep.sweep_progress import live_with_everything
from logger.sweep.words_of_the_list import remark_by_words
from logger.translation import marked, tr, tr_kept
from logger.visit import Reading, Spot
from logger.visit.records.condition import EVERYTHING_OFF, EVERYTHING_ON, OUTSIDE_WALK
from logger.visit.records.promised_value import PromisedValue
from logger.visit.records.reading_records import Span
from logger.visit.records.recording_records import Live
from logger.visit.results.body_moves import SpotChoice
from logger.visit.results.check_review import doubt_by_checks
from logger.visit.results.condition_doubt import Level, condition_doubt, contradict
from logger.visit.results.correction_history import doubt_by_correction
from logger.visit.results.detail_differences import other_body
from logger.visit.results.detail_words import short_spot_text
from logger.visit.results.on_off_result import SpotResult
from logger.visit.results.remedy_in_force import in_present_home
from logger.visit.results.salvaged_readings import doubt_by_salvage
from logger.visit.results.typed_value import parse_pair, refuse_above_range
from logger.visit.results.used_stretch import AlreadyTakenError, StretchInUseError, StretchUse, is_of

_TAKE = marked("Take {value} for “{spot}”")
_TAKE_ONCE_ENTERED = marked("Take {value} for “{spot}” (first enter what is on)")
_TAKE_ONCE_ENTERED_AGAIN = marked("Take {value} for “{spot}” (first enter again what is on)")
_UNMOVED = {
    "still": marked("Take {value} for “{spot}” (nothing has moved since {what})"),
    "step": marked("Take {value} for “{spot}” (the value jumped, but nobody moved since {what})"),
    "gap": marked(
        "Take {value} for “{spot}” (the meter sent nothing for a while, and nobody moved since {what})"
    ),
    "missing": marked(
        "Take {value} for “{spot}” (the meter sent nothing for a while, and the value is the same since {what})"
    ),
    "nothing": marked("Take {value} for “{spot}” (nobody moved since {what})"),
}
"""The action bar where nobody has moved since the value before, by what came since."""


def _first_ns_after(use: StretchUse) -> int:
    """The moment after the last line of a value, so that no line belongs to two."""
    return use.end_utc_ns + 1


def _taken_text(reading: Reading) -> str:
    text = (
        tr("Taken although not settled: {value} at “{spot}”, {condition}")
        if reading.taken == "override"
        else tr("Taken: {value} at “{spot}”, {condition}")
    )
    return text.format(
        value=reading_text(reading), spot=reading.spot_name, condition=tr_kept(reading.condition)
    )


def _taken_elsewhere_text(reading: Reading) -> str:
    return tr("Already taken in another window: {value} at “{spot}”, {condition}.").format(
        value=reading_text(reading), spot=reading.spot_name, condition=tr_kept(reading.condition)
    )


CHOSEN_LATER = marked(
    "You chose “{spot}” only after this value had settled: answer yes only if you were there already."
)
"""Stands in a question about a value that was there before its spot was chosen."""

STATED_LATER = marked(
    "You entered what is on only after this value had settled: answer yes only if nothing was switched since."
)
"""Stands in a question about a value that was there before what is on was entered anew."""


# long: what is known of the value of now, and what has to be asked before it is taken, rest on each other
class ReadingController:
    """Readings at the spots of the route, and marks.

    Args:
        access: the visit.
        route: the spots, and the chosen one.
        condition: what is on.
        history: notes what was taken, so that it can be voided.
        hands_free: learns of every reading, since the next one then needs a move.
    """

    def __init__(
        self,
        access: VisitAccess,
        route: RouteController,
        condition: ConditionController,
        history: UndoHistory,
        hands_free: HandsFree,
    ) -> None:
        self._access = access
        self._route = route
        self._condition = condition
        self._history = history
        self._hands_free = hands_free
        hands_free.has_moved_to_spot = self._has_moved_to_spot
        hands_free.rests_on = self._rests_on
        self._choices_before_promise = 0
        """How many choices of a spot had been made when the last value was promised: what comes later is an answer."""
        self._again: tuple[int, int | None] | None = None
        """The spot that was asked to be read once more, and its newest reading then; None for none."""
        self.taken_elsewhere: Reading | None = None
        """The reading of another window that the last attempt to take one found; None where it found none."""

    # --- what is known -----------------------------------------------------------------------------------

    def last_at(self, spot_id: int) -> Reading | None:
        """The newest valid reading of a spot."""
        readings = reversed(self._access.snapshot.readings)
        return next((r for r in readings if r.spot_id == spot_id and r.void_reason is None), None)

    def remarks(self, reading: Reading) -> list[str]:
        """What has to be known of a reading, each in a few words."""
        remarks = reading.context.remarks(reading.volts) if reading.context is not None else []
        by_words = remark_by_words(reading, self._access.snapshot.sources)
        return [by_words, *remarks] if by_words else remarks

    def doubt(self, reading: Reading) -> str:
        """What later evidence speaks against a reading, in one sentence; empty when nothing does."""
        snapshot = self._access.snapshot
        doubts = (
            snapshot.span_review.of_reading(reading),
            doubt_by_checks(reading, snapshot.failed_later, snapshot.check_doubts),
            doubt_by_correction(reading),
            doubt_by_salvage(reading, snapshot.salvage),
        )
        return " ".join(filter(None, doubts))

    def result(self, spot: Spot) -> SpotResult:
        """On and off of a spot."""
        return SpotResult.of(self._access.snapshot.readings, spot.id, self._access.snapshot.sources)

    def count_read(self, condition: str) -> int:
        """How many indoor spots have been read with everything on, or with everything off."""
        results = [self.result(spot) for spot in self._route.indoor_spots()]
        return sum((r.on if condition == EVERYTHING_ON else r.off) is not None for r in results)

    def read_again(self) -> None:
        """Have the chosen spot read once more before anything else is offered: until that is done, or it is left."""
        spot = self._route.chosen
        if spot is None:
            return
        self._again = spot.id, self._newest_id_at(spot)
        self._access.message = Message(
            tr("“{spot}” is read again: move, hold still there, then take it.").format(spot=spot.name)
        )

    def why_not_again(self) -> str:
        """Why the chosen spot cannot be read again, in a whole sentence; empty where it can."""
        spot = self._route.chosen
        if spot is None:
            return tr("There is no chosen spot.")
        if self.last_at(spot.id) is None:
            return tr("“{spot}” is not read yet.").format(spot=spot.name)
        return ""

    def is_read_again(self) -> bool:
        """Whether the chosen spot was asked to be read once more, and is not yet."""
        spot = self._route.chosen
        return spot is not None and self._again == (spot.id, self._newest_id_at(spot))

    def _newest_id_at(self, spot: Spot) -> int | None:
        """The id of the newest reading of a spot, void or not; None without one."""
        return max((r.id for r in self._access.snapshot.readings if r.spot_id == spot.id), default=None)

    def off_round_due(self) -> bool:
        """Whether every spot has been read with everything on, and not every one with everything off."""
        spots = len(self._route.indoor_spots())
        return (
            spots > 0
            and self._access.snapshot.condition == EVERYTHING_ON
            and self.count_read(EVERYTHING_ON) == spots
            and self.count_read(EVERYTHING_OFF) < spots
        )

    def _is_read_on_and_off(self) -> bool:
        """Whether every spot is read with everything on and off."""
        spots = len(self._route.indoor_spots())
        return 0 < spots == self.count_read(EVERYTHING_ON) == self.count_read(EVERYTHING_OFF)

    def rounds_are_done(self) -> bool:
        """Whether every spot is read with everything on and off, and nothing new has begun since.

        That is so while the value of now is one of these readings, and once something else was stated after the last
        one: the breakers are back on.
        """
        snapshot, chosen = self._access.snapshot, self._route.chosen
        if chosen is None or not self._is_read_on_and_off():
            return False
        newest_utc_ns = max(r.utc_ns for r in snapshot.readings if r.void_reason is None)
        if snapshot.condition == EVERYTHING_ON and snapshot.stated.utc_ns > newest_utc_ns:
            return True
        condition = self._condition.at(chosen)
        return not snapshot.refusal and any(
            is_of(use, chosen.id, condition) for use in snapshot.uses_of_stretch()
        )

    def switched_after_rounds(self) -> str:
        """That what is on is in doubt, where something was switched after both rounds; empty else.

        Whoever switches the breakers on again is asked at once, and not only once the value has settled.
        """
        snapshot, live = self._access.snapshot, self._access.snapshot.live
        if live is None or snapshot.condition != EVERYTHING_OFF or not self._is_read_on_and_off():
            return ""
        ends_ns = [
            r.end_utc_ns for r in snapshot.readings if r.run_id == live.run_id and r.end_utc_ns is not None
        ]
        since_ns = max([snapshot.stated.steady_utc_ns, *ends_ns])
        steps = snapshot.unexplained_steps(since_ns)
        if not any(contradict(step.before_volts, step.after_volts, 0.0) for step in steps):
            return ""
        return self._in_doubt_text(EVERYTHING_OFF)

    @staticmethod
    def _in_doubt_text(condition: str) -> str:
        return tr("Enter what is on now: “{stated}” is in doubt").format(stated=tr_kept(condition))

    def next_take(self) -> Message:
        """What taking a reading would do now, or why it would be refused: the text of the action bar."""
        snapshot, chosen = self._access.snapshot, self._route.chosen
        live = snapshot.live
        if not snapshot.recording or live is None:
            return Message(snapshot.refusal or tr(NOTHING_RECORDED), refused=True)
        if snapshot.refusal:
            return Message(snapshot.refusal, refused=True)
        budget = snapshot.budget
        if budget is None:  # settled, and of what counts since the last entry there is hardly any line yet
            return Message(tr("Too few values have come since the last entry. Wait a moment."), refused=True)
        value = value_text(budget.volts, budget.u_volts)
        if chosen is None:
            return Message(tr("Take {value} (choose a spot first)").format(value=value))
        condition = self._condition.at(chosen)
        too_soon = self._access.log.readings.too_soon_after_statement(condition, live) if condition else None
        if too_soon is not None:
            return Message(f"{too_soon.what} {too_soon.next_step}", refused=True)
        uses = snapshot.uses_of_stretch()
        for use in reversed(uses):
            if is_of(use, chosen.id, condition):
                return Message(AlreadyTakenError(use).what, refused=True)
        parted = None if uses else snapshot.same_after_gap()
        if parted is not None and is_of(parted, chosen.id, condition):
            return Message(AlreadyTakenError(parted).what, refused=True)
        for use in reversed(uses):
            if use.without_body:
                return Message(StretchInUseError(use).what, refused=True)
        if self.condition_doubt():
            return Message(self._in_doubt_text(condition))
        if (before := self.unmoved_since()) is not None:
            text = tr(_UNMOVED[before.seen])
            return Message(text.format(value=value, spot=chosen.name, what=before.what))
        once_entered = _TAKE_ONCE_ENTERED_AGAIN if snapshot.stated.utc_ns else _TAKE_ONCE_ENTERED
        return Message(tr(_TAKE if condition else once_entered).format(value=value, spot=chosen.name))

    def condition_doubt(self) -> str:
        """What speaks against the stated condition at the chosen spot now, in a sentence; empty where nothing does."""
        snapshot, spot, live = self._access.snapshot, self._route.chosen, self._access.snapshot.live
        if spot is None or spot.room == OUTSIDE_WALK or not snapshot.condition or snapshot.refusal:
            return ""
        if not snapshot.recording or live is None or live.volts is None or live.u_volts is None:
            return ""
        doubt = condition_doubt(
            snapshot.stated,
            Level(live.volts, live.u_volts, live.since_steady_utc_ns),
            in_present_home([r for r in snapshot.readings if r.spot_id == spot.id], snapshot.remedies),
            # What was entered beforehand is switched afterwards: that step is the switching.
            ()
            if self._condition.is_to_be_set()
            else snapshot.unexplained_steps(snapshot.stated.steady_utc_ns),
            snapshot.context,
        )
        return doubt or snapshot.earlier_recording_doubt()

    def other_body(self) -> tuple[str, str] | None:
        """How the newest reading at the chosen spot was taken, and how one of now would be; None where alike.

        Each is what differs of posture, height and person, in words.
        """
        spot = self._route.chosen
        last = self.last_at(spot.id) if spot is not None else None
        now = self._access.snapshot.spot_details.get(spot.id) if spot is not None else None
        found = other_body(last.details, now) if last is not None and now is not None else None
        if found is None:
            return None
        before, after = (short_spot_text(details, length_text) for details in found)
        return before, after

    def unmoved_since(self, promised: PromisedValue | None = None) -> StretchUse | None:
        """The reading of another spot since which nobody has moved, or another value in the present still stretch.

        That this is another spot, or that something was switched, would be the user's word alone. None where nothing
        settled goes on, no spot is chosen, or what is on is not stated.

        Args:
            promised: the value that is asked about; None takes that of now.
        """
        spot = self._route.chosen
        condition = self._condition.at(spot) if spot is not None else ""
        if spot is None or not condition:
            return None
        moment = promised.live if promised else None
        if uses := self._access.snapshot.uses_of_stretch(moment=moment):
            return None if is_of(uses[-1], spot.id, condition) else uses[-1]
        if (not_here := self._access.snapshot.voided_as_wrong_spot(spot.id, moment)) is not None:
            return not_here
        if (elsewhere := self._access.snapshot.unmoved_elsewhere(spot.id, moment)) is not None:
            return elsewhere
        value = promised.span if promised is not None else None
        if (parted := self._access.snapshot.same_after_gap(value, moment)) is not None:
            return None if is_of(parted, spot.id, condition) else parted
        return self._begun_before_its_place(spot, condition, promised)

    def _begun_before_its_place(
        self, spot: Spot, condition: str, promised: PromisedValue | None
    ) -> StretchUse | None:
        """That the chosen spot, or what is on, was named only once the body was still; None where it was before.

        No span that is older than what it would be kept for is taken without a question.

        Args:
            spot: the chosen one.
            condition: what is on there.
            promised: the value that is asked about; None takes that of now.
        """
        live = promised.live if promised is not None else self._access.snapshot.live
        if live is None:
            return None
        is_answer = promised is not None and len(self._route.choices) > self._choices_before_promise
        if not is_answer and (chosen := self.chosen_after_settling(spot, promised)) is not None:
            return chosen
        # The whole still stretch first: nothing else is read from the log at each redraw.
        if is_answer or not self._other_statement_since(live.since_steady_utc_ns, condition, live):
            return None  # where it is was asked about this very value
        span = self._span_to_take(condition, promised)
        if span is None:
            return None
        start_utc_ns = live.run_started_utc_ns + span.start_t_ns
        stated = self._other_statement_since(start_utc_ns, condition, live)
        if not stated:
            return None
        what = tr("“{condition}” was entered as what is on").format(condition=tr_kept(stated))
        return StretchUse(what, 0, 0, start_utc_ns - 1, span.volts, span.u_volts, stated=stated)

    def chosen_after_settling(
        self, spot: Spot, promised: PromisedValue | None = None, asked: SpotChoice | None = None
    ) -> StretchUse | None:
        """That a spot was chosen only once the body was still, which has not moved since; None else, or not settled.

        Args:
            spot: the chosen one.
            promised: the value that is asked about; None takes that of now.
            asked: since when a reading of a spot is asked for: of the same one that counts as much as its choice.
        """
        snapshot = self._access.snapshot
        live = promised.live if promised is not None else snapshot.live
        level = live.growing_span if live is not None else None
        if live is None or level is None or (promised is not None and promised.taken != "settled"):
            return None
        choices = self._route.choices
        if asked is not None and asked.spot_id == spot.id:
            choices = [*(one for one in choices if one.since_utc_ns < asked.since_utc_ns), asked]
        seen = snapshot.seen_since_choice(spot.id, choices, promised.live if promised is not None else None)
        if seen is None:
            return None
        what = tr("“{spot}” was chosen").format(spot=spot.name)
        return StretchUse(what, 0, 0, live.since_steady_utc_ns - 1, level.volts, level.u_volts, seen=seen)

    def _span_to_take(self, condition: str, promised: PromisedValue | None) -> Span | None:
        """What would be taken; None where nothing can."""
        live, readings = self._access.snapshot.live, self._access.log.readings
        if promised is None:
            return readings.value_at(condition, live) if live is not None else None
        if promised.taken == "override":  # only its last seconds, which are marked
            return None
        try:
            return readings.promised_span(promised, condition)
        except StillvoltError:
            return None

    def _other_statement_since(self, start_utc_ns: int, condition: str, live: Live) -> str:
        """What was stated to be on until a mistake in it was found, with the present statement made since; empty else.

        A statement that was changed ends the span by itself. One that was called mistaken does not: it held for no
        line, and what is stated in its place is for the lines from then on. An answer to the question about this very
        value is for all of it.

        Args:
            start_utc_ns: when the span of the value began, on the steady time line.
            condition: what is on.
            live: the heartbeat of the value.
        """
        snapshot = self._access.snapshot
        stated, before = snapshot.stated, snapshot.stated_before.in_run(live.run_id, snapshot.readings)
        is_within = start_utc_ns < stated.steady_utc_ns < live.beat_steady_utc_ns
        is_of_this = stated.run_id == live.run_id and stated.condition == condition != before
        return before if is_within and is_of_this else ""

    def _has_moved_to_spot(self) -> bool:
        """Whether a motion came since another spot was read or chosen, or none was."""
        spot, snapshot = self._route.chosen, self._access.snapshot
        # Within one still stretch what is in the way is named when it is taken.
        return spot is None or bool(snapshot.uses_of_stretch()) or self.unmoved_since() is None

    def _rests_on(self) -> RestsOn:
        """What a value is taken by now."""
        snapshot = self._access.snapshot
        return RestsOn(
            snapshot.live.run_id if snapshot.live is not None else None,
            self._route.chosen_id,
            snapshot.stated.utc_ns,
            {r.id: (r.spot_id, r.condition, r.void_reason) for r in snapshot.readings},
        )

    # --- taking and voiding ------------------------------------------------------------------------------

    def begin_take(self, override: bool = False) -> PromisedValue | None:
        """Hold the value of now, so that `take` keeps this one whatever has to be asked before.

        Args:
            override: also while the value is not settled.

        Returns:
            The value; None when there is none to take (the message says why).
        """
        spot = self._route.chosen
        condition = self._condition.at(spot) if spot is not None else self._access.snapshot.condition
        self._choices_before_promise = len(self._route.choices)
        try:
            return self._access.log.current_value.promise(override, condition)
        except StillvoltError as error:
            self._access.refuse(str(error))
            return None

    def promise_text(self, promised: PromisedValue, span: Span | None = None) -> str:
        """Which value a question is about, in a sentence.

        Args:
            promised: the value that stood when the reading was asked for.
            span: what of it is taken; None for all of it.
        """
        span = span or promised.span
        context = replace(self._access.snapshot.context, count_volts=span.count_volts, parts=span.parts)
        budget = context.budget(span.volts, span.u_volts)
        value = value_text(budget.volts, budget.u_volts)
        return tr("Your answer is for {value}, whatever the meter shows meanwhile.").format(value=value)

    def unmoved_text(self, promised: PromisedValue, before: StretchUse) -> str:
        """What would be taken on the user's word that it is another spot or something else is on: whole sentences.

        Args:
            promised: the value that stood when the reading was asked for.
            before: what `unmoved_since` gave.

        Raises:
            StillvoltError: nothing of the value remains that could be taken.
        """
        spot = self._route.chosen
        assert spot is not None
        span = self._access.log.readings.promised_span(
            promised, self._condition.at(spot), _first_ns_after(before)
        )
        text = self.promise_text(promised, span)
        start_utc_ns = promised.live.run_started_utc_ns + span.start_t_ns
        snapshot = self._access.snapshot
        since_utc_ns = snapshot.stated.steady_utc_ns if before.stated else self._route.chosen_since_utc_ns
        if start_utc_ns < since_utc_ns:
            later = tr(STATED_LATER) if before.stated else tr(CHOSEN_LATER).format(spot=spot.name)
            text += " " + later
        return text

    def take(
        self,
        override: bool = False,
        unmoved: StretchUse | None = None,
        promised: PromisedValue | None = None,
    ) -> Reading | None:
        """Take a reading at the chosen spot; refused where nothing has moved since another value was taken.

        Args:
            override: also while the value is not settled; the reading is marked as such.
            unmoved: what `unmoved_since` gave, where the user has confirmed it; only samples after that value count.
            promised: what `begin_take` gave: that value is taken, or none where the trace no longer supports it. None
                takes the value of now.

        Returns:
            The reading; None when it was refused (the message says why).
        """
        spot = self._route.chosen
        if spot is None:
            self._access.refuse(tr("There is no spot to take the reading for."))
            return None
        taken: list[Reading] = []
        self.taken_elsewhere = None

        def do() -> str:
            condition = self._condition.at(spot)
            live = live_with_everything(condition, self._access.snapshot.sources)
            if promised is not None:
                self._access.snapshot.refresh(force=True)
                refuse_withdrawn(promised, self._access.snapshot, self._access.clock.utc_ns())
            try:
                reading = self._access.log.readings.take(
                    spot.id,
                    condition,
                    override,
                    live,
                    switched_utc_ns=_first_ns_after(unmoved) if unmoved is not None else 0,
                    stated_unchanged=unmoved is not None,
                    promised=promised,
                )
            except StretchInUseError as error:
                elsewhere = error.use.reading
                if elsewhere is None or self._history.was_done_here(elsewhere):
                    raise
                self.taken_elsewhere = elsewhere
                raise StillvoltError(
                    _taken_elsewhere_text(elsewhere),
                    tr("No second reading was taken from the same values of the meter."),
                    ""
                    if isinstance(error, AlreadyTakenError)
                    else tr("Move, hold still again, and take it then."),
                ) from error
            taken.append(reading)
            self._history.remember(reading)
            self._hands_free.note_taken(promised.live if promised is not None else None)
            return _taken_text(reading)

        self._access.do(do)
        return taken[0] if taken else None

    def enter_by_hand(self, text: str, condition: str = "") -> Sequence[Reading]:
        """Keep a value that was read from the meter's display by eye, or a pair as on a form: on (off).

        Args:
            text: as it was typed.
            condition: what was on then; empty takes what is on now. A pair has its own conditions.

        Returns:
            What was entered; nothing when it was refused (the message says why).
        """
        spot, entered = self._route.chosen, list[Reading]()

        def do() -> str:
            if spot is None:
                raise StillvoltError(
                    tr("There is no spot to enter a value for."), tr("No reading was entered.")
                )
            on, off = parse_pair(text)
            for typed in filter(None, (on, off)):
                refuse_above_range(typed[0], self._access.snapshot.setup.meter)
            if off is None:
                values = [(self._condition.at(spot, condition), on)]
            elif spot.room == OUTSIDE_WALK:
                raise StillvoltError(
                    tr("On the outside walk there is no off."),
                    tr("No reading was entered."),
                    tr("Type one value."),
                )
            else:
                values = [(EVERYTHING_ON, on), (EVERYTHING_OFF, off)]
            for was_on, value in values:
                if value is not None:
                    live = live_with_everything(was_on, self._access.snapshot.sources)
                    reading = self._access.log.readings.enter(spot.id, was_on, *value, live)
                    entered.append(reading)
                    self._history.remember(reading)
            shown = "; ".join(f"{reading_text(r)}, {tr_kept(r.condition)}" for r in entered)
            return tr("Entered by hand at “{spot}”: {values}").format(spot=spot.name, values=shown)

        self._access.do(do)
        return entered
