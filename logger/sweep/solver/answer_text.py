"""The answer to a breaker sweep in words, as `stillvolt sources` prints it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from logger.cautions import PANEL_CAUTIONS
from logger.metrology.rounding import fixed, plain
from logger.metrology.uncertainty import Budget, Verdict, compare_with, shown
from logger.name_list import joined
from logger.plain_text import one_line
from logger.sweep.solver.answer import SetDoubt, SweepAnswer
from logger.sweep.solver.contribution_doubts import (
    background_once_text,
    contribution_doubts,
    exchange_text,
    read_once,
    read_once_line,
)
from logger.sweep.solver.plain_rule import plain_rule
from logger.sweep.solver.readings import Sweep
from logger.translation import marked, tr, tr_all

SET_DOUBTS: Mapping[SetDoubt, str] = {
    "exchanged": marked("that reading and another may have been swapped by mistake"),
    "to be read again": marked("that reading is to be taken again"),
    "read once": marked("everything off was read once"),
}
"""Why the only reading of tonight's set does not confirm it, after a colon; translated where it is shown."""


def answer_text(found: SweepAnswer, sweep: Sweep, keep: frozenset[str], target_volts: float) -> str:
    """The answer for a reader: effects, tonight's list beside the plain rule, what to read next, cautions.

    Args:
        found: the answer.
        sweep: the readings that it rests on.
        keep: names of the circuits that must stay on.
        target_volts: the level to stay below.
    """
    if not found.consistent:
        return "\n".join(map(one_line, [*contradiction_lines(found, sweep), *_cautions()]))
    lines = [_background_line(found, keep), *_supply_lines(found), *_apart_lines(found, sweep)]
    if found.background_doubt:
        lines.append(background_once_text(found.predicts_from_one_background))
    lines += _circuit_lines(found, sweep, keep)
    if not found.has_set:
        live = _names(found.next_readings[0] if found.next_readings else sorted(keep))
        lines.append(tr("There is no list for tonight yet, since everything off was not read."))
        lines.append(tr("Next, take one reading with only these live: {names}.").format(names=live))
        return "\n".join(map(one_line, [*lines, *_exchange_lines(found, sweep), *_cautions()]))
    budget = Budget.of_u("prediction", found.predicted_volts, found.u_predicted_volts)
    # The same guard band as for a reading: the file knows neither meter nor reference.
    verdict = _verdict_text(found, compare_with(budget, target_volts), target_volts)
    lines.append(
        tr("Tonight switch off: {names}. Predicted {value}, {verdict}.").format(
            names=_names(found.off_tonight), value=shown(budget), verdict=verdict
        )
    )
    if found.unplug_tonight:
        lines.append(tr("And unplug: {cords}.").format(cords=", ".join(found.unplug_tonight)))
    lines += [
        tr("Instead of switching {circuit} off you may unplug {cords}.").format(
            circuit=breaker, cords=", ".join(cords)
        )
        for breaker, cords in found.unplug_instead or ()
    ]
    lines += _cancellation_lines(found)
    lines.append(
        tr(
            "The plain rule (each circuit that reads above {target} V when it alone is on) would say: {names}."
        ).format(target=plain(target_volts), names=_names(plain_rule(sweep, keep, target_volts)))
    )
    if found.is_read:
        lines.append(_read_line(found, sweep))
    if found.ambiguous:
        is_open = (
            tr("The answer is still open, since one more reading may change it.")
            if found.is_read
            else tr("This is open until it was read.")
        )
        live = _names(found.next_readings[0])
        lines.append(
            " ".join(
                (is_open, tr("Next, take one reading with only these live: {names}.").format(names=live))
            )
        )
    lines += _exchange_lines(found, sweep)
    return "\n".join(map(one_line, [*lines, *_cautions()]))


def _supply_lines(found: SweepAnswer) -> list[str]:
    return [tr(found.supply_doubt)] if found.supply_doubt else []


def _cautions() -> list[str]:
    return [tr(caution) for caution in PANEL_CAUTIONS]


def _background_line(found: SweepAnswer, keep: frozenset[str]) -> str:
    """What was read with everything off, with its ±.

    Args:
        found: the answer.
        keep: names of the circuits that must stay on.
    """
    if found.background_volts is None or found.u_background_volts is None:
        return tr("Everything off was not read.")
    value = shown(Budget.of_u("", found.background_volts, found.u_background_volts))
    doubt = tr(SET_DOUBTS[found.background_doubt]) if found.background_doubt else ""
    if any(keep.issuperset(live) for live in found.contradicting_repeats):
        doubt = tr("its readings contradict each other")
    if doubt:
        return tr("Background {value}, not confirmed: {why}").format(value=value, why=doubt)
    return tr("Background {value}").format(value=value)


def _circuit_lines(found: SweepAnswer, sweep: Sweep, keep: frozenset[str]) -> list[str]:
    """What each circuit gives, the largest first, and what rests on one reading.

    Args:
        found: the answer.
        sweep: the readings that it rests on.
        keep: names of the circuits that must stay on.
    """
    live_in_rows = [row.on for row in sweep.rows]
    doubts = contribution_doubts(
        sweep.circuits, live_in_rows, found.exchangeable, supply_in_doubt=bool(found.supply_doubt)
    )
    lines = []
    for circuit in sorted(found.circuits, key=lambda c: -(c.volts or 0.0)):
        if circuit.volts is None or circuit.u_volts is None:
            facts = [tr("not known, since no reading separates it")]
        else:
            facts = [shown(Budget.of_u("", circuit.volts, circuit.u_volts))]
            facts += [tr("leg {leg}").format(leg=circuit.leg)] if circuit.leg else []
        facts += [tr("stays on")] if circuit.name in keep else []
        facts += [tr(doubts[circuit.name])] if circuit.volts is not None and circuit.name in doubts else []
        lines.append(f"  {circuit.name}: {', '.join(facts)}")
    known = [circuit.name for circuit in found.circuits if circuit.volts is not None]
    once = read_once_line(read_once(known, live_in_rows))
    return [*lines, once] if once else lines


def _apart_lines(found: SweepAnswer, sweep: Sweep) -> list[str]:
    """Which readings of one combination contradict each other.

    Args:
        found: the answer.
        sweep: the readings that it rests on.
    """
    lines = []
    for live in found.contradicting_repeats:
        values = joined([f"{plain(row.volts)} V" for row in sweep.rows if row.on == frozenset(live)])
        text = (
            tr("The readings with only {names} live ({values}) contradict each other. Read that once more.")
            if live
            else tr("The readings of everything off ({values}) contradict each other. Read that once more.")
        )
        lines.append(text.format(names=_names(live), values=values))
    return lines


def _read_line(found: SweepAnswer, sweep: Sweep) -> str:
    """What a prediction that is a reading rests on.

    Args:
        found: the answer.
        sweep: the readings that it rests on.
    """
    live = frozenset(sweep.circuits) - frozenset(found.off_tonight)
    if sum(row.on == live for row in sweep.rows) > 1:
        return tr("Readings were taken with just this list off: the value above is theirs.")
    if found.set_doubt == "read once":
        return tr("This list switches everything off: the value above is the only reading taken that way.")
    return tr(
        "One reading was taken with just this list off: the value above is that reading, and "
        "a slip in it need not show anywhere. Take it once more before you rely on it."
    )


def _verdict_text(found: SweepAnswer, compared: Verdict, target_volts: float) -> str:
    """How the prediction compares with the target, without a full stop; it claims no more than readings confirm.

    Args:
        found: the answer.
        compared: the comparison.
        target_volts: the level to stay below.
    """
    doubt = tr(SET_DOUBTS[found.set_doubt]) if found.set_doubt else ""
    if found.contradicting_repeats and not doubt:
        doubt = tr("readings contradict each other")
    if compared == "not distinguishable":
        sure = tr("which cannot be told apart from the target of {target} V")
        unsure = tr("which cannot be told apart from the target of {target} V, not confirmed: {why}")
    elif compared == "above":
        sure = tr("which is still above the target of {target} V")
        unsure = tr("which would still be above the target of {target} V, not confirmed: {why}")
    elif not found.is_read:
        sure = unsure = tr("which would be below the target of {target} V, not confirmed by a reading of it")
    else:
        sure = tr("which is below the target of {target} V")
        unsure = tr("which would be below the target of {target} V, not confirmed: {why}")
    return (unsure if doubt else sure).format(target=plain(target_volts), why=doubt)


def _cancellation_lines(found: SweepAnswer) -> list[str]:
    """What the answer relies on where live circuits cancel each other, and what does without that.

    Args:
        found: the answer.
    """
    if not found.relies_on_cancellation:
        return []
    relies = marked("This relies on live circuits that cancel each other, which another posture undoes.")
    tonight = {*found.off_tonight, *(found.unplug_tonight or ())}
    robust = [*found.off_robust, *(found.unplug_robust or ())]
    if set(robust) == tonight:
        return [tr_all((relies, marked("No list does without that.")))]
    without = tr("Without that: {names} (predicted {volts} V).").format(
        names=_names(robust), volts=fixed(found.predicted_robust_volts, 3)
    )
    return [f"{tr(relies)} {without}"]


def _exchange_lines(found: SweepAnswer, sweep: Sweep) -> list[str]:
    """Which rows may have been exchanged without anything that shows it, and which to read again.

    Args:
        found: the answer.
        sweep: the readings that it rests on.
    """
    names = {
        number: tr("row {n} ({names})").format(
            n=number, names=_names([name for name in sweep.circuits if name in row.on])
        )
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
    lines = [tr("The readings contradict each other, so there is no answer yet."), *_supply_lines(found)]
    for number in found.suspects:
        row = sweep.rows[number - 1]
        live = [name for name in sweep.circuits if name in row.on]
        suspect = tr("Suspect: row {n} ({names}): {volts} V").format(
            n=number, names=_names(live), volts=fixed(row.volts, 3)
        )
        lines.append(f"  {suspect}")
    lines += [
        tr("Read again with only these live: {names}.").format(names=_names(live))
        for live in found.next_readings
    ]
    return [*lines, tr("If a new reading disagrees with a suspect row, take that row out.")]


def _names(live: Sequence[str]) -> str:
    return ", ".join(live) or tr("nothing")
