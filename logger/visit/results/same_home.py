"""Whether two visits were made to the same home, by what was entered as the household.

It is the only fact that tells homes apart: rooms, circuits and spots are called the same in many. Where it is empty in
one of the visits nobody knows, and that has to be asked.
"""

from __future__ import annotations

from logger.translation import tr
from logger.visit.records.name_key import name_key


def why_maybe_other_home(before: str, after: str) -> str:
    """Why the visits may be of two homes, in one sentence; empty where they are of the same one.

    Args:
        before: household of the earlier visit, as entered.
        after: household of the later visit.
    """
    if not before.strip() and not after.strip():
        return tr("The household is entered in neither visit.")
    if not before.strip() or not after.strip():
        text = (
            tr("For the later visit no household is entered; the earlier visit is of {household}.")
            if before.strip()
            else tr("For the earlier visit no household is entered; the later visit is of {household}.")
        )
        return text.format(household=repr(before if before.strip() else after))
    if name_key(before) != name_key(after):
        text = tr("The visits are of two households: {before} before and {after} after.")
        return text.format(before=repr(before), after=repr(after))
    return ""
