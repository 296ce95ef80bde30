"""The way to HTML: every page is a Jinja2 template of `templates/`, and what is put into it is escaped."""

from __future__ import annotations

import re
from functools import cache

from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup

from logger.plain_text import isolated
from logger.report.document.condensed_table import condensed
from logger.report.document.wording import NBSP
from logger.translation import shown_language, shown_number, tr, tr_n

UNIT_APART = re.compile(
    r"(?<=\d) (?=(?:[cmk]?m|m?V|[kM]?Hz|[kM]?ohm|pF|h|min|s)(?![^\W_])|%|°C)|(?<=±) (?=\d)"
)
"""The blank between a number and its unit, and between ± and its number."""

PERCENT_CLOSE = re.compile(r"(?<=\d)(?=%)")
"""Where a blank belongs before the sign in other languages than English."""

LONGEST_WORD = 30
"""Letters of a word, or of what spaces that do not break join, that is not broken in a cell."""


@cache
def _environment() -> Environment:
    environment = Environment(
        loader=PackageLoader("logger.report.document"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        finalize=_as_page_text,
    )
    # Pictures come from `svg.Canvas`, which escapes what it is given.
    environment.filters["drawn"] = Markup
    environment.filters["css_text"] = _as_css_text
    environment.tests["unbroken"] = _is_unbroken
    environment.globals.update(tr=tr, tr_n=tr_n, shown_number=shown_number, condensed=condensed)
    return environment


def _is_unbroken(text: str) -> bool:
    """Whether a text has a word that is wider than a column of a table."""
    return any(len(word) > LONGEST_WORD for word in text.split(" "))


def _as_page_text(value: object) -> object:
    """A text without characters that turn the page round and with its units at their numbers; our own markup stays."""
    if not isinstance(value, str) or isinstance(value, Markup):
        return value
    text = UNIT_APART.sub(NBSP, isolated(value))
    return text if shown_language() == "en" else PERCENT_CLOSE.sub(NBSP, text)


def _as_css_text(text: str) -> Markup:
    """A text in quotes for a style sheet, where nothing is escaped as in HTML: signs that mean more are left out.

    A straight apostrophe is written as a typographic one, which means nothing there.
    """
    kept = (
        c for c in text.replace("'", "\N{RIGHT SINGLE QUOTATION MARK}") if c.isalnum() or c in " :,.;()-’"
    )
    return Markup('"{}"').format("".join(kept))


def rendered(template: str, **values: object) -> str:
    """Return a page.

    Args:
        template: the name of its file in `templates/`.
        values: what the template calls by these names; a name that it misses is an error.
    """
    return _environment().get_template(template).render(language=shown_language(), **values)
