"""Which keys run an action of the window, by the table of actions: its shortcut, else its way through the menu bar.

The keys have the names that xdotool takes; the letters of the menus are those of the language that holds.
"""

from __future__ import annotations

from gui.actions.table import ACTIONS, MENUS, SPECS
from logger.translation import tr

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
    twins = [text for text in entries(spec.menu, spec.submenu) if mnemonic(text) == letter]
    if not spec.menu or not letter or len(twins) > 1:
        raise ValueError(f"no key leads to {action_id} alone: {twins}")
    way = [mnemonic(text) for text in (MENUS[spec.menu], spec.submenu, spec.text) if text]
    return (f"alt+{key_of(way[0])}", *map(key_of, way[1:]))


def entries(menu: str, submenu: str = "") -> list[str]:
    """What stands in a menu, or in an entry of it that opens further ones: each text once, in English.

    Args:
        menu: one of `MENUS`.
        submenu: as the table has it; empty for the menu itself.
    """
    here = [spec for spec in ACTIONS if spec.menu == menu]
    found = [spec.text for spec in here if spec.submenu == submenu]
    further = {spec.submenu for spec in here if spec.submenu} if not submenu else set()
    return [*found, *sorted(further)]


def mnemonic(text: str) -> str:
    """The letter that chooses an entry of an open menu, in the language that holds; empty where it has none.

    Args:
        text: in English.
    """
    return tr(text).partition("&")[2][:1].lower()


def key_of(letter: str) -> str:
    """The key of a letter or digit, by its X name."""
    return letter if letter.isascii() else f"U{ord(letter):04X}"


def _x_name(key: str) -> str:
    held: list[str] = []
    while (first := key.partition("+")[0]) in MODIFIERS:
        held.append(first.lower())
        key = key[len(first) + 1 :]
    name = X_NAMES.get(key, key)
    return "+".join((*held, name.lower() if len(name) == 1 else name))
