"""Every sentence and number that somebody reads goes through here, so that it can be shown in another language.

In: a sentence in English. Out: the same in the language that holds: the one chosen for the process with
`set_language`, or within `in_language` another one (a report may be in another language than the window). What a
catalogue does not have stays English. What the log keeps, and what other programs read, is always English.
"""

from __future__ import annotations

import gettext
import re
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from functools import cache, lru_cache

from logger.catalogue import (
    KEPT,
    SOURCE_LANGUAGE,
    kept_sentences,
    places_and_literals,
    system_language,
    translations_of,
)

SYSTEM_LANGUAGE = "system"
"""Stands for the language that the system is set to."""

_UNIT = r"([ \u00a0][A-Za-z%°Ωµ]{1,4})?"
_NUMBER = rf"[-+±−]?\d+\.\d+({_UNIT}[ \u00a0]±[ \u00a0]\d+\.\d+)?{_UNIT}"
_NUMBERS = re.compile(rf"{_NUMBER}(, {_NUMBER})*")
"""Numbers with a decimal point, as they fill a place: with uncertainty and unit, where they have them."""

_GROUPED = re.compile(r"\d{1,3}(,\d{3})+")
"""A number of things with its thousands parted, which elsewhere may read as a decimal sign."""

Holding = tuple[str, gettext.NullTranslations]

_chosen: list[Holding] = [(SOURCE_LANGUAGE, gettext.NullTranslations())]
_within: ContextVar[Holding | None] = ContextVar("_within", default=None)


def set_language(language: str) -> None:
    """Choose the language of what is shown from now on.

    Args:
        language: a code such as "en"; "system" for the one that the system is set to. Where no catalogue is there for
            it, English.
    """
    _chosen[0] = _of(language)


@contextmanager
def in_language(language: str) -> Iterator[None]:
    """Let another language hold within, in this thread; it decorates a function as well.

    Args:
        language: as for `set_language`.
    """
    token = _within.set(_of(language))
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
    """A sentence that goes through `tr` where it is shown; the catalogues find it here."""
    return text


def kept_text(text: str) -> str:
    """A sentence that the log keeps, in English, and that goes through `tr_kept` where it is shown.

    The catalogues find it here. It may have named places, which are filled before it is kept.
    """
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

    It is found again by what stands between its places. What fills them stays as it was typed, but for a number's
    decimal sign and its thousands, and for what is a kept sentence itself. One that is none, or that can be read in two
    ways, stays English: rather that than a sentence that says something else.
    """
    language, translations = _holding()
    return text if not text or language == SOURCE_LANGUAGE else _kept_in(language, translations, text)


def within(text: str) -> str:
    """What a button is called, as it stands within a sentence: English begins it small, other languages leave it.

    Args:
        text: in the language that holds.
    """
    is_name = len(text) > 1 and text[1].isupper()
    return text if is_name or shown_language() != SOURCE_LANGUAGE else f"{text[:1].lower()}{text[1:]}"


def at_start(text: str) -> str:
    """What was named or kept in small letters, where a button begins with it: large in English, elsewhere as it is.

    Args:
        text: in the language that holds.
    """
    return text if shown_language() != SOURCE_LANGUAGE else f"{text[:1].upper()}{text[1:]}"


def shown_number(text: str) -> str:
    """A number, or several, as the language that holds writes them.

    Args:
        text: numbers with a decimal point and no words, such as "0.17" or "0.17 V".
    """
    sign = decimal_sign()
    return text if sign == "." else re.sub(r"(?<=\d)\.(?=\d)", sign, text)


def decimal_sign() -> str:
    """What parts a number's whole from its fraction in the language that holds."""
    return _decimal_sign(_holding()[0])


def with_percent(text: str) -> str:
    """A sentence of the program with its percent signs as the language that holds writes them: "95%", "95 %".

    Args:
        text: with figures before each percent sign; no words of a user, who may write it as they like.
    """
    return re.sub(r"(?<=\d)[ \N{NO-BREAK SPACE}]?%", _percent_sign(_holding()[0]), text)


def _holding() -> Holding:
    return _within.get() or _chosen[0]


def _of(language: str) -> Holding:
    code = system_language() if language == SYSTEM_LANGUAGE else language
    return code, translations_of(code)


@cache
def _percent_sign(language: str) -> str:
    """The percent sign with the space before it, by the patterns of CLDR."""
    from babel import Locale, UnknownLocaleError  # noqa: PLC0415  start-up time: only a report needs it

    try:
        pattern = str(Locale.parse(language).percent_formats[None].pattern)
    except (UnknownLocaleError, ValueError):
        return "%"
    return "%" if pattern.endswith("0%") else "\N{NO-BREAK SPACE}%"


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
def _kept_in(language: str, translations: gettext.NullTranslations, text: str) -> str:
    whole = translations.pgettext(KEPT, text)
    if whole != text:
        return whole
    readings = [
        (english, places) for english in kept_sentences(language) if (places := _places(english, text))
    ]
    if not readings:
        return text
    longest = max(readings, key=lambda reading: _letters(reading[0]))
    if any(reading != longest and _letters(reading[0]) == _letters(longest[0]) for reading in readings):
        return text
    typed = {name for literal, name in places_and_literals(longest[0]) if literal.endswith("“")}
    places = {
        name: _shown_in_place(language, translations, value, is_typed=name in typed)
        for name, value in longest[1].items()
    }
    return translations.pgettext(KEPT, longest[0]).format(**places)


def _shown_in_place(
    language: str, translations: gettext.NullTranslations, value: str, *, is_typed: bool
) -> str:
    """What fills a place of a kept sentence: a number, or what may be kept itself (why a check was skipped).

    What stands within quotes was typed: it is read as a word that is offered, and as no sentence with places.
    """
    if _GROUPED.fullmatch(value):
        return value if decimal_sign() == "." else value.replace(",", "\N{NARROW NO-BREAK SPACE}")
    if _NUMBERS.fullmatch(value) or not value:
        return shown_number(value)
    return translations.pgettext(KEPT, value) if is_typed else _kept_in(language, translations, value)


def _letters(english: str) -> int:
    return sum(len(literal) for literal, _ in places_and_literals(english))


def _places(english: str, text: str) -> dict[str, str]:
    """What fills the places of a sentence, where a text is that sentence and can be read in one way only."""
    first, last = _patterns(english)
    found, other = first.fullmatch(text), last.fullmatch(text)
    if found is None or other is None or found.groupdict() != other.groupdict():
        return {}
    return found.groupdict()


@cache
def _patterns(english: str) -> tuple[re.Pattern[str], re.Pattern[str]]:
    """What a sentence looks like with its places filled: each place as short, and as long, as can be."""
    texts = []
    for greedy in ("?", ""):
        parts: list[str] = []
        seen: set[str] = set()
        for literal, name in places_and_literals(english):
            parts.append(re.escape(literal))
            if name is not None:
                filling = "[^”]*" if literal.endswith("“") else ".*"
                parts.append(f"(?P={name})" if name in seen else f"(?P<{name}>{filling}{greedy})")
                seen.add(name)
        texts.append(re.compile("".join(parts), re.DOTALL))
    return texts[0], texts[1]
