"""A recorder as a process of its own: how it is started, and how its refusal comes back to the one that started it."""

from __future__ import annotations

import contextlib
import os
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

from logger.errors import StillvoltError
from logger.meter.port import PortSettings
from logger.recording.old_texts import remove_old_texts
from logger.recording.recorder_lock import POLL_EVERY_S, is_recording
from logger.recording.registry import recorder_of
from logger.recording.watch import disk_space
from logger.translation import shown_language, tr, tr_kept

START_TIMEOUT_S = 20.0
"""A recorder begins within a second; opening a far port takes longer."""


def options(settings: PortSettings, *, every: bool = True) -> list[str]:
    """The settings as options of `stillvolt record`.

    Args:
        settings: the port.
        every: include options that equal their defaults.
    """
    defaults = {} if every else _option_values(PortSettings(""))
    return [
        word for pair in _option_values(settings).items() if pair not in defaults.items() for word in pair
    ]


def _option_values(settings: PortSettings) -> dict[str, str]:
    values = {
        "--port": settings.url,
        "--baud": str(settings.baud),
        "--data-bits": str(settings.data_bits),
        "--parity": settings.parity,
        "--stop-bits": f"{settings.stop_bits:g}",
        "--dtr": _LEVEL_WORDS[settings.dtr],
        "--rts": _LEVEL_WORDS[settings.rts],
    }
    if settings.meter is not None:
        values["--meter"] = settings.meter
    if settings.query is not None:
        values["--query"] = settings.query.encode("unicode_escape").decode()
        values["--query-every"] = f"{settings.query_every_s:g}"
    return values


_LEVEL_WORDS = {None: "system", True: "on", False: "off"}


UNTIL_BEGUN = "STILLVOLT_OUTPUT_UNTIL_BEGUN"
"""Environment variable by which a recorder knows that its starter reads its output only until the run has begun."""

LANGUAGE = "STILLVOLT_LANGUAGE"
"""Environment variable by which a recorder knows in which language it is to refuse: that of its starter."""


class DetachedRecorder:
    """A recorder started as a process of its own, that outlives the one that started it.

    Args:
        process: its output is a pipe, which it closes once its run has begun.
    """

    def __init__(self, process: subprocess.Popen[bytes]) -> None:
        self._process = process
        self._refusal: str | None = None

    def refusal(self) -> str | None:
        """None while it runs; when it has ended, its last line of output (empty if it wrote none)."""
        if self._refusal is None and self._process.poll() is not None:
            output = self._process.communicate()[0].decode(errors="replace")
            lines = output.strip().splitlines()
            self._refusal = lines[-1] if lines else ""
        return self._refusal


def start_detached(visit: Path, settings: PortSettings, for_s: float | None = None) -> DetachedRecorder:
    """Start a recorder in the background; it goes on when the window or the terminal is closed.

    Its refusal comes back through a pipe: no file is needed, that a full temporary folder would refuse.

    Args:
        visit: the visit log.
        settings: the port.
        for_s: the recorder stops by itself after so many seconds.
    """
    remove_old_texts(Path(tempfile.gettempdir()))
    command = [sys.executable, "-m", "logger", "record", "--visit", str(visit), *options(settings)]
    if for_s is not None:
        command += ["--for", f"{for_s:g}"]
    flags = 0
    if sys.platform == "win32":
        flags = subprocess.CREATE_NEW_PROCESS_GROUP | subprocess.CREATE_NO_WINDOW
    process = subprocess.Popen(
        command,
        stdin=subprocess.DEVNULL,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        start_new_session=True,
        creationflags=flags,
        env=os.environ | {UNTIL_BEGUN: "1", LANGUAGE: shown_language()},
    )
    return DetachedRecorder(process)


def close_output() -> None:
    """Send the output of this process nowhere from now on: nobody reads it, and a full pipe would hold it up."""
    nowhere = os.open(os.devnull, os.O_WRONLY)
    for stream in (sys.stdout, sys.stderr):
        with contextlib.suppress(OSError, ValueError):
            stream.flush()
            os.dup2(nowhere, stream.fileno())
    os.close(nowhere)


def detach(
    visit: Path,
    settings: PortSettings,
    for_s: float | None = None,
    *,
    wait: Callable[[float], None] = time.sleep,
) -> str:
    """Start a recorder in the background and wait until it records.

    Args:
        visit: the visit log.
        settings: the port.
        for_s: the recorder stops by itself after so many seconds.
        wait: sleeps for so many seconds; a test gives its own.

    Returns:
        A sentence for the user with its process and visit.

    Raises:
        StillvoltError: it refused, with its reason, or it has not begun in time.
    """
    if is_recording(visit):
        raise StillvoltError(
            tr("Another recorder is at work on {file}.").format(file=visit),
            tr("It goes on undisturbed."),
            tr("Choose another file."),
        )
    started = start_detached(visit, settings, for_s)
    waited_s = 0.0
    while (running := recorder_of(visit)) is None:
        refusal = started.refusal()
        if refusal is not None:
            raise StillvoltError(refusal.removeprefix("stillvolt: ") or tr("The recorder ended at once."))
        if waited_s >= START_TIMEOUT_S:
            raise StillvoltError(
                tr("The recorder has not begun within {seconds} s.").format(seconds=f"{START_TIMEOUT_S:.0f}"),
                next_step=tr("`stillvolt running` shows whether it has begun since."),
            )
        wait(POLL_EVERY_S)
        waited_s += POLL_EVERY_S
    message = tr("Recording {port} into {file}, process {pid}. `stillvolt stop` ends it.").format(
        port=running.port, file=running.visit, pid=running.pid
    )
    return " ".join(filter(None, (message, tr_kept(disk_space.warning_before_start(visit)))))
