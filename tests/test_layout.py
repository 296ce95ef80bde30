"""The layout of the packages, beyond what the import contracts in pyproject.toml hold."""

from __future__ import annotations

import subprocess
from graphlib import TopologicalSorter
from pathlib import Path

import grimp

ROOT = Path(__file__).parents[1]
TOP_LEVEL = {
    "README.md", "DEVELOPERS.md", "pyproject.toml", "logger", "gui", "tests", "fixtures", "scripts"
}  # fmt: skip


def test_no_files_import_each_other_in_a_circle() -> None:
    graph = grimp.build_graph("logger", "gui")
    order = TopologicalSorter(
        {module: graph.find_modules_directly_imported_by(module) for module in graph.modules}
    )
    assert len(list(order.static_order())) > 150  # raises CycleError, which names the circle


def test_the_top_level_holds_what_it_should_and_no_more() -> None:
    listed = subprocess.run(
        ["git", "ls-files", "-z", "--cached", "--others", "--exclude-standard"],
        cwd=ROOT, capture_output=True, text=True, check=True,
    )  # fmt: skip
    names = {Path(path).parts[0] for path in listed.stdout.split("\0") if path}
    assert {name for name in names if not name.startswith(".")} == TOP_LEVEL
