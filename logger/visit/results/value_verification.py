"""Verifies a value against the lines that it rests on: whether it is their mean, and whether all of it is possible.

In: what the visit log holds of a reading or of a step of a check, and the lines of its span. Out: "" or one sentence on
what does not agree. It proves that the log agrees with itself, and nothing against who rewrites all of it.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import isfinite, sqrt

import numpy as np
from numpy.typing import NDArray

from logger.clock import NS_PER_S
from logger.metrology.rounding import grouped, plain
from logger.translation import shown_number, tr, tr_n

MEAN_TOLERANCE_SIGMAS = 3.0
"""How far a level may be from the mean of its samples, in standard errors of that mean. The detector averages blocks of
time, which need not hold equally many samples; of 1,000 readings the largest difference was 1.4."""

MEAN_TOLERANCE_VOLTS = 1e-6
"""The same at the least, for rounding: a thousandth of the last digit of usual meters."""

U_TOLERANCE_SHARE = 1e-6
"""How far the scatter of an unsettled value may be from that of its samples, as a share of it: rounding."""

COUNT_TOLERANCE = 2
"""So many samples more or fewer than a level says may lie in its span: those of the block that was not full."""

MIN_COUNTED_SHARE = 0.5
"""A level leaves out brief excursions, but never more than this share of the samples in its span."""

MAX_EDGE_S = 5.0
"""How far a span may begin before its first line, or end after its last, seconds: longer than an unsettled value's."""

MAX_TAKEN_APART_S = 60.0
"""How far the moment of a reading may be from its last line by the clock, seconds: no value is taken of a meter that
has been silent for so long, and the clock may be set in between."""


@dataclass(frozen=True, slots=True)
class StoredValue:
    """A value as the log holds it.

    Args:
        volts, u_volts: value and standard uncertainty, V.
        samples: how many it rests on.
        taken: settled, override or by hand.
        run_id: of the run; None for a value by hand.
        start_t_ns, end_t_ns: of the span, nanoseconds since the run began; None for a value by hand.
        first_line_id, last_line_id: of the span; None for a value by hand.
        utc_ns: when it was taken; None where that is not kept.
    """

    volts: float
    u_volts: float
    samples: int
    taken: str
    run_id: int | None
    start_t_ns: int | None
    end_t_ns: int | None
    first_line_id: int | None
    last_line_id: int | None
    utc_ns: int | None = None


@dataclass(frozen=True, slots=True)
class SpanLines:
    """The lines from the first to the last of a span, as the log holds them.

    Args:
        lines: how many there are, samples or not.
        of_run: how many of them belong to the run of the value.
        first_t_ns, last_t_ns: of the first and last sample; None without samples.
        last_utc_ns: of the last sample by the clock; None without samples.
        volts: the samples, shape (n,), V.
    """

    lines: int
    of_run: int
    first_t_ns: int | None
    last_t_ns: int | None
    last_utc_ns: int | None
    volts: NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class SettledSpan:
    """A settled span as the log holds it.

    Args:
        start_t_ns, end_t_ns: nanoseconds since the run began.
        volts, u_volts: level and standard uncertainty, V.
        samples: how many the level counts.
    """

    start_t_ns: int
    end_t_ns: int
    volts: float
    u_volts: float
    samples: int


def why_not_possible(value: StoredValue) -> str:
    """What no value can be, in one sentence; empty where there is nothing."""
    if not isfinite(value.volts) or value.volts < 0.0:
        return tr("The log holds {volts} V, which no AC voltage can be.").format(volts=plain(value.volts))
    if not isfinite(value.u_volts) or value.u_volts < 0.0:
        text = tr("The log holds an uncertainty of {volts} V, which cannot be.")
        return text.format(volts=plain(value.u_volts))
    if value.samples < 1:
        return tr("The log holds a value of {n} samples.").format(n=grouped(value.samples))
    rests_on = (
        value.run_id, value.start_t_ns, value.end_t_ns, value.first_line_id, value.last_line_id,
    )  # fmt: skip
    if value.taken == "by hand":
        is_possible = rests_on == (None,) * len(rests_on)
        return "" if is_possible else tr("It is marked as by hand and rests on lines.")
    if value.taken not in ("settled", "override"):
        return tr("How it was taken ({taken}) is no way that there is.").format(taken=repr(value.taken))
    if None in rests_on:
        return tr("The log does not say from which lines of the meter it was made.")
    return ""


def why_not_of_lines(value: StoredValue, found: SpanLines) -> str:
    """What does not agree between a value and the lines of its span, in one sentence; empty where all does.

    Args:
        value: possible by itself (`why_not_possible`), and with a span.
        found: the lines of the span.
    """
    assert value.first_line_id is not None and value.last_line_id is not None
    expected = value.last_line_id - value.first_line_id + 1
    if expected < 1:
        return tr("The lines that it rests on end before they begin.")
    if found.lines < expected:
        missing = expected - found.lines
        return tr_n(
            "{n} of the {of} lines that it rests on is missing.",
            "{n} of the {of} lines that it rests on are missing.",
            missing,
        ).format(n=grouped(missing), of=grouped(expected))
    if found.of_run < found.lines:
        return tr("It rests on lines of another recording than the log says.")
    if why := _why_not_in_time(value, found):
        return why
    count = len(found.volts)
    if value.samples > count + COUNT_TOLERANCE or count * MIN_COUNTED_SHARE - COUNT_TOLERANCE > value.samples:
        text = tr("The log says {samples} samples, and its lines hold {found}.")
        return text.format(samples=grouped(value.samples), found=grouped(count))
    if why := _why_not_mean(value.volts, value.u_volts, value.samples, found.volts):
        return why
    if value.taken == "override" and count > 1:
        spread = float(found.volts.std(ddof=1))
        if abs(value.u_volts - spread) > U_TOLERANCE_SHARE * spread + MEAN_TOLERANCE_VOLTS:
            text = tr("The log holds a scatter of {volts} V, and that of its samples is {found} V.")
            return text.format(volts=_digits(value.u_volts), found=_digits(spread))
    return ""


def why_not_of_samples(span: SettledSpan, t_ns: NDArray[np.int64], volts: NDArray[np.float64]) -> str:
    """What does not agree between a settled span and the samples in it, in one sentence; empty where all does.

    Args:
        span: as the log holds it.
        t_ns: of every sample of the run, nanoseconds since it began, in order, shape (n,).
        volts: of the same samples, shape (n,), V.
    """
    first, end = np.searchsorted(t_ns, span.start_t_ns, "left"), np.searchsorted(t_ns, span.end_t_ns, "right")
    inside = volts[first:end]
    if not len(inside):
        return tr("No line of its recording lies in it.")
    return _why_not_mean(span.volts, span.u_volts, span.samples, inside)


def _why_not_mean(stated_volts: float, u_volts: float, samples: int, volts: NDArray[np.float64]) -> str:
    """Why a level is not the mean of its samples, in one sentence; empty where it is.

    Args:
        stated_volts: the level, V.
        u_volts: its standard uncertainty, V.
        samples: how many of them it counts.
        volts: the samples of its span, V.
    """
    if not np.isfinite(volts).all():
        return tr("A sample that it rests on is no number.")
    mean, low, high, scatter = _mean_and_bounds(volts, samples)
    tolerance = max(
        MEAN_TOLERANCE_SIGMAS * scatter / sqrt(len(volts)), min(u_volts, scatter), MEAN_TOLERANCE_VOLTS
    )
    if low - tolerance <= stated_volts <= high + tolerance:
        return ""
    text = tr("The log holds {volts} V, and the mean of the samples it rests on is {mean} V.")
    return text.format(volts=_digits(stated_volts), mean=_digits(mean))


def _why_not_in_time(value: StoredValue, found: SpanLines) -> str:
    assert value.start_t_ns is not None and value.end_t_ns is not None
    if found.first_t_ns is None or found.last_t_ns is None or found.last_utc_ns is None:
        return tr("None of the meter's lines that it rests on holds a value.")
    before_s = (found.first_t_ns - value.start_t_ns) / NS_PER_S
    after_s = (value.end_t_ns - found.last_t_ns) / NS_PER_S
    if not (0.0 <= before_s <= MAX_EDGE_S and 0.0 <= after_s <= MAX_EDGE_S):
        return tr("The times that the log holds for its span are not those of its lines.")
    if value.utc_ns is not None:
        apart_s = abs(value.utc_ns - found.last_utc_ns) / NS_PER_S
        if apart_s > MAX_TAKEN_APART_S:
            text = tr("The log says that it was taken {seconds} s from its last line.")
            return text.format(seconds=grouped(round(apart_s)))
    return ""


def _digits(volts: float) -> str:
    """A voltage that is shown with four digits."""
    return shown_number(f"{volts:.4g}")


def _mean_and_bounds(volts: NDArray[np.float64], samples: int) -> tuple[float, float, float, float]:
    """Mean of a span, the lowest and highest mean with the samples left out that a level does not count, and scatter.

    Args:
        volts: the samples of the span, V.
        samples: how many of them the level counts.
    """
    mean, scatter = float(volts.mean()), float(volts.std())
    left_out = len(volts) - samples
    if left_out <= 0:
        return mean, mean, mean, scatter
    # A level that counts no sample is found elsewhere.
    samples, left_out = max(samples, 1), min(left_out, len(volts) - 1)
    ordered = np.sort(volts)
    return mean, float(ordered[:samples].mean()), float(ordered[left_out:].mean()), scatter
