"""Documents name files that exist, and stay short."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
DOCUMENTS = sorted(
    [ROOT / "README.md", ROOT / "DEVELOPERS.md", *ROOT.glob("logger/**/*.md"), *ROOT.glob("gui/**/*.md")]
)
PATH = re.compile(r"[\w.-]+(?:/[\w.-]+)*\.(?:py|md|toml|csv|sql|txt|jinja|css|visit|png)|(?:[\w-]+/)+")
"""A word that names a file, or a folder with its slash."""

MAX_LINES = {"README.md": 150, "DEVELOPERS.md": 150}
MAX_SCREEN_LINES = 60


def _named_paths(text: str) -> list[str]:
    marked = re.findall(r"`([^`\n]+)`", text) + re.findall(r"\]\(([^)#\s]+)\)", text)
    return [word for word in marked if PATH.fullmatch(word) and "NAME" not in word]


def _exists(word: str, document: Path) -> bool:
    """In the document's own folder or anywhere below it, from the top, or anywhere in the code by its last parts."""
    if (document.parent / word).exists() or (ROOT / word).exists():
        return True
    return any(
        any(ROOT.glob(f"{top}/**/{word.rstrip('/')}")) for top in ("logger", "gui", "tests", "scripts")
    )


@pytest.mark.parametrize("document", DOCUMENTS, ids=lambda path: str(path.relative_to(ROOT)))
def test_every_file_that_a_document_names_exists(document: Path) -> None:
    words = _named_paths(document.read_text(encoding="utf-8"))
    assert [word for word in words if not _exists(word, document)] == []


def test_the_documents_of_the_top_level_name_many_files() -> None:
    assert len(_named_paths((ROOT / "DEVELOPERS.md").read_text(encoding="utf-8"))) > 20


@pytest.mark.parametrize("document", DOCUMENTS, ids=lambda path: str(path.relative_to(ROOT)))
def test_documents_are_short(document: Path) -> None:
    lines = document.read_text(encoding="utf-8").splitlines()
    assert len(lines) <= (MAX_LINES.get(document.name, 0) if document.parent == ROOT else MAX_SCREEN_LINES)
