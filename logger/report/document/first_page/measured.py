"""What was measured, in a sentence, and how far it can be trusted."""

from __future__ import annotations

from logger.metrology.checks import open_checks
from logger.metrology.context import Context
from logger.name_list import joined
from logger.report.document.report_data import ReportData
from logger.report.document.wording import NBSP, counted, day
from logger.visit.results.on_off_result import budget_of


def measured_sentence(data: ReportData) -> str:
    """Write when, against what, where and how it was measured."""
    days = sorted({data.local(reading.utc_ns).date() for reading in data.valid_readings})
    when = ""
    if days:
        first, last = (data.local(data.valid_readings[i].utc_ns) for i in (0, -1))
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
    budgets = [b for r in data.valid_readings if (b := budget_of(r)) is not None]
    context = next((r.context for r in reversed(data.valid_readings) if r.context is not None), None)
    if not budgets or context is None:
        return "How far the values can be trusted is not known: nothing was kept of meter and reference."
    low, high = (f"{max(pick(b.expanded_volts for b in budgets), 0.01):.2f}" for pick in (min, max))
    within = f"± {low} V" if low == high else f"± {low} V to ± {high} V"
    depending = "" if low == high else ", depending on the spot"
    confidence = (
        f"With about 95{NBSP}% confidence the true value lies within {within} of the one shown{depending}"
    )
    return f"{confidence}; {_proved(context)}{_in_doubt(data)}."


def _proved(context: Context) -> str:
    """Write what the checks prove, and what is known to spoil the reference."""
    open_ones = [f"{kind} {context.check_state(kind)}" for kind in open_checks(context.verdicts)]
    if open_ones:
        proved = f"but meter and reference are not fully proved ({joined(open_ones)})"
    else:
        proved = "meter and reference passed their checks"
    spoiled = context.reference_state().remarks()
    return f"{proved}; to be kept in mind: {joined(spoiled)}" if spoiled else proved


def _in_doubt(data: ReportData) -> str:
    in_doubt = [r for r in data.valid_readings if r.id in data.doubts]
    if not in_doubt:
        return ""
    verb, them = ("is", "it") if len(in_doubt) == 1 else ("are", "them")
    return f"; {counted(len(in_doubt), 'reading')} {verb} in doubt, as stated beside {them}"
