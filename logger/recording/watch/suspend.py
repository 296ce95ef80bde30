"""Distinguishes what can happen to the time of a recording: the computer slept, its clock was set, or it was busy.

In: the three clocks, polled now and then. Out: drafts of notices for the log. Plain state.
"""

from __future__ import annotations

from logger.clock import NS_PER_S, Clock, format_duration
from logger.meter.notice_draft import NoticeDraft
from logger.translation import in_language, kept_text
from logger.visit.records.recording_records import CLOCK_SET

SLEPT_NS = NS_PER_S // 2
"""A sleep shorter than this is none: no computer suspends and resumes in half a second."""

CLOCK_JUMP_NS = NS_PER_S // 2
"""A change of UTC against the steady clock by more than this is noted: somebody set the clock."""

BUSY_NS = 5 * NS_PER_S
"""The recorder looks at the clocks at least once a second; a pause of this length while the computer was awake means
that it got no time, or that the disk held it up. Lines of that time are stamped late or lost in the port's buffer."""


class SuspendWatch:
    """Compares the three clocks from poll to poll.

    Args:
        clock: injected time.
        busy_ns: a longer pause between two polls gives a notice; None where time moves in leaps, as in a simulation.
    """

    def __init__(self, clock: Clock, busy_ns: int | None = BUSY_NS) -> None:
        self._clock = clock
        self._busy_ns = busy_ns
        self._steady_ns, self._awake_ns = clock.steady_ns(), clock.awake_ns()
        self._utc_minus_steady_ns = clock.utc_ns() - self._steady_ns

    @in_language("en")
    def poll(self) -> list[NoticeDraft]:
        """Notices of what happened since the last poll, mostly none."""
        utc_ns, steady_ns, awake_ns = self._clock.utc_ns(), self._clock.steady_ns(), self._clock.awake_ns()
        out: list[NoticeDraft] = []
        awake_for_ns = awake_ns - self._awake_ns
        slept_ns = steady_ns - self._steady_ns - awake_for_ns
        self._steady_ns, self._awake_ns = steady_ns, awake_ns
        if slept_ns > SLEPT_NS:
            out.append(
                NoticeDraft(
                    "sleep",
                    kept_text(
                        "The computer slept for {duration}; nothing was recorded in that time, and the trace has a gap "
                        "there. Switch automatic sleep off in the system's settings, and leave the lid open."
                    ).format(duration=format_duration(slept_ns / NS_PER_S)),
                )
            )
        if self._busy_ns is not None and awake_for_ns > self._busy_ns:
            out.append(
                NoticeDraft(
                    "busy",
                    kept_text(
                        "The recorder was held up for {duration} (a busy computer, a slow disk, or somebody stopped "
                        "the program); lines of that time may be missing or late."
                    ).format(duration=format_duration(awake_for_ns / NS_PER_S)),
                )
            )
        jump_ns = utc_ns - steady_ns - self._utc_minus_steady_ns
        if abs(jump_ns) > CLOCK_JUMP_NS:
            self._utc_minus_steady_ns = utc_ns - steady_ns
            text = (
                kept_text(
                    "The computer's clock was set forward by {seconds} s; the trace goes on without a jump."
                )
                if jump_ns > 0
                else kept_text(
                    "The computer's clock was set back by {seconds} s; the trace goes on without a jump."
                )
            )
            out.append(NoticeDraft(CLOCK_SET, text.format(seconds=f"{abs(jump_ns) / NS_PER_S:.1f}")))
        return out
