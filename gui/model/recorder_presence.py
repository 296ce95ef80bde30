"""Whether a recorder whose heartbeat has stopped is still at work: its lock beside the visit shows that, and why.

A recorder that finds the disk full can write nothing into the visit; its lock has the room for a short note.
"""

from __future__ import annotations

from pathlib import Path

from logger.clock import NS_PER_S, Clock
from logger.metrology.rounding import grouped
from logger.recording.recorder_lock import WaitingLines, is_recording, recorder_note
from logger.translation import tr, tr_n

LOOK_EVERY_NS = NS_PER_S // 2
"""How often the lock is looked at; the recorder notes what waits once a second."""


class RecorderPresence:
    """Follows the lock of a visit's recorder while its heartbeat is old.

    Args:
        clock: injected time.
    """

    def __init__(self, clock: Clock) -> None:
        self._clock = clock
        self._looked_ns: int | None = None
        self.at_work = False
        """A process holds the lock."""
        self.waiting: WaitingLines | None = None
        """What waits in the recorder's memory because the disk does not take it."""

    def poll(self, visit: Path, stale: bool) -> None:
        """Look, if half a second has passed since the last time.

        Args:
            visit: the visit log.
            stale: the heartbeat is old; else there is nothing to find out.
        """
        if not stale:
            self._looked_ns, self.at_work, self.waiting = None, False, None
            return
        now_ns = self._clock.steady_ns()
        if self._looked_ns is not None and now_ns - self._looked_ns < LOOK_EVERY_NS:
            return
        self._looked_ns = now_ns
        self.at_work = is_recording(visit)
        note = recorder_note(visit) if self.at_work else None
        self.waiting = None if note is None else note.waiting


def waiting_word(waiting: WaitingLines) -> str:
    """What holds the lines up, in two words, as large as a state."""
    return tr("DISK FULL") if waiting.is_full else tr("DISK REFUSES")


def waiting_head(waiting: WaitingLines) -> str:
    """What holds the lines up, in two words, where a line begins with it."""
    return tr("Disk full") if waiting.is_full else tr("Disk refuses")


def waiting_detail(waiting: WaitingLines) -> str:
    """How many lines wait, in a few words."""
    if waiting.dropped:
        return tr_n("{n} line lost", "{n} lines lost", waiting.dropped).format(n=grouped(waiting.dropped))
    return tr_n("{n} line waits", "{n} lines wait", waiting.lines).format(n=grouped(waiting.lines))


def waiting_text(waiting: WaitingLines) -> str:
    """What waits, what is lost, and what to do, in whole sentences."""
    lines = tr_n("{n} line waits in memory", "{n} lines wait in memory", waiting.lines)
    lost = tr("nothing is lost")
    if waiting.dropped:
        lost = tr_n(
            "memory is full too, and {n} later line could not be kept",
            "memory is full too, and {n} later lines could not be kept",
            waiting.dropped,
        ).format(n=grouped(waiting.dropped))
    text = (
        tr("Disk full: {lost}, {lines} for room. Make room on the disk: recording goes on by itself.")
        if waiting.is_full
        else tr("The visit cannot be saved ({reason}): {lost}, {lines}. The program keeps trying.")
    )
    return text.format(lost=lost, lines=lines.format(n=grouped(waiting.lines)), reason=waiting.reason)


def no_value_text(waiting: WaitingLines) -> str:
    """Why no value can be taken meanwhile."""
    if waiting.is_full:
        return tr("The disk is full. Make room on it, then a value can be taken.")
    return tr("The visit cannot be written now. Wait until it can be.")


def stop_refusal(waiting: WaitingLines) -> str:
    """Why the recorder is not stopped now."""
    return tr_n(
        "Not stopped: {n} line of this recording still waits in memory. Make room on the disk first, then stop.",
        "Not stopped: {n} lines of this recording still wait in memory. Make room on the disk first, then stop.",
        waiting.lines,
    ).format(n=grouped(waiting.lines))
