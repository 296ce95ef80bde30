"""What each public function says of its arguments, and how long a function or a class may be."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
PACKAGES = ("logger", "gui")

ARGUMENTS = 3
"""From this many arguments on, a docstring names each in its Args section."""

ELSEWHERE = re.compile(r"See [^.]+\.")
"""The docstring of a method that another library, or the class above, defines and documents."""

MAX_CLASS_LINES = 250
MAX_FUNCTION_LINES = 60
REASON = re.compile(r"#\s*long: \w")
"""The comment that allows more: on the line of `class` or `def`, or on the one above it."""

Function = ast.FunctionDef | ast.AsyncFunctionDef


def undocumented_arguments(tree: ast.Module) -> Iterator[tuple[int, str, list[str]]]:
    """Line, name and the arguments that are missing, of each public function and method that lacks some."""
    for function, owner in _public(tree, None):
        names = _arguments(function, method=owner is not None)
        if len(names) < ARGUMENTS:
            continue
        docstring = ast.get_docstring(function) or ""
        if ELSEWHERE.fullmatch(docstring):
            continue
        documented = _documented(docstring)
        if function.name == "__init__" and owner is not None:
            documented |= _documented(ast.get_docstring(owner) or "")
        missing = [name for name in names if name not in documented]
        if missing:
            name = function.name if owner is None else f"{owner.name}.{function.name}"
            yield function.lineno, name, missing


def too_long(text: str) -> Iterator[tuple[int, str, int]]:
    """Line, name and length of each class and function that is too long and does not say why.

    Docstrings do not count.
    """
    lines = text.splitlines()
    for node in ast.walk(ast.parse(text)):
        if not isinstance(node, ast.ClassDef | Function):
            continue
        first = min([node.lineno, *(decorator.lineno for decorator in node.decorator_list)])
        assert node.end_lineno is not None
        most = MAX_CLASS_LINES if isinstance(node, ast.ClassDef) else MAX_FUNCTION_LINES
        length = node.end_lineno - first + 1
        if length > most:
            length -= sum(_docstring_lines(inner) for inner in ast.walk(node))
        beside = "\n".join(lines[max(first - 2, 0) : node.lineno])
        if length > most and not REASON.search(beside):
            yield node.lineno, node.name, length


def _public(
    body: ast.Module | ast.ClassDef, owner: ast.ClassDef | None
) -> Iterator[tuple[Function, ast.ClassDef | None]]:
    for node in body.body:
        if isinstance(node, ast.ClassDef) and not node.name.startswith("_"):
            yield from _public(node, node)
        if not isinstance(node, Function) or (node.name.startswith("_") and node.name != "__init__"):
            continue
        if not any(_last_name(decorator) in ("overload", "override") for decorator in node.decorator_list):
            yield node, owner


def _docstring_lines(node: ast.AST) -> int:
    if not isinstance(node, ast.ClassDef | Function) or ast.get_docstring(node) is None:
        return 0
    assert node.body[0].end_lineno is not None
    return node.body[0].end_lineno - node.body[0].lineno + 1


def _last_name(node: ast.expr) -> str:
    return node.attr if isinstance(node, ast.Attribute) else node.id if isinstance(node, ast.Name) else ""


def _arguments(function: Function, method: bool) -> list[str]:
    """Names without self and cls, *args and **kwargs; one that begins with _ is not used."""
    found = [*function.args.posonlyargs, *function.args.args, *function.args.kwonlyargs]
    if method and not any(_last_name(d) == "staticmethod" for d in function.decorator_list):
        found = found[1:]
    return [argument.arg for argument in found if not argument.arg.startswith("_")]


def _documented(docstring: str) -> set[str]:
    """The names in the Args section; several that are told of together are divided by commas."""
    section = re.search(r"^Args:\n((?:[ \t]+.*\n?|\n)+)", docstring, re.M)
    if section is None:
        return set()
    heads = re.findall(r"^ {4}([\w*, ]+?)(?: \([^)]*\))?:", section[1], re.M)
    return {name.strip() for head in heads for name in head.split(",")}


def _files() -> Iterator[tuple[str, str]]:
    for package in PACKAGES:
        for path in sorted((ROOT / package).rglob("*.py")):
            yield str(path.relative_to(ROOT)), path.read_text(encoding="utf-8")


def test_each_argument_of_a_public_function_is_documented() -> None:
    found = [
        f"{path}:{line} {name}: {', '.join(missing)}"
        for path, text in _files()
        for line, name, missing in undocumented_arguments(ast.parse(text))
    ]
    print(*found, sep="\n")
    assert not found


def test_what_is_long_says_why() -> None:
    found = [
        f"{path}:{line} {name}: {length} lines"
        for path, text in _files()
        for line, name, length in too_long(text)
    ]
    print(*found, sep="\n")
    assert not found


DOCUMENTED = '''
class Fit:
    """A fit.

    Args:
        times, volts: of the same length.
        most: how many.
    """

    def __init__(self, times, volts, most): ...

    def move(self, by, to):
        """Move it."""

def fit(a, b, c=1, *more, d=2, **rest):
    """Fit.

    Args:
        a (float): volts: with a colon.
        b: more than
            one line: still b.
        c: no more.
{d}
    Returns:
        d: it is not an argument here.
    """

def _own(a, b, c): ...
'''


@pytest.mark.parametrize(("line", "missing"), [("        d: seconds.\n", []), ("", [(12, "fit", ["d"])])])
def test_the_rule_of_arguments(line: str, missing: list[tuple[int, str, list[str]]]) -> None:
    found = list(undocumented_arguments(ast.parse(DOCUMENTED.replace("{d}\n", line))))
    assert [(name, names) for _, name, names in found] == [(name, names) for _, name, names in missing]


def test_the_rule_of_arguments_looks_at_classes() -> None:
    text = DOCUMENTED.replace("        most: how many.\n", "").replace("{d}", "        d: s.")
    ((_, name, missing),) = undocumented_arguments(ast.parse(text))
    assert (name, missing) == ("Fit.__init__", ["most"])


@pytest.mark.parametrize(
    ("head", "lines", "found"),
    [
        ("def f():", MAX_FUNCTION_LINES, False),
        ("def f():", MAX_FUNCTION_LINES + 1, True),
        ("class C:", MAX_CLASS_LINES, False),
        ("class C:", MAX_CLASS_LINES + 1, True),
        ('def f():\n    """Docstring.\n\n    On."""', MAX_FUNCTION_LINES + 3, False),
        ("def f():  # long: one table", MAX_FUNCTION_LINES + 1, False),
        ("# long: one table\n@cache\ndef f():", MAX_FUNCTION_LINES + 1, False),
        ("def f():  # long:", MAX_FUNCTION_LINES + 1, True),
    ],
)
def test_the_rule_of_length(head: str, lines: int, found: bool) -> None:
    own = len([line for line in head.splitlines() if not line.startswith("#")])
    text = "\n\n" + head + "\n" + "    pass\n" * (lines - own)
    assert bool(list(too_long(text))) is found
