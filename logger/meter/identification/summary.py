"""What the lines of the right setting show: unit, function, rate, and how sure that is."""

from __future__ import annotations

import contextlib
from collections import Counter

from logger.clock import NS_PER_S
from logger.meter.coupling_check import CouplingCheck, names_ac
from logger.meter.identification.capture import FEW_LINES, READ_SHARE, Capture
from logger.meter.identification.results import Certainty, IdentifiedMeter
from logger.meter.interpretation import FLAG_NOTES
from logger.meter.lines import NOT_LIVE, LineStatus
from logger.meter.received_line import ReceivedLine
from logger.meter.stream_line import StreamLine
from logger.meter.tokens import Refused, TokenKind, tokens_of
from logger.meter.unit_line import UnitLine, unit_line
from logger.meter.unit_watch import has_unit
from logger.meter.vocabulary import Quantity, Role, meaning_of, meanings_of_name
from logger.translation import tr, tr_kept, tr_n


def summarise(capture: Capture, identity: str) -> IdentifiedMeter:
    """What the lines of the right setting say."""
    lines = tuple(capture.lines)
    statuses = Counter(line.reading.status for line in lines)
    read = len(lines) - statuses[LineStatus.UNREADABLE]
    unit_apart = _unit_apart(lines)
    is_unclear = read < READ_SHARE * len(lines)
    unit, function = _marks(lines)
    overloads = [line for line in lines if line.reading.status is LineStatus.OVERLOAD]
    overload_mark = ""
    if overloads and overloads[-1].reading.number_span is not None:
        overload_mark = overloads[-1].text[slice(*overloads[-1].reading.number_span)]
    rate_hz = None
    if capture.settings.query is not None:
        rate_hz = 1 / capture.settings.query_every_s
    elif len(capture.times_ns) > 1 and capture.times_ns[-1] > capture.times_ns[0]:
        rate_hz = (len(capture.times_ns) - 1) * NS_PER_S / (capture.times_ns[-1] - capture.times_ns[0])
    if unit_apart is None and (reason := _why_no_sample(lines)):
        text = tr("The settings are right, but {reason}.")
        certainty, why = Certainty.DOUBTFUL, text.format(reason=tr_kept(reason))
    elif unit_apart is None:
        certainty, why = _certainty(lines, statuses, is_unclear, unit, function, capture.settings.query or "")
    elif unit_apart.other:
        certainty, why = (
            Certainty.DOUBTFUL,
            tr(
                "A line of its own says that the meter sends {other} ({line}). Set the meter to AC volts, and listen "
                "again."
            ).format(other=tr_kept(unit_apart.other), line=unit_apart.text),
        )
    else:
        certainty, why = (
            Certainty.DOUBTFUL,
            tr(
                "A unit stands on a line of its own ({line}), and the numbers have none. Say what the display shows, "
                "with its unit."
            ).format(line=unit_apart.text),
        )
    return IdentifiedMeter(
        capture.settings,
        lines,
        rate_hz,
        unit,
        function,
        overload_mark,
        identity,
        certainty,
        why,
        is_unclear if unit_apart is None else not unit_apart.other,
    )


def _unit_apart(lines: tuple[ReceivedLine, ...]) -> UnitLine | None:
    """The newest line that says that the numbers of the other lines are something else than AC volts; else None."""
    values = [line for line in lines if line.reading.status is LineStatus.VOLTS and line.reading.number_span]
    found = (unit_line(line.raw, line.reading) for line in reversed(lines))
    newest = next((one for one in found if one is not None), None)
    if newest is None or newest.is_volts:
        return None
    says_so = any(
        not (names_ac(line.raw) if newest.other else has_unit(line.raw, line.reading)) for line in values
    )
    return newest if says_so else None


def _why_no_sample(lines: tuple[ReceivedLine, ...]) -> str:
    """Why a value that came now would be no sample of a body voltage; empty where it would."""
    check = CouplingCheck()
    values = [line for line in lines if line.reading.status is LineStatus.VOLTS]
    judged = [check.check(StreamLine(0, 0, line.raw, line.reading)) for line in (*lines, *values[-1:])]
    if not values:
        return ""
    reading = judged[-1].reading
    if reading.status is LineStatus.NOT_AC_VOLTS:
        return reading.note
    return next((note for flag, note in FLAG_NOTES.items() if flag in reading.flags & NOT_LIVE), "")


def _certainty(
    lines: tuple[ReceivedLine, ...],
    statuses: Counter[LineStatus],
    is_unclear: bool,
    unit: str,
    function: str,
    query: str,
) -> tuple[Certainty, str]:
    count = len(lines)
    if is_unclear:
        note = next(
            line.reading.note for line in reversed(lines) if line.reading.status is LineStatus.UNREADABLE
        )
        text = tr("The lines are text, but do not say which number is the value ({reason}).")
        return Certainty.DOUBTFUL, text.format(reason=tr_kept(note))
    if statuses[LineStatus.NOT_AC_VOLTS] > statuses[LineStatus.VOLTS]:
        note = next(
            line.reading.note for line in reversed(lines) if line.reading.status is LineStatus.NOT_AC_VOLTS
        )
        return Certainty.LIKELY, tr("The settings are right, but {reason}.").format(reason=tr_kept(note))
    if statuses[LineStatus.UNREADABLE]:
        damaged = statuses[LineStatus.UNREADABLE]
        text = tr_n(
            "{n} of {lines} lines could not be read. Is the plug loose?",
            "{n} of {lines} lines could not be read. Is the plug loose?",
            damaged,
        )
        return Certainty.LIKELY, text.format(n=damaged, lines=count)
    if not statuses[LineStatus.VOLTS]:
        return Certainty.LIKELY, tr(
            "The meter shows overload; a lower voltage will show the form of its values."
        )
    if count < FEW_LINES:
        text = tr_n(
            "Only one line came. Compare the number with the display.",
            "Only {n} lines came. Compare the number with the display.",
            count,
        )
        return Certainty.LIKELY, text.format(n=count)
    if unit and function:
        return Certainty.SURE, tr("All {n} lines are read and say AC volts.").format(n=count)
    if query.upper().startswith("MEAS:VOLT:AC"):
        text = tr("All {n} answers are read, and the question asks for AC volts.")
        return Certainty.SURE, text.format(n=count)
    text = (
        tr(
            "All {n} lines are read; they give a unit, but not that it is AC. Compare the number with the display."
        )
        if unit
        else tr("All {n} lines are read; they give no unit. Compare the number with the display.")
    )
    return Certainty.LIKELY, text.format(n=count)


def _marks(lines: tuple[ReceivedLine, ...]) -> tuple[str, str]:
    """The unit and the function mark as they stand on the lines."""
    units: Counter[str] = Counter()
    functions: Counter[str] = Counter()
    for line in lines:
        if line.reading.status is not LineStatus.VOLTS:
            continue
        with contextlib.suppress(Refused):
            for token in tokens_of(line.text):
                if token.kind not in (TokenKind.WORD, TokenKind.NAME):
                    continue
                is_name = token.kind is TokenKind.NAME
                meanings = meanings_of_name(token.text) if is_name else (meaning_of(token.text),)
                if any(m.role is Role.UNIT and m.quantity is Quantity.VOLTS for m in meanings):
                    units[token.text] += 1
                if any(m.kind is not None for m in meanings):
                    functions[token.text] += 1
    return _all_of(units), _all_of(functions)


def _all_of(words: Counter[str]) -> str:
    return ", ".join(word for word, _ in words.most_common(3))
