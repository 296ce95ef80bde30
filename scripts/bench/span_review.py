"""How well `span_review` finds values that were no level: `python scripts/bench/span_review.py [TRACES]`.

On the detector's report traces a value is taken each time one has been settled for 4 s, as hands-free does with its
shortest time. It is right if the body was truly still at that level; the traces know. What the detector holds at the
end of the trace is then asked about each value.
"""

from __future__ import annotations

import sys
from collections import Counter
from math import inf
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))  # so that the tree itself can be imported

from logger.settling.detector import Detector
from logger.settling.events import Event, State
from logger.visit.results.span_review import SpanUnderReview, why_in_doubt
from tests.support.traces import REPORT_SEEDS, Trace, recorded_style, varied
from tests.support.traces_wandering import wandering

TAKEN_AFTER_S = 4.0
LEVEL_VOLTS = 0.01
LEVEL_U = 3.0
SETTLED_SHARE = 0.75


def take_all(trace: Trace) -> tuple[list[SpanUnderReview], list[Event]]:
    """One value per settled span of the trace, as it stood then, and the final events."""
    detector, events, taken = Detector(), list[Event](), list[SpanUnderReview]()
    since_s: float | None = None
    for time_s, volts in zip(trace.times_s, trace.volts, strict=True):
        events += detector.feed(time_s, volts)
        now = detector.now
        if now.state is not State.SETTLED or now.volts is None or now.u_volts is None:
            since_s = None
        elif now.since_s != since_s and time_s - now.since_s >= TAKEN_AFTER_S:
            since_s = now.since_s
            taken.append(SpanUnderReview(1, now.since_s, time_s, now.volts, now.u_volts, now.samples))
    return taken, [*events, *detector.finish()]


def is_right(stretch: SpanUnderReview, trace: Trace) -> bool:
    """Whether the body was still at that level for most of the stretch."""
    for settled in trace.truth.settled:
        shared_s = min(stretch.end_s, settled.end_s) - max(stretch.start_s, settled.start_s)
        off_volts = abs(stretch.volts - settled.level_volts)
        if (
            shared_s >= SETTLED_SHARE * stretch.length_s
            and off_volts <= LEVEL_VOLTS + LEVEL_U * stretch.u_volts
        ):
            return True
    return False


def main() -> int:
    """Print the counts of each family and return the exit code."""
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 250
    seeds = range(REPORT_SEEDS.start, REPORT_SEEDS.start + count)
    for name, make in (("varied", varied), ("recorded style", recorded_style), ("wandering", wandering)):
        counts: Counter[tuple[bool, bool]] = Counter()
        for seed in seeds:
            trace = make(seed)
            taken, events = take_all(trace)
            for stretch in taken:
                doubted = bool(why_in_doubt(stretch, events, inf))
                counts[is_right(stretch, trace), doubted] += 1
        wrong = counts[False, True] + counts[False, False]
        right = counts[True, True] + counts[True, False]
        print(
            f"{name:16} {wrong + right:5} values: of {wrong:4} wrong ones {counts[False, True]:4} are found; "
            f"of {right:5} right ones {counts[True, True]:3} are doubted"
        )
    return 0


if __name__ == "__main__":
    sys.exit(main())
