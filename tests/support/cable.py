"""A pseudo-terminal pair as the meter's end of a cable, under a name that stays while the cable is pulled."""

from __future__ import annotations

import os
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest


class Cable:
    """A real terminal device at `path`, which the software opens; the test writes what the meter sends."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self.url = str(path)
        self._meter: int | None = None
        # The kernel gives out the lowest free number again at once, and a recorder that waits for a terminal that is
        # gone (another test's, another worker's) would take ours. It may have these.
        self._decoys = [fd for _ in range(8) for fd in os.openpty()]
        self.plug()

    def plug(self) -> None:
        """Plug the cable in: a new device of the kernel under the old name."""
        meter, port = os.openpty()
        self.path.symlink_to(os.ttyname(port))
        os.close(port)
        self._meter = meter

    def pull(self) -> None:
        """Pull the cable: the device goes away."""
        if self._meter is not None:
            self.path.unlink()
            os.close(self._meter)
            self._meter = None

    def throw_away(self) -> None:
        """The end of the test."""
        self.pull()
        for fd in self._decoys:
            os.close(fd)

    def send(self, data: bytes) -> None:
        """Let the meter send."""
        assert self._meter is not None
        os.write(self._meter, data)


@pytest.fixture
def cable(tmp_path: Path) -> Iterator[Cable]:
    """A cable that is plugged in."""
    if sys.platform == "win32":
        pytest.skip("Windows has no pseudo-terminals")
    the_cable = Cable(tmp_path / "ttyMETER")
    yield the_cable
    the_cable.throw_away()
