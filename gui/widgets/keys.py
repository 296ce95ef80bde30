"""Every key of the window in one table: what dispatches them and what `?` shows are the same."""

from __future__ import annotations

from dataclasses import dataclass

from PySide6.QtCore import QKeyCombination, Qt
from PySide6.QtGui import QKeyEvent, QKeySequence


@dataclass(frozen=True, slots=True)
class Key:
    """One action and the keys that do it, as `key_name` names them."""

    action: str
    names: tuple[str, ...]
    shown: str
    does: str
    group: str


KEYS: tuple[Key, ...] = (
    Key("take", ("Space", "B", "."), "Space", "Take the settled value (a presenter's remote: B or .)", "Readings"),
    Key("take_unsettled", ("Shift+Space",), "Shift+Space", "Take it although it is not settled; marked as such",
        "Readings"),
    Key("next", ("Down", "PgDown", "N"), "Down", "Next spot (also N, Page Down)", "Readings"),
    Key("previous", ("Up", "PgUp", "P"), "Up", "Previous spot (also P, Page Up)", "Readings"),
    Key("unread", ("Home", "Q"), "Home", "First spot not read yet (also Q)", "Readings"),
    Key("hands_free", ("H",), "H", "Hands-free: readings are taken by themselves once settled", "Readings"),
    Key("hands_free_time", ("C",), "C", "Hands-free: how long it must have been settled", "Readings"),
    Key("by_hand", ("K",), "K", "Type a value read from the display by hand", "Readings"),
    Key("round_off", ("O",), "O", "Begin the round with everything off", "Readings"),
    Key("outside_walk", ("G",), "G", "Outside walk: the next point along the path", "Readings"),
    Key("show_checks", ("L",), "L", "Earlier results of the chosen check, each with its trace", "Readings"),
    Key("budget", ("X",), "X", "Uncertainty budget of the chosen spot", "Readings"),
    Key("condition", ("W",), "W", "State what is on", "Readings"),
    Key("mark", ("M",), "M", "Mark this moment with a text", "Readings"),
    Key("undo", ("U",), "U", "Undo the last change of spots; void the last reading or mark, with a reason", "Readings"),
    Key("add", ("A",), "A", "Add a spot", "Spots"),
    Key("room", ("T",), "T", "Add the usual spots of a room", "Spots"),
    Key("condition_note", ("I",), "I", "What has to be on at the chosen spot", "Spots"),
    Key("rename", ("E",), "E", "Rename the chosen spot", "Spots"),
    Key("move_down", ("Shift+Down", "Ctrl+Down"), "Shift+Down", "Move the chosen spot down the list", "Spots"),
    Key("move_up", ("Shift+Up", "Ctrl+Up"), "Shift+Up", "Move the chosen spot up the list", "Spots"),
    Key("remove", ("Del", "Backspace"), "Delete", "Remove the chosen spot; its readings stay", "Spots"),
    Key("form", ("J", "Ctrl+P"), "J", "Empty form on paper: opens it to be printed (also Ctrl+P)", "Spots"),
    Key("zoom_in", ("+", "="), "+", "Shorter stretch of the trace", "Trace"),
    Key("zoom_out", ("-",), "-", "Longer stretch of the trace", "Trace"),
    Key("next_stretch", ("Z",), "Z", "Trace of 30 s, 2 min, 10 min, all", "Trace"),
    Key("pan_back", ("Left",), "Left", "Back in time", "Trace"),
    Key("pan_on", ("Right",), "Right", "Forward in time", "Trace"),
    Key("follow", ("F", "End"), "F", "Follow the newest value", "Trace"),
    Key("fit", ("V",), "V", "Height of the trace: everything, or the still levels only", "Trace"),
    Key("record", ("R",), "R", "Start or stop recording", "Window"),
    Key("sound", ("S",), "S", "Sounds on or off", "Window"),
    Key("theme", ("D",), "D", "Dark or light", "Window"),
    Key("visits", ("Y", "Ctrl+O"), "Y", "Open another visit, or begin a new one (also Ctrl+O)", "Window"),
    Key("practice", ("F2",), "F2", "Practice house: its switches by keys; F2 again hides them", "Window"),
    Key("practice_night", ("F3",), "F3", "Practice house: a night in a minute; F3 again calls it off", "Window"),
    Key("help", ("?", "F1"), "?", "All keys", "Window"),
    Key("close", ("Ctrl+Q", "Ctrl+W"), "Ctrl+Q", "Close the window; asks whether recording goes on", "Window"),
)  # fmt: skip

PAGE_KEYS: tuple[tuple[str, tuple[tuple[str, str], ...]], ...] = (
    (
        "On the stage Sources",
        (
            ("Tab", "Next page: steps, breakers, tonight (Shift+Tab: back)"),
            ("Up, Down", "Choose a step, a circuit or a cord"),
            ("Space", "Steps: name the step like the last used one. Breakers: it is switched, take it"),
            ("Enter", "Steps: say which it was"),
            ("X", "Steps: on instead of off, or off instead of on"),
            ("I", "Steps: ignore the step (also Delete; Shift+Delete: all that wait)"),
            ("A", "Add circuits or cords"),
            ("E", "Rename the chosen one"),
            ("K", "The chosen one must stay on, or may be switched off"),
            ("T", "The chosen circuit has a two-pole breaker"),
            ("P", "Steps: which circuit a cord is plugged into"),
            ("Delete", "Take the chosen one off the list; what was measured stays"),
        ),
    ),
    (
        "On the stage Night",
        (
            ("Tab", "Next page: start, morning, before and after (Shift+Tab: back)"),
            ("Up, Down", "Morning: choose a fact; Enter shows it in the trace, Home the whole night"),
            ("E", "Morning: move where the night begins and ends"),
            ("C", "Another night; on Before and after: the night to compare with"),
            ("P", "Planned switchings"),
            ("N", "Night screen"),
        ),
    ),
    (
        "On the stage Report",
        (
            ("Space", "Write the report beside the visit, and open it (O opens it again)"),
            ("X", "Export the data"),
            ("C", "Compare with another visit; Enter corrects which spot it was"),
            ("A", "Archive: search the visits; Enter opens one"),
        ),
    ),
    (
        "In the practice house, after F2",
        (
            ("Letters", "Choose a switch by its name; digits: a breaker"),
            ("Enter", "Switch it, or go there; Shift+Enter: at the cord"),
            ("Esc", "Keys go to the window again (F2 hides the house)"),
        ),
    ),
)
"""Keys that a page takes before the window does, by page; shown only."""

SHOWN_AS = {"Enter": "Return", "Shift+Enter": "Shift+Return", "Delete": "Del"}
"""Names of keys as people know them, where `key_name` has another."""

GROUPS = ("Readings", "Spots", "Trace", "Window")

ACTION_OF = {name: key.action for key in KEYS for name in key.names}


def key_name(event: QKeyEvent) -> str:
    """What was pressed, as in the table: 'M', '?', 'Shift+Space', 'PgDown'; letters whatever the case."""
    text = event.text()
    modifiers = event.modifiers() & ~Qt.KeyboardModifier.KeypadModifier
    command = modifiers & (
        Qt.KeyboardModifier.ControlModifier
        | Qt.KeyboardModifier.AltModifier
        | Qt.KeyboardModifier.MetaModifier
    )
    if text.isprintable() and text.strip() and not command:
        return text.upper()
    if event.key() == Qt.Key.Key_Enter:  # the keypad's
        return "Return"
    return QKeySequence(QKeyCombination(modifiers, Qt.Key(event.key()))).toString(
        QKeySequence.SequenceFormat.PortableText
    )
