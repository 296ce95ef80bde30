"""What values are held against until somebody states another target, and where that comes from."""

from __future__ import annotations

from logger.translation import tr

TARGET_VOLTS = 0.1
TARGET_SOURCE = "common practice, no source"
"""As it is kept; `target_source_text` is for people."""

MIN_TARGET_VOLTS, MAX_TARGET_VOLTS = 0.001, 100.0
"""What can be stated as a target: no meter used here resolves less than a millivolt, and no body voltage that is worth
a target comes near a hundred volts. A number beyond them is a slip of the unit."""


def target_source_text(source: str, volts: float = TARGET_VOLTS) -> str:
    """Where a target comes from, in plain words.

    Args:
        source: as it was stated; the source of the usual target is none of another one.
        volts: the target, V.
    """
    if source != TARGET_SOURCE:
        return source
    if volts != TARGET_VOLTS:
        return tr("chosen for this visit, no source stated")
    return tr("usual in the trade, not from a publication")
