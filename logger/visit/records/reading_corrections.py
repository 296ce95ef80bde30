"""Corrections of a reading as plain values: to another spot, to what was on, void, valid again. The reading stays."""

from __future__ import annotations

from dataclasses import dataclass

from logger.metrology.rounding import grouped
from logger.translation import tr, tr_kept
from logger.visit.records.named_condition import form_of_named

SPOT, CONDITION, VOID, VALID = "spot", "condition", "void", "valid"
"""What a correction changes: where the reading counts, what was on, that it is mistaken, that it is not after all."""

CORRECTION_KINDS = (SPOT, CONDITION, VOID, VALID)

MAX_REASON_CHARACTERS = 1000
"""Longest reason of a correction; a sentence has about 100."""


@dataclass(frozen=True, slots=True)
class Placement:
    """Where a reading counts, and for what.

    Args:
        spot_id: of its spot.
        spot_name: the spot's name as it was then.
        condition: what was on; empty where it is not stated.
        live: ids of the circuits that were live and the cords that were plugged in; None where that is not stated.
        listed: ids of all circuits and cords that were on the list then.
    """

    spot_id: int
    spot_name: str
    condition: str
    live: frozenset[int] | None = None
    listed: frozenset[int] = frozenset()

    @property
    def words(self) -> str:
        """The spot and what was on, for a person."""
        if not self.condition:
            return tr("“{spot}”, what was on is not stated").format(spot=self.spot_name)
        text = tr("“{spot}”, {condition}")
        return text.format(spot=self.spot_name, condition=tr_kept(self.condition))

    def same_spot(self, other: Placement) -> bool:
        """Whether both are at one spot, whatever it was called."""
        return self.spot_id == other.spot_id

    def same_condition(self, other: Placement) -> bool:
        """Whether the same was on, whatever its circuits and cords were called."""
        if (self.condition, self.live) == (other.condition, other.live):
            return True
        form = form_of_named(self.condition)
        return (
            form is not None
            and self.live is not None
            and (form, self.live, self.listed) == (form_of_named(other.condition), other.live, other.listed)
        )


@dataclass(frozen=True, slots=True)
class ReadingCorrection:
    """One correction of a reading.

    Args:
        id: of its row; 0 for a void that is kept in the list of voids.
        utc_ns: when it was entered.
        kind: one of `CORRECTION_KINDS`.
        before: where the reading counted before; only what the kind changes counts.
        after: where it counts since.
        reason: why, as the user typed it.
        entered_by: the practitioner's name; empty where it was not stated.
    """

    id: int
    utc_ns: int
    kind: str
    before: Placement
    after: Placement
    reason: str
    entered_by: str = ""

    @property
    def words(self) -> str:
        """What was corrected, for a person, without the reason."""
        if self.kind == SPOT:
            text = tr("moved from “{before}” to “{after}”")
            return text.format(before=self.before.spot_name, after=self.after.spot_name)
        if self.kind == CONDITION:
            before, after = (tr_kept(p.condition) or tr("not stated") for p in (self.before, self.after))
            if before == after:
                return tr("the circuits that were live with “{condition}” were corrected").format(
                    condition=after
                )
            text = tr("what was on was corrected from “{before}” to “{after}”")
            return text.format(before=before, after=after)
        return tr("voided") if self.kind == VOID else tr("valid again")

    @property
    def text(self) -> str:
        """What was corrected and why, for a person: `moved from “Desk” to “Bed” (wrong spot)`."""
        return tr("{what} ({reason})").format(what=self.words, reason=tr_kept(self.reason))


def why_not_reason(reason: str) -> str:
    """Why a text is no reason for a correction, in a sentence; empty where it is one."""
    found = " ".join(reason.split())
    if not any(letter.isalnum() for letter in found):
        return tr("Enter why, in a few words.")
    if len(found) > MAX_REASON_CHARACTERS:
        text = tr("The reason has {n} letters; {most} are kept at most.")
        return text.format(n=grouped(len(found)), most=grouped(MAX_REASON_CHARACTERS))
    return ""
