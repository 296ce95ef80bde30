"""State, word and value of a visit at a glance, as the readout shows them."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from gui.model.recorder_presence import waiting_detail, waiting_word
from gui.model.visit_snapshot import VisitSnapshot
from gui.model.wording import STATE_WORDS, clock_text, duration_text, value_text, volts_text
from gui.translation import tr
from logger.settling.events import State


@dataclass(frozen=True, slots=True)
class Status:
    """State with its word, and one short line under it."""

    state: State
    word: str
    detail: str
    volts: float | None
    """None: nothing to show."""
    u_volts: float | None
    """None: the number is no value and is shown pale."""
    simulated: bool = False
    """No meter is there: the value is marked."""


def status(snapshot: VisitSnapshot) -> Status:
    """The status of a visit now."""
    return replace(_status(snapshot), simulated=snapshot.simulated)


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
    return tr("{value}, simulated").format(value=text) if shown.simulated else text


def _status(snapshot: VisitSnapshot) -> Status:
    live = snapshot.live
    if snapshot.unreadable:
        return Status(State.LOST, "LOG NOT READABLE", "it is tried again", None, None)
    if snapshot.practice_night:
        return Status(State.WAITING, "PRACTICE NIGHT", snapshot.practice_night, None, None)
    if live is None:
        return Status(State.WAITING, "NOT RECORDING", "nothing recorded yet", None, None)
    if live.ended:
        return Status(
            State.WAITING, "NOT RECORDING", f"ended {clock_text(live.beat_utc_ns, snapshot.zone)}", None, None
        )
    presence = snapshot.presence
    if presence.waiting is not None:
        waiting = presence.waiting
        return Status(State.LOST, waiting_word(waiting), waiting_detail(waiting), None, None)
    if snapshot.stale and presence.at_work:
        return Status(State.LOST, "NO ANSWER", "the recorder is still at work", None, None)
    if snapshot.stale:
        return Status(
            State.LOST,
            "RECORDER STOPPED",
            f"all kept up to {clock_text(live.beat_utc_ns, snapshot.zone)}",
            None,
            None,
        )
    if live.port_state == "lost":
        return Status(State.LOST, "PORT LOST", "put the cable back", None, None)
    if live.frozen:
        return Status(State.LOST, "FROZEN", "is HOLD pressed?", live.volts, None)
    for_how_long = duration_text(snapshot.still_s)
    growing = live.growing_span
    settled = f"still for {for_how_long}"
    if growing is not None and growing.hold_longer_s:
        settled = f"hold still; at most {math.ceil(growing.hold_longer_s)} s more"
    detail = {
        State.SETTLED: settled,
        State.SETTLING: f"for {for_how_long}",
        State.CHANGING: f"for {for_how_long}",
        State.CHANGING_LONG: "not still for long enough",
        State.DRIFTING: f"no level for {for_how_long}",
        State.ALTERNATING: "no single value",
        State.REFUSED: "check the plug",
        State.OVERLOAD: "above the meter's range",
        State.LOST: f"no value for {for_how_long}",
        State.WAITING: "no value from the meter yet",
    }[live.state]
    shows_number = live.state not in (State.OVERLOAD, State.LOST, State.WAITING)
    budget = snapshot.budget if live.state is State.SETTLED else None
    volts, u_volts = (live.volts, None) if budget is None else (budget.volts, budget.u_volts)
    return Status(live.state, STATE_WORDS[live.state], detail, volts if shows_number else None, u_volts)
