"""The catalogues of sentences: what the code says, and what of it each language has.

python scripts/catalogues.py update            each catalogue gets the sentences that are new and loses those that went
python scripts/catalogues.py add fr            begins a catalogue
python scripts/catalogues.py missing de        prints the sentences that have no translation, or a doubtful one
"""

from __future__ import annotations

import argparse
import io
import sys
from collections.abc import Iterator
from pathlib import Path

from babel.messages.catalog import Catalog
from babel.messages.extract import extract_from_dir
from babel.messages.pofile import write_po

from gui.actions.table import ACTIONS, MENUS, SUBMENUS
from gui.shell.help.help_pages import FOLDER as HELP_FOLDER
from gui.shell.help.help_pages import PAGES, units
from logger.catalogue import FOLDER, KEPT, NOT_REVIEWED, forms_of, languages, read_catalogue, usable
from logger.errors import StillvoltError

ROOT = Path(__file__).parents[1]

PACKAGES = ("gui", "logger")

KEYWORDS = {"tr": None, "marked": None, "tr_n": (1, 2)}
"""The functions of `logger.translation` whose first argument, or first and second one, is a sentence."""

KEYWORDS_OF_KEPT = {"kept_text": None}
"""The same of a sentence that the log keeps."""

METHODS = [("locale/**", "ignore"), ("**.py", "python"), ("**.html.jinja", "jinja2")]

WIDTH = 110


def sentences() -> Catalog:
    """Every sentence of the code, with the files that it is in."""
    found = Catalog(project="stillvolt", charset="utf-8", fuzzy=False)
    for package in PACKAGES:
        for keywords, context in ((KEYWORDS, None), (KEYWORDS_OF_KEPT, KEPT)):
            entries = extract_from_dir(
                ROOT / package, METHODS, keywords=keywords, comment_tags=("Translators:",)
            )
            for file, _, message, comments, _ in entries:
                found.add(
                    message, locations=[(f"{package}/{file}", 0)], auto_comments=comments, context=context
                )
    for text in _of_actions():
        found.add(text, locations=[("gui/actions/table.py", 0)])
    for page in PAGES:
        text = (HELP_FOLDER / f"{page.name}.md").read_text(encoding="utf-8")
        for _, sentence in units(text):
            found.add(sentence, locations=[(f"gui/shell/help/pages/{page.name}.md", 0)])
    return found


def _of_actions() -> Iterator[str]:
    """The texts of the table of actions, which are translated where they are shown."""
    for action in ACTIONS:
        yield from (text for text in (action.text, action.tip) if text)
    yield from MENUS.values()
    yield from SUBMENUS.values()


def catalogue_of(language: str) -> Catalog:
    """What a language has; raises StillvoltError where there is no catalogue of it."""
    file = FOLDER / f"{language}.po"
    if not file.exists():
        raise StillvoltError(
            f"There is no {file}.", "", f"Begin it: python scripts/catalogues.py add {language}"
        )
    return read_catalogue(file.read_bytes(), language)


def missing(language: str, wanted: Catalog | None = None) -> list[str]:
    """The English sentences that a language has no translation of, or one that cannot be used or is marked as doubtful.

    Args:
        language: its code.
        wanted: the sentences of the code, where they are known.
    """
    has = catalogue_of(language)
    lacking = []
    for message in wanted or sentences():
        if not message.id:
            continue
        known = has.get(message.id, message.context)
        one, many, _ = forms_of(message)
        if known is None or known.fuzzy or not usable(one, many, forms_of(known)[2]):
            lacking.append(one)
    return lacking


def write(catalogue: Catalog, language: str) -> None:
    """Write a catalogue into its file."""
    content = io.BytesIO()
    write_po(content, catalogue, width=WIDTH, omit_header=False, sort_output=True, include_lineno=False)
    (FOLDER / f"{language}.po").write_bytes(content.getvalue())


def update(language: str, wanted: Catalog) -> None:
    """Let a catalogue have exactly the sentences of the code; near ones keep their translation, marked as doubtful."""
    has = catalogue_of(language)
    has.update(wanted, update_header_comment=False)
    has.obsolete.clear()
    write(has, language)


def begin(language: str, wanted: Catalog) -> None:
    """Begin a catalogue in which nothing is translated."""
    catalogue = Catalog(
        locale=language,
        header_comment=f"# What Stillvolt says, in {language}. python scripts/catalogues.py keeps it.",
        project="stillvolt",
        charset="utf-8",
        last_translator=NOT_REVIEWED,
        fuzzy=False,
    )
    catalogue.update(wanted, update_header_comment=False)
    write(catalogue, language)


def main() -> int:
    """Do what the command line asks for."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("what", choices=("update", "add", "missing"))
    parser.add_argument("language", nargs="?", help="a code such as de; without it all there are")
    arguments = parser.parse_args()
    asked = [arguments.language] if arguments.language else languages()[1:]
    wanted = sentences()
    for language in asked:
        if arguments.what == "add":
            begin(language, wanted)
        elif arguments.what == "update":
            update(language, wanted)
        else:
            print(*missing(language, wanted), sep="\n")
    return 0


if __name__ == "__main__":
    sys.exit(main())
