"""Values, states, steps and times as the window words them: plain texts."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import tzinfo

from gui.translation import tr
from logger.metrology.rounding import rounded, sign_of, signed
from logger.metrology.uncertainty import COVERAGE_FACTOR
from logger.settling.events import Settled, State
from logger.sweep.labelled_steps import KnownStep
from logger.visit.records.home_records import Source
from logger.visit.records.reading_records import Reading
from logger.visit.results.on_off_result import budget_of
from logger.visit.storage.time_zone import local_time

STATE_WORDS: dict[State, str] = {
    State.WAITING: "WAITING",
    State.SETTLING: "SETTLING",
    State.SETTLED: "SETTLED",
    State.CHANGING: "MOVING",
    State.CHANGING_LONG: "RESTLESS",
    State.DRIFTING: "DRIFTING",
    State.ALTERNATING: "ALTERNATING",
    State.REFUSED: "DAMAGED LINES",
    State.OVERLOAD: "OVERLOAD",
    State.LOST: "NO SIGNAL",
}

PLUS_MINUS = "\N{PLUS-MINUS SIGN}"

NEW_SPOT_NAME = (
    "Its readings go by the new name everywhere; the visit log also keeps the name that each was taken with."
)
"""What a new name of a spot changes."""

NEW_CIRCUIT_NAME = (
    "Lists go by the new name; readings that were taken already say what was on by the old one."
)
"""What a new name of a circuit changes, and what not: a reading keeps its condition."""


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
    return tr("The value wanders slowly. Go on holding still, and it gets more certain.")


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


def step_text(change_volts: float) -> str:
    """The size of a step with its sign: '+0.17 V'."""
    return f"{signed(change_volts, 2)} V"


def change_text(change_volts: float, u_volts: float) -> str:
    """A change with sign and uncertainty: '+0.35 ± 0.02 V'."""
    return f"{sign_of(change_volts)}{value_text(abs(change_volts), u_volts)}"


def step_label_text(known: KnownStep, sources: Mapping[int, Source]) -> str:
    """The label of a step: 'lamp off', 'ignored'; empty without one.

    Args:
        known: the step.
        sources: all that were ever on the list, by id.
    """
    name = known.label
    if name is None or name.source_id is None:
        return "" if name is None else name.meaning
    source = sources.get(name.source_id)
    return f"{source.name if source else 'something'} {name.meaning}"


_DIGITS = ("zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine")


def spoken_change(change_volts: float) -> str:
    """A change to be spoken, digit by digit: 'plus zero point three five volts'."""
    words = [_DIGITS[int(c)] if c.isdigit() else "point" for c in f"{abs(change_volts):.2f}"]
    return f"{'plus' if change_volts >= 0 else 'minus'} {' '.join(words)} volts"


def counted(count: int, thing: str) -> str:
    """A number of things: '1 line', '1,204 lines'."""
    return f"{count:,} {thing}{'' if count == 1 else 's'}"


def duration_text(seconds: float) -> str:
    """A length of time in words: '14 s', '2 min 05 s', '41 min', '1 h 05 min'."""
    whole = max(int(seconds), 0)
    if whole < 60:
        return f"{whole} s"
    minutes, rest = divmod(whole, 60)
    if minutes < 10:
        return f"{minutes} min {rest:02d} s"
    hours, minutes_left = divmod(minutes, 60)
    return f"{minutes} min" if not hours else f"{hours} h {minutes_left:02d} min"


def span_text(seconds: float) -> str:
    """A stretch of the trace: '30 s', '2 min', '1 min 15 s'."""
    text = duration_text(round(seconds))
    return text.removesuffix(" 00 s").removesuffix(" 00 min")


def day_and_time(utc_ns: int, zone: tzinfo | None) -> str:
    """Local day and time of day: '24 Nov 18:05'; `zone` as in `clock_text`."""
    moment = local_time(utc_ns, zone)
    return f"{moment.day} {moment:%b %H:%M}"


def moment_text(utc_ns: int, zone: tzinfo | None) -> str:
    """Local date and time of day, for what may be of another day: 'on 24 Nov at 18:05'; `zone` as in `clock_text`."""
    moment = local_time(utc_ns, zone)
    return f"on {moment.day} {moment:%b at %H:%M}"


def doubt_text(doubts: dict[str, str], ask: str) -> str:
    """A warning of values that later evidence speaks against, with what to do; empty when there are none.

    Args:
        doubts: the evidence, one sentence each, by the names of the values.
        ask: what to do, in a few words.
    """
    if not doubts:
        return ""
    names = " and ".join(doubts)
    return f"In doubt, {ask}. {names[0].upper()}{names[1:]}: {next(iter(doubts.values()))}"


def clock_text(utc_ns: int, zone: tzinfo | None, *, seconds: bool = True) -> str:
    """Local time of day: '18:05:30'.

    Args:
        utc_ns: the moment, UTC ns.
        zone: where it was recorded; None for the zone of this computer.
        seconds: whether to give them.
    """
    return local_time(utc_ns, zone).strftime("%H:%M:%S" if seconds else "%H:%M")
