"""What the state and the ± beside the value mean, and what to do: for who rests the mouse on the readout."""

from __future__ import annotations

from gui.model.status import status
from gui.model.visit_snapshot import VisitSnapshot
from gui.model.wording import uncertainty_text
from logger.metrology.rounding import fixed
from logger.metrology.uncertainty import Budget
from logger.settling.events import State
from logger.translation import marked, tr

MAX_SHARES = 3
"""So many parts of the uncertainty are named."""

LEAST_SHARE = 0.05
"""Of the variance: a smaller part is not named."""

_MEANINGS = {
    State.SETTLED: (
        marked(
            "The value has been steady for long enough to be taken. Where a number of seconds stands below, you can "
            "take it now, or hold still for that long, which may make the ± smaller."
        )
    ),
    State.SETTLING: marked(
        "The value is nearly steady, but not for long enough yet. Hold still: it settles by itself. A "
        "value that rose needs longer."
    ),
    State.CHANGING: marked(
        "The value changes: somebody moves, or something was switched. Hold still and wait."
    ),
    State.CHANGING_LONG: (
        marked("The value has been restless for a long time. Sit or lie comfortably, hold still, and wait.")
    ),
    State.DRIFTING: marked(
        "The value rises or falls slowly. Hold still and wait until it stays where it is."
    ),
    State.OVERLOAD: marked("The voltage is above the meter's range. Choose a higher range on the meter."),
}
"""Of the states that have no reason of their own beside them."""


def state_tip(snapshot: VisitSnapshot) -> str:
    """What the state that is shown means and what to do, in whole sentences.

    Args:
        snapshot: what is known of the visit.
    """
    shown = status(snapshot)
    meaning = _MEANINGS.get(shown.state, "")
    return f"{shown.word}: {tr(meaning) if meaning else snapshot.refusal or shown.detail}"


def uncertainty_tip(snapshot: VisitSnapshot) -> str:
    """What the ± means and what it mostly comes from; empty while none is shown.

    Args:
        snapshot: what is known of the visit.
    """
    shown, budget = status(snapshot), snapshot.shown_budget
    if shown.volts is None or shown.u_volts is None or budget is None:
        return ""
    text = tr(
        "{uncertainty} V: the true value lies within it in about 95 of 100 cases. Most of it comes from {parts}. "
        "Once a reading is taken, “Uncertainty budget” under “Spot” in the menu Measure has every part."
    )
    tip = text.format(
        uncertainty=uncertainty_text(shown.volts, shown.u_volts), parts="; ".join(_largest_shares(budget))
    )
    if snapshot.is_checking:
        tip += " " + tr("During the checks it is the meter's alone: they show what the reference is worth.")
    return tip


def _largest_shares(budget: Budget) -> list[str]:
    """The largest parts with their shares of the variance: '“scatter” (62 %)'."""
    variance = budget.u_volts**2 or 1.0
    largest = sorted(budget.components, key=lambda component: -component.u_volts)
    shares = [(component.shown_name(), component.u_volts**2 / variance) for component in largest]
    named = [(name, share) for name, share in shares if share >= LEAST_SHARE] or shares
    quoted = tr("“{name}”")
    return [f"{quoted.format(name=name)} ({fixed(100 * share, 0)} %)" for name, share in named[:MAX_SHARES]]
