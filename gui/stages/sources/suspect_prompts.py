"""What is asked about a reading of the sweep that may be mistaken."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import partial

from gui.model.sweep_review import VOID_REASONS, SweepReview
from gui.model.wording import reading_text
from gui.shell.prompt import Choice, Prompt
from logger.visit.records.reading_records import Reading

Ask = Callable[[Prompt], None]
"""Shows a prompt."""


def doubt_prompt(review: SweepReview, reading: Reading, doubts: Sequence[str], ask: Ask) -> Prompt:
    """Ask about a reading that was just taken and looks mistaken; it is kept until the user voids it.

    Args:
        review: does what is answered.
        reading: just taken.
        doubts: what speaks against it, in whole sentences.
        ask: shows the prompt for the reason.
    """

    def void_and_read_again() -> None:
        ask(void_prompt(review, reading, ask, then=partial(review.read_again, reading)))

    return Prompt(
        f"Is {reading_text(reading)} right, with {reading.condition}?",
        " ".join([*doubts, "Check the unit, and what is on."]),
        (
            Choice("1", "Keep it: the unit and the breakers are right", lambda: None, ("Return",)),
            Choice("2", "Keep it and read it again", partial(review.read_again, reading)),
            Choice("3", "Void it and read it again", void_and_read_again),
        ),
        escape_text="Decide later. It is kept",
    )


def void_prompt(
    review: SweepReview, reading: Reading, ask: Ask, then: Callable[[], None] = lambda: None
) -> Prompt:
    """Ask why a reading is mistaken, and void it.

    Args:
        review: does what is answered.
        reading: the mistaken one.
        ask: shows the prompt for a reason in one's own words.
        then: done after it was voided.
    """
    what = f"{reading_text(reading)} at “{reading.spot_name}”, {reading.condition}."

    def void(reason: str) -> None:
        review.void(reading, reason)
        then()

    def by_words() -> None:
        ask(Prompt("Why is it mistaken?", what, on_text=void, enter_text="Void it", escape_text="Keep it"))

    return Prompt(
        "Why is this reading mistaken?",
        f"{what} It stays in the log with the reason.",
        (
            *(
                Choice(str(n), f"{reason[0].upper()}{reason[1:]}", partial(void, reason))
                for n, reason in enumerate(VOID_REASONS, 1)
            ),
            Choice(str(len(VOID_REASONS) + 1), "Another reason: type it", by_words),
        ),
        escape_text="Keep it",
    )
