"""The table of how it was at each spot fits a sheet of paper, however much was recorded."""

from __future__ import annotations

import pytest

from logger.report.document.blocks import Pairs, TableBlock
from logger.report.document.sections.details import MAX_COLUMNS, _tables

HEADS = ("Spot", *(f"h{n}" for n in range(12)))


@pytest.mark.parametrize("rows", [1, 2, 3, 25])
@pytest.mark.parametrize("columns", [2, 9, 10, 13])
def test_no_table_is_wider_than_a_sheet_and_nothing_is_left_out(rows: int, columns: int) -> None:
    cells = [tuple(f"r{row}c{column}" for column in range(columns)) for row in range(rows)]
    blocks = _tables("how it was", HEADS[:columns], cells)
    shown = repr(blocks)
    assert all(cell in shown for row in cells for cell in row[1:]), "every cell is on the page"
    assert all(name[0] in shown for name in cells)
    for block in blocks:
        if isinstance(block, TableBlock):
            assert len(block.heads) <= MAX_COLUMNS and {len(row) for row in block.rows} == {len(block.heads)}
    assert any(isinstance(block, Pairs) for block in blocks) == (columns > MAX_COLUMNS and rows <= 2)
