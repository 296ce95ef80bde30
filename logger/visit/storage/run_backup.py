"""What a visit log holds while it is recorded, in files without a name: so that it can be written again.

What the run has written is in a spool, line by line; what the log held before the run, and what windows enter, in a
copy (`log_copy`).
"""

from __future__ import annotations

import sqlite3
from collections.abc import Callable
from pathlib import Path

from logger.translation import kept_text
from logger.visit.storage.log_copy import LogCopy
from logger.visit.storage.run_spool import Item, RunSpool

OVERWRITTEN = kept_text(
    "The visit log {name} was overwritten, cut or damaged by another program. Everything recorded so far was written "
    "into {new}, and recording goes on there. See whether the last reading is there, and leave the other file as it is."
)
NOT_KEPT_BEFORE = kept_text(
    "The visit log {name} was overwritten, cut or damaged by another program. What could be kept was written into "
    "{new}, and recording goes on there. Earlier recordings, spots and readings are not in it: the temporary folder "
    "had no room for them."
)
NOT_KEPT_LINES = kept_text(
    "The visit log {name} was overwritten, cut or damaged by another program. What could be kept was written into "
    "{new}, and recording goes on there. The run lacks its last lines before that: the temporary folder had no room "
    "for them."
)
NOT_KEPT_MUCH = kept_text(
    "The visit log {name} was overwritten, cut or damaged by another program. What could be kept was written into "
    "{new}, and recording goes on there. Earlier recordings, spots and readings are not in it, and the run lacks its "
    "last lines before that: the temporary folder had no room for them."
)
"""What is told of it, and kept as a notice."""


class RunBackup(RunSpool[Item]):
    """Everything that a visit log holds, as its recorder knows it.

    Args:
        db: connection to the log, with the run and none of its lines.
    """

    def __init__(self, db: sqlite3.Connection) -> None:
        super().__init__()
        self._copy = LogCopy(db)

    def refresh(self, db: sqlite3.Connection, is_overwritten: Callable[[], bool]) -> None:
        """Take over what others have entered; see `LogCopy.refresh`."""
        self._copy.refresh(db, is_overwritten)

    def write_beside(
        self,
        path: Path,
        begin: Callable[[sqlite3.Connection], None],
        insert: Callable[[sqlite3.Connection, Item], None],
    ) -> tuple[Path, str]:
        """Write everything into a new visit log.

        Args:
            path: of the overwritten log; the new one gets a name like it in the same folder.
            begin: inserts the run into a log without it.
            insert: inserts a batch of the run.

        Returns:
            The new log, readable for its owner only, and what is told of it, in English and shown by `tr_kept`.

        Raises:
            OSError: the folder cannot be written.
            sqlite3.Error: the disk is full.
        """

        def complete(db: sqlite3.Connection) -> None:
            if not self._copy.is_complete:
                begin(db)
            for batch in self.all():
                insert(db, batch)

        new = self._copy.write_beside(path, complete)
        lines_only = OVERWRITTEN if self.complete else NOT_KEPT_LINES
        before_too = NOT_KEPT_BEFORE if self.complete else NOT_KEPT_MUCH
        return new, (lines_only if self._copy.is_complete else before_too).format(
            name=path.name, new=new.name
        )

    def close(self) -> None:
        """Let the files go."""
        super().close()
        self._copy.close()
