"""Why what a single circuit gives is not confirmed, from what the readings of the sweep cannot show.

In: what was live in each row, and the rows that may have been exchanged. Out: a doubt for each circuit that has one,
and sentences that `stillvolt sources`, window and report share, each with the readings that would decide.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence

from logger.metrology.rounding import grouped
from logger.name_list import in_turn, joined
from logger.translation import marked, tr, tr_n

EXCHANGED_DOUBT = marked("an estimate: two readings may have been swapped by mistake")
"""Stands behind what a circuit gives, after a comma; it is translated where it is shown."""

SUPPLY_DOUBT = marked("an estimate: check the supply")
"""The same where the readings fit another supply better: whatever was swapped is worked out with the right one."""

MAX_READ_AGAIN = 3
"""So many readings are asked for to tell exchanges apart, the most useful ones first: a longer list is not taken."""

MAX_PAIRS_NAMED = 3
"""So many exchanges are named, each; of more there is one example."""


def contribution_doubts(
    circuits: Sequence[str],
    rows: Sequence[frozenset[str]],
    exchangeable: Sequence[tuple[int, int]],
    *,
    supply_in_doubt: bool,
) -> Mapping[str, str]:
    """The circuits of which an exchange that nothing shows, or another supply, changes what they give.

    Each has its doubt in English.

    Args:
        circuits: names on the panel.
        rows: what was live in each reading, in their order.
        exchangeable: numbers of the rows that may have been exchanged, two by two, from 1.
        supply_in_doubt: the readings fit another supply better than the one that was entered.
    """
    if supply_in_doubt:
        return dict.fromkeys(circuits, SUPPLY_DOUBT)
    if not exchangeable:
        return {}
    least = min(rows, key=len)
    doubted: set[str] = set()
    for pair in exchangeable:
        one, other = (rows[number - 1] for number in pair)
        # Each circuit is what its readings are above those with the least on.
        doubted |= set(circuits) if least in (one, other) else one ^ other
    return {name: EXCHANGED_DOUBT for name in circuits if name in doubted}


def deciding_rows(exchangeable: Sequence[tuple[int, int]]) -> list[int]:
    """Numbers of the rows that show every exchange once they are read again, the one that shows most of them first.

    An exchanged reading differs from a repeat of its combination, so one row of each pair is enough.

    Args:
        exchangeable: numbers of the rows that may have been exchanged, two by two, from 1.
    """
    left, again = list(exchangeable), []
    while left:
        counts = Counter(number for pair in left for number in pair)
        best = max(counts, key=lambda number: (counts[number], -number))
        again.append(best)
        left = [pair for pair in left if best not in pair]
    return again


def exchange_text(
    names: Mapping[int, str],
    exchangeable: Sequence[tuple[int, int]],
    spot: str = "",
    deciding: Sequence[int] = (),
) -> str:
    """State that readings may have been swapped, and what to read to be sure; empty for none.

    Args:
        names: of the readings, by the number of the row.
        exchangeable: numbers of the rows that may have been exchanged, two by two, from 1.
        spot: its name; empty where there is one only.
        deciding: numbers of the rows that are asked for; none for those of `deciding_rows`.
    """
    if not exchangeable:
        return ""
    deciding = deciding or deciding_rows(exchangeable)
    again = list(dict.fromkeys(names[number] for number in deciding))
    # The example is of a reading that is asked for, so that one sees what it would decide.
    pair = next(pair for pair in exchangeable if names[pair[0]] == again[0] or names[pair[1]] == again[0])
    first, second = (names[number] for number in pair)
    if len(exchangeable) > MAX_PAIRS_NAMED:
        at_spot = tr(
            "Two readings at “{spot}”, such as {first} and {second}, fit as well with each other's value: the breakers "
            "may have been set the other way round."
        )
        alone = tr(
            "Two readings, such as {first} and {second}, fit as well with each other's value: the breakers may have "
            "been set the other way round."
        )
    elif len(exchangeable) > 1:
        at_spot = tr(
            "Readings at “{spot}” fit as well with each other's value: {pairs}. The breakers may have been set the "
            "other way round."
        )
        alone = tr(
            "Readings fit as well with each other's value: {pairs}. The breakers may have been set the other way round."
        )
    else:
        at_spot = tr(
            "The readings {first} and {second} at “{spot}” fit as well with each other's value: the breakers may have "
            "been set the other way round."
        )
        alone = tr(
            "The readings {first} and {second} fit as well with each other's value: the breakers may have been set the "
            "other way round."
        )
    swapped = (at_spot if spot else alone).format(
        first=first, second=second, spot=spot, pairs=_pairs_text(names, exchangeable)
    )
    return f"{swapped} {_again_text(again)}"


def exchange_groups(exchangeable: Sequence[tuple[int, int]]) -> list[tuple[int, list[int]]]:
    """Every exchange once, by the row that is in most of them, each with the others that it may be exchanged with.

    Args:
        exchangeable: numbers of the rows that may have been exchanged, two by two.
    """
    found = []
    left = [tuple(sorted(pair)) for pair in exchangeable]
    while left:
        counts = Counter(number for pair in left for number in pair)
        most = max(counts, key=lambda number: (counts[number], -number))
        found.append((most, sorted({one for pair in left if most in pair for one in pair if one != most})))
        left = [pair for pair in left if most not in pair]
    return found


def _pairs_text(names: Mapping[int, str], exchangeable: Sequence[tuple[int, int]]) -> str:
    text = tr("{reading} with {others}")
    return in_turn(
        [
            text.format(reading=names[one], others=joined([names[other] for other in others]))
            for one, others in exchange_groups(exchangeable)
        ]
    )


def _again_text(again: Sequence[str]) -> str:
    if len(again) <= MAX_READ_AGAIN + 1:
        return tr("To rule that out, read {again} once more.").format(again=joined(again))
    text = tr("To rule that out, read {again} once more first, and then {n} others.")
    return text.format(again=joined(again[:MAX_READ_AGAIN]), n=grouped(len(again) - MAX_READ_AGAIN))


def background_once_text(with_prediction: bool, spot: str = "") -> str:
    """State that everything off was read once, what rests on it, and that it is to be read again.

    Args:
        with_prediction: tonight's list was not confirmed by a reading of its own.
        spot: its name; empty where there is one only.
    """
    if with_prediction:
        at_spot = tr(
            "With everything off “{spot}” was read only once. The background and what each circuit gives depend on "
            "that one reading. Read it once more before you rely on them."
        )
        alone = tr(
            "Everything off was read only once. The background, what each circuit gives and the prediction depend on "
            "that one reading. Read it once more before you rely on them."
        )
    else:
        at_spot = tr(
            "With everything off “{spot}” was read only once. What each circuit gives depends on that one reading. "
            "To be sure, read it once more."
        )
        alone = tr(
            "Everything off was read only once. What each circuit gives depends on that one reading. To be sure, read "
            "it once more."
        )
    return at_spot.format(spot=spot) if spot else alone


def read_once(circuits: Sequence[str], rows: Sequence[frozenset[str]]) -> list[str]:
    """The circuits that were live in one reading only, beside those of everything on.

    Args:
        circuits: names on the panel.
        rows: what was live in each reading.
    """
    partial = [row for row in rows if len(row) < len(circuits)]
    return [name for name in circuits if sum(name in row for row in partial) == 1]


def read_once_line(names: Sequence[str]) -> str:
    """What the figures of circuits that were read once rest on, as a sentence; empty for none.

    Args:
        names: of the circuits.
    """
    if not names:
        return ""
    return tr_n(
        "What {names} gives rests on one reading, and on the word that exactly the named circuits were live in it: one "
        "that was forgotten need not show.",
        "What {names} give rests on one reading each, and on the word that exactly the named circuits were live in it: "
        "one that was forgotten need not show.",
        len(names),
    ).format(names=", ".join(names))
