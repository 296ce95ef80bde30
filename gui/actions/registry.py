"""One QAction for each action of the table: what it does, whether it may run now, and why not."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from PySide6.QtCore import QLocale, QObject, Qt, Signal
from PySide6.QtGui import QAction, QIcon, QKeySequence
from PySide6.QtWidgets import QWidget

from gui.actions.table import ACTIONS, AZERTY_INSTEAD, AZERTY_KEYS, PRIMARY, SPECS, ActionSpec
from gui.actions.tips import in_lines
from logger.translation import marked, tr, within

ANSWER_FIRST = marked("Answer the question first.")
NOT_HERE = marked("This belongs to another page.")


@dataclass(frozen=True, slots=True)
class _Binding:
    run: Callable[[], object]
    why_not: Callable[[], str]


def always() -> str:
    """The `why_not` of what may always run."""
    return ""


def plain_text(text: str) -> str:
    """A text of the table without its mnemonic and its dots."""
    return text.replace("&", "").removesuffix("...")


class ActionRegistry(QObject):
    """The actions of one window.

    An action runs only where it is bound, its page is in sight, no question is open (but for those that the table calls
    safe), and its own `why_not` is empty. That is asked again at the moment it is triggered.

    Args:
        parent: the window, to which the shortcuts belong; None without shortcuts.
    """

    refused = Signal(str, str)
    """An action was refused: its id, and a whole sentence."""
    ran = Signal(str)
    """An action was carried out: its id."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._bindings: dict[str, _Binding] = {}
        self.is_in_sight: Callable[[str], bool] = lambda _: True
        """Whether a page or stage, as `Page.place` names it, is in sight."""
        self.belongs_text: Callable[[str], str] = lambda _: tr(NOT_HERE)
        """To which page or stage, as `Page.place` names it, an action belongs, in a sentence."""
        self.blocked: Callable[[ActionSpec], str] = lambda _: ""
        """Why an action may not run whatever it is, such as an open question; empty where it may."""
        self._shown_why_not: dict[str, str] = {}
        self._keys = {spec.id: _keys_text(spec) for spec in ACTIONS}
        self._actions = {spec.id: self._make(spec, parent) for spec in ACTIONS}

    def __getitem__(self, action_id: str) -> QAction:
        """The QAction of that id."""
        return self._actions[action_id]

    def bind(self, action_id: str, run: Callable[[], object], why_not: Callable[[], str] = always) -> None:
        """State what an action does.

        Args:
            action_id: as in the table.
            run: does it.
            why_not: empty where it may run now, else a whole sentence why not.
        """
        if action_id in self._bindings:
            raise ValueError(f"{action_id} is bound already")
        self._bindings[action_id] = _Binding(run, why_not)
        self._actions[action_id].setVisible(True)

    def is_bound(self, action_id: str) -> bool:
        """Whether the window has that action."""
        return action_id in self._bindings

    def why_not(self, action_id: str) -> str:
        """Why an action may not run now, in a whole sentence; empty where it may."""
        spec, binding = SPECS[action_id], self._bindings.get(action_id)
        if binding is None:
            return tr("It is not part of this window.")
        if blocked := self.blocked(spec):
            return blocked
        if spec.place and not self.is_in_sight(spec.place):
            return self.belongs_text(spec.place)
        return binding.why_not()

    def trigger(self, action_id: str) -> bool:
        """Run an action as its button, menu entry or key does; False when it was refused."""
        why_not = self.why_not(action_id)
        if why_not:
            name = plain_text(self._actions[action_id].text())
            sentence = (
                tr("Can't {do}: {why}").format(do=within(name), why=why_not)
                if SPECS[action_id].says_doing
                else tr("Can't do “{name}”: {why}").format(name=name, why=why_not)
            )
            self.refused.emit(action_id, sentence)
            self._refresh_one(SPECS[action_id])
            return False
        self._bindings[action_id].run()
        self.ran.emit(action_id)
        self.refresh()
        return True

    def refresh(self) -> None:
        """Enable what may run now; the tip of the rest says why it may not."""
        for spec in ACTIONS:
            if spec.id in self._bindings:
                self._refresh_one(spec)

    def _refresh_one(self, spec: ActionSpec) -> None:
        action, why_not = self._actions[spec.id], self.why_not(spec.id)
        action.setEnabled(not why_not)
        if self._shown_why_not.get(spec.id) == why_not:
            return  # asked at each redraw for every action: a tip that is shown already costs nothing
        self._shown_why_not[spec.id] = why_not
        tip = tr(spec.tip)
        if keys := self.keys_text(spec.id):
            tip += f" ({keys})"
        if why_not:
            tip += "\n" + tr("Not now: {why}").format(why=why_not)
        action.setToolTip(in_lines(tip))
        action.setStatusTip(tip)

    def set_icons(self, make: Callable[[str], QIcon]) -> None:
        """Give every action its icon, in the colours of now.

        Args:
            make: an icon by the name that the table has for it.
        """
        for spec in ACTIONS:
            if spec.icon:
                self._actions[spec.id].setIcon(make(spec.icon))

    def explain_key(self, key: QKeySequence) -> bool:
        """Say why an action may not run whose key was pressed; False where that key has no such action.

        Qt does nothing, without a word, on the key of an action that is disabled.
        """
        for action_id, action in self._actions.items():
            if action_id in self._bindings and not action.isEnabled() and key in action.shortcuts():
                self.trigger(action_id)
                return True
        return False

    def keys_text(self, action_id: str) -> str:
        """The keys of an action as this system writes them; empty where it has none."""
        return self._keys[action_id]

    def _make(self, spec: ActionSpec, parent: QWidget | None) -> QAction:
        action = QAction(tr(spec.text), self)
        action.setObjectName(spec.id)
        action.setCheckable(spec.checkable)
        action.setAutoRepeat(spec.repeats)
        action.setShortcuts([QKeySequence(key) for key in _keys(spec)])
        if spec.id == PRIMARY:
            # Its key is the window's, which also says why it is refused; here it is only shown.
            action.setShortcutContext(Qt.ShortcutContext.WidgetShortcut)
        action.triggered.connect(lambda: self.trigger(spec.id))
        action.setEnabled(False)
        action.setVisible(False)
        if parent is not None and spec.id != PRIMARY:
            parent.addAction(action)
        return action


def _keys(spec: ActionSpec) -> list[str]:
    """The keys of an action on this system's keyboard."""
    if QLocale.system().language() != QLocale.Language.French:
        return list(spec.shortcuts)
    further = [AZERTY_KEYS[key] for key in spec.shortcuts if key in AZERTY_KEYS]
    return [AZERTY_INSTEAD.get(key, key) for key in spec.shortcuts] + further


def _keys_text(spec: ActionSpec) -> str:
    if spec.shown_key or not spec.shortcuts:
        return tr(spec.shown_key) if spec.shown_key else ""
    return QKeySequence(_keys(spec)[0]).toString(QKeySequence.SequenceFormat.NativeText)
