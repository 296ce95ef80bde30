"""What is written in the window, found by the English of it, in whichever language the window is.

In: the language that holds in the script (`set_language`), and the beginning, or a part, of an English sentence of the
catalogues. Out: whether a text of the window is, or holds, one of those sentences as that language has them.
"""

from __future__ import annotations

import re
from functools import cache

from babel.messages.catalog import Catalog

from logger.catalogue import FOLDER, SOURCE_LANGUAGE, forms_of, places_and_literals, read_catalogue
from logger.translation import shown_language


def begins(text: str, english: str) -> bool:
    """Whether a text of the window is a sentence that begins, in English, with another; case does not matter.

    Args:
        text: of the window.
        english: a beginning of a sentence, or of a name that was typed.
    """
    plain, wanted = _plain(text), _plain(english)
    return plain.startswith(wanted) or any(
        sentence.match(plain) for sentence in _sentences(shown_language(), wanted, is_part=False)
    )


def holds(text: str, english: str) -> bool:
    """Whether a text of the window has a sentence in it of which an English text is a part.

    Args:
        text: of the window.
        english: a part of a sentence, or something that was typed.
    """
    return english in text or any(
        sentence.search(_plain(text))
        for sentence in _sentences(shown_language(), _plain(english), is_part=True)
    )


@cache
def _sentences(language: str, english: str, *, is_part: bool) -> tuple[re.Pattern[str], ...]:
    """The sentences of a language, as small letters, whose English begins with a text or has it in it."""
    if language == SOURCE_LANGUAGE or not english:
        return ()
    found = []
    for message in _catalogue(language):
        one, many, forms = forms_of(message)
        originals = map(_plain, filter(None, (one, many)))
        if any(english in text if is_part else text.startswith(english) for text in originals):
            found += [_with_places(text) for text in forms if text]
    return tuple(found)


@cache
def _catalogue(language: str) -> Catalog:
    return read_catalogue((FOLDER / f"{language}.po").read_bytes(), language)


def _plain(text: str) -> str:
    """A text in small letters, on one line, with one kind of blank and no mark for the keyboard."""
    return re.sub(r"\s+", " ", text.replace("&", "").casefold())


def _with_places(sentence: str) -> re.Pattern[str]:
    """A sentence, with anything in its places."""
    parts = places_and_literals(sentence)
    return re.compile("".join(re.escape(_plain(literal)) + (".*" if name else "") for literal, name in parts))
