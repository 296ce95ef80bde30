"""Everything that a run has written so far, in a file without a name: so that it can be written again.

Another program may overwrite or cut a visit log in place while it is recorded (a restored backup, a folder that is
synchronised). What the log held is gone then; what this process has written is still here.
"""

from __future__ import annotations

import pickle
import tempfile
from collections.abc import Iterator
from contextlib import suppress
from typing import Generic, TypeVar

Item = TypeVar("Item")


class RunSpool(Generic[Item]):
    """A list on the disk that only grows. Nobody else can read or change it: it has no name."""

    def __init__(self) -> None:
        # Closed with `close`, at the end of the run.
        self._file = tempfile.TemporaryFile(prefix="stillvolt-")  # noqa: SIM115
        self.complete = True
        """Whether every entry found room."""

    def add(self, item: Item) -> None:
        """Append an entry; where the temporary folder is full, the first that finds no room and all after it lack."""
        if not self.complete:
            return
        try:
            pickle.dump(item, self._file)
        except OSError:
            self.complete = False

    def all(self) -> Iterator[Item]:
        """Every entry, oldest first."""
        with suppress(OSError):
            self._file.flush()
        self._file.seek(0)
        # The last entry is cut where there was no room for all of it.
        with suppress(EOFError, pickle.UnpicklingError):
            while True:
                yield pickle.load(self._file)  # what this process wrote itself

    def close(self) -> None:
        """Let the file go."""
        with suppress(OSError):
            self._file.close()
