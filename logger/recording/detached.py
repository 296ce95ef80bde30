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
from logger.recording.registry import LOOK_EVERY_S, is_recording, recorder_of
from logger.recording.watch import disk_space

START_PATIENCE_S = 20.0
"""A recorder begins within a second; opening a far port takes longer."""


def options(settings: PortSettings, *, every: bool = True) -> list[str]:
    """The settings as options of `stillvolt record`.

    Args:
        settings: the port.
        every: also those that are as they would be without being said.
    """
    unsaid = {} if every else _said(PortSettings(""))
    return [word for pair in _said(settings).items() if pair not in unsaid.items() for word in pair]


def _said(settings: PortSettings) -> dict[str, str]:
    said = {
        "--port": settings.url,
        "--baud": str(settings.baud),
        "--data-bits": str(settings.data_bits),
        "--parity": settings.parity,
        "--stop-bits": f"{settings.stop_bits:g}",
        "--dtr": _LEVEL_WORDS[settings.dtr],
        "--rts": _LEVEL_WORDS[settings.rts],
    }
    if settings.meter is not None:
        said["--meter"] = settings.meter
    if settings.query is not None:
        said["--query"] = settings.query.encode("unicode_escape").decode()
        said["--query-every"] = f"{settings.query_every_s:g}"
    return said


_LEVEL_WORDS = {None: "system", True: "on", False: "off"}


class DetachedRecorder:
    """A recorder started as a process of its own, that outlives the one that started it."""

    def __init__(self, process: subprocess.Popen[bytes], says: Path) -> None:
        self._process = process
        self._says = says

    def refusal(self) -> str | None:
        """None while it runs; when it has ended, the last thing that it said ('' if it said nothing)."""
        if self._process.poll() is None:
            return None
        lines = self._says.read_text(errors="replace").strip().splitlines()
        return lines[-1] if lines else ""


def start_detached(visit: Path, settings: PortSettings, for_s: float | None = None) -> DetachedRecorder:
    """Start a recorder in the background; it goes on when the window or the terminal is closed."""
    says = tempfile.NamedTemporaryFile(prefix="stillvolt-recorder-", suffix=".txt", delete=False)  # noqa: SIM115
    command = [sys.executable, "-m", "logger", "record", "--visit", str(visit), *options(settings)]
    if for_s is not None:
        command += ["--for", f"{for_s:g}"]
    flags = 0
    if sys.platform == "win32":
        flags = subprocess.CREATE_NEW_PROCESS_GROUP | subprocess.CREATE_NO_WINDOW
    with says:
        process = subprocess.Popen(
            command,
            stdin=subprocess.DEVNULL,
            stdout=says,
            stderr=subprocess.STDOUT,
            start_new_session=True,
            creationflags=flags,
        )
    return DetachedRecorder(process, Path(says.name))


def detach(
    visit: Path,
    settings: PortSettings,
    for_s: float | None = None,
    *,
    wait: Callable[[float], None] = time.sleep,
) -> str:
    """`start_detached`, waiting until it records; gives a sentence for the user with its process and visit.

    Raises:
        StillvoltError: it refused, with its reason, or it has not begun in time.
    """
    if is_recording(visit):
        raise StillvoltError(
            f"Another recorder is at work on {visit}.", "It goes on undisturbed.", "Choose another file."
        )
    started = start_detached(visit, settings, for_s)
    waited_s = 0.0
    while (one := recorder_of(visit)) is None:
        refusal = started.refusal()
        if refusal is not None:
            raise StillvoltError(refusal.removeprefix("stillvolt: ") or "The recorder ended at once.")
        if waited_s >= START_PATIENCE_S:
            raise StillvoltError(
                f"The recorder has not begun within {START_PATIENCE_S:.0f} s.",
                next_step="`stillvolt running` shows whether it has begun since.",
            )
        wait(LOOK_EVERY_S)
        waited_s += LOOK_EVERY_S
    told = f"Recording {one.port} into {one.visit}, process {one.pid}. `stillvolt stop` ends it."
    return " ".join(filter(None, (told, disk_space.warning_before_start(visit))))
