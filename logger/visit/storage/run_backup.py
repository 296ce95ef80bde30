"""What a visit log holds while it is recorded, in files without a name: so that it can be written again.

What the run has written is in a spool, line by line; what the log held before the run, and what windows enter, in a
copy (`log_copy`).
"""

from __future__ import annotations

import sqlite3
from collections.abc import Callable
from pathlib import Path

from logger.visit.storage.log_copy import LogCopy
from logger.visit.storage.run_spool import Item, RunSpool

NOT_KEPT_BEFORE = (
    "Earlier recordings, spots and readings are not in it: the temporary folder had no room for them."
)
NOT_KEPT_LINES = "The run lacks its last lines before that: the temporary folder had no room for them."


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
            The new log, readable for its owner only, and a sentence on what could not be kept (empty if nothing).

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
        lost = [] if self._copy.is_complete else [NOT_KEPT_BEFORE]
        return new, " ".join([*lost, *([] if self.complete else [NOT_KEPT_LINES])])

    def close(self) -> None:
        """Let the files go."""
        super().close()
        self._copy.close()
