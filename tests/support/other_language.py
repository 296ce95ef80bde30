"""A made-up language: every sentence in brackets and longer, to see what is not translated and what is cut."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from gettext import NullTranslations

import pytest

from logger import translation
from logger.catalogue import kept_sentences, translations_of

OPENING, CLOSING = "⟦", "⟧"

LONGER = 0.4
"""Share by which a sentence is longer."""


class OtherLanguage(NullTranslations):
    """Brackets around every sentence; its places stay."""

    def gettext(self, message: str) -> str:
        """The sentence in brackets, and longer.

        Args:
            message: in English.
        """
        letters = len(re.sub(r"\{[^}]*\}", "", message))
        more = ("~~~~~~ " * letters)[: round(LONGER * letters)]
        return f"{OPENING}{message}{more}{CLOSING}"

    def ngettext(self, msgid1: str, msgid2: str, n: int) -> str:
        """The sentence about some things, as `gettext`.

        Args:
            msgid1: for one.
            msgid2: for several.
            n: how many there are.
        """
        return self.gettext(msgid1 if n == 1 else msgid2)


_ACCENTED = str.maketrans(
    "acdegilnorstuwyzACDEGILNORSTUWYZ",
    "áčďéğíľñóřšťúŵýžÁČĎÉĞÍĽÑÓŘŠŤÚŴÝŽ",
)
_LEFT = re.compile(r"(\{[^}]*\}|<[^>]*>|&#?\w+;)")
"""What stays within a sentence: its places, and the marks of rich text."""


class AccentedLanguage(OtherLanguage):
    """The same with accents, so that each word of a sentence shows that it is translated, on whichever line it is.

    What the log keeps is found and shown in it too: `speak_accented`.
    """

    def gettext(self, message: str) -> str:
        """The sentence in brackets, longer, and with accents; one that no catalogue can have stays as it is.

        Args:
            message: in English.
        """
        return self._accented(message) if message in _catalogue() else message

    def ngettext(self, msgid1: str, msgid2: str, n: int) -> str:
        """The sentence about some things, as `gettext`.

        Args:
            msgid1: for one.
            msgid2: for several.
            n: how many there are.
        """
        message = msgid1 if n == 1 else msgid2
        return self._accented(message) if (msgid1, 0) in _catalogue() else message

    def pgettext(self, context: str, message: str) -> str:
        """What the log keeps, as far as the catalogues know it; a text that somebody has typed stays.

        Args:
            context: whose sentence it is.
            message: in English.
        """
        return self._accented(message) if f"{context}\x04{message}" in _catalogue() else message

    def _accented(self, message: str) -> str:
        parts = _LEFT.split(super().gettext(message))
        return "".join(part if at % 2 else part.translate(_ACCENTED) for at, part in enumerate(parts))


def _catalogue() -> Mapping[object, str]:
    """The sentences of a complete catalogue."""
    found: Mapping[object, str] = vars(translations_of("de"))[
        "_catalog"
    ]  # the library lists them nowhere else
    return found


def speak_accented(monkeypatch: pytest.MonkeyPatch) -> None:
    """Show texts, kept ones too, in a language with accents until the test ends; also where a report asks for it.

    Args:
        monkeypatch: of the test.
    """
    speak(monkeypatch, AccentedLanguage())
    monkeypatch.setattr(translation, "kept_sentences", lambda _: kept_sentences("de"))


def without_accents(text: str, typed: Iterable[str] = ()) -> list[str]:
    """The words of a text that did not go through the translation while that language is spoken.

    Args:
        text: as it is shown.
        typed: what users, files and keys are called.
    """
    for name in sorted(typed, key=len, reverse=True):
        text = text.replace(name, "")
    text = re.sub(r"\S*(://|/|\\)\S*|<[^>]*>|\S+\.(visit|csv|html|pdf|toml|json|zip|control)\b", " ", text)
    return [word for word in re.findall(r"[^\W\d_]{3,}", text) if word.isascii()]


def speak(monkeypatch: pytest.MonkeyPatch, translations: NullTranslations) -> None:
    """Show texts in a language of which there is no catalogue, until the test ends.

    Args:
        monkeypatch: of the test.
        translations: the language's.
    """
    monkeypatch.setattr(translation, "_chosen", [("xx", translations)])


def unspoken(text: str) -> list[str]:
    """The words of a text that did not go through the translation while this language is spoken.

    Args:
        text: as it is shown; what somebody has typed is to be taken out before.
    """
    before = ""
    while before != text:
        before, text = text, re.sub(f"{OPENING}[^{OPENING}{CLOSING}]*{CLOSING}", "", text)
    return re.findall(r"[A-Za-z]{3,}", text)
