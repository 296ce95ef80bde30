"""Every sentence and number that somebody reads goes through here, so that it can be shown in another language.

In: a sentence in English. Out: the same in the language that holds: the one chosen for the process with
`set_language`, or within `in_language` another one (a report may be in another language than the window). What a
catalogue does not have stays English. What the log keeps, and what other programs read, is always English.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from functools import cache, lru_cache
from string import Formatter

from logger.catalogue import (
    SOURCE_LANGUAGE,
    NoTranslations,
    Translations,
    system_language,
    translations_of,
)

SYSTEM_LANGUAGE = "system"
"""Stands for the language that the system is set to."""

LEAST_LETTERS = 8
"""A kept sentence is known by at least so many letters outside its places: fewer would fit by chance."""

Holding = tuple[str, Translations | NoTranslations]

_chosen: list[Holding] = [(SOURCE_LANGUAGE, NoTranslations())]
_within: ContextVar[Holding | None] = ContextVar("_within", default=None)


def set_language(language: str) -> None:
    """Choose the language of what is shown from now on.

    Args:
        language: a code such as "en"; "system" for the one that the system is set to. Where no catalogue is there for
            it, English.
    """
    code = _code(language)
    _chosen[0] = (code, translations_of(code))


@contextmanager
def in_language(language: str) -> Iterator[None]:
    """Let another language hold within, in this thread.

    Args:
        language: as for `set_language`.
    """
    code = _code(language)
    with using(code, translations_of(code)):
        yield


@contextmanager
def using(language: str, translations: Translations | NoTranslations) -> Iterator[None]:
    """Let other translations hold within, in this thread.

    Args:
        language: its code.
        translations: theirs.
    """
    token = _within.set((language, translations))
    try:
        yield
    finally:
        _within.reset(token)


def shown_language() -> str:
    """The code of the language that holds: a process of its own is given it, since it begins in English."""
    return _holding()[0]


def tr(text: str) -> str:
    """A sentence in the language that holds; an empty one stays so: a catalogue keeps its own description there."""
    return _holding()[1].gettext(text) if text else ""


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
    return _holding()[1].ngettext(singular, plural, n)


def tr_kept(text: str) -> str:
    """A sentence that was kept in English with its places filled, in the language that holds.

    It is found again by what stands between its places; what fills them stays as it was typed. A sentence that no
    catalogue has, or one that is in several of them with equal right, stays English.
    """
    translations = _holding()[1]
    return _kept_in(translations, text) if text and translations.english else text


def within(text: str) -> str:
    """What a button is called, as it stands within a sentence: English begins it small, other languages leave it.

    Args:
        text: in the language that holds.
    """
    is_name = len(text) > 1 and text[1].isupper()
    return text if is_name or shown_language() != SOURCE_LANGUAGE else f"{text[:1].lower()}{text[1:]}"


def shown_number(text: str) -> str:
    """A number, or several, as the language that holds writes them.

    Args:
        text: numbers with a decimal point, such as "0.17" or "0.17 V".
    """
    point = _decimal_sign(_holding()[0])
    return text if point == "." else re.sub(r"(?<=\d)\.(?=\d)", point, text)


def _holding() -> Holding:
    return _within.get() or _chosen[0]


def _code(language: str) -> str:
    return system_language() if language == SYSTEM_LANGUAGE else language


@cache
def _decimal_sign(language: str) -> str:
    if language == SOURCE_LANGUAGE:
        return "."
    from babel import UnknownLocaleError  # noqa: PLC0415  start-up time: English needs none of it
    from babel.numbers import get_decimal_symbol  # noqa: PLC0415

    try:
        return get_decimal_symbol(language)
    except (UnknownLocaleError, ValueError):
        return "."


@lru_cache(maxsize=2048)
def _kept_in(translations: Translations | NoTranslations, text: str) -> str:
    whole = translations.gettext(text)
    if whole != text:
        return whole
    fitting = sorted(
        (english for english in translations.english if _may_fit(english, text)), key=_letters, reverse=True
    )
    if not fitting or (len(fitting) > 1 and _letters(fitting[0]) == _letters(fitting[1])):
        return text
    found = _pattern(fitting[0]).fullmatch(text)
    assert found is not None
    places = {name: shown_number(value) for name, value in found.groupdict().items()}
    return _without_formats(translations.gettext(fitting[0])).format(**places)


@cache
def _literals(english: str) -> tuple[str, ...]:
    return tuple(literal for literal, *_ in Formatter().parse(english) if literal)


def _letters(english: str) -> int:
    return sum(map(len, _literals(english)))


def _may_fit(english: str, text: str) -> bool:
    """Whether a sentence with places is the pattern of a filled one, as far as a quick look tells."""
    if "{" not in english or _letters(english) < LEAST_LETTERS:
        return False
    return (
        all(literal in text for literal in _literals(english))
        and _pattern(english).fullmatch(text) is not None
    )


@cache
def _pattern(english: str) -> re.Pattern[str]:
    """What a sentence looks like when its places are filled."""
    parts: list[str] = []
    seen: set[str] = set()
    for literal, name, _, _ in Formatter().parse(english):
        parts.append(re.escape(literal))
        if name is not None:
            parts.append(f"(?P={name})" if name in seen else f"(?P<{name}>.*?)")
            seen.add(name)
    return re.compile("".join(parts), re.DOTALL)


def _without_formats(translated: str) -> str:
    """A sentence whose places take the text that they were filled with, however they format numbers."""
    parts = [
        literal.replace("{", "{{").replace("}", "}}") + ("" if name is None else f"{{{name}}}")
        for literal, name, _, _ in Formatter().parse(translated)
    ]
    return "".join(parts)
