"""The list of rows at the heights where the scroll bar itself decides whether it is necessary."""

from __future__ import annotations

from pytestqt.qtbot import QtBot

from gui.widgets import theme
from gui.widgets.appearance import Appearance
from gui.widgets.row_list import RowList
from gui.widgets.row_painter import ListRow
from gui.widgets.theme import Sizes

NAME = "Bed in the children's room"
"""Set smaller where the scroll bar takes its room, so that the rows are lower and the bar is not necessary."""


def test_rows_that_only_just_fit_are_laid_out_and_hold_their_texts(qtbot: QtBot) -> None:
    rows = RowList(Appearance(theme.current(), Sizes.for_height(600)))
    qtbot.addWidget(rows)
    rows.show_rows([ListRow(f"{NAME} {n}", "0.27 V") for n in range(8)], 0)
    rows.show()
    shown = set()
    for width in range(220, 340, 6):
        rows.resize(width, 100)
        high = sum(rows.sizeHintForRow(n) for n in range(rows.count()))
        for height in range(high - 16, high + 12, 2):
            rows.resize(width, height)
            shown.add(rows.verticalScrollBar().isVisible())
            for n in range(rows.count()):
                assert rows.visualItemRect(rows.item(n)).height() == rows.sizeHintForRow(n)
    assert shown == {True, False}, "with and without a scroll bar"
