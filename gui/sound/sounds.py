"""Five short, different tones: settled, taken, moving, lost, step. Played by the system's own player, never waited for.

Qt's sound module is not part of PySide6-Essentials, and its full package is ten times as large; every desktop system
has a player that takes a WAV file. Where there is none, settled and lost fall back to the system's beep.
"""

from __future__ import annotations

import shutil
import sys
import tempfile
import wave
from enum import StrEnum
from pathlib import Path

import numpy as np
from PySide6.QtCore import QProcess
from PySide6.QtWidgets import QApplication

from gui.sound.speech import speak

RATE_HZ = 44_100
LOUDNESS = 0.35
"""Of full scale: loud enough for a quiet bedroom, not so loud that a body jumps."""

FADE_S = 0.012


class Tone(StrEnum):
    """What happened."""

    SETTLED = "settled"
    TAKEN = "taken"
    MOVING = "moving"
    LOST = "lost"
    STEP = "step"
    """A lasting change of level that waits for a name."""


_NOTES: dict[Tone, tuple[tuple[float, float], ...]] = {
    # Frequency in hertz, length in seconds. Rising: good; falling: not; they differ in number and direction.
    Tone.SETTLED: ((660.0, 0.09), (880.0, 0.16)),
    Tone.TAKEN: ((880.0, 0.07), (880.0, 0.07), (1320.0, 0.18)),
    Tone.MOVING: ((330.0, 0.10),),
    Tone.STEP: ((988.0, 0.05), (740.0, 0.05), (988.0, 0.10)),
    Tone.LOST: ((440.0, 0.16), (311.0, 0.16), (220.0, 0.30)),
}

PLAYERS: tuple[tuple[str, ...], ...] = (
    ("pw-play",),
    ("paplay",),
    ("aplay", "-q"),
    ("afplay",),
)


def samples(tone: Tone) -> np.ndarray[tuple[int], np.dtype[np.int16]]:
    """A tone as 16-bit mono at RATE_HZ, faded in and out so that it does not click."""
    parts = []
    for hertz, seconds in _NOTES[tone]:
        times_s = np.arange(round(seconds * RATE_HZ)) / RATE_HZ
        fade = np.minimum(1.0, np.minimum(times_s, seconds - times_s) / FADE_S)
        parts.append(np.sin(2 * np.pi * hertz * times_s) * fade)
        parts.append(np.zeros(round(0.03 * RATE_HZ)))
    return (np.concatenate(parts) * LOUDNESS * 32767).astype(np.int16)


def write_wav(tone: Tone, path: Path) -> None:
    """Write a tone as a WAV file."""
    with wave.open(str(path), "wb") as out:
        out.setnchannels(1)
        out.setsampwidth(2)
        out.setframerate(RATE_HZ)
        out.writeframes(samples(tone).astype("<i2").tobytes())


class Sounds:
    """Plays tones; silent while switched off."""

    def __init__(self) -> None:
        self.on = True
        """Whether anything is heard."""
        self.speech_on = True
        """Whether sentences are spoken too, while anything is heard."""
        self._folder: tempfile.TemporaryDirectory[str] | None = None
        self._player = next((p for p in PLAYERS if shutil.which(p[0])), None)

    def play(self, tone: Tone) -> None:
        """Play a tone without waiting for it; without a sound system nothing happens."""
        if not self.on:
            return
        if self._player is not None:
            QProcess.startDetached(self._player[0], [*self._player[1:], str(self._file(tone))])
        elif sys.platform == "win32":
            import winsound  # noqa: PLC0415 a module of Windows only

            winsound.PlaySound(str(self._file(tone)), winsound.SND_FILENAME | winsound.SND_ASYNC)
        elif tone in (Tone.SETTLED, Tone.LOST):
            QApplication.beep()

    def speak(self, text: str) -> None:
        """Speak a sentence, where the system has a voice, and sounds and speech are on."""
        if self.on and self.speech_on:
            speak(text)

    def _file(self, tone: Tone) -> Path:
        if self._folder is None:
            self._folder = tempfile.TemporaryDirectory(prefix="stillvolt-tones-", ignore_cleanup_errors=True)
        path = Path(self._folder.name) / f"{tone.value}.wav"
        if not path.exists():
            write_wav(tone, path)
        return path
