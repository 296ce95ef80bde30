"""A meter on a pseudo-terminal: writes lines in real time, its cable can be pulled and put back."""

from __future__ import annotations

import contextlib
import os
import threading
import time
import tty
from collections.abc import Iterator
from pathlib import Path


class PtyMeter:
    """Writes the lines of a stream at a fixed rate.

    Args:
        path: the port's name; a link, so that a cable put back has the same name.
        lines: what the meter sends, without line ends.
        rate_hz: lines a second.
    """

    def __init__(self, path: Path, lines: Iterator[bytes], rate_hz: float) -> None:
        self.path = path
        self.all_written_ns: list[int] = []
        """Monotonic time of each line."""
        self._lines = lines
        self._period_s = 1 / rate_hz
        self._master: int | None = None
        self._slave: int | None = None
        self._lock = threading.Lock()
        self._stop = threading.Event()
        self.put_back()
        self._thread = threading.Thread(target=self._run, daemon=True)
        self._thread.start()

    def put_back(self) -> None:
        """Plug the cable in."""
        master, slave = os.openpty()
        tty.setraw(slave)
        os.set_blocking(master, False)
        new = self.path.with_suffix(".new")
        new.symlink_to(os.ttyname(slave))
        new.replace(self.path)
        with self._lock:
            self._master, self._slave = master, slave

    def pull(self) -> None:
        """Pull the cable out."""
        with self._lock:
            for end in (self._master, self._slave):
                if end is not None:
                    os.close(end)
            self._master = self._slave = None
            self.path.unlink(missing_ok=True)

    def stop(self) -> None:
        """End the meter."""
        self._stop.set()
        self._thread.join()
        self.pull()

    def _run(self) -> None:
        due = time.monotonic()
        for line in self._lines:
            due += self._period_s
            if self._stop.wait(max(due - time.monotonic(), 0)):
                return
            with self._lock:
                if self._master is None:
                    continue
                self.all_written_ns.append(time.monotonic_ns())
                with contextlib.suppress(BlockingIOError):  # nobody reads
                    os.write(self._master, line + b"\r\n")
