"""The report as others take it: a strict HTML parser, and a real headless Chromium with the checks of axe-core.

html5lib (PyPI) parses as the WHATWG HTML standard says and names each parse error; axe-core comes with
axe-playwright-python (PyPI), and Chromium is the system's, driven by playwright.
"""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page

CHROMIUM = next((path for name in ("chromium", "chromium-browser") if (path := shutil.which(name))), None)
NO_CHROMIUM = "Chromium is not installed (apt-get install chromium)"

SERIOUS = ("serious", "critical")


def parse_errors(html: str) -> list[str]:
    """Every parse error of the HTML standard, with its line."""
    import html5lib  # noqa: PLC0415  # an optional package, slow to import
    from html5lib.constants import E  # noqa: PLC0415  # an optional package, slow to import

    parser = html5lib.HTMLParser(strict=False)
    parser.parse(html)
    return [f"line {where[0]}: {E[code] % values}" for where, code, values in parser.errors]


@dataclass
class Opened:
    """A page that was opened, and what it asked for."""

    page: Page
    asked: list[str] = field(default_factory=list)
    """Every URL but that of the file itself."""
    said: list[str] = field(default_factory=list)
    """Errors and warnings of the browser's console."""

    def findings(self) -> list[dict[str, Any]]:
        """What axe-core finds, all rules; 'impact' is minor, moderate, serious or critical."""
        from axe_playwright_python.sync_playwright import Axe  # noqa: PLC0415  # an optional package, slow to import

        found: list[dict[str, Any]] = Axe().run(self.page).response["violations"]
        return found


@contextmanager
def browser() -> Iterator[Browser]:
    """A Chromium without a window."""
    from playwright.sync_api import sync_playwright  # noqa: PLC0415  # an optional package, slow to import

    assert CHROMIUM is not None
    with sync_playwright() as playwright:
        started = playwright.chromium.launch(executable_path=CHROMIUM, args=["--no-sandbox"])
        try:
            yield started
        finally:
            started.close()


@contextmanager
def opened(path: Path, started: Browser) -> Iterator[Opened]:
    """Open a file with the network off."""
    context = started.new_context(offline=True, viewport={"width": 1000, "height": 1400}, locale="en-GB")
    try:
        found = Opened(context.new_page())
        url = path.resolve().as_uri()
        found.page.on("request", lambda r: None if r.url == url else found.asked.append(r.url))
        found.page.on("console", lambda m: found.said.append(m.text))
        found.page.goto(url, wait_until="load")
        yield found
    finally:
        context.close()


def told(findings: list[dict[str, Any]]) -> list[str]:
    """Each finding in a line."""
    return [
        f"{f['impact']}: {f['id']}: {f['help']} ({len(f['nodes'])}x, {f['nodes'][0]['html'][:120]})"
        for f in findings
    ]
