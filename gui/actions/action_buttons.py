"""Buttons of actions, in as many rows as they need; each shows its key."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from types import MappingProxyType

from PySide6.QtCore import QPoint, QRect, QSize, Qt, QTimer
from PySide6.QtGui import QKeyEvent, QPaintEvent
from PySide6.QtWidgets import (
    QLayout,
    QLayoutItem,
    QMenu,
    QPushButton,
    QSizePolicy,
    QStyle,
    QStyleOptionButton,
    QStylePainter,
    QWidget,
)

from gui.actions.menus import menu_of
from gui.actions.registry import ActionRegistry
from gui.actions.spoken_text import set_spoken_description
from gui.actions.table import SPECS
from gui.actions.tips import in_lines
from logger.name_list import joined
from logger.translation import tr

ENTER_KEYS = (Qt.Key.Key_Return, Qt.Key.Key_Enter)

MAX_WHOLE_LETTERS = 34
"""A longer name may be shortened on the smallest screen; the tip has all of it."""

MAX_KEY_LETTERS = 10
"""A longer name of a key would need more room than what the button does."""


class ActionButton(QPushButton):
    """The button of one action.

    Args:
        actions: the actions of the window.
        action_id: as in the table.
        short_text: instead of the action's text; empty takes that.
        follows_visible: whether it is in sight where its action is; False where a part of the window decides that.
    """

    def __init__(
        self, actions: ActionRegistry, action_id: str, short_text: str = "", *, follows_visible: bool = True
    ) -> None:
        super().__init__()
        self._actions = actions
        self.action_id = action_id
        self._short_text = short_text
        self._follows_visible = follows_visible and SPECS[action_id].place == ""
        self._has_key = True
        self.action = actions[action_id]
        self.setProperty("role", "action")
        self.setFocusPolicy(Qt.FocusPolicy.TabFocus)
        self.setSizePolicy(QSizePolicy.Policy.Minimum, QSizePolicy.Policy.Fixed)
        self.clicked.connect(lambda: actions.trigger(action_id))
        self.action.changed.connect(self._take_over)
        self._take_over()

    @property
    def key_text(self) -> str:
        """The key that does the same."""
        return self._actions.keys_text(self.action_id)

    def show_key(self, is_shown: bool) -> None:
        """Show the key beside the name, or leave it to the tip where there is little room."""
        if is_shown is not self._has_key:
            self._has_key = is_shown
            self._take_over()

    def _take_over(self) -> None:
        name = self._short_text or self.action.text().replace("&", "")
        # The tip and the menu name it too.
        key = self.key_text if self._has_key and len(self.key_text) <= MAX_KEY_LETTERS else ""
        self._name = name
        text = (f"{name}   {key}" if key else name).replace("&", "&&")
        if text != self.text():
            self.setText(text)
            self.setAccessibleName(name)
        self.setEnabled(self.action.isEnabled())
        tip = self.action.toolTip()
        self.setToolTip(f"{name}\n{tip}" if len(name) > MAX_WHOLE_LETTERS else tip)
        set_spoken_description(self, self.action.statusTip())
        if self.action.isCheckable():
            self.setCheckable(True)
            self.setChecked(self.action.isChecked())
        if self._follows_visible and self.action.isVisible() is self.isHidden():
            self.setVisible(self.action.isVisible())

    def paintEvent(self, _: QPaintEvent) -> None:
        """Leave out the key, and then the middle of the name, where there is no room; see Qt."""
        option = QStyleOptionButton()
        self.initStyleOption(option)
        element = QStyle.SubElement.SE_PushButtonContents
        room = self.style().subElementRect(element, option, self).width()
        metrics = self.fontMetrics()
        if metrics.horizontalAdvance(option.text.replace("&&", "&")) > room:
            name = metrics.elidedText(self._name, Qt.TextElideMode.ElideMiddle, room)
            option.text = name.replace("&", "&&")
        QStylePainter(self).drawControl(QStyle.ControlElement.CE_PushButton, option)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Enter presses it, as Space does; see Qt."""
        if event.key() in ENTER_KEYS:
            self.click()
        else:
            super().keyPressEvent(event)


class MoreButton(QPushButton):
    """The button of a menu with the rarer actions of a page, so that its list keeps the room.

    Args:
        actions: the actions of the window.
        *action_ids: as in the table; an empty one is a line between two groups.
    """

    def __init__(self, actions: ActionRegistry, *action_ids: str) -> None:
        super().__init__(tr("More"))
        self.setProperty("role", "action")
        self.setFocusPolicy(Qt.FocusPolicy.TabFocus)
        self.setSizePolicy(QSizePolicy.Policy.Minimum, QSizePolicy.Policy.Fixed)
        self.setAccessibleName(tr("More actions"))
        menu = menu_of(actions, action_ids, self)
        menu.aboutToShow.connect(actions.refresh)
        # Once it is shown: Qt leaves every entry unchosen, so that a screen reader would say nothing.
        menu.aboutToShow.connect(lambda: QTimer.singleShot(0, menu, lambda: _choose_first(menu)))
        self.setMenu(menu)
        names = joined([actions[i].text().replace("&", "").rstrip("….") for i in action_ids if i])
        self.setAccessibleDescription(tr("Opens a menu: {names}.").format(names=names))
        self.setToolTip(in_lines(self.accessibleDescription()))

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Enter opens it, as Space does; see Qt."""
        if event.key() in ENTER_KEYS:
            self.showMenu()
        else:
            super().keyPressEvent(event)


def _choose_first(menu: QMenu) -> None:
    """Go to the first entry of an open menu that may run, unless the pointer has chosen one."""
    first = next((entry for entry in menu.actions() if entry.isEnabled() and not entry.isSeparator()), None)
    if menu.isVisible() and menu.activeAction() is None and first is not None:
        menu.setActiveAction(first)


class FlowLayout(QLayout):
    """Items one after the other, in as many rows as the width asks for.

    Args:
        parent: whose layout it becomes.
        gap: between the items, in pixels.
    """

    def __init__(self, parent: QWidget | None = None, gap: int = 6) -> None:
        super().__init__(parent)
        self._items: list[QLayoutItem] = []
        self._gap = gap
        self.setContentsMargins(0, 0, 0, 0)

    def addItem(self, item: QLayoutItem) -> None:
        """See Qt."""
        self._items.append(item)

    def count(self) -> int:
        """See Qt."""
        return len(self._items)

    def itemAt(self, index: int) -> QLayoutItem | None:
        """See Qt."""
        return self._items[index] if 0 <= index < len(self._items) else None

    def takeAt(self, index: int) -> QLayoutItem | None:
        """See Qt."""
        return self._items.pop(index) if 0 <= index < len(self._items) else None

    def expandingDirections(self) -> Qt.Orientation:
        """See Qt."""
        return Qt.Orientation(0)

    def hasHeightForWidth(self) -> bool:
        """See Qt."""
        return True

    def heightForWidth(self, width: int) -> int:
        """See Qt."""
        return self._place(QRect(0, 0, width, 0), moves=False)

    def setGeometry(self, rect: QRect) -> None:
        """See Qt."""
        super().setGeometry(rect)
        self._place(rect, moves=True)

    def sizeHint(self) -> QSize:
        """See Qt."""
        return self.minimumSize()

    def minimumSize(self) -> QSize:
        """See Qt."""
        size = QSize()
        for item in self._items:
            if not item.isEmpty():
                size = size.expandedTo(item.minimumSize())
        return size

    def _place(self, rect: QRect, moves: bool) -> int:
        x, y, row_height = rect.x(), rect.y(), 0
        for item in self._items:
            if item.isEmpty():
                continue
            hint = item.sizeHint()
            width = min(hint.width(), max(rect.width(), 1))
            if x > rect.x() and x + width > rect.x() + rect.width():
                x, y, row_height = rect.x(), y + row_height + self._gap, 0
            if moves:
                item.setGeometry(QRect(QPoint(x, y), QSize(width, hint.height())))
            x += width + self._gap
            row_height = max(row_height, hint.height())
        return y + row_height - rect.y()


class ActionButtons(QWidget):
    """A row of buttons, in more rows where there is no room.

    Args:
        actions: the actions of the window.
        *action_ids: as in the table.
        short_texts: by action, instead of its text where what is around names the rest.
        more: further actions, in the menu of a button behind the others.
    """

    def __init__(
        self,
        actions: ActionRegistry,
        *action_ids: str,
        short_texts: Mapping[str, str] = MappingProxyType({}),
        more: Sequence[str] = (),
    ) -> None:
        super().__init__()
        layout = FlowLayout(self)
        self.buttons = {
            action_id: ActionButton(actions, action_id, short_texts.get(action_id, ""))
            for action_id in action_ids
        }
        for button in self.buttons.values():
            layout.addWidget(button)
        self.more = MoreButton(actions, *more) if more else None
        if self.more is not None:
            layout.addWidget(self.more)
        policy = QSizePolicy(QSizePolicy.Policy.Preferred, QSizePolicy.Policy.Minimum)
        policy.setHeightForWidth(True)
        self.setSizePolicy(policy)

    def give_way(self, hidden: set[str], *, has_keys: bool) -> None:
        """Say what of the buttons is in sight.

        Args:
            hidden: the actions that are in the menu of the button behind the others only.
            has_keys: whether the keys stand beside the names.
        """
        for action_id, button in self.buttons.items():
            button.show_key(has_keys)
            if (action_id in hidden) is not button.isHidden():
                button.setVisible(action_id not in hidden)

    def row_height(self) -> int:
        """Of one row of them, in pixels."""
        return max(button.sizeHint().height() for button in self.buttons.values())
