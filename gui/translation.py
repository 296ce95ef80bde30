"""Every sentence that the window shows goes through here, so that it can be shown in another language.

Only English exists yet: without a catalogue gettext returns what it is given.
"""

from __future__ import annotations

import gettext

_CATALOGUE = gettext.NullTranslations()


def tr(text: str) -> str:
    """A text in the language of the window."""
    return _CATALOGUE.gettext(text)


def tr_n(singular: str, plural: str, n: int) -> str:
    """A text that depends on a number, in the language of the window.

    Args:
        singular: the text for one.
        plural: the text for any other number.
        n: the number.
    """
    return _CATALOGUE.ngettext(singular, plural, n)
