"""The layout of the packages, beyond what the import contracts in pyproject.toml hold."""

from __future__ import annotations

from graphlib import TopologicalSorter

import grimp


def test_no_files_import_each_other_in_a_circle() -> None:
    graph = grimp.build_graph("logger", "gui")
    order = TopologicalSorter(
        {module: graph.find_modules_directly_imported_by(module) for module in graph.modules}
    )
    assert len(list(order.static_order())) > 150  # raises CycleError, which names the circle
