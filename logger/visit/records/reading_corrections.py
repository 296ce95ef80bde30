"""Corrections of a reading as plain values: spot, what was on, reference, void, valid again. The reading stays."""

from __future__ import annotations

from dataclasses import dataclass

from logger.metrology.reference_answers import ReferenceAnswers
from logger.metrology.rounding import grouped
from logger.translation import kept_text, tr, tr_kept
from logger.visit.records.named_condition import form_of_named

SPOT, CONDITION, REFERENCE, VOID, VALID = "spot", "condition", "reference", "void", "valid"
"""What a correction changes: where the reading counts, what was on, what it was read against, that it is mistaken, that
it is not after all."""

CORRECTION_KINDS = (SPOT, CONDITION, REFERENCE, VOID, VALID)

WRONG_SPOT = kept_text("wrong spot")
"""Why a reading was voided, where nobody was at that spot; in the log, and so in one language."""

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
        answers: what it was read against, as it was known then; None where nothing is kept of it.
    """

    spot_id: int
    spot_name: str
    condition: str
    live: frozenset[int] | None = None
    listed: frozenset[int] = frozenset()
    answers: ReferenceAnswers | None = None

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
        if self.kind == REFERENCE:
            text = tr("what it was read against was corrected from “{before}” to “{after}”")
            return text.format(**self.answers_words())
        return tr("voided") if self.kind == VOID else tr("valid again")

    def answers_words(self) -> dict[str, str]:
        """What of the answers was corrected, in words: `before` and `after`."""
        return differing_answers(self.before, self.after)

    @property
    def text(self) -> str:
        """What was corrected and why, for a person: `moved from “Desk” to “Bed” (wrong spot)`."""
        return tr("{what} ({reason})").format(what=self.words, reason=tr_kept(self.reason))


def differing_answers(before: Placement, after: Placement) -> dict[str, str]:
    """What differs in what a reading was read against, in words: `before` and `after`; empty where it is lost.

    Args:
        before: as it counted.
        after: as it counts since.
    """
    one, other = before.answers, after.answers
    if one is None or other is None:
        return {"before": "", "after": ""}
    names = one.changes_to(other)
    return {"before": one.words_of(names), "after": other.words_of(names)}


def why_not_reason(reason: str) -> str:
    """Why a text is no reason for a correction, in a sentence; empty where it is one."""
    found = " ".join(reason.split())
    if not any(letter.isalnum() for letter in found):
        return tr("Enter why, in a few words.")
    if len(found) > MAX_REASON_CHARACTERS:
        text = tr("The reason is {n} characters long. At most {most} can be kept: shorten it.")
        return text.format(n=grouped(len(found)), most=grouped(MAX_REASON_CHARACTERS))
    return ""
