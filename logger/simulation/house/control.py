"""The control file: commands for a running house, one a line, appended by anybody."""

from __future__ import annotations

from pathlib import Path

from logger.errors import StillvoltError
from logger.translation import tr

MAX_NEW_BYTES = 1_000_000
"""Most of a control file that is read at once; of a longer piece only the end."""


def send_command(path: Path, command: str) -> None:
    """Append a command to the control file.

    Raises:
        StillvoltError: the file cannot be written.
    """
    try:
        with path.open("a", encoding="utf-8") as file:
            file.write(command.replace("\n", " ") + "\n")
    except OSError as error:
        raise StillvoltError(
            tr("The simulated house was not told “{command}”: {file} cannot be written ({error}).").format(
                command=command, file=path, error=error.strerror
            )
        ) from error


class Control:
    """A file to which anybody appends commands, one a line. It may be missing, grow, shrink, or hold garbage.

    Args:
        path: the file.
    """

    def __init__(self, path: Path) -> None:
        self._path = path
        self._read_bytes = 0
        self._partial = b""

    def new_lines(self) -> list[str]:
        """The complete lines that were appended since the last call; a file that shrank is read from its start."""
        try:
            size = self._path.stat().st_size
            if size == self._read_bytes:
                return []
            if size < self._read_bytes:
                self._read_bytes, self._partial = 0, b""
            with self._path.open("rb") as file:
                if size - self._read_bytes > MAX_NEW_BYTES:
                    self._read_bytes, self._partial = size - MAX_NEW_BYTES, b""
                file.seek(self._read_bytes)
                data = file.read(size - self._read_bytes)
        except (OSError, ValueError):
            return []
        self._read_bytes += len(data)
        *complete, self._partial = (self._partial + data).split(b"\n")
        self._partial = self._partial[-MAX_NEW_BYTES:]
        lines = (line.decode("utf-8", "replace").split("#", 1)[0].strip() for line in complete)
        return [line for line in lines if line]
