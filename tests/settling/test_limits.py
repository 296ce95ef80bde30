"""The thresholds are in one place: no other module of the detector writes one down."""

from __future__ import annotations

import ast
import re
from itertools import pairwise
from pathlib import Path

import logger.settling
from logger.settling import limits

FOLDER = Path(logger.settling.__file__).parent
OF_FORMULAS = {-1, 0, 1, 2, 3, 4, 6, 10, 12, 0.5}
"""Numbers of formulas and of small sizes: roots, squares, sums of squares, fewest values of a fit."""
IN_MESSAGES = {60}
"""Length of an excerpt in a message of `replay`."""


def numbers_in(path: Path) -> set[float]:
    found = (
        node.value for node in ast.walk(ast.parse(path.read_text("utf-8"))) if isinstance(node, ast.Constant)
    )
    return {value for value in found if isinstance(value, int | float) and not isinstance(value, bool)}


def test_thresholds_are_in_limits_only() -> None:
    modules = [path for path in FOLDER.glob("*.py") if path.name != "limits.py"]
    written = {path.name: numbers_in(path) - OF_FORMULAS - IN_MESSAGES for path in modules}
    assert len(written) > 15
    assert {name: numbers for name, numbers in written.items() if numbers} == {}


def test_each_threshold_is_used_and_defined_once() -> None:
    text = "\n".join(path.read_text("utf-8") for path in FOLDER.glob("*.py"))
    names = [name for name in vars(limits) if name.isupper()]
    assert len(names) > 150
    assert [name for name in names if len(re.findall(rf"\b{name}\b", text)) < 2] == []
    tree = ast.parse((FOLDER / "limits.py").read_text("utf-8"))
    defined = [node.targets[0].id for node in tree.body if isinstance(node, ast.Assign)]  # type: ignore[attr-defined]
    assert sorted(defined) == sorted(names)


def test_each_threshold_has_its_reason() -> None:
    """A constant is followed by a docstring, or by another constant that the same docstring covers."""
    body = ast.parse((FOLDER / "limits.py").read_text("utf-8")).body
    for node, following in pairwise(body):
        if isinstance(node, ast.Assign):
            assert isinstance(following, ast.Assign | ast.Expr), ast.unparse(node)
    assert isinstance(body[-1], ast.Expr)
