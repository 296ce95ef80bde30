"""Speaks a sentence in the window's language, where the system has a voice for it; never waited for, never an error.

A voice of another language would be understood by nobody: without one that fits nothing is said.
"""

from __future__ import annotations

import shutil
import sys
from string import Template

from PySide6.QtCore import QProcess

from logger.translation import shown_language

_LISTED = 'spd-say -L | grep -qiE "(^|[[:space:]])$1([-_][[:alnum:]]+)*([[:space:]]|$)" && exec spd-say -l "$1" -- "$2"'
"""Speaks by the system's speech service, where a voice that it lists is of the language."""

_NAMED = (
    "voice=$(say -v '?' | sed -nE \"s/^([^#]*[^ #]) +$1[-_][A-Za-z0-9]+ +#.*$/\\1/p\" | head -n 1); "
    '[ -n "$voice" ] && exec say -v "$voice" -- "$2"'
)
"""Speaks on macOS by the first voice of the language, which has a name."""

SPEAKERS: dict[str, tuple[str, ...]] = {
    "spd-say": ("sh", "-c", _LISTED, "sh", "{language}"),
    "espeak-ng": ("espeak-ng", "-v", "{language}", "--"),
    "espeak": ("espeak", "-v", "{language}", "--"),
    "say": ("sh", "-c", _NAMED, "sh", "{language}"),
}
"""Programs that speak, and the words that stand before the text; the first that is installed is used. `-v` ends with an
error where there is no such voice."""

_SCRIPT = Template(
    "Add-Type -AssemblyName System.Speech; $$speaker = New-Object System.Speech.Synthesis.SpeechSynthesizer; "
    "$$voice = $$speaker.GetInstalledVoices() | Where-Object { $$_.Enabled -and "
    "$$_.VoiceInfo.Culture.TwoLetterISOLanguageName -eq '$language' } | Select-Object -First 1; "
    "if ($$voice) { $$speaker.SelectVoice($$voice.VoiceInfo.Name); $$speaker.Speak('$text') }"
)
"""Speaks on Windows."""


def command(text: str, language: str) -> tuple[str, ...] | None:
    """The program with its arguments that speaks a text on this system; None where nothing speaks.

    Args:
        text: to be spoken.
        language: the code of the text's language, such as "de".
    """
    if sys.platform == "win32":
        quoted = text.replace("'", "''")  # all that has a meaning within single quotes
        script = _SCRIPT.substitute(text=quoted, language=language)
        return ("powershell", "-NoProfile", "-WindowStyle", "Hidden", "-Command", script)
    words = next((words for name, words in SPEAKERS.items() if shutil.which(name)), None)
    return (*(language if word == "{language}" else word for word in words), text) if words else None


def speak(text: str) -> None:
    """Speak a text in the language that holds, without waiting for it."""
    words = command(text, shown_language())
    if words is not None:
        QProcess.startDetached(words[0], list(words[1:]))
