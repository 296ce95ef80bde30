"""Somebody who works in the real window by keys alone or by mouse alone, looks before each key and click, and counts.

In: a screen, and the program that is run on it. Out: keys, clicks and seconds of each part of the work. Where what is
wanted is not on the screen, `StuckError` says what was wanted, and what the window says instead. The window's texts are
given in English, whichever language holds (`window_words`).
"""

from __future__ import annotations

import contextlib
import json
import socket
import subprocess
import sys
import time
from abc import ABC, abstractmethod
from collections import Counter
from collections.abc import Callable, Sequence
from functools import partial
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))  # so that the tree itself can be imported

from gui.actions.table import MENUS, SPECS
from logger.translation import tr
from scripts.window_keys import key_of, keys_of
from scripts.window_sight import Seen
from scripts.window_words import begins, holds
from scripts.x_screen import Screen, StuckError, wait_for

SIGHT = Path(__file__).with_name("window_sight.py")

READ_S = 0.8
"""From a question in sight to its answer: longer than a question takes no Enter that was meant for something else."""
ASKED_BY_ITSELF_S = 1.8
"""The same, once a question has said that a key came too soon since it opened by itself."""

OFFER_S = 180.0
"""Until the big button may be pressed: a value may have to settle again."""
TAKE_S = 15.0
"""From the big button to the value in the log, on a slow computer."""
MOST_REFUSALS = 5
"""So often at most a value moves again as the button is pressed."""

MOST_KEYS = 30
"""So many keys at most lead to an answer."""


class User(ABC):
    """Somebody at the window, with one kind of hand.

    Args:
        screen: where the window is.
        program: `logger` or a script, and its arguments.
        environment: of the program; None takes the screen's.
    """

    def __init__(
        self, screen: Screen, program: Sequence[str], environment: dict[str, str] | None = None
    ) -> None:
        self.screen = screen
        self.part = ""
        """The heading of the work that is done now."""
        self.counted: dict[str, Counter[str]] = {}
        """Keys and clicks, by part."""
        self.seconds: dict[str, float] = {}
        """How long each part took that has ended."""
        self._since_s = time.monotonic()
        ours, its = socket.socketpair()
        with its:
            self.window = subprocess.Popen(
                [sys.executable, str(SIGHT), str(its.fileno()), *program],
                env=environment or screen.environment,
                pass_fds=(its.fileno(),),
            )
        ours.settimeout(60.0)
        self._channel = ours
        self._lines = ours.makefile("rw", encoding="utf-8")
        screen.fill_with("Stillvolt")

    def begin(self, part: str) -> None:
        """Begin the next part of the work; an empty one ends it."""
        now_s = time.monotonic()
        if self.part:
            self.seconds[self.part] = now_s - self._since_s
        self.part, self._since_s = part, now_s
        if part:
            self.counted[part] = Counter()

    # --- seeing ------------------------------------------------------------------------------------------

    def look(self) -> list[Seen]:
        """Everything in sight now."""
        try:
            self._lines.write("\n")
            self._lines.flush()
            answer = self._lines.readline()
        except OSError as error:
            raise StuckError(f"the window does not answer: {error}") from error
        if not answer:
            raise StuckError(f"the window has ended, with code {self.window.poll()}")
        return [Seen(**seen) for seen in json.loads(answer)]

    def find(self, text: str, kinds: Sequence[str] = (), within: str = "") -> Seen | None:
        """What begins with a text and can be used; None where nothing in sight does.

        Args:
            text: the beginning of it in English, without regard to case.
            kinds: classes, as `Seen` has them; empty for all.
            within: the list or part that it is in; empty for all.
        """
        return next(
            (
                seen
                for seen in self.look()
                if begins(seen.text, text)
                and (not kinds or seen.kind in kinds)
                and (not within or seen.within == within)
                and seen.is_enabled
            ),
            None,
        )

    def sees(self, text: str) -> bool:
        """Whether a text stands anywhere on the screen, such as within a message."""
        return any(holds(seen.text, text) for seen in self.look())

    def says(self) -> str:
        """What the window says now, in a sentence: its question, its big button and its messages."""
        seen = self.look()
        asked = [f"asks “{s.text}”" for s in seen if s.kind == "QuestionPanel"]
        button = [f"has the big button “{s.text}”" for s in seen if s.within == "ActionBar"]
        message = [f"says “{s.text}”" for s in seen if s.within == "MessageBar" and s.text]
        return "the window " + ", ".join([*asked, *button, *message])

    def wait(self, what: str, true: Callable[[], bool], wait_s: float | None = None) -> None:
        """Wait until something is so; `StuckError` says at which part it never was, and what the window says."""
        try:
            wait_for(what, true, *filter(None, (wait_s,)))
        except StuckError as error:
            raise StuckError(f"{self.part}: {error}; {self.says()}") from None

    def asked(self) -> list[str]:
        """The open question: its title and its answers; empty while none is open."""
        seen = self.look()
        title = [s.text for s in seen if s.kind == "QuestionPanel"]
        return title and [*title, *(s.text for s in seen if s.kind == "AnswerButton")]

    # --- doing -------------------------------------------------------------------------------------------

    def keys(self, *names: str) -> None:
        """Press keys, by their X names."""
        self._count("keys", len(names))
        self.screen.keys(*names)

    def type(self, text: str) -> None:
        """Type a text."""
        self._count("keys", len(text))
        self.screen.type(text)

    def enter(self, text: str) -> None:
        """Answer the open question by typing a text."""
        self.wait(
            f"there is a field for “{text}”",
            lambda: any(s.kind == "QLineEdit" and s.has_keyboard for s in self.look()),
        )
        before = self.asked()
        time.sleep(READ_S)
        self.type(text)
        self._answer(before, lambda: self._press_default())

    def answer(self, text: str) -> None:
        """Give the answer of the open question that begins with a text."""
        self.wait(f"there is the answer “{text}”", lambda: self._answers_with(text))
        self._answer(self.asked(), lambda: self._choose(text))

    def primary(self, text: str = "") -> None:
        """Press the big button.

        Args:
            text: with which it has to begin.
        """
        offered = f"the big button offers “{text}”"
        self.wait(offered, lambda: bool(self.find(text, within="ActionBar")), OFFER_S)
        self._press_primary()

    def take(self, what: str, true: Callable[[], bool]) -> None:
        """Press the big button until a value is taken; again where the window says that it has just moved.

        Args:
            what: is taken, in words.
            true: whether it is.
        """
        for _ in range(MOST_REFUSALS):
            self.primary("take")
            with contextlib.suppress(StuckError):
                wait_for(what, true, TAKE_S)
                return
            if not self.sees("Can't take"):
                break
        raise StuckError(f"{self.part}: {what} is not taken; {self.says()}")

    def take_switched(self, what: str, true: Callable[[], bool]) -> None:
        """Wait until a value that was asked for after a switching is taken by itself.

        Args:
            what: is taken, in words.
            true: whether it is.
        """
        self.wait(f"{what} is taken or asked about", lambda: true() or bool(self.asked()), OFFER_S)
        if not true():
            self.answer("yes")  # the value stayed as it was, though it was switched
            self.wait(f"{what} is taken", true, OFFER_S)

    @abstractmethod
    def stage(self, name: str) -> None:
        """Go to a stage."""

    @abstractmethod
    def act(self, *action_ids: str) -> None:
        """Run actions, one after the other."""

    @abstractmethod
    def tick(self, text: str, on: bool) -> None:
        """Tick a box of the open question, or take its tick away."""

    @abstractmethod
    def confirm(self) -> None:
        """Give the answer that Enter gives."""

    @abstractmethod
    def cancel(self) -> None:
        """Close the open question without an answer."""

    @abstractmethod
    def _choose(self, text: str) -> None: ...

    @abstractmethod
    def _press_default(self) -> None: ...

    @abstractmethod
    def _press_primary(self) -> None: ...

    def _answers_with(self, text: str) -> bool:
        return bool(self.asked()) and self.find(text, ("AnswerButton", "row")) is not None

    def _answer(self, before: list[str], do: Callable[[], None]) -> None:
        """Answer, and wait until the question has gone; once more where it came by itself and took nothing yet."""
        time.sleep(READ_S)
        do()
        stray = "The question came by itself"

        def has_gone() -> bool:
            if self.asked() != before:
                return True
            if self.find(stray) is not None:
                time.sleep(ASKED_BY_ITSELF_S)
                do()
            return False

        self.wait(f"“{before[0]}” is answered", has_gone)

    def _count(self, what: str, number: int = 1) -> None:
        if self.part:
            self.counted[self.part][what] += number

    def print_counts(self) -> None:
        """Print what each part took, and all of them."""
        for part, seconds in self.seconds.items():
            counts = [f"{count} {what}" for what, count in self.counted[part].items()]
            print(", ".join([f"{part}: {seconds:.0f} s", *counts]))
        total = sum(self.counted.values(), Counter[str]())
        counts = [f"{count} {what}" for what, count in total.items()]
        print(", ".join([f"in all: {sum(self.seconds.values()) / 60:.1f} min", *counts]))

    def close(self, stop: bool) -> None:
        """Close the window, which asks first while it records; ends the program where it does not close.

        Args:
            stop: whether recording is stopped; else it goes on.
        """
        if self.window.poll() is None:
            self.part = ""
            self.screen.keys("Escape", "Escape")
            self.screen.quit(stop)
        try:
            self.window.wait(15)
        except subprocess.TimeoutExpired:
            self.window.terminate()
            self.window.wait(15)
        self._channel.close()


class Keys(User):
    """By keys alone."""

    def stage(self, name: str) -> None:
        """See `User`."""
        self.act(f"stage.{name.lower()}")
        self.wait(f"the stage {name} is shown", lambda: _is_stage(self.look(), name))

    def act(self, *action_ids: str) -> None:
        """See `User`."""
        for action_id in action_ids:
            keys = keys_of(action_id)
            for number, key in enumerate(keys, 1):
                self.keys(key)
                if number < len(keys):
                    self.wait(f"menu {number} is open", partial(self._has_menus, number))
            if len(keys) > 1:
                self.wait(f"{action_id} is run from its menu", lambda: not self._has_menus(1))

    def page(self, name: str) -> None:
        """Turn to a page of the stage, from whichever one it opens on."""
        for _ in [seen for seen in self.look() if seen.kind == "tab"]:
            if self._is_page(name):
                return
            self.act("page.next")
        self.wait(f"the page {name} is shown", lambda: self._is_page(name))

    def _is_page(self, name: str) -> bool:
        return any(seen.kind == "tab" and seen.is_on and begins(seen.text, name) for seen in self.look())

    def _has_menus(self, number: int) -> bool:
        """Whether so many menus are open, each within the one before."""
        return sum(seen.kind == "QMenu" for seen in self.look()) >= number

    def tick(self, text: str, on: bool) -> None:
        """See `User`."""
        self.wait(f"there is the box “{text}”", lambda: self.find(text, ("QCheckBox",)) is not None)
        time.sleep(READ_S)
        box = self._go_to(text, ("QCheckBox",))
        if box.is_on is not on:
            self.keys("space")
        self.wait(
            f"“{text}” is {'ticked' if on else 'not ticked'}",
            lambda: (now := self.find(text, ("QCheckBox",))) is not None and now.is_on is on,
        )

    def confirm(self) -> None:
        """See `User`."""
        self._answer(self.asked(), self._press_default)

    def cancel(self) -> None:
        """See `User`."""
        self._answer(self.asked(), lambda: self.keys("Escape"))

    def _press_default(self) -> None:
        self.keys("Return")

    def _press_primary(self) -> None:
        self.keys("space")

    def _choose(self, text: str) -> None:
        pressed = next((s for s in self.look() if s.is_default and s.kind == "AnswerButton"), None)
        on_button = any(s.has_keyboard and s.kind == "AnswerButton" for s in self.look())
        if on_button or pressed is None or not begins(pressed.text, text):
            self._go_to(text, ("AnswerButton", "row"))
        self.keys("Return")

    def _go_to(self, text: str, kinds: Sequence[str]) -> Seen:
        """Bring the keyboard to an answer: its first letter as often as it takes, out of a field Tab."""
        aim = self.find(text, kinds)
        letter = key_of(aim.text[0].lower()) if aim is not None and aim.text[0].isalnum() else "Tab"
        for _ in range(MOST_KEYS):
            focused = next((s for s in self.look() if s.has_keyboard), None)
            if focused is not None and focused.kind in kinds and begins(focused.text, text):
                return focused
            in_field = focused is not None and focused.kind == "QLineEdit"
            in_list = (
                focused is None or focused.kind == "row"
            )  # None: no answer is framed before a key goes to one
            self.keys("Tab" if in_field else "Down" if in_list else letter)
        raise StuckError(f"{self.part}: no keys lead to “{text}”; {self.says()}")


class Mouse(User):
    """By mouse alone; only what has to be typed is typed."""

    def stage(self, name: str) -> None:
        """See `User`."""
        self._click_on(name, lambda: next((s for s in self.look() if _names_stage(s, name)), None))
        self.wait(f"the stage {name} is shown", lambda: _is_stage(self.look(), name))

    def act(self, *action_ids: str) -> None:
        """See `User`: by its button on the page, else through the menu bar."""
        for action_id in action_ids:
            spec = SPECS[action_id]
            name = tr(spec.text).replace("&", "")
            if (button := self.find(name, ("ActionButton",))) is not None:
                self.click(button)
                continue
            for text in filter(None, (spec.menu and MENUS[spec.menu], spec.submenu, spec.text)):
                entry = tr(text).replace("&", "")
                self._click_on(entry, lambda entry=entry: self.find(entry, ("entry",)))  # type: ignore[misc]

    def tick(self, text: str, on: bool) -> None:
        """See `User`."""

        def box() -> Seen | None:
            return self.find(text, ("QCheckBox",))

        self.wait(f"there is the box “{text}”", lambda: box() is not None)
        found = box()
        if found is not None and found.is_on is not on:
            self.click(found)
        self.wait(
            f"“{text}” is {'ticked' if on else 'not ticked'}",
            lambda: (now := box()) is not None and now.is_on is on,
        )

    def confirm(self) -> None:
        """See `User`."""
        self._answer(self.asked(), self._press_default)

    def click(self, at: Seen) -> None:
        """Click what was seen."""
        self._count("clicks")
        self.screen.click(at.x, at.y)

    def _click_on(self, name: str, find: Callable[[], Seen | None]) -> None:
        self.wait(f"“{name}” is in sight", lambda: find() is not None)
        found = find()
        if found is None:
            raise StuckError(f"{self.part}: “{name}” went out of sight; {self.says()}")
        self.click(found)

    def cancel(self) -> None:
        """See `User`."""
        self.answer("cancel")

    def _choose(self, text: str) -> None:
        found = self.find(text, ("AnswerButton", "row"))
        if found is not None:
            self.click(found)
            if found.kind == "row":
                self._press_default()

    def _press_default(self) -> None:
        button = next((s for s in self.look() if s.is_default and s.kind == "AnswerButton"), None)
        if button is not None:
            self.click(button)

    def _press_primary(self) -> None:
        self._click_on("the big button", lambda: self.find("", within="ActionBar"))


def state_set_up(user: User, household: str, on_reference: Callable[[], object]) -> None:
    """Answer the questions of the stage Prepare; the meter is left open.

    Args:
        user: at the window, on that stage.
        household: its name.
        on_reference: is called while it asks for the reference, as for a picture.
    """
    user.primary("fill in what is missing")
    user.enter(household)
    on_reference()
    for answer in ("earth rod", "loam", "damp"):
        user.answer(answer)
    user.enter("12")
    user.enter("15")
    for answer in ("split phase", "60", "on battery", "isolated"):
        user.answer(answer)
    user.cancel()


def _names_stage(seen: Seen, name: str) -> bool:
    return seen.kind == "StageButton" and seen.text.split(",")[0].endswith(tr(name))


def _is_stage(seen: Sequence[Seen], name: str) -> bool:
    return any(_names_stage(s, name) and s.is_on for s in seen)
