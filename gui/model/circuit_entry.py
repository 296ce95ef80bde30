"""A row of the table of circuits: what is typed of a circuit or cord, by column, whether it is listed yet or not."""

from __future__ import annotations

import re
from dataclasses import dataclass, field, replace
from enum import Enum
from typing import Any

from gui.model.source_list_controller import AS_DECIDED, ESSENTIAL_REASONS, stays_text
from logger.errors import StillvoltError
from logger.translation import marked, tr, tr_kept
from logger.visit.records.home_details import SourceDetails
from logger.visit.records.home_records import Source
from logger.visit.records.kept_line import kept_line

YES = marked("yes")
_YES_WORDS = ("yes", "y", "x", "true", "ja", "j", "wahr", "sí", "si", "oui", "✓", "✔", "☑")
_NO_WORDS = ("no", "n", "false", "0", "-", "–", "nein", "falsch", "non")
_TWO_POLES = ("2", "2-", "2p", "2 p", "two", "double", "zwei")
_ONE_POLE = ("1", "1-", "1p", "1 p", "one", "single", "ein")
"""How a text on the poles of a breaker begins, besides yes and no."""

_COUNTED = re.compile(r"(\D*)(\d{1,6})")
"""A number that can be counted up: digits, with letters before them at most. "12/14" is two places, and is none."""


class Column(Enum):
    """A column of the table; its value is the heading, in English."""

    PANEL = marked("Panel")
    NUMBER = marked("No.")
    NAME = marked("Name")
    RATING = marked("Rating")
    LEG = marked("Leg as marked")
    TWO_POLE = marked("Two-pole")
    DEVICE = marked("Residual-current device")
    FEEDS = marked("Feeds / outlet")
    POLES = marked("Poles / plug")
    STAYS = marked("Why it stays on")
    SHOWN_OFF = marked("How shown off")

    @property
    def shown(self) -> str:
        """The heading in the language that holds."""
        return tr(self.value)


COLUMNS = tuple(Column)
OF_CORDS = frozenset({Column.NAME, Column.FEEDS, Column.POLES, Column.STAYS})
"""What is entered of a cord: the rest is that of its circuit."""

_FIELDS = {
    Column.PANEL: "panel",
    Column.NUMBER: "number",
    Column.RATING: "rating",
    Column.LEG: "leg",
    Column.DEVICE: "residual_current_device",
    Column.FEEDS: "feeds",
    Column.POLES: "poles",
    Column.SHOWN_OFF: "shown_off",
}
"""Which field of the details a column holds."""

_FIELDS_OF_CORDS = {Column.FEEDS: "outlet", Column.POLES: "plug"}
"""The same of a cord, where it is another: its outlet; its plug and where its switch is."""


@dataclass(frozen=True, slots=True)
class CircuitEntry:
    """What a row says of a circuit or cord.

    Args:
        name: as on the panel, or as the household calls it.
        details: panel, number and the rest.
        two_pole: a breaker that switches two legs together.
        stays: why it must stay on, as the log keeps it; empty: it may be switched off. None leaves it to the name.
        is_cord: what stands in the column of what it feeds is the outlet of a cord.
    """

    name: str = ""
    details: SourceDetails = field(default_factory=SourceDetails)
    two_pole: bool = False
    stays: str | None = None
    is_cord: bool = False

    @classmethod
    def of(cls, source: Source, details: SourceDetails | None) -> CircuitEntry:
        """What is kept of one that is on the list."""
        is_cord = source.kind == "cord"
        return cls(source.name, details or SourceDetails(), source.two_pole, source.stays, is_cord)

    def text(self, column: Column) -> str:
        """What stands in a column."""
        if column is Column.NAME:
            return self.name
        if column is Column.TWO_POLE:
            return tr(YES) if self.two_pole else ""
        if column is Column.STAYS:
            return tr_kept(self.stays or "")
        return str(getattr(self.details, self._field(column)))

    def with_text(self, column: Column, text: str) -> CircuitEntry:
        """The same with another text in a column.

        Raises:
            StillvoltError: the text cannot be kept; the message says why.
        """
        if column is Column.NAME:
            return replace(self, name=kept_line(text, tr("Name")))
        if column is Column.TWO_POLE:
            return replace(self, two_pole=_is_yes(text))
        if column is Column.STAYS:
            return replace(self, stays=reason_of(kept_line(text, column.shown)))
        changed: dict[str, Any] = {self._field(column): kept_line(text, column.shown)}
        return replace(self, details=replace(self.details, **changed))

    def _field(self, column: Column) -> str:
        return (_FIELDS | _FIELDS_OF_CORDS if self.is_cord else _FIELDS)[column]


def _is_yes(text: str) -> bool:
    """Whether a text says that a breaker has two poles.

    Raises:
        StillvoltError: it says neither yes nor no.
    """
    word = text.strip().casefold()
    if word in (*_YES_WORDS, tr(YES).casefold()) or word.startswith(_TWO_POLES):
        return True
    if not word or word in _NO_WORDS or word.startswith(_ONE_POLE):
        return False
    raise StillvoltError(
        tr("“{text}” does not say whether the breaker has two poles.").format(text=text),
        tr("Nothing was changed."),
        tr("Type yes or no."),
    )


def reason_of(text: str) -> str:
    """Why something must stay on, as the log keeps it: in English where it is one of the reasons that are offered."""
    word = text.casefold()
    if word in _NO_WORDS:
        return ""
    if word in (*_YES_WORDS, tr(YES).casefold()):
        return AS_DECIDED
    return next((reason for reason in ESSENTIAL_REASONS if tr_kept(reason).casefold() == word), text)


def counted_up(number: str) -> str:
    """The number after one: "8" after "7", "F13" after "F12"; empty after one that cannot be counted up."""
    found = _COUNTED.fullmatch(number)
    if found is None:
        return ""
    return f"{found[1]}{int(found[2]) + 1:0{len(found[2])}d}"


def is_same(source: Source, entry: CircuitEntry, before: CircuitEntry) -> bool:
    """Whether an entry says nothing else of a circuit or cord than what is kept of it.

    Args:
        source: as it is on the list.
        entry: what is wanted; None of why it stays leaves that as it is.
        before: what is kept.
    """
    stays = before.stays if entry.stays is None or tr_kept(entry.stays) == stays_text(source) else entry.stays
    return replace(entry, stays=stays) == before
