"""What is remembered from one start to the next, each with its one default and its one rule.

Kept as an INI file in the user's folder of settings. Every change is written at once and by itself, so that two windows
do not lose each other's. Nothing that is measured depends on it: where the file cannot be read or written, the window
does without. A damaged file is kept aside under another name.
"""

from __future__ import annotations

import base64
import binascii
import math
from collections.abc import Callable
from dataclasses import dataclass
from enum import StrEnum
from pathlib import Path
from typing import Any, Generic, TypeVar

import platformdirs
from PySide6.QtCore import QByteArray, QSettings

from gui.model.languages import AS_WINDOW
from logger.catalogue import languages
from logger.errors import StillvoltError
from logger.meter.port import is_simulated_port
from logger.metrology.lengths import LengthUnit
from logger.metrology.target import MAX_TARGET_VOLTS, MIN_TARGET_VOLTS, TARGET_SOURCE, TARGET_VOLTS
from logger.report.paper import PAPERS, SYSTEM_PAPER
from logger.translation import SYSTEM_LANGUAGE, tr
from logger.visit.hands_free_trigger import STILL_FOR_S
from logger.visit.records.practitioner import MAX_LETTERS, Practitioner, check_logo, why_not_a_line

T = TypeVar("T")


class ColourScheme(StrEnum):
    """Which colours the window has."""

    SYSTEM = "system"
    """Whichever the system has."""
    LIGHT = "light"
    DARK = "dark"


TEXT_PERCENTS = range(90, 155, 5)
"""The sizes of text that can be chosen, in percent of the usual one."""

MIN_STILL_S, MAX_STILL_S = 2.0, 60.0
"""Hands-free, the shortest and the longest time that a value has to be settled, seconds. Below two seconds the pause
between two movements is taken for rest, and a body seldom lies still for a minute."""

MAX_FILE_BYTES = 2_000_000
"""A larger file of settings is none: the largest entry, the logo, has at most 140 kB."""

MAX_PATH_LETTERS = 1000
"""Longest name of a folder that is remembered."""


@dataclass(frozen=True)
class Setting(Generic[T]):
    """One thing that is remembered.

    Args:
        key: its name in the file.
        default: what holds until it is set, and where the file has no value that can be used.
        to_text: how it is written.
        from_text: how it is read; raises ValueError for what is none.
    """

    key: str
    default: T
    to_text: Callable[[T], str]
    from_text: Callable[[str], T]


def _flag(key: str, default: bool) -> Setting[bool]:
    words = {"on": True, "off": False}

    def from_text(text: str) -> bool:
        if text not in words:
            raise ValueError(text)
        return words[text]

    return Setting(key, default, lambda on: "on" if on else "off", from_text)


def _number(key: str, default: float, low: float, high: float) -> Setting[float]:
    def from_text(text: str) -> float:
        value = float(text)
        if not (math.isfinite(value) and low <= value <= high):
            raise ValueError(text)
        return value

    return Setting(key, default, lambda value: f"{value:.12g}", from_text)


def _line(
    key: str, default: str = "", may_be_empty: bool = True, max_letters: int = MAX_LETTERS
) -> Setting[str]:
    def from_text(text: str) -> str:
        if why_not_a_line(text, max_letters) or not (text or may_be_empty):
            raise ValueError(text)
        return text

    return Setting(key, default, str, from_text)


def _language(key: str, other: str, default: str) -> Setting[str]:
    """Which language something is in.

    Args:
        key: its name in the file.
        other: what can be chosen besides the languages.
        default: what holds until one is chosen.
    """

    def from_text(text: str) -> str:
        if text != other and text not in languages():
            raise ValueError(text)
        return text

    return Setting(key, default, str, from_text)


def _paper(text: str) -> str:
    if text not in (SYSTEM_PAPER, *PAPERS):
        raise ValueError(text)
    return text


def _percent(text: str) -> int:
    if not (text.isascii() and text.isdigit() and int(text[:9]) in TEXT_PERCENTS):
        raise ValueError(text)
    return int(text)


def _permille(text: str) -> int | None:
    if text and not (text.isascii() and text.isdigit() and 0 < int(text[:9]) < 1000):
        raise ValueError(text)
    return int(text) if text else None


def _port_url(text: str) -> str:
    if why_not_a_line(text) or is_simulated_port(text):
        raise ValueError(text)
    return text


def _bytes(text: str) -> bytes:
    try:
        return base64.b64decode(text, validate=True)
    except binascii.Error as error:
        raise ValueError(text) from error


def _logo(text: str) -> bytes:
    logo = _bytes(text)
    if logo:
        try:
            check_logo(logo)
        except StillvoltError as error:
            raise ValueError from error
    return logo


def _as_base64(content: bytes) -> str:
    return base64.b64encode(content).decode("ascii")


SOUNDS = _flag("sounds", True)
SPEECH = _flag("speech", True)
COLOURS: Setting[ColourScheme] = Setting("colours", ColourScheme.SYSTEM, str, ColourScheme)
TEXT_PERCENT: Setting[int] = Setting("text-percent", 100, str, _percent)
LANGUAGE = _language("language", SYSTEM_LANGUAGE, SYSTEM_LANGUAGE)
REPORT_LANGUAGE = _language("report-language", AS_WINDOW, AS_WINDOW)
REPORT_PAPER: Setting[str] = Setting("report-paper", SYSTEM_PAPER, str, _paper)
LENGTHS: Setting[LengthUnit] = Setting("lengths", LengthUnit.METRES, str, LengthUnit)
TARGET = _number("target-volts", TARGET_VOLTS, MIN_TARGET_VOLTS, MAX_TARGET_VOLTS)
SOURCE_OF_TARGET = _line("target-source", TARGET_SOURCE, may_be_empty=False)
HANDS_FREE_S = _number("hands-free-seconds", STILL_FOR_S, MIN_STILL_S, MAX_STILL_S)
PRESENTER = _flag("presenter", False)
NAME = _line("practitioner-name")
FIRM = _line("practitioner-firm")
LICENCE = _line("practitioner-licence")
TELEPHONE = _line("practitioner-telephone")
EMAIL = _line("practitioner-email")
LOGO: Setting[bytes] = Setting("practitioner-logo", b"", _as_base64, _logo)
LAST_PORT: Setting[str] = Setting("last-port", "", str, _port_url)
LAST_METER = _line("last-meter")
PHOTO_FOLDER = _line("photo-folder", max_letters=MAX_PATH_LETTERS)
"""Where photos were chosen last."""
PLACE: Setting[bytes] = Setting("window-place", b"", _as_base64, _bytes)
HOUSE_PLACE: Setting[bytes] = Setting("practice-house-place", b"", _as_base64, _bytes)
"""Where the practice house was as a window of its own; empty where it was below the trace."""
SPOTS_PERMILLE: Setting[int | None] = Setting(
    "spots-permille", None, lambda permille: "" if permille is None else str(permille), _permille
)
"""Of the height of the stage Spots, the part above the border that the user dragged; None for the usual one."""

SETTINGS: tuple[Setting[Any], ...] = (
    SOUNDS, SPEECH, COLOURS, TEXT_PERCENT, LANGUAGE, REPORT_LANGUAGE, REPORT_PAPER, LENGTHS, TARGET, SOURCE_OF_TARGET,
    HANDS_FREE_S, PRESENTER, NAME, FIRM, LICENCE, TELEPHONE, EMAIL, LOGO, LAST_PORT, LAST_METER, PHOTO_FOLDER, PLACE,
    HOUSE_PLACE, SPOTS_PERMILLE,
)  # fmt: skip


def preferences_path() -> Path:
    """The file that the window's preferences are kept in."""
    return Path(platformdirs.user_config_dir("stillvolt", appauthor=False)) / "window.ini"


class Preferences:
    """What is remembered; each change is kept at once.

    Args:
        path: the file that it is kept in, made when something is changed; None remembers nothing.
    """

    def __init__(self, path: Path | None = None) -> None:
        self.path = path
        self.warning = ""
        """What was wrong with the file when it was opened, and where the old one is, in a sentence; else empty."""
        self.failure = ""
        """Why the last change was not kept, in a sentence; empty where it was."""
        self._unkept: dict[str, str] = {}
        """What could not be written, or is not to be: it holds while this window is open."""
        self._settings: QSettings | None = None
        if path is not None:
            self._keep_damaged_aside(path)
            self._settings = QSettings(str(path), QSettings.Format.IniFormat)
            self._drop_unusable_values(path)

    def get(self, setting: Setting[T]) -> T:
        """The value of a setting; its default where the file has none that can be used."""
        text = self._text(setting.key)
        if text is None:
            return setting.default
        try:
            return setting.from_text(text)
        except ValueError:
            return setting.default

    def set(self, setting: Setting[T], value: T) -> bool:
        """Remember a value; False where it could not be written, and `failure` says why: it holds in this window.

        Args:
            setting: what is set.
            value: one that the setting takes.

        Raises:
            ValueError: the setting does not take it.
        """
        text = setting.to_text(value)
        setting.from_text(text)
        self.failure = ""
        if self._settings is None:
            self._unkept[setting.key] = text
            return True
        self._settings.setValue(setting.key, text)
        self._settings.sync()
        if self._settings.status() is not QSettings.Status.NoError:
            self._unkept[setting.key] = text
            self.failure = tr(
                "The settings cannot be kept in {path}: they hold until this window is closed."
            ).format(path=self.path)
            return False
        self._unkept.pop(setting.key, None)
        return True

    def refresh(self) -> None:
        """Take in what another window has changed."""
        if self._settings is not None:
            self._settings.sync()

    @property
    def practitioner(self) -> Practitioner:
        """Who measures, as the report names it."""
        return Practitioner(
            self.get(NAME),
            self.get(FIRM),
            self.get(LICENCE),
            self.get(LOGO),
            telephone=self.get(TELEPHONE),
            email=self.get(EMAIL),
        )

    @property
    def window_place(self) -> QByteArray | None:
        """Where the window was, as `QWidget.saveGeometry` gives it; None where that is not known."""
        place = self.get(PLACE)
        return QByteArray(place) if place else None

    def _text(self, key: str) -> str | None:
        if key in self._unkept:
            return self._unkept[key]
        value = self._settings.value(key) if self._settings is not None else None
        # A comma without quotes, written by hand, makes a list of a text.
        return (
            ", ".join(map(str, value)) if isinstance(value, list) else None if value is None else str(value)
        )

    def _keep_damaged_aside(self, path: Path) -> None:
        try:
            if not path.exists() or _is_ini(path):
                return
        except OSError as error:
            self.warning = tr(
                "The settings in {path} cannot be read ({reason}), so they are as at the first start."
            ).format(path=path, reason=error.strerror)
            return
        try:
            aside = path.rename(_free_name(path))
        except OSError:  # another window was quicker, or the folder is read-only: then it is only not used
            self.warning = tr("The settings in {path} are damaged and are as at the first start.").format(
                path=path
            )
            return
        self.warning = tr(
            "The settings were damaged and are as at the first start. The old file is kept as {path}."
        ).format(path=aside)

    def _drop_unusable_values(self, path: Path) -> None:
        """Of a file that can be read, take out each value that its setting does not take, and keep the file aside."""
        assert self._settings is not None
        unusable = []
        for setting in SETTINGS:
            text = self._text(setting.key)
            try:
                if text is not None:
                    setting.from_text(text)
            except ValueError:
                unusable.append(setting.key)
        if not unusable:
            return
        aside = _free_name(path)
        try:
            aside.write_bytes(path.read_bytes())
        except OSError:
            return
        for key in unusable:
            self._settings.remove(key)
        self._settings.sync()
        self.warning = tr(
            "These settings could not be used and are as at the first start: {names}. The old file is kept as {path}."
        ).format(names=", ".join(unusable), path=aside)


def _is_ini(path: Path) -> bool:
    """Whether a file is one of settings, as far as its form shows; raises OSError where it cannot be read."""
    with path.open("rb") as file:
        content = file.read(MAX_FILE_BYTES + 1)
    if len(content) > MAX_FILE_BYTES or b"\0" in content:
        return False
    try:
        lines = content.decode("utf-8").splitlines()
    except UnicodeDecodeError:
        return False
    return all(
        not line or line[0] in ";#" or (line[0] == "[" and line[-1] == "]") or "=" in line
        for line in map(str.strip, lines)
    )


def _free_name(path: Path) -> Path:
    number = 1
    while (aside := path.with_name(f"{path.name}.damaged-{number}")).exists():
        number += 1
    return aside
