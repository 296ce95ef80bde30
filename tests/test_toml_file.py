"""TOML files: the line of a key, and values checked against declared types."""

from __future__ import annotations

from typing import Annotated, Literal

import msgspec
import pytest

from logger.errors import StillvoltError
from logger.toml_file import KeyPath, line_of, parse_by_line, parse_by_table

TEXT = """\
name = "m"   # first
point = { x = 1, y = 2 }

[port]
list = [1,
  2]
baud = 3
[[range]]
a = 1

[[range]]
a = 2
b.c = 3

["with space"]
"quoted key" = 1
"""


@pytest.mark.parametrize(
    ("path", "line"),
    [
        (("name",), 1),
        (("point",), 2),
        (("point", "y"), 2),
        (("port",), 4),
        (("port", "list"), 5),
        (("port", "baud"), 7),
        (("port", "missing"), 4),
        (("range",), 8),
        (("range", 0, "a"), 9),
        (("range", 1, "a"), 12),
        (("range", 1, "missing"), 11),
        (("range", 1, "b", "c"), 13),
        (("with space", "quoted key"), 16),
        (("nowhere",), 0),
        (("nowhere", "x"), 0),
    ],
)
def test_the_line_of_a_key(path: KeyPath, line: int) -> None:
    assert line_of(TEXT, path) == line


class Inner(msgspec.Struct, forbid_unknown_fields=True):
    """A table."""

    size: Annotated[float, msgspec.Meta(ge=0.5, le=20.0)]
    kind: Literal["b", "a"] = "a"


class Outer(msgspec.Struct, forbid_unknown_fields=True):
    """A file."""

    inner: Inner
    words: list[str] = []
    more: list[Inner] = []


def test_values_of_the_declared_types_are_read() -> None:
    document = parse_by_line("words = ['x']\n[inner]\nsize = 3\n[[more]]\nsize = 1.5\nkind = 'b'\n", "f.toml")
    assert document.convert(Outer) == Outer(Inner(3.0), ["x"], [Inner(1.5, "b")])


@pytest.mark.parametrize(
    ("text", "by_line", "by_table"),
    [
        (
            "[inner]\nsize = 30",
            "f, line 2: inner.size must be between 0.5 and 20.",
            "f [inner]: size must be a number from 0.5 to 20, not 30.",
        ),
        (
            "[inner]\nsize = inf",
            "f, line 2: inner.size must be a number.",
            "f [inner]: size must be a number from 0.5 to 20, not inf.",
        ),
        (
            "[inner]\nkind = 'a'",
            "f, line 1: inner.size is missing.",
            "f [inner]: size is missing.",
        ),
        (
            "[inner]\nsize = 1\n[[more]]\nsize = 1\n[[more]]\nsize = 1\nkind = 'c'",
            "f, line 7: more.kind must be one of b, a.",
            "f [[more]] 2: kind must be one of b, a, not 'c'.",
        ),
        (
            "words = ['x', 3]\n[inner]\nsize = 1",
            "f, line 1: words must be a list of text in quotes.",
            None,
        ),
        (
            "more = 3\n[inner]\nsize = 1",
            "f, line 1: more is written as",
            "f: more must be written as [[more]].",
        ),
        ("inner = 3", "f, line 1: inner is a table, written [inner].", "f: inner must be a table."),
        (
            "odd = 3\n[inner]\nsize = 1",
            "f, line 1: odd is not known here; known are inner, more, words.",
            "f: odd is not known here.",
        ),
    ],
)
def test_a_mistake_is_named_by_its_place(text: str, by_line: str, by_table: str | None) -> None:
    with pytest.raises(StillvoltError) as error:
        parse_by_line(text, "f").convert(Outer)
    assert str(error.value).startswith(by_line)
    if by_table is not None:
        with pytest.raises(StillvoltError) as error:
            parse_by_table(text, "f").convert(Outer)
        assert str(error.value) == by_table
