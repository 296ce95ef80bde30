"""The answer to a breaker sweep in words, as `stillvolt sources` prints it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from logger.cautions import PANEL_CAUTIONS
from logger.metrology.uncertainty import Budget, Verdict, compare_with, shown
from logger.name_list import joined
from logger.plain_text import one_line
from logger.sweep.solver.answer import SetDoubt, SweepAnswer
from logger.sweep.solver.contribution_doubts import (
    background_once_text,
    exchange_doubts,
    exchange_text,
    read_once,
    read_once_line,
)
from logger.sweep.solver.plain_rule import plain_rule
from logger.sweep.solver.readings import Sweep

SET_DOUBTS: Mapping[SetDoubt, str] = {
    "exchanged": "that reading may have been swapped with another",
    "to be read again": "that reading is to be taken again",
    "read once": "everything off was read once",
}
"""Why the only reading of tonight's set does not confirm it, after a colon."""


def answer_text(found: SweepAnswer, sweep: Sweep, keep: frozenset[str], target_volts: float) -> str:
    """The answer for a reader: effects, tonight's list beside the plain rule, what to read next, cautions.

    Args:
        found: the answer.
        sweep: the readings that it rests on.
        keep: names of the circuits that must stay on.
        target_volts: the level to stay below.
    """
    if not found.consistent:
        return "\n".join(map(one_line, [*contradiction_lines(found, sweep), *PANEL_CAUTIONS]))
    lines = [_background_line(found, keep), *_apart_lines(found, sweep)]
    if found.background_doubt:
        lines.append(background_once_text(found.predicts_from_one_background))
    live_in_rows = [row.on for row in sweep.rows]
    doubts = exchange_doubts(sweep.circuits, live_in_rows, found.exchangeable)
    for circuit in sorted(found.circuits, key=lambda c: -(c.volts or 0.0)):
        if circuit.volts is None or circuit.u_volts is None:
            stays = ", stays on" if circuit.name in keep else ""
            lines.append(f"  {circuit.name}: not known, since no reading separates it{stays}")
            continue
        leg = f", leg {circuit.leg}" if circuit.leg else ""
        stays = ", stays on" if circuit.name in keep else ""
        value = shown(Budget.of_u("", circuit.volts, circuit.u_volts))
        doubt = f", {doubts[circuit.name]}" if circuit.name in doubts else ""
        lines.append(f"  {circuit.name}: {value}{leg}{stays}{doubt}")
    if once := read_once_line(
        read_once([c.name for c in found.circuits if c.volts is not None], live_in_rows)
    ):
        lines.append(once)
    if not found.has_set:
        live = _names(found.next_readings[0] if found.next_readings else sorted(keep))
        lines.append("There is no list for tonight yet, since everything off was not read.")
        lines.append(f"Next, take one reading with only these live: {live}.")
        return "\n".join(map(one_line, [*lines, *_exchange_lines(found, sweep), *PANEL_CAUTIONS]))
    off = ", ".join(found.off_tonight) or "nothing"
    budget = Budget.of_u("prediction", found.predicted_volts, found.u_predicted_volts)
    # The same guard band as for a reading: the file knows neither meter nor reference.
    verdict = _verdict_text(found, compare_with(budget, target_volts), target_volts)
    lines.append(f"Tonight switch off: {off}. Predicted {shown(budget)}, {verdict}.")
    if found.unplug_tonight:
        lines.append(f"And unplug: {', '.join(found.unplug_tonight)}.")
    for breaker, cords in found.unplug_instead or ():
        lines.append(f"Instead of switching {breaker} off you may unplug {', '.join(cords)}.")
    lines += _cancellation_lines(found)
    plain = ", ".join(plain_rule(sweep, keep, target_volts)) or "nothing"
    lines.append(f"The plain rule (each that alone gives more than {target_volts:g} V) would say: {plain}.")
    if found.is_read:
        lines.append(_read_line(found, sweep))
    if found.ambiguous:
        is_open = (
            "The answer is still open, since one more reading may change it."
            if found.is_read
            else "This is open until it was read."
        )
        live = _names(found.next_readings[0])
        lines.append(f"{is_open} Next, take one reading with only these live: {live}.")
    lines += _exchange_lines(found, sweep)
    return "\n".join(map(one_line, [*lines, *PANEL_CAUTIONS]))


def _background_line(found: SweepAnswer, keep: frozenset[str]) -> str:
    """What was read with everything off, with its ±.

    Args:
        found: the answer.
        keep: names of the circuits that must stay on.
    """
    if found.background_volts is None or found.u_background_volts is None:
        return "Everything off was not read."
    value = shown(Budget.of_u("", found.background_volts, found.u_background_volts))
    doubt = SET_DOUBTS[found.background_doubt] if found.background_doubt else ""
    if any(keep.issuperset(live) for live in found.contradicting_repeats):
        doubt = "its readings contradict each other"
    return f"Background {value}" + (f", not confirmed: {doubt}" if doubt else "")


def _apart_lines(found: SweepAnswer, sweep: Sweep) -> list[str]:
    """Which readings of one combination contradict each other.

    Args:
        found: the answer.
        sweep: the readings that it rests on.
    """
    lines = []
    for live in found.contradicting_repeats:
        values = joined([f"{row.volts:g} V" for row in sweep.rows if row.on == frozenset(live)])
        what = f"with only {_names(live)} live" if live else "of everything off"
        lines.append(f"The readings {what} ({values}) contradict each other. Read that once more.")
    return lines


def _read_line(found: SweepAnswer, sweep: Sweep) -> str:
    """What a prediction that is a reading rests on.

    Args:
        found: the answer.
        sweep: the readings that it rests on.
    """
    live = frozenset(sweep.circuits) - frozenset(found.off_tonight)
    if sum(row.on == live for row in sweep.rows) > 1:
        return "This set itself was read: the value above is that of its readings."
    if found.set_doubt == "read once":
        return "This set is everything off: the value above is its one reading."
    return (
        "This set itself was read, once: the value above is that reading, and a slip in it need not show anywhere. "
        "Read it once more before you rely on it."
    )


def _verdict_text(found: SweepAnswer, compared: Verdict, target_volts: float) -> str:
    """How the prediction compares with the target, without a full stop; it claims no more than readings confirm.

    Args:
        found: the answer.
        compared: the comparison.
        target_volts: the level to stay below.
    """
    doubt = f", not confirmed: {SET_DOUBTS[found.set_doubt]}" if found.set_doubt else ""
    if found.contradicting_repeats and not doubt:
        doubt = ", not confirmed: readings contradict each other"
    target = f"the target of {target_volts:g} V"
    if compared == "not distinguishable":
        return f"which cannot be told apart from {target}{doubt}"
    if compared == "above":
        return f"which would not meet {target}{doubt}" if doubt else f"which does not meet {target}"
    if not found.is_read:
        return f"which would meet {target}, not confirmed by a reading of it"
    return f"which would meet {target}{doubt}" if doubt else f"which meets {target}"


def _cancellation_lines(found: SweepAnswer) -> list[str]:
    """What the answer relies on where live circuits cancel each other, and what does without that.

    Args:
        found: the answer.
    """
    if not found.relies_on_cancellation:
        return []
    relies = "This relies on live circuits that cancel each other, which another posture undoes."
    tonight = {*found.off_tonight, *(found.unplug_tonight or ())}
    robust = [*found.off_robust, *(found.unplug_robust or ())]
    if set(robust) == tonight:
        return [f"{relies} No set does without that."]
    return [
        f"{relies} Without that: {', '.join(robust) or 'nothing'} (predicted {found.predicted_robust_volts:.3f} V)."
    ]


def _exchange_lines(found: SweepAnswer, sweep: Sweep) -> list[str]:
    """Which rows may have been exchanged without anything that shows it, and which to read again.

    Args:
        found: the answer.
        sweep: the readings that it rests on.
    """
    names = {
        number: f"row {number} ({_names([name for name in sweep.circuits if name in row.on])})"
        for number, row in enumerate(sweep.rows, 1)
    }
    text = exchange_text(names, found.exchangeable)
    return [text] if text else []


def contradiction_lines(found: SweepAnswer, sweep: Sweep) -> list[str]:
    """What contradicts what, in place of an answer.

    Args:
        found: an answer that is not consistent.
        sweep: the readings that it rests on.
    """
    lines = ["The readings contradict each other, so there is no answer yet."]
    for number in found.suspects:
        row = sweep.rows[number - 1]
        live = [name for name in sweep.circuits if name in row.on]
        lines.append(f"  Suspect: row {number} ({_names(live)}): {row.volts:.3f} V")
    lines += [f"Read again with only these live: {_names(live)}." for live in found.next_readings]
    return [*lines, "If a new reading disagrees with a suspect row, take that row out."]


def _names(live: Sequence[str]) -> str:
    return ", ".join(live) or "nothing"
