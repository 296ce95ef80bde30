"""Sentences that a user reads put curly quotes round a name."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from itertools import pairwise
from pathlib import Path

import pytest

TOP = Path(__file__).parents[1]

NOT_SENTENCES = {
    "gui/sound/speech.py": "a command of the system",
    "logger/meter/line_form.py": "the form of a line, which has these quotes",
    "logger/meter/tokens.py": "JSON",
    "logger/report/document/figures/svg.py": "SVG",
    "logger/plain_text.py": "a cell of a table",
    "logger/report/export/write_export.py": "a command to type",
    "logger/visit/storage/content_limits.py": "SQL",
    "logger/visit/storage/entry_checksum.py": "SQL",
    "logger/visit/storage/run_checksum.py": "SQL",
    "logger/visit/storage/run_writer.py": "SQL",
    "logger/visit/storage/schema.py": "SQL",
}


def straight_quotes(source: str) -> Iterator[int]:
    """Line numbers of texts in which a value that is put in has a straight quote before it, as a name would."""
    for node in ast.walk(ast.parse(source)):
        if not isinstance(node, ast.JoinedStr):
            continue
        for text, put_in in pairwise(node.values):
            if isinstance(text, ast.Constant) and isinstance(put_in, ast.FormattedValue):
                end = str(text.value)[-2:]
                if end[-1:] in "'\"" and end[:-1] in ("", " ", "("):
                    yield node.lineno


@pytest.mark.parametrize("package", ["gui", "logger"])
def test_no_name_in_a_sentence_has_straight_quotes(package: str) -> None:
    found = [
        f"{name}:{line}"
        for path in sorted((TOP / package).rglob("*.py"))
        if (name := path.relative_to(TOP).as_posix()) not in NOT_SENTENCES
        for line in straight_quotes(path.read_text(encoding="utf-8"))
    ]
    assert not found


def test_a_straight_quote_round_a_name_is_found() -> None:
    assert list(straight_quotes("f\"There is no spot '{name}'.\"")) == [1]
    assert list(straight_quotes('f"There is no spot “{name}”."')) == []
