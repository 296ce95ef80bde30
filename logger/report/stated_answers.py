"""What was answered on set-up and circumstances, by the readings that it held for: for the report.

In: what held for each valid reading and night of a visit, and what is stated now. Out: each answer with the readings it
held for. What was answered differently after the last reading holds for none of them, and is named as such.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from typing import Any


@dataclass(frozen=True, slots=True)
class HeldAnswer:
    """An answer to one question of the set-up.

    Args:
        value: as the set-up has it; None or empty where nobody has answered.
        reading_ids: of the valid readings that it held for.
        answered_later: nobody had answered when those were taken; it is the first answer since.
        of_night: whether it held in a night.
    """

    value: Any
    reading_ids: tuple[int, ...]
    answered_later: bool = False
    of_night: bool = False

    @property
    def is_used(self) -> bool:
        """Whether anything was read with it."""
        return self.of_night or bool(self.reading_ids)


@dataclass(frozen=True, slots=True)
class ReadWith:
    """What held for a reading.

    Args:
        reading_id: of it.
        value: the answer to a question.
        answered_later: nobody had answered when it was taken.
    """

    reading_id: int
    value: Any
    answered_later: bool = False


def held_answers(readings: Sequence[ReadWith], of_nights: Collection[Any], newest: Any) -> list[HeldAnswer]:
    """List the answers to a question in the order in which they were read with; the newest one last, where it is new.

    Args:
        readings: what held for each, oldest first.
        of_nights: the answers that held in nights.
        newest: what is stated now.
    """
    found: dict[tuple[Any, bool], list[int]] = {}
    for one in readings:
        found.setdefault((one.value, one.answered_later), []).append(one.reading_id)
    held = [
        HeldAnswer(value, tuple(ids), later, not later and value in of_nights)
        for (value, later), ids in found.items()
    ]
    known = {answer.value for answer in held if not answer.answered_later}
    held += [HeldAnswer(value, (), of_night=True) for value in dict.fromkeys(of_nights) if value not in known]
    if newest not in [answer.value for answer in held]:
        held.append(HeldAnswer(newest, ()))
    return held


def numbers_text(ids: Sequence[int]) -> str:
    """The numbers of readings, those that follow one another as a range: 1–4, 7.

    Args:
        ids: in rising order.
    """
    ranges: list[list[int]] = []
    for number in ids:
        if ranges and number == ranges[-1][1] + 1:
            ranges[-1][1] = number
        else:
            ranges.append([number, number])
    return ", ".join(f"{first}–{last}" if last > first else str(first) for first, last in ranges)
