"""A field of one line that is typed beside a spot, a circuit or a photo, as it is kept."""

from __future__ import annotations

import math
import unicodedata
from dataclasses import fields
from typing import Any

from logger.errors import StillvoltError
from logger.metrology.rounding import plain
from logger.translation import tr
from logger.visit.records.practitioner import why_not_a_line


def kept_line(text: str, field: str) -> str:
    """The text as it is kept: on one line, without blanks around it, letters composed as in names.

    Args:
        text: as typed.
        field: what it is, as a name for the sentence: "Posture".

    Raises:
        StillvoltError: it is too long, or has a character that cannot be seen.
    """
    line = unicodedata.normalize("NFC", " ".join(text.split()))
    if why := why_not_a_line(line):
        raise StillvoltError(
            tr("“{field}” cannot be kept. {why}").format(field=field, why=why), tr("Nothing was changed.")
        )
    return line


def kept_metres(value: float | None, field: str, most: float) -> float | None:
    """A length as it is kept, metres; None stays None: it is not recorded.

    Args:
        value: as typed.
        field: what it is, as a name for the sentence: "Height".
        most: the largest that can be meant, metres.

    Raises:
        StillvoltError: it is no number from 0 to `most`.
    """
    if value is not None and not is_length(value, most):
        raise StillvoltError(
            tr("“{field}” is a number from 0 to {most} m.").format(field=field, most=plain(most)),
            tr("Nothing was changed."),
        )
    return None if value is None else float(value)


def is_length(value: object, most: float) -> bool:
    """Whether a value is a length from 0 to `most`, metres."""
    if not isinstance(value, int | float) or isinstance(value, bool):
        return False
    return math.isfinite(value) and 0 <= value <= most


def is_recorded(record: Any) -> bool:
    """Whether a record holds anything besides when and by whom it was entered."""
    return any(getattr(record, field.name) not in ("", None) for field in fields(record) if field.compare)
