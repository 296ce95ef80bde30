"""What is said of the parts of a recording that are not of its night: why, and how high the value was there.

In: a night and a part of its recording. Out: words, for page, window, report and the comparison of two nights.
"""

from __future__ import annotations

from logger.metrology.rounding import fixed
from logger.night.night_edges import NOT_STEADY, LeftOut
from logger.night.recorded_nights import Night
from logger.translation import tr


def left_out_note(part: LeftOut) -> str:
    """Say in a few words why a part is left out, and how high it was.

    Args:
        part: of the recording.
    """
    if part.volts is None:
        return tr(part.why)
    low, high = (fixed(volts, 3) for volts in part.volts)
    text = (
        tr("{why}; {low} to {high} V there (5th to 95th percentile), higher than the night")
        if part.is_higher
        else tr("{why}; {low} to {high} V there (5th to 95th percentile)")
    )
    return text.format(why=tr(part.why), low=low, high=high)


def left_out_sentences(night: Night, part: LeftOut) -> str:
    """Say that a part is left out, why, how high it was, and what that means for what is said of the night.

    Args:
        night: the night.
        part: of its recording.
    """
    sentences = [
        tr("{stretch} is left out: {why}.").format(
            stretch=night.left_out_text(part.stretch), why=tr(part.why)
        )
    ]
    if part.volts is not None:
        low, high = (fixed(volts, 2) for volts in part.volts)
        text = tr("The value was between {low} V and {high} V then (5th to 95th percentile).")
        sentences.append(text.format(low=low, high=high))
    if part.hides_a_level:
        sentences.append(
            tr(
                "That is higher than all that is said of the night, which is not shown to have been low throughout."
            )
        )
    elif part.may_hide_a_level:
        sentences.append(
            tr(
                "That is higher than in the night, by moving or by something that was on: the night is not shown to "
                "have been low throughout."
            )
        )
    elif part.why == NOT_STEADY:
        sentences.append(tr("Nothing said of the night is of that time."))
    return " ".join(sentences)
