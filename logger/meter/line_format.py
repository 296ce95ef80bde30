"""The format of lines that do not say by themselves which number is the value: which field it is, and in what scale.

`read_line` finds the value by itself wherever the line says which number it is. A line format is for the others:
two numbers alike, counts without a unit, words nobody knows. It is found by `logger.meter.line_format_search` from
what the meter's display shows.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from logger.translation import shown_number, tr

SeparatorName = Literal["tab", "semicolon", "bar", "comma", "space", "none"]
SEPARATORS: dict[SeparatorName, str] = {
    "tab": "\t",
    "semicolon": ";",
    "bar": "|",
    "comma": ",",
    "space": " ",
    "none": "",
}
"""Names of what separates fields, the surest first. `space` is any number of spaces; `none`: one field."""


@dataclass(frozen=True, slots=True)
class LineFormat:
    """Where in a line the value stands.

    Args:
        separator: name in `SEPARATORS`; for a line of fields.
        field: which field is the value, counted from 1.
        fields: how many fields a line has; another number is a damaged line. None: any number.
        key: name of the value, for lines with names (key=value, JSON); then separator, field, fields are not used.
        occurrence, occurrences: which of the values of this name, and how many there are.
        scale: volts for 1 of the number in the unit that the line gives it (in volts when it gives none).
        is_bare: the number had no unit when its scale was taught; one with a unit has another scale.
        decimals: digits behind the point of such a number then; None where nobody knows. In another range its unit may
            be another one.
        known_words: words of unknown meaning that may stand on the line, and units beside other numbers.
        ignored_fields: fields that are not looked at, counted from 1.
        overload_words: texts of the value that mean overload, beside those known anyway ("99999").
    """

    separator: SeparatorName = "none"
    field: int = 1
    fields: int | None = None
    key: str | None = None
    occurrence: int = 1
    occurrences: int = 1
    scale: float = 1.0
    is_bare: bool = False
    decimals: int | None = None
    known_words: tuple[str, ...] = ()
    ignored_fields: tuple[int, ...] = ()
    overload_words: tuple[str, ...] = ()

    @property
    def taught_digit_volts(self) -> float:
        """What the last digit was worth when the format was taught, volts; 0 where nobody knows."""
        return 0.0 if self.decimals is None else self.scale / 10.0**self.decimals

    def describe(self) -> str:
        """For the user: which part of the line, in which scale."""
        if self.key is not None and self.occurrences == 1:
            which = tr("the value named {key}").format(key=self.key)
        elif self.key is not None:
            which = tr("value {number} of the {of} named {key}").format(
                number=self.occurrence, of=self.occurrences, key=self.key
            )
        elif self.separator == "none":
            which = tr("the number on the line")
        else:
            which = tr("field {number}").format(number=self.field)
        if self.scale == 1.0:
            return which
        return tr("{value}, times {factor}").format(value=which, factor=shown_number(f"{self.scale:g}"))
