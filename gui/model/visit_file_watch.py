"""Watches whether the file of the open visit is still at its place, as the recorder does on its side."""

from __future__ import annotations

from pathlib import Path

from gui.model.visit_access import Message, VisitAccess
from logger.clock import NS_PER_S
from logger.errors import StillvoltError

LOOK_EVERY_NS = NS_PER_S
"""How often it is looked; the recorder does so as often."""

WAIT_FOR_RECORDER_NS = 5 * NS_PER_S
"""How long a recorder has to go on in a new file before the window makes one itself."""


class VisitFileWatch:
    """Takes over a new name of the visit's file, and finds where a visit whose file is gone goes on.

    Args:
        access: the open visit.
    """

    def __init__(self, access: VisitAccess) -> None:
        self._access = access
        self._looked_ns = 0
        self._gone_since_ns: int | None = None
        self.continued_in: Path | None = None
        """The visit log in which everything goes on, once the file of this one is gone."""
        self.reason = ""
        """What has happened to the file, in one sentence."""

    def poll(self) -> None:
        """Look, if a second has passed since the last time."""
        now_ns = self._access.clock.steady_ns()
        if self.continued_in is not None or now_ns - self._looked_ns < LOOK_EVERY_NS:
            return
        self._looked_ns = now_ns
        log, before = self._access.log, self._access.log.path
        if log.follow_file():
            self._gone_since_ns = None
            if log.path != before:
                self._access.message = Message(f"The visit log {before.name} is now {log.path}.")
            if not self._access.snapshot.recording:  # the recorder does so
                log.write_journal()
            return
        if self._gone_since_ns is None:
            self._gone_since_ns = now_ns
        try:
            self._find_where_it_goes_on(before, now_ns - self._gone_since_ns)
        except StillvoltError as error:
            if str(error) != self._access.message.text:
                self._access.refuse(str(error))

    def _find_where_it_goes_on(self, before: Path, gone_ns: int) -> None:
        log, recording = self._access.log, self._access.snapshot.recording
        self.continued_in = log.continued_in()
        if self.continued_in is None and (not recording or gone_ns >= WAIT_FOR_RECORDER_NS):
            self.continued_in = log.copy_beside()
        if self.continued_in is not None:
            self.reason = (
                f"{before.name} was deleted, replaced, or overwritten by another program. "
                f"Everything was kept in {self.continued_in.name}, and goes on there."
            )
