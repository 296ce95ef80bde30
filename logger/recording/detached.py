"""A recorder as a process of its own: how it is started, and how its refusal comes back to the one that started it."""

from __future__ import annotations

import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

from logger.errors import StillvoltError
from logger.meter.port import PortSettings
from logger.recording.registry import POLL_EVERY_S, is_recording, recorder_of
from logger.recording.watch import disk_space

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


class DetachedRecorder:
    """A recorder started as a process of its own, that outlives the one that started it."""

    def __init__(self, process: subprocess.Popen[bytes], output_path: Path) -> None:
        self._process = process
        self._output_path = output_path

    def refusal(self) -> str | None:
        """None while it runs; when it has ended, its last line of output (empty if it wrote none)."""
        if self._process.poll() is None:
            return None
        lines = self._output_path.read_text(errors="replace").strip().splitlines()
        return lines[-1] if lines else ""


def start_detached(visit: Path, settings: PortSettings, for_s: float | None = None) -> DetachedRecorder:
    """Start a recorder in the background; it goes on when the window or the terminal is closed.

    Args:
        visit: the visit log.
        settings: the port.
        for_s: the recorder stops by itself after so many seconds.
    """
    output = tempfile.NamedTemporaryFile(prefix="stillvolt-recorder-", suffix=".txt", delete=False)  # noqa: SIM115  closed below
    command = [sys.executable, "-m", "logger", "record", "--visit", str(visit), *options(settings)]
    if for_s is not None:
        command += ["--for", f"{for_s:g}"]
    flags = 0
    if sys.platform == "win32":
        flags = subprocess.CREATE_NEW_PROCESS_GROUP | subprocess.CREATE_NO_WINDOW
    with output:
        process = subprocess.Popen(
            command,
            stdin=subprocess.DEVNULL,
            stdout=output,
            stderr=subprocess.STDOUT,
            start_new_session=True,
            creationflags=flags,
        )
    return DetachedRecorder(process, Path(output.name))


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
            f"Another recorder is at work on {visit}.", "It goes on undisturbed.", "Choose another file."
        )
    started = start_detached(visit, settings, for_s)
    waited_s = 0.0
    while (running := recorder_of(visit)) is None:
        refusal = started.refusal()
        if refusal is not None:
            raise StillvoltError(refusal.removeprefix("stillvolt: ") or "The recorder ended at once.")
        if waited_s >= START_TIMEOUT_S:
            raise StillvoltError(
                f"The recorder has not begun within {START_TIMEOUT_S:.0f} s.",
                next_step="`stillvolt running` shows whether it has begun since.",
            )
        wait(POLL_EVERY_S)
        waited_s += POLL_EVERY_S
    message = (
        f"Recording {running.port} into {running.visit}, process {running.pid}. `stillvolt stop` ends it."
    )
    return " ".join(filter(None, (message, disk_space.warning_before_start(visit))))
