"""What a visit log that was made from a damaged one keeps of what was lost: a fact that nothing changes or deletes."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import asdict, dataclass

from logger.name_list import listed
from logger.translation import kept_text, tr, tr_kept, tr_n

MAX_LOST_CHARACTERS = 1500
"""Longest description of what was lost: a line for each of the 15 tables."""

LOST_SEPARATOR = "\n"
"""Between the sentences of what was lost; a log that an earlier version made has them behind a blank."""


def shown_lost(lost: str) -> str:
    """What was lost, in the language that holds.

    Args:
        lost: as it is kept.
    """
    return " ".join(map(tr_kept, lost.split(LOST_SEPARATOR)))


@dataclass(frozen=True, slots=True)
class SalvageRecord:
    """That a visit was salvaged, and what is not known since.

    Args:
        source: name of the damaged file; where that is lost, a kept sentence.
        lost: what was lost, in whole sentences; empty where nothing was.
        voids_known: whether every voided reading is marked as such.
        checks_known: whether every check came over.
        facts_known: whether all that was stated came over, as the set-up.
        restored_runs: runs whose beginning, port and settings were lost.
    """

    source: str
    lost: str = ""
    voids_known: bool = True
    checks_known: bool = True
    facts_known: bool = True
    restored_runs: tuple[int, ...] = ()
    corrections_known: bool = True

    def as_fact(self) -> str:
        """As the value of the fact; `from_fact` is the way back."""
        return json.dumps(asdict(self))

    @classmethod
    def from_fact(cls, value: str) -> SalvageRecord:
        """From the value of the fact; where it is damaged, nothing is taken for known."""
        try:
            kept = json.loads(value)
            return cls(
                str(kept["source"]),
                str(kept["lost"]),
                kept["voids_known"] is True,
                kept["checks_known"] is True,
                kept["facts_known"] is True,
                tuple(int(run_id) for run_id in kept["restored_runs"]),
                kept.get("corrections_known", True) is True,
            )
        except (ValueError, KeyError, TypeError, RecursionError):
            return cls(
                kept_text("a damaged visit"),
                value[:MAX_LOST_CHARACTERS],
                False,
                False,
                False,
                corrections_known=False,
            )

    @property
    def sentence(self) -> str:
        """That the visit was salvaged and what is not known since, in one or more sentences for a person."""
        unknown = [
            words
            for is_unknown, words in (
                (not self.voids_known, tr("whether a reading was voided is not known")),
                (not self.corrections_known, tr("whether a reading was corrected is not known")),
                (not self.checks_known, tr("whether a check failed is not known")),
                (not self.facts_known, tr("what was stated of the set-up is not all known")),
                (self.restored_runs, _lost_settings(self.restored_runs)),
            )
            if is_unknown
        ]
        source = tr_kept(self.source)
        if unknown:
            text = tr("Salvaged from {file}, which was damaged: {unknown}.")
            return text.format(file=source, unknown=listed(unknown))
        if self.lost:
            return tr("Salvaged from {file}, which was damaged: parts may be lost.").format(file=source)
        text = tr("Salvaged from {file}: nothing was lost, as far as can be known.")
        return text.format(file=source)

    @property
    def doubt_of_readings(self) -> str:
        """What speaks against every reading of the visit, in whole sentences; empty where nothing does."""
        return " ".join(
            words
            for is_unknown, words in (
                (
                    not self.voids_known,
                    tr("It may have been voided: the list of voided readings was damaged."),
                ),
                (
                    not self.corrections_known,
                    tr("It may have been corrected: the list of corrections was damaged."),
                ),
                (not self.checks_known, tr("A check may have failed: the list of checks was damaged.")),
            )
            if is_unknown
        )


def combined(records: Sequence[SalvageRecord]) -> SalvageRecord | None:
    """One record for a visit that was salvaged more than once, oldest first; None where it never was.

    Args:
        records: all of the visit.
    """
    if not records:
        return None
    return SalvageRecord(
        records[-1].source,
        LOST_SEPARATOR.join(record.lost for record in records if record.lost)[:MAX_LOST_CHARACTERS],
        all(record.voids_known for record in records),
        all(record.checks_known for record in records),
        all(record.facts_known for record in records),
        tuple(sorted({run_id for record in records for run_id in record.restored_runs})),
        all(record.corrections_known for record in records),
    )


def _lost_settings(ids: Sequence[int]) -> str:
    text = tr_n("the settings of run {runs} are lost", "the settings of runs {runs} are lost", len(ids))
    return text.format(runs=listed(list(map(str, ids)))) if ids else ""
