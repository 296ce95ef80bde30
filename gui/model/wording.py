"""Values, states, steps and times as the window words them: plain texts."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from datetime import date, tzinfo
from functools import reduce
from typing import Literal

from logger.clock import month_text
from logger.metrology.rounding import MINUS, grouped, rounded, sign_of
from logger.metrology.uncertainty import COVERAGE_FACTOR
from logger.settling.events import Settled, State
from logger.sweep.labelled_steps import KnownStep
from logger.translation import at_start, kept_text, marked, tr, tr_kept, tr_n
from logger.visit.records.condition import EVERYTHING_OFF, EVERYTHING_ON
from logger.visit.records.home_records import Source
from logger.visit.records.reading_records import Mark, Reading
from logger.visit.results.on_off_result import budget_of
from logger.visit.storage.time_zone import local_time

STATE_WORDS: dict[State, str] = {
    State.WAITING: marked("WAITING"),
    State.SETTLING: marked("SETTLING"),
    State.SETTLED: marked("SETTLED"),
    State.CHANGING: marked("CHANGING"),
    State.CHANGING_LONG: marked("RESTLESS"),
    State.DRIFTING: marked("DRIFTING"),
    State.ALTERNATING: marked("ALTERNATING"),
    State.REFUSED: marked("DAMAGED LINES"),
    State.OVERLOAD: marked("OVERLOAD"),
    State.LOST: marked("NO SIGNAL"),
}

STATES_IN_SENTENCES: dict[State, str] = {
    State.WAITING: marked("waiting"),
    State.SETTLING: marked("settling"),
    State.SETTLED: marked("settled"),
    State.CHANGING: marked("changing"),
    State.CHANGING_LONG: marked("restless"),
    State.DRIFTING: marked("drifting"),
    State.ALTERNATING: marked("alternating"),
    State.REFUSED: marked("damaged lines"),
    State.OVERLOAD: marked("overload"),
    State.LOST: marked("no signal"),
}
"""The same words as they stand in a line and as they are spoken."""

PLUS_MINUS = "\N{PLUS-MINUS SIGN}"

FROM_BED = kept_text("marked from the bed")
"""The text of a mark that Space put on the night screen, as the log keeps it."""

NEW_SPOT_NAME = marked(
    "Its readings go by the new name everywhere; the visit log also keeps the name that each was taken with."
)
"""What a new name of a spot changes."""

NEW_CIRCUIT_NAME = marked(
    "Lists, readings, report and export go by the new name, also for readings that were taken already."
)
"""What a new name of a circuit changes."""


def short_condition(condition: str) -> str:
    """What was on, beside a spot in one line.

    Args:
        condition: as the log keeps it.
    """
    return {EVERYTHING_ON: tr("on"), EVERYTHING_OFF: tr("off")}.get(condition) or tr_kept(condition)


def condition_title(condition: str) -> str:
    """What was on, where a line begins with it.

    Args:
        condition: as the log keeps it.
    """
    usual = {EVERYTHING_ON: tr("Everything on"), EVERYTHING_OFF: tr("Everything off")}
    if condition in usual:
        return usual[condition]
    return at_start(tr_kept(condition))


def volts_text(volts: float, u_volts: float | None = None) -> str:
    """A value without its unit, to the place that its uncertainty (standard, V) allows."""
    return rounded(volts, None if u_volts is None else COVERAGE_FACTOR * u_volts).volts


def uncertainty_text(volts: float, u_volts: float) -> str:
    """The expanded uncertainty, with sign, to the same decimals as its value and never shown as zero."""
    return f"{PLUS_MINUS} {rounded(volts, COVERAGE_FACTOR * u_volts).expanded}"


def value_text(volts: float, u_volts: float) -> str:
    """Value, uncertainty and unit: '0.27 ± 0.02 V'."""
    return f"{volts_text(volts, u_volts)} {uncertainty_text(volts, u_volts)} V"


def hold_longer_text(span: Settled) -> str:
    """What to do while slow wandering makes a settled value uncertain; empty where it does not."""
    if not span.hold_longer_s:
        return ""
    # How wide it is by now stands beside the value, and for how long at most beside the state.
    return tr(
        "It can be taken now. The value wanders slowly. If you hold still for longer, its ± may get smaller."
    )


def reading_text(reading: Reading) -> str:
    """A reading's value with its whole uncertainty, where that is known: '0.27 ± 0.02 V'."""
    return value_text(reading.volts, u_of(reading))


def reading_volts_text(reading: Reading) -> str:
    """A reading's value alone, with the figures that it has beside its uncertainty: '0.27'."""
    return volts_text(reading.volts, u_of(reading))


def u_of(reading: Reading) -> float:
    """A reading's standard uncertainty, V: with meter and reference, where they are known."""
    budget = budget_of(reading)
    return budget.u_volts if budget else reading.u_volts


def change_text(change_volts: float, u_volts: float) -> str:
    """A change with sign and uncertainty: '+0.35 ± 0.02 V'."""
    return f"{sign_of(change_volts)}{value_text(abs(change_volts), u_volts)}"


_MEANINGS: dict[str, str] = {
    "on": marked("on"),
    "off": marked("off"),
    "ignored": marked("ignored"),
    "unnamed": marked("unnamed"),
}
_MEANINGS_OF_SOURCES: dict[str, str] = {
    "on": marked("{source} on"),
    "off": marked("{source} off"),
    "ignored": marked("{source} ignored"),
    "unnamed": marked("{source} unnamed"),
}
"""Labels of steps, by what the log calls them."""


def step_label_text(known: KnownStep, sources: Mapping[int, Source]) -> str:
    """The label of a step: 'lamp off', 'ignored'; empty without one.

    Args:
        known: the step.
        sources: all that were ever on the list, by id.
    """
    name = known.label
    if name is None:
        return ""
    if name.source_id is None:
        return tr(_MEANINGS.get(name.meaning, name.meaning))
    source = sources.get(name.source_id)
    text = tr(_MEANINGS_OF_SOURCES.get(name.meaning, name.meaning))
    return text.format(source=source.name if source else tr("something"))


_DIGITS = (
    marked("zero"),
    marked("one"),
    marked("two"),
    marked("three"),
    marked("four"),
    marked("five"),
    marked("six"),
    marked("seven"),
    marked("eight"),
    marked("nine"),
)


def spoken_change(change: str) -> str:
    """A change to be spoken, digit by digit: 'plus zero point three five volts'.

    Args:
        change: as it is shown: '+0.35 V'.
    """
    figures = change.lstrip(f"+{MINUS}").removesuffix(" V")
    words = [tr(_DIGITS[int(c)]) if c.isdigit() else tr("point") for c in figures]
    text = tr("minus {number} volts") if change.startswith(MINUS) else tr("plus {number} volts")
    return text.format(number=" ".join(words))


Thing = Literal["line", "motion episode", "night", "point", "reading", "sample", "step", "value"]
"""What is counted alone."""

_COUNTED: dict[Thing, Callable[[int], str]] = {
    "line": lambda n: tr_n("{n} line", "{n} lines", n),
    "motion episode": lambda n: tr_n("{n} motion episode", "{n} motion episodes", n),
    "night": lambda n: tr_n("{n} night", "{n} nights", n),
    "point": lambda n: tr_n("{n} point", "{n} points", n),
    "reading": lambda n: tr_n("{n} reading", "{n} readings", n),
    "sample": lambda n: tr_n("{n} value from the meter", "{n} values from the meter", n),
    "step": lambda n: tr_n("{n} step", "{n} steps", n),
    "value": lambda n: tr_n("{n} value", "{n} values", n),
}
"""A number of each; within a sentence the whole sentence goes through `tr_n`."""


def counted(count: int, thing: Thing) -> str:
    """A number of things: '1 line', '1,204 lines'.

    Args:
        count: how many.
        thing: of what, as the code calls it.
    """
    return _COUNTED[thing](count).format(n=grouped(count))


def mark_text(mark: Mark) -> str:
    """The text of a mark as it is shown: what somebody typed stays as it is."""
    return tr_kept(mark.text)


def named_all(names: Sequence[str]) -> str:
    """Names one after the other: 'Sofa and Desk'."""
    return reduce(lambda before, name: tr("{names} and {name}").format(names=before, name=name), names)


def duration_text(seconds: float) -> str:
    """A length of time in words: '14 s', '2 min 05 s', '41 min', '1 h 05 min'."""
    whole = max(int(seconds), 0)
    if whole < 60:
        return tr("{seconds} s").format(seconds=whole)
    minutes, rest = divmod(whole, 60)
    if minutes < 10:
        return tr("{minutes} min {seconds} s").format(minutes=minutes, seconds=f"{rest:02d}")
    hours, minutes_left = divmod(minutes, 60)
    if not hours:
        return tr("{minutes} min").format(minutes=minutes)
    return tr("{hours} h {minutes} min").format(hours=hours, minutes=f"{minutes_left:02d}")


def span_text(seconds: float) -> str:
    """A stretch of the trace: '30 s', '2 min', '1 min 15 s'."""
    whole = round(seconds)
    hours, minutes = divmod(whole // 60, 60)
    if hours > 0 and minutes == 0:
        return tr("{hours} h").format(hours=hours)
    if whole >= 60 and whole % 60 == 0 and not hours:
        return tr("{minutes} min").format(minutes=minutes)
    return duration_text(whole)


def date_text(moment: date) -> str:
    """A date with its year: '24 Nov 2026'."""
    return tr("{day} {month} {year}").format(day=moment.day, month=month_text(moment), year=moment.year)


def dated_text(moment: date, time: str) -> str:
    """A time of day after its day: '24 Nov 18:05:30'."""
    return tr("{day} {month} {time}").format(day=moment.day, month=month_text(moment), time=time)


def _moment(text: str, utc_ns: int, zone: tzinfo | None) -> str:
    moment = local_time(utc_ns, zone)
    return text.format(day=moment.day, month=month_text(moment), time=f"{moment:%H:%M}")


def day_and_time(utc_ns: int, zone: tzinfo | None) -> str:
    """Local day and time of day: '24 Nov 18:05'; `zone` as in `clock_text`."""
    moment = local_time(utc_ns, zone)
    return dated_text(moment, f"{moment:%H:%M}")


def day_at_time(utc_ns: int, zone: tzinfo | None) -> str:
    """Local date and time of day, where it stands alone: '24 Nov at 18:05'; `zone` as in `clock_text`."""
    return _moment(tr("{day} {month} at {time}"), utc_ns, zone)


def moment_text(utc_ns: int, zone: tzinfo | None) -> str:
    """Local date and time of day, for what may be of another day: 'on 24 Nov at 18:05'; `zone` as in `clock_text`."""
    return _moment(tr("on {day} {month} at {time}"), utc_ns, zone)


def clock_or_day(utc_ns: int, now_ns: int, zone: tzinfo | None, *, seconds: bool = True) -> str:
    """The time of day of a moment of today, with its date where it is of another day; see `clock_text`.

    Args:
        utc_ns: the moment, UTC ns.
        now_ns: now, UTC ns.
        zone: where it was recorded; None for the zone of this computer.
        seconds: whether to give those of a moment of today.
    """
    is_today = local_time(utc_ns, zone).date() == local_time(now_ns, zone).date()
    return clock_text(utc_ns, zone, seconds=seconds) if is_today else day_at_time(utc_ns, zone)


def doubt_text(doubts: dict[str, str], text: str) -> str:
    """A warning of values that later evidence speaks against, with what to do; empty when there are none.

    Args:
        doubts: the evidence, one sentence each, by the names of the values.
        text: the warning, with places for the names and for the evidence of the first one.
    """
    if not doubts:
        return ""
    return text.format(names=named_all(list(doubts)), doubt=next(iter(doubts.values())))


def clock_text(utc_ns: int, zone: tzinfo | None, *, seconds: bool = True) -> str:
    """Local time of day: '18:05:30'.

    Args:
        utc_ns: the moment, UTC ns.
        zone: where it was recorded; None for the zone of this computer.
        seconds: whether to give them.
    """
    return local_time(utc_ns, zone).strftime("%H:%M:%S" if seconds else "%H:%M")
