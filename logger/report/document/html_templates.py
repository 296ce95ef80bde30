"""The way to HTML: every page is a Jinja2 template of `templates/`, and what is put into it is escaped."""

from __future__ import annotations

from functools import cache

from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup


@cache
def _environment() -> Environment:
    environment = Environment(
        loader=PackageLoader("logger.report.document"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    # Pictures come from `svg.Canvas`, which escapes what it is given.
    environment.filters["drawn"] = Markup
    return environment


def rendered(template: str, **values: object) -> str:
    """Return a page.

    Args:
        template: the name of its file in `templates/`.
        values: what the template calls by these names; a name that it misses is an error.
    """
    return _environment().get_template(template).render(**values)
