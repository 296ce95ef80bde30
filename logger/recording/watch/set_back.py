"""Whether the computer's clock was set back between two recordings of a visit, or stands far ahead of the last one.

In: the visit log before a recording begins, and what the clock shows. Out: the draft of a notice, or none. Which of the
two times is wrong cannot be known: whoever reads the clock can tell.
"""

from __future__ import annotations

from datetime import datetime

from logger.clock import NS_PER_S, format_duration
from logger.meter.notice_draft import NoticeDraft
from logger.recording.watch.suspend import CLOCK_JUMP_NS
from logger.translation import in_language, kept_text
from logger.visit.records.imported_trace import imported_trace
from logger.visit.storage.visit_log import VisitLog

SET_BACK_NOTICE = "clock set back"
"""Kind of the notice that a recording begins, by the clock, before the one before it had ended."""

AHEAD_NOTICE = "clock ahead"
"""Kind of the notice that a recording begins, by the clock, years after the one before it."""

DAY_S = 86_400.0

AHEAD_DAYS = 366.0
"""A visit is the work of days: more than a year after its last recording the clock is more likely wrong. No source,
ours."""


@in_language("en")
def clock_notice(log: VisitLog, port: str, now_utc_ns: int) -> NoticeDraft | None:
    """Return a notice that the clock was set back, or by years forward, since a visit's newest recording; else None.

    Args:
        log: the visit log before the recording begins.
        port: of the recording; one simulated on another port may be dated to whatever evening.
        now_utc_ns: what the clock shows, UTC ns.
    """
    runs = [run for run in log.runs.all() if imported_trace(run) is None]
    if not runs or (runs[-1].simulated and runs[-1].port != port):
        return None
    last, live = runs[-1], log.recorder.live()
    ended_utc_ns = last.started_utc_ns if last.ended_utc_ns is None else last.ended_utc_ns + last.clock_set_ns
    if live is not None and live.run_id == last.id:
        ended_utc_ns = max(ended_utc_ns, live.beat_utc_ns)
    back_ns = ended_utc_ns - now_utc_ns
    now, ended = (datetime.fromtimestamp(ns // NS_PER_S) for ns in (now_utc_ns, ended_utc_ns))
    if -back_ns > AHEAD_DAYS * DAY_S * NS_PER_S:
        text = kept_text(
            "The computer's clock shows {now}, {days} days after the last recording of this visit ended ({ended}). If "
            "that is not so, set the clock and start the recording again."
        ).format(
            now=f"{now:%Y-%m-%d %H:%M:%S}",
            days=f"{-back_ns / NS_PER_S / DAY_S:.0f}",
            ended=f"{ended:%Y-%m-%d %H:%M:%S}",
        )
        return NoticeDraft(AHEAD_NOTICE, text)
    if back_ns <= CLOCK_JUMP_NS:
        return None
    days, rest_s = divmod(back_ns / NS_PER_S, DAY_S)
    if days > 1:
        text = kept_text(
            "The computer's clock was set back since the last recording of this visit, by {days} days and {duration} "
            "or more: it shows {now} now, and that recording ended at {ended}. The dates of one of both are wrong. If "
            "it is this one, set the clock and start the recording again."
        )
    elif days:
        text = kept_text(
            "The computer's clock was set back since the last recording of this visit, by 1 day and {duration} or "
            "more: it shows {now} now, and that recording ended at {ended}. The dates of one of both are wrong. If it "
            "is this one, set the clock and start the recording again."
        )
    else:
        text = kept_text(
            "The computer's clock was set back since the last recording of this visit, by {duration} or more: it shows "
            "{now} now, and that recording ended at {ended}. The dates of one of both are wrong. If it is this one, "
            "set the clock and start the recording again."
        )
    message = text.format(
        days=f"{days:.0f}",
        duration=format_duration(rest_s),
        now=f"{now:%Y-%m-%d %H:%M:%S}",
        ended=f"{ended:%Y-%m-%d %H:%M:%S}",
    )
    return NoticeDraft(SET_BACK_NOTICE, message)
