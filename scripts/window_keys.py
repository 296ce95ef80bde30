"""Which keys run an action of the window, by the table of actions: its shortcut, else its way through the menu bar.

The keys have the names that xdotool takes.
"""

from __future__ import annotations

from gui.actions.table import ACTIONS, SPECS

X_NAMES = {
    "Esc": "Escape", "Del": "Delete", "Delete": "Delete", "Ins": "Insert", "Enter": "Return", "Space": "space",
    "PgDown": "Next", "PgUp": "Prior", ",": "comma", "+": "plus", "-": "minus", "=": "equal",
}  # fmt: skip
"""Of keys that the table calls otherwise."""

MODIFIERS = ("Ctrl", "Shift", "Alt")


def keys_of(action_id: str) -> tuple[str, ...]:
    """The keys that run an action, one after the other.

    Args:
        action_id: as in the table.

    Raises:
        ValueError: neither a key nor the menu bar reaches it.
    """
    spec = SPECS[action_id]
    if shown := spec.shown_key or next(iter(spec.shortcuts), ""):
        return (_x_name(shown),)
    letter = mnemonic(spec.text)
    beside = [other for other in ACTIONS if (other.menu, other.submenu) == (spec.menu, spec.submenu)]
    twins = [other.id for other in beside if mnemonic(other.text) == letter]
    if not spec.menu or not letter or len(twins) > 1:
        raise ValueError(f"no key leads to {action_id} alone: {twins}")
    return (f"alt+{spec.menu[0].lower()}", *filter(None, (mnemonic(spec.submenu),)), letter)


def mnemonic(text: str) -> str:
    """The letter that chooses an entry of an open menu; empty where it has none."""
    return text.partition("&")[2][:1].lower()


def _x_name(key: str) -> str:
    held: list[str] = []
    while (first := key.partition("+")[0]) in MODIFIERS:
        held.append(first.lower())
        key = key[len(first) + 1 :]
    name = X_NAMES.get(key, key)
    return "+".join((*held, name.lower() if len(name) == 1 else name))
