"""The paper that a PDF is for. In: the names of languages and countries as a system has them. Out: A4 or Letter."""

from __future__ import annotations

import ctypes
import locale
import os
import sys
from collections.abc import Iterable

from logger.translation import marked

A4, LETTER = "A4", "Letter"
PAPERS = (A4, LETTER)
"""As CSS calls them."""

PAPER_NAMES = {A4: marked("A4"), LETTER: marked("Letter")}
"""As people call them; each goes through `tr`."""

SYSTEM_PAPER = "system"
"""Stands for the paper that is usual where the system is set to be."""

LETTER_COUNTRIES = frozenset(
    ("BZ", "CA", "CL", "CO", "CR", "GT", "MX", "NI", "PA", "PH", "PR", "SV", "US", "VE")
)
"""Where paper is Letter; from memory of the Unicode Common Locale Data Repository, `paperSize` of its
supplementalData.xml. Everywhere else it is A4."""


def usual_paper(names: Iterable[str] = ()) -> str:
    """The paper that is usual where the system is set to be.

    Args:
        names: languages with countries as a system has them, such as "en-US", asked where the environment has none.
    """
    own = [os.environ.get(name, "") for name in ("LC_ALL", "LC_PAPER", "LANG")]
    if not any(own) and sys.platform == "win32":
        own = [locale.windows_locale.get(ctypes.windll.kernel32.GetUserDefaultLCID(), "")]
    for name in (*own, *names):
        language, _, country = name.replace("-", "_").partition(".")[0].partition("_")
        if language:
            return LETTER if country.rpartition("_")[2].upper() in LETTER_COUNTRIES else A4
    return A4
