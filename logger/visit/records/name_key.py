"""When two names of spots, circuits or cords are the same name for a person."""

from __future__ import annotations

import unicodedata


def name_key(name: str) -> str:
    """What two names have in common that a person could not tell apart.

    Case, blanks, how Unicode composes letters (NFKC, Unicode Standard Annex 15) and characters that show nothing do
    not count.
    """
    shown = "".join(c for c in unicodedata.normalize("NFKC", name) if unicodedata.category(c) != "Cf")
    return unicodedata.normalize("NFKC", " ".join(shown.casefold().split()))
