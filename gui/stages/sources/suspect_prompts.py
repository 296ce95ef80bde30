"""What is asked about a reading of the sweep that may be mistaken."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import tzinfo
from functools import partial

from gui.model.sweep_controller import SweepController
from gui.model.sweep_review import VOID_REASONS, SweepReview
from gui.model.switching_evidence import RepeatedReading, UnchangedValue
from gui.model.visit_access import Message
from gui.model.wording import clock_text, named_all, reading_text, reading_volts_text, volts_text
from gui.shell.question import Choice, Question
from gui.stages.sources.source_prompts import supply_prompt
from logger.translation import tr, tr_kept
from logger.visit.records.reading_corrections import why_not_reason
from logger.visit.records.reading_records import Reading

Ask = Callable[[Question], None]
"""Shows a prompt."""


def doubt_prompt(review: SweepReview, reading: Reading, doubts: Sequence[str], ask: Ask) -> Question:
    """Ask about a reading that was just taken and looks mistaken; it is kept until the user voids it.

    Args:
        review: does what is answered.
        reading: just taken.
        doubts: what speaks against it, in whole sentences.
        ask: shows the prompt for the reason.
    """

    def ask_supply() -> None:
        ask(supply_prompt(review.sweep_controller))

    def void_and_read_again() -> None:
        ask(void_prompt(review, reading, ask, then=partial(review.read_again, reading)))

    return Question(
        tr("Is {reading} right, with {condition}?").format(
            reading=reading_text(reading), condition=tr_kept(reading.condition)
        ),
        " ".join([*doubts, *causes_text(review)]),
        (
            *([Choice(tr("Look at the supply..."), ask_supply)] if review.is_supply_asked else []),
            Choice(tr("Keep it: the unit (V or mV) and what is on are right"), lambda: None),
            Choice(tr("Keep it and read it again"), partial(review.read_again, reading)),
            Choice(tr("Void it and read it again"), void_and_read_again),
        ),
        escape_text=tr("Decide later. It is kept"),
    )


def causes_text(review: SweepReview) -> list[str]:
    """What may be wrong, the likeliest first, in sentences."""
    causes = review.causes()
    return (
        [tr("Likely causes, in this order:"), *causes] if causes else [tr("Check the unit, and what is on.")]
    )


def repeated_prompt(review: SweepReview, repeated: RepeatedReading) -> Question:
    """Ask whether a reading takes the place of those of the same before it; all are kept until the answer.

    Args:
        review: does what is answered.
        repeated: what is asked about.
    """
    reading, earlier = repeated.reading, repeated.earlier
    values = named_all([f"{reading_volts_text(one)} V" for one in earlier])
    if len(earlier) == 1:
        title = tr("Replace the first ({values}), or keep both?")
        replace = tr("Replace the first ({values})")
        text = tr(
            "“{condition}” at “{spot}” was {values} before, and is {now} V now. Replaced, the first stays in the log "
            "as voided; undo takes that back."
        )
        keep = tr("Keep both")
    else:
        title = tr("Replace the earlier ones ({values}), or keep all?")
        replace = tr("Replace the earlier ones ({values})")
        text = tr(
            "“{condition}” at “{spot}” was {values} before, and is {now} V now. Replaced, the earlier ones stay in "
            "the log as voided; undo takes that back."
        )
        keep = tr("Keep all")
    return Question(
        title.format(values=values),
        text.format(
            condition=tr_kept(reading.condition),
            spot=reading.spot_name,
            values=values,
            now=reading_volts_text(reading),
        ),
        (
            Choice(replace.format(values=values), partial(review.replace, repeated)),
            Choice(keep, lambda: None),
        ),
        escape_text=tr("Decide later. It is kept"),
    )


def which_reading_prompt(
    review: SweepReview, readings: Sequence[Reading], zone: tzinfo | None, ask: Ask
) -> Question:
    """Ask which of several readings of one combination is mistaken.

    Args:
        review: does what is answered.
        readings: the valid ones, oldest first.
        zone: what their times are shown in; None for that of this computer.
        ask: shows the prompt for the reason.
    """
    return Question(
        tr("Which reading is mistaken?"),
        "",
        tuple(
            Choice(
                tr("{reading}, taken {time}").format(
                    reading=reading_text(one), time=clock_text(one.utc_ns, zone)
                ),
                lambda one=one: ask(void_prompt(review, one, ask)),  # type: ignore[misc]
            )
            for one in reversed(readings)
        ),
        escape_text=tr("Keep them"),
    )


def unchanged_prompt(
    sweep: SweepController, unchanged: UnchangedValue, announce: Callable[[Reading | None], None]
) -> Question:
    """Ask whether anything was switched, or the spot is another, where nothing in the trace shows it.

    Nothing is taken before the answer.

    Args:
        sweep: takes the reading on the user's word.
        unchanged: what is asked about.
        announce: called with what was taken on the answer; None when it was refused.
    """
    combination, before = unchanged.pending.combination, unchanged.before
    value = _value_text(sweep, unchanged)
    missing = tr("Part of the trace is missing.") + " " if unchanged.is_parted else ""
    title = missing + (
        tr("The value has not changed since “{condition}” was read at “{spot}”. Was it switched?").format(
            condition=tr_kept(before.condition), spot=before.spot_name
        )
        if before is not None
        else tr("The value is still the one from before “{asked}” was asked for. Was it switched?").format(
            asked=combination.shown
        )
    )

    def again() -> None:
        sweep.choose(combination)
        sweep.controller.message = Message(
            tr("Not taken. Set: {asked}. Take it when it is switched.").format(asked=combination.shown)
        )

    if (elsewhere := unchanged.elsewhere) is not None:
        return Question(
            tr("{not_moved} Is this “{spot}”?").format(
                not_moved=elsewhere.not_moved, spot=unchanged.pending.spot.name
            ),
            tr(
                "This reading needs: {asked}. {value} The recording does not show that you moved. If you answer yes, "
                "the value counts, with that remark."
            ).format(asked=combination.shown, value=value)
            + _list_text(sweep, unchanged),
            (
                Choice(
                    tr("Yes, take it"),
                    lambda: announce(sweep.take_unchanged(unchanged)),
                ),
                Choice(tr("Move first, then read again"), again, default=True),
            ),
            escape_text=tr("Cancel"),
        )
    return Question(
        title,
        _text_of(unchanged).format(asked=combination.shown, value=value) + _list_text(sweep, unchanged),
        (
            Choice(
                tr("Yes, it was switched and nothing changed"),
                lambda: announce(sweep.take_unchanged(unchanged)),
            ),
            Choice(tr("Read again: switch it now"), again, default=True),
        ),
        escape_text=tr("Cancel"),
    )


def _text_of(unchanged: UnchangedValue) -> str:
    """What has to be set, and what an answer of yes means; with places for that and for the value."""
    if unchanged.moved:
        return tr("This reading needs: {asked}. {value} Look at the panel before you answer.")
    return tr(
        "This reading needs: {asked}. {value} The recording does not show that anything was switched. If it was, the "
        "value counts: then that changes nothing here."
    )


def _list_text(sweep: SweepController, unchanged: UnchangedValue) -> str:
    """That the word of the user alone confirms no list, and what does; empty for what is no reading of a list."""
    if not sweep.is_of_a_list(unchanged.pending.combination):
        return ""
    return " " + tr(
        "It cannot confirm tonight's list, though: for that, switch off something that changes the value, switch it "
        "on again, and read this once more."
    )


def _value_text(sweep: SweepController, unchanged: UnchangedValue) -> str:
    """What the readout shows, with its figures, and what of it would be taken where that is something else."""
    snapshot, u_volts = sweep.controller.snapshot, unchanged.promised.span.u_volts
    shown, taken = (
        volts_text(volts, snapshot.budget_of_level(volts, u_volts).u_volts)
        for volts in (unchanged.promised.span.volts, unchanged.volts)
    )
    if shown == taken:
        return tr("The meter shows {shown} V.").format(shown=shown)
    return tr(
        "The meter shows {shown} V, and {taken} V since it was to be switched: that would be taken."
    ).format(shown=shown, taken=taken)


def void_prompt(
    review: SweepReview, reading: Reading, ask: Ask, then: Callable[[], None] = lambda: None
) -> Question:
    """Ask why a reading is mistaken, and void it.

    Args:
        review: does what is answered.
        reading: the mistaken one.
        ask: shows the prompt for a reason in one's own words.
        then: done after it was voided.
    """
    what = tr("{reading} at “{spot}”, {condition}.").format(
        reading=reading_text(reading), spot=reading.spot_name, condition=tr_kept(reading.condition)
    )

    def void(reason: str) -> None:
        review.void(reading, reason)
        then()

    def by_words() -> None:
        ask(
            Question(
                tr("Why is it mistaken?"),
                what,
                on_text=void,
                enter_text=tr("Void it"),
                escape_text=tr("Keep it"),
                why_invalid=why_not_reason,
            )
        )

    return Question(
        tr("Why is this reading mistaken?"),
        tr("{what} It stays in the log with the reason.").format(what=what),
        (
            *(Choice(tr_kept(reason), partial(void, reason)) for reason in VOID_REASONS),
            Choice(tr("Another reason: type it"), by_words),
        ),
        escape_text=tr("Keep it"),
    )
