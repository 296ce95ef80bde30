"""What else changed between two readings that prove a remedy, and what speaks against them; a sentence each."""

from __future__ import annotations

from collections.abc import Iterator

from logger.metrology.check_words import check_name
from logger.metrology.checks import CheckKind, CheckVerdict
from logger.name_list import joined, quoted
from logger.plan.plan_basis import PlanBasis
from logger.plan.values_read import ValueRead
from logger.translation import marked, tr

BY_WORD = marked(
    "At “{spot}” what was on rests on what was stated alone: nothing in the trace shows that anything was switched."
)
CORRECTED = marked("A reading at “{spot}” was corrected after it was taken.")
VOIDED = marked("A reading at “{spot}” between these two was declared mistaken.")
ENTERED_SINCE = marked("Entered since the first reading: {names}.")
REMOVED_SINCE = marked("Taken off the list since the first reading: {names}.")
RENAMED_SINCE = marked("Renamed between the readings: {names}.")
CHECK_FAILED = marked("The {check} had failed before a reading at “{spot}”.")
OTHER_VISIT = marked(
    "The first reading at “{spot}” is from another visit ({visit}): other things may have changed."
)


def is_unproved(value: ValueRead) -> bool:
    """Whether nothing can rest on a value: the function check had failed before it.

    Args:
        value: of a visit.
    """
    return value.context.verdicts.get(CheckKind.FUNCTION) is CheckVerdict.FAILED


def is_by_word(value: ValueRead) -> bool:
    """Whether what was on at a value is the user's word alone.

    Args:
        value: of a visit.
    """
    return value.reading is not None and value.reading.by_word


def doubts_between(
    basis: PlanBasis, before: ValueRead, after: ValueRead, removed: frozenset[int]
) -> Iterator[str]:
    """What else changed between two values of one spot, and what speaks against them.

    Args:
        basis: of the visit.
        before: the earlier value.
        after: the later value.
        removed: ids of what remedies took away, which may be off the list since.
    """
    spot = basis.spot_name(after.spot_id)
    if before.visit:
        yield tr(OTHER_VISIT).format(spot=spot, visit=before.visit)
    for value in (before, after):
        if is_by_word(value):
            yield tr(BY_WORD).format(spot=spot)
        elif value.reading is not None and value.reading.corrections:
            yield tr(CORRECTED).format(spot=spot)
        for kind, verdict in value.context.verdicts.items():
            if verdict is CheckVerdict.FAILED:
                yield tr(CHECK_FAILED).format(check=check_name(kind), spot=spot)
    if any(
        reading.void_reason is not None
        and reading.spot_id == after.spot_id
        and before.utc_ns < reading.utc_ns < after.utc_ns
        for reading in basis.readings
    ):
        yield tr(VOIDED).format(spot=spot)
    yield from _list_changes(basis, before, after, removed)


def _list_changes(
    basis: PlanBasis, before: ValueRead, after: ValueRead, removed: frozenset[int]
) -> Iterator[str]:
    """What changed of the list of circuits and cords; the arguments are those of `doubts_between`."""
    renamed = frozenset(id_ for utc_ns, id_ in basis.renamed if before.utc_ns < utc_ns < after.utc_ns)
    changes = [(RENAMED_SINCE, renamed)]
    if before.listed and after.listed:
        changes += [
            (ENTERED_SINCE, after.listed - before.listed),
            (REMOVED_SINCE, before.listed - after.listed - removed),
        ]
    for text, ids in changes:
        names = [quoted(source.name) for id_ in sorted(ids) if (source := basis.source(id_)) is not None]
        if names:
            yield tr(text).format(names=joined(names))
