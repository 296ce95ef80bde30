"""A made-up language: every sentence in brackets and longer, to see what is not translated and what is cut."""

from __future__ import annotations

import re
from gettext import NullTranslations

import pytest

from logger import translation

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
