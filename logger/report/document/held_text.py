"""Answers on set-up and circumstances in words, each with the readings that it held for where they differ."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from logger.report.document.wording import NOT_STATED
from logger.report.stated_answers import HeldAnswer, numbers_text
from logger.translation import tr, tr_n


def held_text(answers: list[HeldAnswer], shown: Callable[[Any], str]) -> str:
    """Write what was answered, and where that changed, for which readings each answer held; empty where nobody has.

    Args:
        answers: to one question.
        shown: an answer in words; empty where nobody has answered.
    """
    of_word: dict[str, HeldAnswer] = {}
    for answer in answers:
        word = shown(answer.value)
        same = of_word.get(word, answer)
        ids = {*same.reading_ids, *answer.reading_ids}
        of_word[word] = HeldAnswer(
            answer.value, tuple(sorted(ids)), of_night=same.of_night or answer.of_night
        )
    if len(of_word) == 1:
        return next(iter(of_word))
    return "; ".join(_held_for(answer, word or tr(NOT_STATED)) for word, answer in of_word.items())


def _held_for(answer: HeldAnswer, word: str) -> str:
    n, numbers = len(answer.reading_ids), numbers_text(answer.reading_ids)
    if not answer.is_used:
        return tr("{answer} (entered since: nothing was read with it)").format(answer=word)
    if not answer.reading_ids:
        return tr("{answer} (at night)").format(answer=word)
    if answer.of_night:
        text = tr_n(
            "{answer} (reading {numbers}, and at night)", "{answer} (readings {numbers}, and at night)", n
        )
    else:
        text = tr_n("{answer} (reading {numbers})", "{answer} (readings {numbers})", n)
    return text.format(answer=word, numbers=numbers)
