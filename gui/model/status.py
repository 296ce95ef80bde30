"""State, word and value of a visit at a glance, as the readout shows them."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from enum import Enum, auto

from gui.model.recorder_presence import waiting_detail, waiting_head, waiting_word
from gui.model.visit_snapshot import VisitSnapshot
from gui.model.wording import (
    STATE_WORDS,
    STATES_IN_SENTENCES,
    clock_text,
    duration_text,
    value_text,
    volts_text,
)
from logger.metrology.uncertainty import FAILED_ZERO, Budget
from logger.settling.events import State
from logger.translation import marked, tr


class Offer(Enum):
    """What the primary action of the page in sight does with the settled value."""

    NO_VALUE = auto()
    """It takes none."""
    MAY_TAKE = auto()
    """It takes it."""
    ANSWER_FIRST = auto()
    """It would take it, and a question is open at the right of the window: the answer comes first."""
    NOT_YET = auto()
    """It would take it, and may not run now: the line beside it says why, and what to do."""


@dataclass(frozen=True, slots=True)
class Status:
    """State with its word, and one short line under it."""

    state: State
    word: str
    """As it is shown, large."""
    spoken: str
    """The same word as it is spoken."""
    detail: str
    volts: float | None
    """None: nothing to show."""
    u_volts: float | None
    """None: the number is no value and is shown pale."""
    simulated: bool = False
    """No meter is there: the value is marked."""
    is_held: bool = False
    """It is settled, and the big button may not take it now: it shall not look as if it may."""
    note: str = ""
    """Beside the ±: what it leaves out, or why it is so large."""


_DETAILS = {
    State.SETTLED: marked("steady for {duration}"),
    State.SETTLING: marked("for {duration}"),
    State.CHANGING: marked("for {duration}"),
    State.CHANGING_LONG: marked("not still for long enough"),
    State.DRIFTING: marked("no steady level for {duration}"),
    State.ALTERNATING: marked("no single value"),
    State.REFUSED: marked("check the plug"),
    State.OVERLOAD: marked("above the meter's range"),
    State.LOST: marked("no value for {duration}"),
    State.WAITING: marked("no value from the meter yet"),
}
"""The line under the word of a state that the detector gives."""


def status(snapshot: VisitSnapshot, offer: Offer = Offer.NO_VALUE) -> Status:
    """The status of a visit now.

    Args:
        snapshot: what is known of the visit.
        offer: whether the primary action takes the settled value: nobody is asked to take what is not offered.
    """
    return replace(_status(snapshot, offer), simulated=snapshot.simulated)


def no_value_text(snapshot: VisitSnapshot) -> str:
    """What stands in the value's place where there is none: those of a practice night come, too fast to be read."""
    return tr("recorded, not shown live") if snapshot.practice_night else tr("no value")


def status_value_text(shown: Status) -> str:
    """The value shown with uncertainty and unit, to be copied: '0.27 ± 0.02 V'; empty while no number is shown.

    What is no value yet has its state beside it, and a simulated one is marked.
    """
    if shown.volts is None:
        return ""
    if shown.u_volts is None:
        text = f"{volts_text(shown.volts)} V ({shown.word})"
    else:
        text = value_text(shown.volts, shown.u_volts)
        text = f"{text} ({shown.note})" if shown.note else text
    return tr("{value}, simulated").format(value=text) if shown.simulated else text


def _status(snapshot: VisitSnapshot, offer: Offer) -> Status:
    live = snapshot.live
    if snapshot.unreadable:
        return Status(
            State.LOST, tr("LOG NOT READABLE"), tr("log not readable"), tr("it is tried again"), None, None
        )
    if snapshot.practice_night:
        return Status(
            State.WAITING, tr("PRACTICE NIGHT"), tr("practice night"), snapshot.practice_night, None, None
        )
    if live is None or live.ended:
        ended = tr("nothing recorded yet")
        if live is not None:
            ended = tr("ended {time}").format(time=clock_text(live.beat_utc_ns, snapshot.zone))
        return Status(State.WAITING, tr("NOT RECORDING"), tr("not recording"), ended, None, None)
    presence = snapshot.presence
    if presence.waiting is not None:
        waiting = presence.waiting
        return Status(
            State.LOST, waiting_word(waiting), waiting_head(waiting), waiting_detail(waiting), None, None
        )
    if snapshot.stale and presence.at_work:
        return Status(
            State.LOST, tr("NO ANSWER"), tr("no answer"), tr("the recorder is still at work"), None, None
        )
    if snapshot.stale:
        return Status(
            State.LOST,
            tr("RECORDER STOPPED"),
            tr("recorder stopped"),
            tr("all kept up to {time}").format(time=clock_text(live.beat_utc_ns, snapshot.zone)),
            None,
            None,
        )
    if live.port_state == "lost":
        return Status(State.LOST, tr("PORT LOST"), tr("port lost"), tr("put the cable back"), None, None)
    if live.frozen:
        return Status(State.LOST, tr("FROZEN"), tr("frozen"), tr("is HOLD pressed?"), live.volts, None)
    growing = live.growing_span
    detail = tr(_DETAILS[live.state]).format(duration=duration_text(snapshot.still_s))
    if live.state is State.SETTLED and offer is Offer.NOT_YET:
        detail = tr("wait: see the line below")
    elif live.state is State.SETTLED and offer is Offer.ANSWER_FIRST:
        detail = tr("answer the question at the right")
    elif offer is Offer.MAY_TAKE and growing is not None and growing.hold_longer_s:
        detail = tr("take it, or hold still {seconds} s").format(seconds=math.ceil(growing.hold_longer_s))
    is_held = live.state is State.SETTLED and offer in (Offer.NOT_YET, Offer.ANSWER_FIRST)
    shows_number = live.state not in (State.OVERLOAD, State.LOST, State.WAITING)
    budget = snapshot.shown_budget if live.state is State.SETTLED else None
    volts, u_volts = (live.volts, None) if budget is None else (budget.volts, budget.u_volts)
    return Status(
        live.state,
        tr(STATE_WORDS[live.state]),
        tr(STATES_IN_SENTENCES[live.state]),
        detail,
        volts if shows_number else None,
        u_volts,
        is_held=is_held,
        note=_note(snapshot, budget),
    )


def _note(snapshot: VisitSnapshot, budget: Budget | None) -> str:
    """What has to be known of the ±, in a few words."""
    if budget is None:
        return ""
    if snapshot.is_checking:
        return tr("meter alone")
    of_zero = sum(part.u_volts**2 for part in budget.components if part.name == FAILED_ZERO)
    return tr("zero check failed") if of_zero > budget.u_volts**2 / 2 else ""
