"""The pages of the help: what they are called, and their text in the language of the window.

In: `pages/NAME.md`, in English. Each heading, paragraph and entry of a list is a sentence of the catalogues, so that a
language needs no files of its own. Places such as `{spots.add}` stand for an action of the window, with its key, and
`{cautions.PANEL}` for a caution: both are written in one place only. Out: the page as Markdown.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from string import Formatter
from typing import Any

from PySide6.QtGui import QKeySequence

from gui.actions.registry import plain_text
from gui.actions.table import SPECS
from gui.model.stages import STAGES, Stage
from logger import cautions
from logger.translation import marked, tr

FOLDER = Path(__file__).parent / "pages"

_MARK = re.compile(r"(#+ |- |\d+\. )?(.*)", re.DOTALL)
"""What makes a line a heading or an entry of a list, and its text."""


@dataclass(frozen=True, slots=True)
class HelpPage:
    """A page of the help."""

    name: str
    """Of its file."""
    title: str
    """In English; it goes through `tr` where it is shown."""


FIRST_VISIT = HelpPage("first_visit", marked("First visit, step by step"))
GLOSSARY = HelpPage("glossary", marked("Glossary"))
OF_STAGES: dict[Stage, HelpPage] = {stage: HelpPage(stage.name.lower(), stage.name) for stage in STAGES}
PAGES: tuple[HelpPage, ...] = (FIRST_VISIT, *OF_STAGES.values(), GLOSSARY)
"""In the order in which they are listed; that of all actions, which is made from their table, comes after them."""


def page_markdown(page: HelpPage) -> str:
    """The text of a page, as Markdown, in the language of the window.

    Args:
        page: which one.
    """
    text = (FOLDER / f"{page.name}.md").read_text(encoding="utf-8")
    parts = [f"{mark}{_Filler().format(tr(sentence))}" for mark, sentence in units(text)]
    if page is GLOSSARY:  # by the words of the language
        parts[1:] = sorted(parts[1:], key=str.casefold)
    return "\n\n".join(parts)


def units(text: str) -> Iterator[tuple[str, str]]:
    """What a page is made of: each heading, paragraph or entry of a list, after what marks it as such.

    Args:
        text: of the page.
    """
    for line in text.splitlines():
        if line.strip():
            found = _MARK.fullmatch(line.strip())
            assert found is not None
            yield found[1] or "", found[2]


class _Filler(Formatter):
    """Fills the places of a page's sentence."""

    def get_field(self, field_name: str, args: Sequence[Any], kwargs: Mapping[str, Any]) -> tuple[str, str]:
        """See `Formatter`: a place is the name of an action, or of a caution."""
        group, _, name = field_name.partition(".")
        if group == "cautions":
            return tr(getattr(cautions, name)), field_name
        if group == "night_cautions":
            return tr(cautions.NIGHT_CAUTIONS[int(name)]), field_name
        return _named(field_name), field_name


def _named(action_id: str) -> str:
    """An action as it stands in a sentence: its words, and its key where it has one."""
    spec = SPECS[action_id]
    words = f"**{plain_text(tr(spec.text)).removesuffix('...')}**"
    if not spec.shortcuts:
        return words
    key = QKeySequence(spec.shortcuts[0]).toString(QKeySequence.SequenceFormat.NativeText)
    return f"{words} ({key})"
