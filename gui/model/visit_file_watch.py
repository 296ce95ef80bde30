"""Watches whether the file of the open visit is still at its place and has its content, as the recorder does."""

from __future__ import annotations

from pathlib import Path

from gui.model.visit_access import Message, VisitAccess
from logger.clock import NS_PER_S
from logger.errors import StillvoltError
from logger.recording.recorder_lock import recorder_note
from logger.translation import tr

LOOK_EVERY_NS = NS_PER_S
"""How often it is looked; the recorder does so as often."""

WAIT_FOR_RECORDER_NS = 5 * NS_PER_S
"""How long a recorder has to go on in a new file before the window makes one itself, where only its heartbeat was seen;
and before the user is told that the window waits, where it is known to be at work."""


class VisitFileWatch:
    """Takes over a new name of the visit's file, and finds where a visit goes on whose file is gone or overwritten.

    Args:
        access: the open visit.
    """

    def __init__(self, access: VisitAccess) -> None:
        self._access = access
        self._looked_ns = 0
        self._gone_since_ns: int | None = None
        self.continued_in: Path | None = None
        """The visit log in which everything goes on, once the file of this one is gone or overwritten."""
        self.reason = ""
        """What has happened to the file, in sentences."""
        access.log.keep_copy()

    @property
    def is_overwritten(self) -> bool:
        """Whether the file has another program's content, so that nothing of it may be shown."""
        return self._access.log.is_overwritten()

    def poll(self) -> None:
        """Look, if a second has passed since the last time; at once where the file is overwritten."""
        now_ns = self._access.clock.steady_ns()
        is_news = self._gone_since_ns is None and self.is_overwritten
        if self.continued_in is not None or (now_ns - self._looked_ns < LOOK_EVERY_NS and not is_news):
            return
        self._looked_ns = now_ns
        log, before = self._access.log, self._access.log.path
        if log.follow_file():
            self._gone_since_ns = None
            if log.path != before:
                self._access.message = Message(
                    tr("The visit log {before} is now {path}.").format(before=before.name, path=log.path)
                )
            # While it is recorded, the recorder writes the journal into the file.
            log.keep_up(with_journal=not self._access.snapshot.recording)
            return
        if self._gone_since_ns is None:
            self._gone_since_ns = now_ns
        try:
            self._find_where_it_goes_on(before, now_ns - self._gone_since_ns)
        except StillvoltError as error:
            if str(error) != self._access.message.text:
                self._access.refuse(str(error))

    def _find_where_it_goes_on(self, before: Path, gone_ns: int) -> None:
        """Follow the recorder, which makes the one new file; without a recorder, the first window makes it.

        Args:
            before: the file that is gone or overwritten.
            gone_ns: for how long.

        Raises:
            StillvoltError: no new file could be made, or the recorder has not made one yet.
        """
        log = self._access.log
        # Before the new file is looked for: the recorder takes its lock along to that.
        is_at_work = recorder_note(before) is not None
        self.continued_in, rest = log.continued_in(), None
        if self.continued_in is not None:
            if self.is_overwritten and not log.bring_over(self.continued_in):
                rest = log.copy_beside()
        elif is_at_work:
            self._wait_for_recorder(before, gone_ns)
            return
        elif not self._access.snapshot.has_heartbeat or gone_ns >= WAIT_FOR_RECORDER_NS:
            self.continued_in = log.copy_beside()
        if self.continued_in is not None:
            self.reason = self._what_happened(before.name, self.continued_in.name, rest)

    def _wait_for_recorder(self, before: Path, gone_ns: int) -> None:
        if self.is_overwritten:
            # The journal may hide from the recorder what another program did to the file.
            self._access.log.have_it_looked_at()
        if gone_ns >= WAIT_FOR_RECORDER_NS:
            raise StillvoltError(
                tr(
                    "{before} was deleted, replaced or overwritten by another program. The recorder is at "
                    "work, but has not begun a new file yet. This window waits until it has."
                ).format(before=before.name),
                tr("Everything entered before is kept as long as this window is open."),
                tr("If this stays, see whether the disk is full."),
            )

    def _what_happened(self, before: str, now: str, rest: Path | None) -> str:
        if not self.is_overwritten:
            return tr(
                "{before} was deleted, replaced, or overwritten by another program. Everything was kept "
                "in {now}, and goes on there."
            ).format(before=before, now=now)
        kept = (
            tr("Everything kept before that is in it. See whether your last entry is there.")
            if rest is None
            else tr(
                "What this window had entered last is not in it, but in {rest}: enter it again here."
            ).format(rest=rest.name)
        )
        return " ".join(
            [
                tr("{before} was overwritten by another program. The visit goes on in {now}.").format(
                    before=before, now=now
                ),
                kept,
            ]
        )
