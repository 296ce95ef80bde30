"""Which languages can be chosen, as they are offered."""

from __future__ import annotations

from PySide6.QtCore import QLocale

from logger.catalogue import is_reviewed, language_name, languages
from logger.translation import tr

AS_WINDOW = "window"
"""Stands for the language that the window is in."""


def system_languages() -> list[str]:
    """The languages that the system is set to, each with its country, such as "en-US"; the most wanted first."""
    return list(QLocale.system().uiLanguages())


def language_choices() -> list[tuple[str, str]]:
    """Each language by its own name, with its code."""
    return [
        (
            name
            if is_reviewed(code)
            else tr("{name} (not reviewed by a native practitioner)").format(name=name),
            code,
        )
        for code in languages()
        for name in (language_name(code),)
    ]
