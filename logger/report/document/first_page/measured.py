"""What was measured, in a sentence, and how far it can be trusted."""

from __future__ import annotations

from collections.abc import Mapping

from logger.metrology.check_validity import TAKEN_BY
from logger.metrology.checks import REQUIRED_CHECKS, CheckKind, CheckVerdict, open_checks
from logger.metrology.context import Context
from logger.metrology.rounding import rounded
from logger.name_list import joined
from logger.report.document.report_data import ReportData
from logger.report.document.wording import NBSP, counted, day
from logger.visit.records.reading_records import Reading
from logger.visit.results.on_off_result import budget_of


def measured_sentence(data: ReportData) -> str:
    """Write when, against what, where and how it was measured."""
    days = sorted({data.local(reading.utc_ns).date() for reading in data.valid_readings})
    when = ""
    if days:
        times_ns = [reading.utc_ns for reading in data.valid_readings]
        first, last = data.local(min(times_ns)), data.local(max(times_ns))
        when = f"On {day(first)}" if len(days) == 1 else f"Between {day(first)} and {day(last)}"
    against = {
        "earth rod": "an earth rod in the soil",
        "building earth": "the building's protective earth",
        None: "a reference that was not stated",
    }[data.setup.reference]
    done = []
    read = [result for result in data.results.values() if result.on or result.off]
    if read:
        both = all(result.on and result.off for result in read)
        one = "with everything on" if all(result.on for result in read) else "with everything on or off"
        how = "with everything on and with everything off" if both else one
        done.append(f"at {counted(len(read), 'spot')} {how}")
    if data.swept:
        done.append(f"breaker by breaker at {joined([f'“{s.spot.name}”' for s in data.swept])}")
    if data.nights:
        longest = max(data.nights, key=lambda night: night.summary.end_s).summary.end_s / 3600
        nights = "a night" if len(data.nights) == 1 else f"{len(data.nights)} nights"
        up_to = "" if len(data.nights) == 1 else "up to "
        done.append(f"over {nights} of {up_to}{longest:.0f} hours")
    subject = "a simulated voltage" if data.all_simulated else "the AC voltage on a person's skin"
    what = f"{subject} against {against} was"
    if not done:
        return f"{when + ' ' if when else ''}{what} to be read; nothing has been read yet.".capitalize()
    text = f"{when} {what} read {joined(done)}.".strip()
    return text[0].upper() + text[1:]


def trust_sentence(data: ReportData) -> str:
    """Write how far the values can be trusted, and what speaks against it."""
    if data.all_simulated:
        return (
            "Nothing was measured, so there is nothing to be trusted: the values show how the report is read."
        )
    damaged = [r for r in data.valid_readings if _is_damaged(r, data)]
    if damaged:
        do, they = ("does", "it rests") if len(damaged) == 1 else ("do", "they rest")
        return (
            f"How far the values can be trusted is not known: {counted(len(damaged), 'reading')} {do} not agree with "
            f"the lines that {they} on{_in_doubt(data)}."
        )
    agreeing = [r for r in data.valid_readings if r.id not in data.contradicting]
    if data.valid_readings and not agreeing:
        return "How far the values can be trusted is not known: the readings contradict each other."
    shown = {r.id for result in data.results.values() for r in (result.on, result.off) if r is not None}
    shown_readings = [r for r in agreeing if r.id in shown] or agreeing
    budgets = [b for r in shown_readings if (b := budget_of(r)) is not None]
    context = next((r.context for r in reversed(data.valid_readings) if r.context is not None), None)
    if not budgets or context is None:
        return "How far the values can be trusted is not known: nothing was kept of meter and reference."
    low, high = (rounded(0.0, pick(b.expanded_volts for b in budgets)).expanded for pick in (min, max))
    within = f"± {low} V" if low == high else f"± {low} V to ± {high} V"
    what = "spot" if len({r.spot_id for r in shown_readings}) > 1 else "reading"
    depending = "" if low == high else f", depending on the {what}"
    confidence = (
        f"With about 95{NBSP}% confidence the true value lies within {within} of the one shown{depending}"
    )
    contradicting = len(data.valid_readings) - len(agreeing)
    but = f", but for {contradicting} readings that contradict each other" if contradicting else ""
    return f"{confidence}{but}; {_proved(data, context)}{_in_doubt(data)}."


def _is_damaged(reading: Reading, data: ReportData) -> bool:
    """Whether a reading, or the recording that it rests on, is not what was kept: no confidence holds for it."""
    return reading.id in data.integrity.readings or reading.run_id in data.integrity.runs


def _proved(data: ReportData, context: Context) -> str:
    """Write what the checks prove for the readings, and what is known to spoil the reference.

    Args:
        data: the visit.
        context: of the newest reading.
    """
    unproved = unproved_phrases(data)
    proved = (
        f"but meter and reference are not fully proved ({joined(unproved)})"
        if unproved
        else "meter and reference passed their checks"
    )
    spoiled = context.reference_state().remarks()
    return f"{proved}; to be kept in mind: {joined(spoiled)}" if spoiled else proved


def unproved_phrases(data: ReportData) -> list[str]:
    """Write what the checks leave open, each reading by its own context; empty where all are proved for all."""
    readings = data.valid_readings
    ids: dict[str, set[int]] = {}
    kinds: dict[str, list[CheckKind]] = {}
    for reading in readings:
        for kind, state in _open_states(data, reading.context):
            ids.setdefault(state, set()).add(reading.id)
            kinds.setdefault(state, [])
            kinds[state] += [kind] * (kind not in kinds[state])
    phrases = []
    for state, of_readings in ids.items():
        count, total = len(of_readings), len(readings)
        if state in TAKEN_BY.values() or state == BEFORE:
            which = f" {joined([f'the {kind}' for kind in kinds[state]])}" if state == BEFORE else ""
            phrases.append(f"{_count_text(count, total)} taken {state}{which}")
        else:
            for_some = "" if count == total else f" for {count} of {counted(total, 'reading')}"
            phrases += [f"{kind} {state}{for_some}" for kind in kinds[state]]
    return phrases


BEFORE = "before"
"""State of a check that was done only after the reading."""


def _open_states(data: ReportData, context: Context | None) -> list[tuple[CheckKind, str]]:
    """Return the checks that leave a doubt about one reading, each with a word for why.

    Args:
        data: the visit.
        context: of the reading; None where it was not kept.
    """
    if context is None:
        return [(kind, "not known") for kind in REQUIRED_CHECKS]
    # A check that was found in doubt after the reading proves as little as one that was in doubt before.
    in_doubt = {
        kind: CheckVerdict.IN_DOUBT
        for kind, check_id in context.check_ids.items()
        if check_id in data.check_doubts and context.verdicts.get(kind) is CheckVerdict.PASSED
    }
    verdicts = context.verdicts | in_doubt
    return [(kind, _state(data, context, kind, verdicts)) for kind in open_checks(verdicts)]


def _state(
    data: ReportData, context: Context, kind: CheckKind, verdicts: Mapping[CheckKind, CheckVerdict]
) -> str:
    """Return why a check leaves a doubt about one reading.

    Args:
        data: the visit.
        context: of the reading.
        kind: which check.
        verdicts: of the checks as they count for the reading by now.
    """
    if kind in verdicts:
        return verdicts[kind]
    if kind in context.lapses:
        return TAKEN_BY[context.lapses[kind]]
    done = any(check.kind is kind and check.simulated == context.simulated for check in data.checks)
    return BEFORE if done else "not done"


def _count_text(count: int, total: int) -> str:
    if count == total:
        return "the reading was" if total == 1 else f"all {total} readings were"
    return f"{count} of {total} readings {'was' if count == 1 else 'were'}"


def _in_doubt(data: ReportData) -> str:
    in_doubt = [r for r in data.valid_readings if r.id in data.doubts]
    if not in_doubt:
        return ""
    verb, them = ("is", "it") if len(in_doubt) == 1 else ("are", "them")
    return f"; {counted(len(in_doubt), 'reading')} {verb} in doubt, as stated beside {them}"
