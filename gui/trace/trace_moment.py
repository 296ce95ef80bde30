"""What the trace showed at one moment: time with its zone, value, state; as the readout under the pointer words it."""

from __future__ import annotations

import numpy as np

from gui.model.visit_controller import VisitController
from gui.model.visit_snapshot import VisitSnapshot
from gui.model.wording import (
    STATES_IN_SENTENCES,
    dated_text,
    mark_text,
    step_label_text,
    volts_text,
)
from logger.settling.events import Gap, Motion, Overload, Settled, Step
from logger.translation import tr, tr_n
from logger.visit.storage.time_zone import local_time, offset_of
from logger.visit.trace import Kind

NEIGHBOUR_S = 2.5
"""Seconds. The nearest sample is the value of a moment only if it is no further away."""

NEAR_PIXELS = 3.0
"""A step, a reading or a mark no further from the pointer is named with the moment."""


MAX_NAMED = 3
"""So many of them are named; of what else is there, the number."""


def moment_lines(controller: VisitController, time_s: float, s_per_pixel: float) -> list[str]:
    """A moment in a few short lines; empty where nothing was recorded.

    Args:
        controller: the visit.
        time_s: the moment, on the trace's time line.
        s_per_pixel: what one column of the picture holds; its lowest and highest value are given.
    """
    snapshot = controller.snapshot
    if not len(snapshot.trace) or not 0.0 <= time_s <= snapshot.now_s:
        return []
    first = f"{value_at(snapshot, time_s, s_per_pixel)}, {state_at(snapshot, time_s)}"
    return [first, time_at(snapshot, time_s), *_named_near(snapshot, time_s, NEAR_PIXELS * s_per_pixel)]


def value_at(snapshot: VisitSnapshot, time_s: float, width_s: float) -> str:
    """The value of a moment, or from the lowest to the highest of a column of the picture.

    Args:
        snapshot: what is known of the visit.
        time_s: the moment.
        width_s: of the column around it.
    """
    _, volts = snapshot.trace.samples_between(time_s - width_s / 2, time_s + width_s / 2)
    if not len(volts):
        near = snapshot.trace.polyline(time_s, time_s, 10)
        close = np.abs(near.times_s - time_s)
        if not len(close) or close.min() > NEIGHBOUR_S or snapshot.events_between(Gap, time_s, time_s):
            return tr("no value")
        volts = near.volts[[int(close.argmin())]]
    low, high = volts_text(float(volts.min())), volts_text(float(volts.max()))
    return f"{low} V" if low == high else tr("{low} to {high} V").format(low=low, high=high)


def state_at(snapshot: VisitSnapshot, time_s: float) -> str:
    """The state of the trace at a moment, as far as the detector has made out by now."""
    words: tuple[tuple[Kind, str], ...] = (
        (Settled, tr("settled")), (Motion, tr("changing")), (Overload, tr("overload")), (Gap, tr("no signal"))
    )  # fmt: skip
    for kind, word in words:
        if snapshot.events_between(kind, time_s, time_s):
            return word
    live = snapshot.live
    if live is not None and not live.ended:
        since_s = snapshot.trace.seconds(live.since_steady_utc_ns, live.run_id)
        if time_s >= since_s:
            return tr(STATES_IN_SENTENCES[live.state])
    return tr("not settled")


def time_at(snapshot: VisitSnapshot, time_s: float) -> str:
    """Local time of a moment; with the date and the offset from UTC where those are not the newest value's."""
    when = local_time(snapshot.trace.utc_ns(time_s), snapshot.zone)
    newest = local_time(snapshot.trace.utc_ns(snapshot.now_s), snapshot.zone)
    clock = f"{when:%H:%M:%S}"
    moment = clock if when.date() == newest.date() else dated_text(when, clock)
    # The clocks were changed in between: one time of day came twice.
    offset = "" if when.utcoffset() == newest.utcoffset() else f" {offset_of(when)}"
    return f"{moment}{offset}"


def _named_near(snapshot: VisitSnapshot, time_s: float, within_s: float) -> list[str]:
    """Steps, readings and marks at a moment, each in words; the newest step first, and how many more there are."""
    out = []
    start_s, end_s = time_s - within_s, time_s + within_s
    steps = [
        (p.start_s, p.event)
        for p in snapshot.events_between(Step, start_s, end_s)
        if isinstance(p.event, Step)
    ]
    known_of = {known.found.step: known for known in snapshot.known_steps()} if steps else {}
    for at_s, step in reversed(steps):
        known = known_of.get(step)
        name = step_label_text(known, snapshot.every_source) if known else ""
        out.append(f"{snapshot.shown_levels.step(at_s, step)} {name}".strip())
    for reading in snapshot.readings:
        if reading.void_reason is None and reading.end_utc_ns is not None:
            at_s = snapshot.trace.seconds(reading.end_utc_ns, reading.run_id)
            if start_s <= at_s <= end_s:
                out.append(tr("reading: {spot}").format(spot=reading.spot_name))
    for mark in snapshot.marks:
        if mark.void_reason is None and mark.steady_utc_ns is not None:
            at_s = snapshot.trace.seconds(mark.steady_utc_ns, mark.run_id)
            if start_s <= at_s <= end_s:
                out.append(tr("mark: {text}").format(text=mark_text(mark)))
    if len(out) > MAX_NAMED:
        more = len(out) - MAX_NAMED
        out[MAX_NAMED:] = [tr_n("and {n} more here", "and {n} more here", more).format(n=more)]
    return out
