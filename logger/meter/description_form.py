"""A meter's description as a form has it: the values of its TOML file, checked by the same rules, field by field.

In: values by table and key, as `tomllib` gives them. Out: a description, or what is wrong at which field.
"""

from __future__ import annotations

import copy
import datetime
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import msgspec

from logger.errors import StillvoltError
from logger.meter.description import MeterDescription
from logger.meter.description_folder import path_of
from logger.meter.description_toml import from_document
from logger.toml_file import KeyPath, Requirement, TomlDocument
from logger.translation import shown_number, tr

MAX_MISTAKES = 100
"""So many are looked for: a form has fewer fields."""


@dataclass(frozen=True, slots=True)
class FieldMistake:
    """What is wrong with one field.

    Args:
        path: the keys to its value; numbers count the ranges from 0.
        why: a sentence.
    """

    path: KeyPath
    why: str


class _MistakeError(StillvoltError):
    """A mistake of a form, with its place."""

    def __init__(self, path: KeyPath, why: str) -> None:
        super().__init__(why)
        self.path = path


class _Form(TomlDocument):
    """Values whose mistakes are sentences beside their fields."""

    def mistake(self, path: KeyPath, what: str) -> StillvoltError:
        """See `TomlDocument`."""
        # Translators: what is wrong follows, as in "It is missing."
        return _MistakeError(path, tr("It {what}.").format(what=what))

    def describe_missing(self, needed: Requirement) -> str:
        """See `TomlDocument`."""
        return tr("is missing")

    def describe_unknown(self, known: Sequence[str]) -> str:
        """See `TomlDocument`."""
        return tr("is not known here; known are {keys}").format(keys=", ".join(sorted(known)))

    def describe_requirement(self, needed: Requirement, value: object, path: KeyPath) -> str:
        """See `TomlDocument`."""
        if needed.kind is datetime.date:
            return tr("must be a day")
        if needed.kind is str:
            return tr("must be a text that is not empty")
        if needed.low is None or needed.high is None:
            return tr("is of another kind than it must be")
        text = (
            tr("must be a whole number from {low} to {high}")
            if needed.kind is int
            else tr("must be a number from {low} to {high}")
        )
        return text.format(low=shown_number(f"{needed.low:g}"), high=shown_number(f"{needed.high:g}"))


def check_form(values: dict[str, Any]) -> tuple[MeterDescription | None, list[FieldMistake]]:
    """The description that a form holds, or everything that is wrong with it.

    Args:
        values: as in the file: "name", and tables "port", "query", "line", "meter" and "accuracy".

    Returns:
        The description, None where anything is wrong; and the mistakes, one at most for each field.
    """
    mistakes: list[FieldMistake] = []
    if why := why_no_name(values.get("name", "")):
        mistakes.append(FieldMistake(("name",), why))
    left = copy.deepcopy(values) | ({"name": "unnamed"} if mistakes else {})
    ranges = list(range(len(left.get("accuracy", ()))))  # of those that are left, which they are in the form
    while len(mistakes) < MAX_MISTAKES:
        try:
            description = from_document(_Form(left, ""))
        except _MistakeError as error:
            # Without it the next one shows; a range goes as a whole.
            if error.path[0] == "accuracy" and len(error.path) > 1 and isinstance(error.path[1], int):
                at = error.path[1]
                mistakes.append(FieldMistake(("accuracy", ranges.pop(at), *error.path[2:]), str(error)))
                del left["accuracy"][at]
                if not left["accuracy"]:
                    del left["accuracy"]
            else:
                mistakes.append(FieldMistake(error.path, str(error)))
                _leave_out(left, error.path)
        except msgspec.ValidationError as error:  # something that no form gives
            mistakes.append(FieldMistake((), str(error)))
            break
        else:
            return (None if mistakes else description), mistakes
    return None, mistakes


def why_no_name(name: object) -> str:
    """Why a meter cannot be kept under a name, in a sentence; empty where it can."""
    if not isinstance(name, str) or not name.strip():
        return tr("A meter needs a name: it is kept under it.")
    try:
        path_of(name)
    except StillvoltError as error:
        return error.next_step
    return ""


def _leave_out(values: dict[str, Any], path: KeyPath) -> None:
    table: dict[str, Any] = values
    for key in path[:-1]:
        table = table[str(key)]
    if path[-1] in table:
        del table[str(path[-1])]
    else:  # it is missing
        values.pop(str(path[0]))
