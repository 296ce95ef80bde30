"""Says a sentence aloud, where the system has a voice; never waited for, never an error."""

from __future__ import annotations

import shutil
import sys

from PySide6.QtCore import QProcess

SPEAKERS: tuple[tuple[str, ...], ...] = (
    ("spd-say", "--"),
    ("espeak-ng", "--"),
    ("espeak", "--"),
    ("say", "--"),
)
"""Programs that speak what stands behind these words; the first that is there."""


def command(text: str) -> tuple[str, ...] | None:
    """The program and its words that say a text on this system; None where there is no voice."""
    if sys.platform == "win32":
        quoted = text.replace("'", "''")  # all that has a meaning within single quotes
        script = (
            "Add-Type -AssemblyName System.Speech; "
            f"(New-Object System.Speech.Synthesis.SpeechSynthesizer).Speak('{quoted}')"
        )
        return ("powershell", "-NoProfile", "-WindowStyle", "Hidden", "-Command", script)
    speaker = next((words for words in SPEAKERS if shutil.which(words[0])), None)
    return (*speaker, text) if speaker else None


def speak(text: str) -> None:
    """Say it."""
    words = command(text)
    if words is not None:
        QProcess.startDetached(words[0], list(words[1:]))
