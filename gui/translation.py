"""Every sentence that the window shows goes through here, so that it can be translated.

In: a sentence in English. Out: the same in the language that was chosen with `set_language`; English where no
translation of it is there. Only English exists so far.
"""

from __future__ import annotations

import gettext
from pathlib import Path

DOMAIN = "stillvolt"
FOLDER = Path(__file__).parent / "locale"
"""Translations, as gettext lays them out: LANGUAGE/LC_MESSAGES/stillvolt.mo."""

SOURCE_LANGUAGE = "en"
"""The language in which the sentences are written in the code."""

_chosen: list[gettext.NullTranslations] = [gettext.NullTranslations()]
_language: list[str] = [SOURCE_LANGUAGE]


def set_language(language: str) -> None:
    """Choose the language of what is shown from now on.

    Args:
        language: a code such as "en"; "system" for the one that the system is set to.
    """
    _language[0] = language
    languages = None if language == "system" else [language]
    if language == SOURCE_LANGUAGE:
        _chosen[0] = gettext.NullTranslations()
    else:
        _chosen[0] = gettext.translation(DOMAIN, FOLDER, languages, fallback=True)


def chosen_language() -> str:
    """What `set_language` was called with last: a process of its own is given it, since it begins in English."""
    return _language[0]


def tr(text: str) -> str:
    """A sentence in the chosen language; an empty one stays so, since a catalogue keeps its own description there."""
    return _chosen[0].gettext(text) if text else ""


def marked(text: str) -> str:
    """A sentence that is kept in English and goes through `tr` where it is shown; the catalogues find it here."""
    return text


def tr_n(singular: str, plural: str, n: int) -> str:
    """A sentence about a number of things in the chosen language.

    Args:
        singular: in English, for one thing.
        plural: in English, for any other number.
        n: how many things there are.
    """
    return _chosen[0].ngettext(singular, plural, n)
