"""Whether a recorder whose heartbeat has stopped is still at work: its lock beside the visit shows that, and why.

A recorder that finds the disk full can write nothing into the visit; its lock has the room for a short note.
"""

from __future__ import annotations

from pathlib import Path

from gui.model.wording import counted
from logger.clock import NS_PER_S, Clock
from logger.recording.recorder_lock import WaitingLines, is_recording, recorder_note

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
    """What holds the lines up, in two words."""
    return "DISK FULL" if waiting.is_full else "DISK REFUSES"


def waiting_detail(waiting: WaitingLines) -> str:
    """How many lines wait, in a few words."""
    if waiting.dropped:
        return f"{counted(waiting.dropped, 'line')} lost"
    return f"{counted(waiting.lines, 'line')} wait" + ("s" if waiting.lines == 1 else "")


def waiting_text(waiting: WaitingLines) -> str:
    """What waits, what is lost, and what to do, in whole sentences."""
    what = "Disk full" if waiting.is_full else f"The visit cannot be written ({waiting.reason})"
    lines = f"{counted(waiting.lines, 'line')} {'waits' if waiting.lines == 1 else 'wait'} in memory"
    lost = "nothing is lost"
    if waiting.dropped:
        lost = f"memory is full too, and {counted(waiting.dropped, 'later line')} could not be kept"
    room = " for room" if waiting.is_full else ""
    next_step = (
        "Make room on the disk: recording goes on by itself." if waiting.is_full else "It is tried again."
    )
    return f"{what}: {lost}, {lines}{room}. {next_step}"


def no_value_text(waiting: WaitingLines) -> str:
    """Why no value can be taken meanwhile."""
    if waiting.is_full:
        return "The disk is full. Make room on it, then a value can be taken."
    return "The visit cannot be written now. Wait until it can be."


def stop_refusal(waiting: WaitingLines) -> str:
    """Why the recorder is not stopped now."""
    return (
        f"Not stopped: {counted(waiting.lines, 'line')} of this recording still "
        f"{'waits' if waiting.lines == 1 else 'wait'} in memory. Make room on the disk first, then stop."
    )
