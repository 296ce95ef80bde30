"""What the corrections of a reading make of it: where it counts now, whether it is void, and which do not fit.

In: a reading as it was taken, and its corrections in the order of entering. Out: the reading as it counts. A correction
fits only where the reading was then what it says that it was, so that nothing is done twice, and a row that damage or a
stranger has put there changes nothing.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass, replace

from logger.translation import tr, tr_kept
from logger.visit.records.reading_corrections import (
    CONDITION,
    CORRECTION_KINDS,
    REFERENCE,
    SPOT,
    VALID,
    VOID,
    Placement,
    ReadingCorrection,
    differing_answers,
)
from logger.visit.records.reading_records import Reading


@dataclass(frozen=True, slots=True)
class CorrectionHistory:
    """What came of the corrections of a reading.

    Args:
        placement: where it counts now.
        void: the void that holds; None while the reading is valid.
        applied: the corrections that fit, in their order, voids too.
        misfits: those that do not, each with a sentence on why; nothing came of them.
    """

    placement: Placement
    void: ReadingCorrection | None
    applied: tuple[ReadingCorrection, ...]
    misfits: tuple[tuple[ReadingCorrection, str], ...]


def correction_history(
    as_taken: Placement, corrections: Iterable[ReadingCorrection], spot_ids: Collection[int]
) -> CorrectionHistory:
    """Apply the corrections of one reading, one after the other.

    Args:
        as_taken: where the reading was taken, and with what on.
        corrections: of the reading, in the order of entering.
        spot_ids: of every spot that the visit ever had.
    """
    placement, void = as_taken, None
    applied: list[ReadingCorrection] = []
    misfits: list[tuple[ReadingCorrection, str]] = []
    for correction in corrections:
        if why := _why_misfit(correction, placement, void is not None, spot_ids):
            misfits.append((correction, why))
            continue
        if correction.kind == SPOT:
            placement = replace(
                placement, spot_id=correction.after.spot_id, spot_name=correction.after.spot_name
            )
        elif correction.kind == CONDITION:
            after = correction.after
            placement = replace(placement, condition=after.condition, live=after.live, listed=after.listed)
        elif correction.kind == REFERENCE:
            placement = replace(placement, answers=correction.after.answers)
        elif correction.kind == VOID:
            void = correction
        else:
            void = None
        applied.append(correction)
    return CorrectionHistory(placement, void, tuple(applied), tuple(misfits))


def _why_misfit(
    correction: ReadingCorrection, placement: Placement, is_void: bool, spot_ids: Collection[int]
) -> str:
    """Why a correction does not fit the reading as it was then, in a sentence; empty where it does.

    Args:
        correction: the correction.
        placement: where the reading counted until then.
        is_void: whether it was void.
        spot_ids: of every spot that the visit ever had.
    """
    kind, before, after = correction.kind, correction.before, correction.after
    if kind not in CORRECTION_KINDS:
        return tr("It is of the kind {kind}, which no correction is.").format(kind=repr(kind))
    if kind == VALID:
        return "" if is_void else tr("It withdraws a void, and the reading was not void.")
    if is_void:
        return tr("The reading was void then.")
    if kind == SPOT:
        if after.spot_id not in spot_ids:
            return tr("It moves the reading to a spot that the visit does not have.")
        if not before.same_spot(placement):
            text = tr("It moves the reading from “{spot}”, and it was at “{other}”.")
            return text.format(spot=before.spot_name, other=placement.spot_name)
        return (
            tr("It moves the reading to the spot where it was already.") if after.same_spot(placement) else ""
        )
    if kind == CONDITION:
        if not before.same_condition(placement):
            text = tr("It corrects “{condition}”, and the reading was with “{other}”.")
            return text.format(condition=tr_kept(before.condition), other=tr_kept(placement.condition))
        return tr("It changes nothing.") if after.same_condition(placement) else ""
    if kind == REFERENCE:
        return _why_no_reference(before, after, placement)
    return ""


def _why_no_reference(before: Placement, after: Placement, placement: Placement) -> str:
    """Why a correction of what a reading was read against does not fit, in a sentence; empty where it does.

    Args:
        before: what it says that the reading was read against.
        after: what it corrects that to.
        placement: what the reading was read against until then.
    """
    if before.answers is None or after.answers is None or placement.answers is None:
        return tr("What it says of the reference is lost.")
    if before.answers != placement.answers:
        text = tr("It corrects “{reference}”, and the reading was with “{other}”.")
        return text.format(reference=before.answers.words, other=placement.answers.words)
    return tr("It changes nothing.") if after.answers == placement.answers else ""


def placement_of(reading: Reading) -> Placement:
    """Where a reading counts."""
    return Placement(
        reading.spot_id, reading.spot_name, reading.condition, reading.live, reading.listed, reading.answers
    )


def corrected(reading: Reading, history: CorrectionHistory) -> Reading:
    """A reading as it counts after its corrections.

    Args:
        reading: as it was taken.
        history: what came of its corrections.
    """
    place, void, context = history.placement, history.void, reading.context
    if context is not None and place.answers is not None:
        context = context.with_answers(place.answers)
    return replace(
        reading,
        context=context,
        spot_id=place.spot_id,
        spot_name=place.spot_name,
        condition=place.condition,
        live=place.live,
        listed=place.listed,
        void_reason=void.reason if void else None,
        void_utc_ns=void.utc_ns if void else None,
        corrections=history.applied,
    )


def misfit_sentence(history: CorrectionHistory) -> str:
    """What of the corrections of a reading does not fit, in sentences; empty where all do."""
    text = tr("Correction {number} was not applied: {why}")
    return " ".join(text.format(number=correction.id, why=why) for correction, why in history.misfits)


def doubt_by_correction(reading: Reading) -> str:
    """What a correction of what was on speaks against a reading, in one sentence; empty where none did.

    The value was measured while something else was stated: what was on is then the practitioner's word.
    """
    if not reading.condition_corrected:
        return ""
    was = reading.as_taken.condition
    if was:
        return tr(
            "It was read while “{condition}” was entered. What was on was corrected afterwards, on the "
            "practitioner's word."
        ).format(condition=tr_kept(was))
    return tr(
        "It was read while it was not entered what was on. What was on was corrected afterwards, on the practitioner's "
        "word."
    )


def footnote(reading: Reading) -> str:
    """What a reading was and what it is since, without times; empty where none but a void holds."""
    was = reading.as_taken
    parts = []
    if was.spot_id != reading.spot_id:
        text = tr("read as “{old}”, corrected to “{new}”")
        parts.append(text.format(old=was.spot_name, new=reading.spot_name))
    if reading.condition_corrected:
        old, new = (tr_kept(text) or tr("not entered") for text in (was.condition, reading.condition))
        parts.append(tr("read with “{old}”, corrected to “{new}”").format(old=old, new=new))
    if reading.reference_corrected:
        words = differing_answers(was, placement_of(reading))
        text = tr("read against “{before}”, corrected to “{after}”")
        parts.append(text.format(**words))
    return "; ".join(parts)


def worth_a_note(reading: Reading) -> bool:
    """Whether the corrections of a reading are more than the void that holds, which has a place of its own."""
    return len(reading.corrections) > (0 if reading.void_reason is None else 1)


def same_placement(one: Reading, other: Reading) -> bool:
    """Whether two readings count for the same spot with the same on."""
    here, there = placement_of(one), placement_of(other)
    return here.same_spot(there) and here.same_condition(there)


def sharing_lines(reading: Reading, others: Sequence[Reading]) -> Reading | None:
    """A valid reading that rests on lines of this one; None where none does.

    Args:
        reading: the reading, valid or not.
        others: of the visit.
    """
    if reading.first_line_id is None or reading.last_line_id is None:
        return None
    for other in others:
        if other.id == reading.id or other.void_reason is not None:
            continue
        if other.first_line_id is None or other.last_line_id is None:
            continue
        if other.first_line_id <= reading.last_line_id and reading.first_line_id <= other.last_line_id:
            return other
    return None


def same_stretch_as(reading: Reading, others: Sequence[Reading]) -> Reading | None:
    """A valid reading of the same spot and condition since or before which nothing moved; None where there is none.

    That something moved between two readings is not shown where the later one was taken on the user's word
    (`stated_unchanged`): both would count as two values of one posture, and are one.

    Args:
        reading: as it would count.
        others: of the visit, oldest first, as they count.
    """
    in_run = sorted(
        (
            other
            for other in [*(o for o in others if o.id != reading.id), reading]
            if (other.void_reason is None or other.id == reading.id)
            and other.run_id is not None
            and other.run_id == reading.run_id
            and other.last_line_id is not None
        ),
        key=lambda other: other.last_line_id or 0,
    )
    at = next((index for index, other in enumerate(in_run) if other.id == reading.id), None)
    if at is None:
        return None
    # Backwards while each was taken on the user's word, and forwards the same: all of that is one stretch.
    index = at
    while index > 0 and in_run[index].stated_unchanged:
        index -= 1
        if same_placement(in_run[index], reading):
            return in_run[index]
    index = at + 1
    while index < len(in_run) and in_run[index].stated_unchanged:
        if same_placement(in_run[index], reading):
            return in_run[index]
        index += 1
    return None
