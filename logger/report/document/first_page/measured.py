"""What was measured, in a sentence, and how far it can be trusted."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence

from logger.clock import format_long_duration
from logger.metrology.check_validity import TAKEN_BY
from logger.metrology.check_words import check_name
from logger.metrology.checks import REQUIRED_CHECKS, CheckKind, CheckVerdict, open_checks
from logger.metrology.context import Context
from logger.metrology.rounding import grouped, rounded
from logger.name_list import joined, quoted
from logger.report.document.report_data import ReportData
from logger.report.document.wording import day, volts_with_u
from logger.translation import marked, tr, tr_n, with_percent
from logger.visit.records.reading_records import Reading
from logger.visit.results.on_off_result import SpotResult, budget_of
from logger.visit.results.simulated_readings import measured_or_all_simulated

_WHAT = {
    "earth rod": marked("the AC voltage between a person's skin and an earth rod in the soil"),
    "building earth": marked("the AC voltage between a person's skin and the building's protective earth"),
    None: marked("the AC voltage between a person's skin and a reference that was not stated"),
}
_WHAT_SIMULATED = {
    "earth rod": marked("a simulated voltage between a person's skin and an earth rod in the soil"),
    "building earth": marked(
        "a simulated voltage between a person's skin and the building's protective earth"
    ),
    None: marked("a simulated voltage between a person's skin and a reference that was not stated"),
}
"""What was measured, by the reference as the log calls it."""
_WHAT_MIXED = (
    marked("the AC voltage between a person's skin and different references (see the section “Reference”)"),
    marked(
        "a simulated voltage between a person's skin and different references (see the section “Reference”)"
    ),
)
"""The same where not all was read against one: measured, and simulated."""


def measured_sentence(data: ReportData) -> str:
    """Write when, against what, where and how it was measured, in a few sentences."""
    answers = data.answers("reference")
    used = {answer.value for answer in answers if answer.is_used} or {answers[-1].value}
    if len(used) > 1:
        what = tr(_WHAT_MIXED[data.all_simulated])
    else:
        what = tr((_WHAT_SIMULATED if data.all_simulated else _WHAT)[used.pop()])
    how = _where(data) or _over_nights(data)
    if not how:
        return tr("Nothing has been read yet of {what}.").format(what=what)
    times_ns = [reading.utc_ns for reading in data.valid_readings]
    if not times_ns:
        return tr("Recorded {how}: {what}.").format(how=how, what=what)
    first, last = data.local(min(times_ns)), data.local(max(times_ns))
    if first.date() == last.date():
        text = tr("On {day} {what} was read {how}.").format(day=day(first), what=what, how=how)
    else:
        text = tr("Between {day} and {last_day} {what} was read {how}.").format(
            day=day(first), last_day=day(last), what=what, how=how
        )
    return " ".join([text, *_further(data)])


def _where(data: ReportData) -> str:
    """Write at how many spots, and with what on, in a piece that ends the sentence; empty where none was read.

    A spot that was removed from the list since counts: it was read.
    """
    spot_ids = dict.fromkeys(reading.spot_id for reading in measured_or_all_simulated(data.readings))
    read = [SpotResult.of(data.readings, spot_id, data.sources) for spot_id in spot_ids]
    if not read:
        return ""
    if not all(result.on or result.off for result in read):
        text = tr_n(
            "at {n} spot (what was on stands at each reading)",
            "at {n} spots (what was on stands at each reading)",
            len(read),
        )
    elif all(result.on and result.off for result in read):
        text = tr_n(
            "at {n} spot with everything on and with everything off",
            "at {n} spots with everything on and with everything off",
            len(read),
        )
    elif all(result.on for result in read):
        text = tr_n("at {n} spot with everything on", "at {n} spots with everything on", len(read))
    else:
        text = tr_n(
            "at {n} spot with everything on or off", "at {n} spots with everything on or off", len(read)
        )
    return text.format(n=grouped(len(read)))


def _further(data: ReportData) -> Iterator[str]:
    """Write what was done besides, in a sentence each: a long one is read by nobody."""
    yield from removed_spots(data)
    if data.swept:
        whole, begun = (
            joined([quoted(swept.spot.name) for swept in data.swept if swept.progress.complete is complete])
            for complete in (True, False)
        )
        if whole:
            yield tr("The breakers were switched one by one at {spots}.").format(spots=whole)
        if begun:
            text = (
                tr("At {spots} this was begun but not finished.")
                if whole
                else tr("At {spots} switching the breakers one by one was begun but not finished.")
            )
            yield text.format(spots=begun)
    if data.nights and _where(data):
        text = tr_n(
            "It was also recorded over a night of {duration}.",
            "It was also recorded over {n} nights of up to {duration} each.",
            len(data.nights),
        )
        yield text.format(n=len(data.nights), duration=_longest(data))


def removed_spots(data: ReportData) -> list[str]:
    """Write of each spot that is no longer listed what was read there, in a sentence; its readings count on."""
    out = []
    for spot_id in dict.fromkeys(r.spot_id for r in data.valid_readings if data.is_removed(r.spot_id)):
        here = measured_or_all_simulated([r for r in data.valid_readings if r.spot_id == spot_id])
        highest = max(here, key=lambda reading: reading.volts)
        budget = budget_of(highest)
        text = tr_n(
            "One of them, “{spot}”, was removed from the list of spots; its {n} valid reading stands in the section "
            "“Readings”: {value} on {day}.",
            "One of them, “{spot}”, was removed from the list of spots; its {n} valid readings stand in the section "
            "“Readings”: the highest is {value} on {day}.",
            len(here),
        )
        has_range = budget is not None and highest.id not in data.contradicting
        value = volts_with_u(budget) if budget is not None and has_range else rounded(highest.volts).volts
        out.append(
            text.format(
                spot=highest.spot_name,
                n=grouped(len(here)),
                value=f"{value} V",
                day=day(data.local(highest.utc_ns)),
            )
        )
    return out


def _over_nights(data: ReportData) -> str:
    """Write over how many nights, in a piece that ends the sentence; empty where none was recorded."""
    if not data.nights:
        return ""
    text = tr_n("over a night of {duration}", "over {n} nights of up to {duration} each", len(data.nights))
    return text.format(n=len(data.nights), duration=_longest(data))


def _longest(data: ReportData) -> str:
    """How long the longest night was recorded, without what was missed of it."""
    return format_long_duration(max(night.summary.end_s - night.summary.missed_s for night in data.nights))


def trust_sentence(data: ReportData) -> str:
    """Write how far the values can be trusted, and what speaks against it; empty where nothing was read or measured."""
    if not data.valid_readings:
        return ""
    damaged = [r for r in data.valid_readings if _is_damaged(r, data)]
    if damaged:
        text = tr_n(
            "How far the values can be trusted is not known: {n} reading does not agree with the lines that it rests "
            "on.",
            "How far the values can be trusted is not known: {n} readings do not agree with the lines that they rest "
            "on.",
            len(damaged),
        ).format(n=grouped(len(damaged)))
        return " ".join([text, *_in_doubt(data)])
    agreeing = [r for r in data.valid_readings if r.id not in data.contradicting]
    if not agreeing:
        return tr("How far the values can be trusted is not known: the readings contradict each other.")
    within = _within(agreeing)
    if not within:
        return tr("How far the values can be trusted is not known: nothing was kept of meter and reference.")
    sentences = [within]
    if data.all_simulated:
        return within  # the page says at its head that the numbers are invented
    if contradicting := len(data.valid_readings) - len(agreeing):
        text = tr("That does not hold for {n} readings that contradict each other.")
        sentences.append(text.format(n=grouped(contradicting)))
    return " ".join([*sentences, *_proved(data), *_in_doubt(data)])


def _within(readings: Sequence[Reading]) -> str:
    """Write how near the true values are to those that were read; empty where nothing is known of that.

    Args:
        readings: those that do not contradict others.
    """
    budgets = [b for r in readings if (b := budget_of(r)) is not None]
    if not budgets:
        return ""
    low, high = (rounded(0.0, pick(b.expanded_volts for b in budgets)).expanded for pick in (min, max))
    if low == high:
        text = tr(
            "The true value very likely (about {percent}%) lies within ± {volts} V of the one that was read."
        )
    elif len({r.spot_id for r in readings}) > 1:
        text = tr(
            "The true value very likely (about {percent}%) lies within ± {volts} V to ± {most} V of the one that was "
            "read, depending on the spot."
        )
    else:
        text = tr(
            "The true value very likely (about {percent}%) lies within ± {volts} V to ± {most} V of the one that was "
            "read, depending on the reading."
        )
    return with_percent(text.format(percent=95, volts=low, most=high))


def _is_damaged(reading: Reading, data: ReportData) -> bool:
    """Whether a reading, or the recording that it rests on, is not what was kept: no confidence holds for it."""
    return reading.id in data.integrity.readings or reading.run_id in data.integrity.runs


def _proved(data: ReportData) -> list[str]:
    """Write what the checks prove for the readings, and what is known to spoil the reference, in a sentence each."""
    unproved = unproved_phrases(data)
    proved = (
        tr("But the equipment is not fully proved, so the values may be off ({what}).").format(
            what=joined(unproved)
        )
        if unproved
        else tr("Meter and reference passed their checks.")
    )
    remarks = [r.context.reference_state().remarks() for r in data.valid_readings if r.context is not None]
    counts = Counter(remark for of_reading in remarks for remark in of_reading)
    spoiled = [
        remark if n == len(remarks) else _for_some_text(remark, n, len(remarks))
        for remark, n in counts.items()
    ]
    if not spoiled:
        return [proved]
    return [proved, tr("To be kept in mind: {what}.").format(what=joined(spoiled))]


NOT_KNOWN, NOT_DONE, BEFORE = "unknown", "undone", "before"
"""States of a check that is not known of, was not done, or was done only after the reading."""

_STATES: dict[str, str] = {
    NOT_KNOWN: marked("{check} not known"),
    NOT_DONE: marked("{check} not done"),
    CheckVerdict.FAILED: marked("{check} failed"),
    CheckVerdict.NOT_DECIDED: marked("{check} not decided"),
    CheckVerdict.SHOWS_NOTHING: marked("{check} shows nothing here"),
    CheckVerdict.SKIPPED: marked("{check} skipped"),
    CheckVerdict.IN_DOUBT: marked("{check} in doubt"),
}
_BEFORE = {
    CheckKind.ZERO: marked("before the zero check"),
    CheckKind.REFERENCE: marked("before the reference check"),
    CheckKind.FUNCTION: marked("before the function check"),
    CheckKind.TWO_RODS: marked("before the two-rod check"),
    CheckKind.LEAD: marked("before the wire check"),
}


def unproved_phrases(data: ReportData) -> list[str]:
    """Write what the checks leave open, each reading by its own context; empty where all are proved for all."""
    readings = data.valid_readings
    ids: dict[tuple[str, CheckKind], set[int]] = {}
    for reading in readings:
        for kind, state in _open_states(data, reading.context):
            ids.setdefault((state, kind), set()).add(reading.id)
    # One phrase for several checks only where it is of the same readings.
    alike: dict[tuple[str, frozenset[int]], list[CheckKind]] = {}
    for (state, kind), of_kind in ids.items():
        alike.setdefault((state, frozenset(of_kind)), []).append(kind)
    phrases = []
    for (state, of_readings), kinds in alike.items():
        count, total = len(of_readings), len(readings)
        if state == BEFORE:
            how = joined([tr(_BEFORE[kind]) for kind in kinds])
            phrases.append(_taken_text(count, total, how))
        elif state in _STATES:
            for kind in kinds:
                of_check = tr(_STATES[state]).format(check=check_name(kind))
                phrases.append(of_check if count == total else _for_some_text(of_check, count, total))
        else:
            phrases.append(_taken_text(count, total, tr(state)))
    return phrases


def _for_some_text(what: str, count: int, total: int) -> str:
    text = tr("{what} for {n} of {total} readings")
    return text.format(what=what, n=grouped(count), total=grouped(total))


def _taken_text(count: int, total: int, how: str) -> str:
    """How many readings were taken in a way that leaves a doubt.

    Args:
        count: so many of them.
        total: all readings.
        how: as the end of a sentence.
    """
    if count == total:
        text = tr_n("the reading was taken {how}", "all {n} readings were taken {how}", total)
        return text.format(n=grouped(total), how=how)
    text = tr_n("{n} of {total} readings was taken {how}", "{n} of {total} readings were taken {how}", count)
    return text.format(n=grouped(count), total=grouped(total), how=how)


def _open_states(data: ReportData, context: Context | None) -> list[tuple[CheckKind, str]]:
    """Return the checks that leave a doubt about one reading, each with why, as `_state` has it.

    Args:
        data: the visit.
        context: of the reading; None where it was not kept.
    """
    if context is None:
        return [(kind, NOT_KNOWN) for kind in REQUIRED_CHECKS]
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
    """Return why a check leaves a doubt about one reading: one of the states above, or how it was taken in English.

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
    return BEFORE if done else NOT_DONE


def _in_doubt(data: ReportData) -> list[str]:
    """Write how many readings are in doubt, in a sentence; nothing where none is."""
    in_doubt = sum(r.id in data.doubts for r in data.valid_readings)
    if not in_doubt:
        return []
    text = tr_n(
        "{n} reading is in doubt: the section “Readings” says why.",
        "{n} readings are in doubt: the section “Readings” says why.",
        in_doubt,
    )
    return [text.format(n=grouped(in_doubt))]
