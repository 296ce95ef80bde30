"""The list of rows at the heights where the scroll bar itself decides whether it is necessary."""

from __future__ import annotations

import pytest
from PySide6.QtCore import QEvent, QPoint, Qt
from PySide6.QtGui import QAccessible, QAccessibleEvent, QFontMetricsF, QKeyEvent
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QAbstractSlider, QVBoxLayout, QWidget
from pytestqt.qtbot import QtBot

from gui.widgets import theme
from gui.widgets.appearance import Appearance
from gui.widgets.row_list import RowList
from gui.widgets.row_model import ListHeading, ListRow
from gui.widgets.row_painter import text_blocks
from gui.widgets.theme import Sizes, font
from tests.support.let_go import LetGo

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
                assert rows.visualRect(rows.row_model.index(n)).height() == rows.sizeHintForRow(n)
    assert shown == {True, False}, "with and without a scroll bar"


def test_a_dragged_row_is_reported_and_the_list_itself_stays(qtbot: QtBot) -> None:
    rows = RowList(Appearance(theme.current(), Sizes.for_height(600)), "Spots")
    qtbot.addWidget(rows)
    rows.let_drag_rows()
    rows.show_rows([ListRow("Hall"), ListHeading("Bedroom"), *(ListRow(f"Bed {n}") for n in range(3))], 0)
    rows.resize(300, 400)
    rows.show()
    dragged: list[tuple[int, int]] = []
    rows.row_dragged.connect(lambda row, to: dragged.append((row, to)))
    for chosen, below_place in ((1, 4), (3, -1), (2, 1), (1, 2)):
        rows.setCurrentRow(chosen + 1)
        y = rows.visualRect(rows.row_model.index(below_place)).bottom() if below_place >= 0 else 0
        drop = LetGo(QPoint(20, y), rows)
        rows.dropEvent(drop)
        assert drop.isAccepted() and drop.dropAction() is Qt.DropAction.CopyAction
    assert dragged == [(1, 3), (3, 0), (2, 1)], "the last one was let go where it had been"
    assert [row.head for row in rows.rows] == ["Hall", "Bed 0", "Bed 1", "Bed 2"]
    heading = rows.row_model.index(1)
    assert not rows.row_model.flags(heading) & (Qt.ItemFlag.ItemIsDragEnabled | Qt.ItemFlag.ItemIsSelectable)


def test_rows_have_names_for_who_cannot_see_them_and_letters_go_to_one(qtbot: QtBot) -> None:
    rows = RowList(Appearance(theme.current(), Sizes.for_height(600)), "Spots")
    qtbot.addWidget(rows)
    rows.show_rows([ListHeading("Bedroom"), ListRow("1  Bed", "0.27 V"), ListRow("2  Desk", "0.5 V")], 0)
    rows.show()
    accessible = QAccessible.queryAccessibleInterface(rows)
    assert accessible is not None and accessible.role() is QAccessible.Role.List
    assert accessible.text(QAccessible.Text.Name) == "Spots"
    names = [accessible.child(at).text(QAccessible.Text.Name) for at in range(accessible.childCount())]
    assert names == ["Bedroom, heading", "1  Bed, 0.27 V", "2  Desk, 0.5 V"]
    QTest.keyClick(rows, Qt.Key.Key_D)
    assert rows.currentRow() == 2
    chosen = accessible.child(2).state()
    assert chosen.selected and not accessible.child(1).state().selected


def test_a_screen_reader_is_told_of_each_row_that_changes_and_where_the_keyboard_is(
    qtbot: QtBot, monkeypatch: pytest.MonkeyPatch
) -> None:
    told: list[tuple[str, str]] = []

    def note(event: QAccessibleEvent) -> None:
        if event.child() >= 0:
            told.append((event.type().name, event.accessibleInterface().text(QAccessible.Text.Name)))

    rows = RowList(Appearance(theme.LIGHT, Sizes.for_height(768)), "Spots")
    qtbot.addWidget(rows)
    rows.show_rows([ListRow("Bed", "0.3 V"), ListRow("Desk")], 0)
    found = QAccessible.queryAccessibleInterface(rows)
    assert [bool(found.child(at).state().selected) for at in range(2)] == [True, False]
    assert not found.child(0).state().focused, "the keyboard is elsewhere"
    with qtbot.waitActive(rows):
        rows.show()
    rows.setFocus()
    assert found.child(0).state().focused
    rows.clearFocus()
    assert not found.child(0).state().focused and rows.currentRow() == 0
    QAccessible.setActive(True)
    monkeypatch.setattr(QAccessible, "updateAccessibility", note)
    rows.show_rows([ListRow("Bed", "0.5 V"), ListRow("Desk")], 0)
    assert told == [("NameChanged", "Bed, 0.5 V")]
    told.clear()
    rows.show_rows([ListHeading("Room"), ListRow("Bed", "0.5 V"), ListRow("Chair")], 0)
    names = [name for kind, name in told if kind == "NameChanged"]
    assert names == ["Room, heading", "Bed, 0.5 V"] and ("ObjectCreated", "Chair") in told
    told.clear()
    rows.show_rows([ListRow("Chair")], 0)
    assert told == [("NameChanged", "Chair")]


def test_a_click_or_new_rows_leave_the_list_where_it_is(qtbot: QtBot) -> None:
    rows = RowList(Appearance(theme.current(), Sizes.for_height(600)), "Spots")
    qtbot.addWidget(rows)
    content = [ListRow(f"Bed {n}", "0.27 V") for n in range(30)]
    rows.show_rows(content, 0)
    rows.resize(300, 200)
    rows.show()
    bar = rows.verticalScrollBar()
    top = rows.visualRect(rows.row_model.index(12)).top()
    bar.setValue(top)
    QTest.mouseClick(
        rows.viewport(), Qt.MouseButton.LeftButton, pos=rows.visualRect(rows.row_model.index(14)).center()
    )
    assert rows.currentRow() == 14 and bar.value() == top
    rows.show_rows([*content[:14], ListRow("Bed 14", "0.30 V"), *content[15:], ListRow("Desk")], 14)
    rows.resize(300, 205)
    assert bar.value() == top
    rows.show_rows(content, 25)
    assert bar.value() > top, "what is chosen elsewhere comes into sight"
    cut = next(
        n for n in range(30) if rows.visualRect(rows.row_model.index(n)).bottom() > rows.viewport().height()
    )
    shown = bar.value()
    QTest.mouseClick(
        rows.viewport(), Qt.MouseButton.LeftButton,
        pos=rows.visualRect(rows.row_model.index(cut)).topLeft() + QPoint(20, 2),
    )  # fmt: skip
    assert rows.currentRow() == cut and rows.selectedIndexes() == [rows.row_model.index(cut)]
    rows.resize(300, 206)  # what is told of the chosen row takes another height
    assert bar.value() == shown, "a row of which a part is in sight is chosen where it is"
    bar.triggerAction(QAbstractSlider.SliderAction.SliderToMinimum)
    rows.resize(320, 190)
    assert bar.value() == 0, "where the user has scrolled, nothing jumps back to the chosen row"
    rows.show_rows(content, 26)
    assert bar.value() > 0


def test_arrows_and_home_and_end_go_by_the_rows_also_before_a_changed_list_is_laid_out(qtbot: QtBot) -> None:
    rows = RowList(Appearance(theme.current(), Sizes.for_height(600)), "Spots")
    qtbot.addWidget(rows)
    rows.resize(300, 400)
    rows.show()

    def show(chosen: int) -> None:
        beds = [ListRow(f"Bed {n}", note="here" if n + 1 == chosen else "") for n in range(3)]
        rows.show_rows([ListHeading("Hall"), ListRow("Hall"), ListHeading("Bedroom"), *beds], chosen)

    show(0)
    rows.row_chosen.connect(show)
    went = []
    for key in (
        Qt.Key.Key_Down,
        Qt.Key.Key_Down,
        Qt.Key.Key_End,
        Qt.Key.Key_Down,
        Qt.Key.Key_Up,
        Qt.Key.Key_Home,
        Qt.Key.Key_Up,
    ):
        rows.keyPressEvent(QKeyEvent(QEvent.Type.KeyPress, key, Qt.KeyboardModifier.NoModifier))
        went.append(rows.row_at(rows.currentRow()))
    assert went == [1, 2, 3, 3, 2, 0, 0]
    rows.setCurrentRow(-1)
    rows.keyPressEvent(QKeyEvent(QEvent.Type.KeyPress, Qt.Key.Key_Up, Qt.KeyboardModifier.NoModifier))
    assert rows.row_at(rows.currentRow()) == 0, "the first key chooses the first row where none is chosen"


def test_what_is_around_a_list_follows_when_its_letters_become_smaller(qtbot: QtBot) -> None:
    around = QWidget()
    qtbot.addWidget(around)
    column = QVBoxLayout(around)
    rows = RowList(Appearance(theme.current(), Sizes.for_height(1080)), "Spots")
    column.addWidget(rows)
    rows.show_rows([ListRow(f"Bed {n}", "0.27 V") for n in range(5)], 0)
    around.show()
    high = column.totalMinimumSize().height()
    rows.set_appearance(Appearance(theme.current(), Sizes.for_height(600)))
    column.activate()
    assert column.totalMinimumSize().height() < high


def test_of_a_name_that_has_no_room_the_spot_is_cut_and_not_the_state(qtbot: QtBot) -> None:
    sizes = Sizes.for_height(600)
    room = QFontMetricsF(font(sizes.small)).horizontalAdvance(f"bedroom lamp off · {'x' * 12}  0.07 V")
    names = [f"bedroom lamp {state} · the bed of the children, left side" for state in ("off", "on")]
    spot = "the bed of the children, left side"
    (whole,) = text_blocks(ListRow("", short=("Where the person lay", spot)), room, sizes, is_short=True)
    assert "…" not in "".join(whole.left), "where nothing is named that may be cut, it is wrapped"
    rows = [ListRow(n, short=(n, "0.07 V"), short_cut=spot) for n in names]
    cut = [text_blocks(row, room, sizes, is_short=True)[0].left[0] for row in rows]
    assert [text.partition(" · ")[0] for text in cut] == [
        "bedroom lamp off",
        "bedroom lamp on",
    ] and "…" in cut[0]
    alike = [f"only {where} outlets off" for where in ("Bedroom", "Bathroom", "Boiler room")]
    rows = [ListRow(f"{n} · {spot}", short=(f"{n} · {spot}", "0.07 V"), short_cut=spot) for n in alike]
    narrow = [text_blocks(row, room * 0.6, sizes, is_short=True)[0].left for row in rows]
    assert [" ".join(lines) for lines in narrow] == alike, "circuits with like names can be told apart"
