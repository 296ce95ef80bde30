"""Every sentence that the window shows goes through here, so that it can be translated.

In: a sentence in English. Out: the same in the language that was chosen for the process with `set_language`. What a
catalogue does not have stays English. What the log keeps, and what other programs read, is always English.
"""

from __future__ import annotations

import gettext
from collections.abc import Iterable

from logger.catalogue import SOURCE_LANGUAGE, system_language, translations_of

SYSTEM_LANGUAGE = "system"
"""Stands for the language that the system is set to."""

_chosen: list[tuple[str, gettext.NullTranslations]] = [(SOURCE_LANGUAGE, gettext.NullTranslations())]


def set_language(language: str) -> None:
    """Choose the language of what is shown from now on.

    Args:
        language: a code such as "en"; "system" for the one that the system is set to. Where no catalogue is there for
            it, English.
    """
    code = system_language() if language == SYSTEM_LANGUAGE else language
    _chosen[0] = (code, translations_of(code))


def shown_language() -> str:
    """The code of the language that holds: a process of its own is given it, since it begins in English."""
    return _chosen[0][0]


def tr(text: str) -> str:
    """A sentence in the language that holds; an empty one stays so: a catalogue keeps its own description there."""
    return _chosen[0][1].gettext(text) if text else ""


def marked(text: str) -> str:
    """A sentence that is kept in English and goes through `tr` where it is shown; the catalogues find it here."""
    return text


def tr_all(sentences: Iterable[str]) -> str:
    """Whole sentences in the language that holds, one after the other."""
    return " ".join(map(tr, sentences))


def tr_n(singular: str, plural: str, n: int) -> str:
    """A sentence about a number of things in the language that holds.

    Args:
        singular: in English, for one thing.
        plural: in English, for any other number.
        n: how many things there are.
    """
    return _chosen[0][1].ngettext(singular, plural, n)


def within(text: str) -> str:
    """What a button is called, as it stands within a sentence: English begins it small, other languages leave it.

    Args:
        text: in the language that holds.
    """
    is_name = len(text) > 1 and text[1].isupper()
    return text if is_name or shown_language() != SOURCE_LANGUAGE else f"{text[:1].lower()}{text[1:]}"
