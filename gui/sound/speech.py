"""Speaks a sentence, where the system has a voice; it is never waited for and never an error."""

from __future__ import annotations

import shutil
import sys
from string import Template

from PySide6.QtCore import QProcess

SPEAKERS: tuple[tuple[str, ...], ...] = (
    ("spd-say", "--"),
    ("espeak-ng", "--"),
    ("espeak", "--"),
    ("say", "--"),
)
"""Programs that speak the argument after these words; the first that is installed is used."""


_SCRIPT = Template(
    "Add-Type -AssemblyName System.Speech; (New-Object System.Speech.Synthesis.SpeechSynthesizer).Speak('$text')"
)
"""Speaks on Windows."""


def command(text: str) -> tuple[str, ...] | None:
    """The program with its arguments that speaks a text on this system; None where there is no voice."""
    if sys.platform == "win32":
        quoted = text.replace("'", "''")  # all that has a meaning within single quotes
        return (
            "powershell",
            "-NoProfile",
            "-WindowStyle",
            "Hidden",
            "-Command",
            _SCRIPT.substitute(text=quoted),
        )
    speaker = next((words for words in SPEAKERS if shutil.which(words[0])), None)
    return (*speaker, text) if speaker else None


def speak(text: str) -> None:
    """Speak a text, without waiting for it."""
    words = command(text)
    if words is not None:
        QProcess.startDetached(words[0], list(words[1:]))
