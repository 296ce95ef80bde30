"""What a remedy brings, in a sentence or two: by reading again where that was done, else as worked out."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from logger.metrology.rounding import fixed
from logger.name_list import joined
from logger.plan.planned_remedy import PlannedRemedy, ProofVerdict, RemedyResult, SpotChange, SpotPrediction
from logger.plan.remedy_text import READ_SWAPPED_FIRST
from logger.plan.solver.prediction import Rise
from logger.translation import tr

MAX_SPOTS = 2
"""Spots that a line of the plan names, those with the largest change."""

DECIMALS = 2
"""As on the first page."""


def effect_text(remedy: PlannedRemedy) -> str:
    """What a remedy has brought, or what it would bring by itself.

    Args:
        remedy: of the plan.
    """
    if remedy.result is not None:
        return _result_text(remedy.result)
    return prediction_text(remedy.predictions) or tr(
        "Nobody can say beforehand what it brings: read again afterwards."
    )


def prediction_text(predictions: Sequence[SpotPrediction]) -> str:
    """What is worked out at the spots that change most, and where it rises; empty where nothing is predicted.

    Args:
        predictions: at each spot that was swept.
    """
    known = [spot for spot in predictions if not spot.refusal and not spot.tells_nothing]
    falling = sorted(
        (spot for spot in known if spot.rises is not Rise.YES and _fall_volts(spot) > 0.0),
        key=_fall_volts,
        reverse=True,
    )
    sentences = [_prediction(spot) for spot in falling[:MAX_SPOTS]]
    sentences += [
        tr("“{spot}”: about {volts} V.").format(spot=spot.spot_name, volts=_volts(spot.volts))
        for spot in known
        if spot.before_volts is None and spot.volts is not None and spot.rises is not Rise.YES
    ]
    sentences += [
        tr("At “{spot}” it rises to about {volts} V.").format(spot=spot.spot_name, volts=_volts(spot.volts))
        for spot in known
        if spot.rises is Rise.YES and spot.volts is not None
    ]
    if may := [spot.spot_name for spot in known if spot.rises is Rise.MAY]:
        sentences.append(tr("It may rise at {spots}.").format(spots=_quoted(may)))
    if any(spot.may_be_swapped for spot in predictions):
        return " ".join((*sentences, tr(READ_SWAPPED_FIRST)))
    if known and not sentences:
        return tr("Worked out, not measured: hardly any change.")
    return " ".join(sentences)


def _fall_volts(spot: SpotPrediction) -> float:
    left = spot.volts if spot.volts is not None else spot.lowest_volts
    return 0.0 if left is None or spot.before_volts is None else spot.before_volts - left


def _prediction(spot: SpotPrediction) -> str:
    if spot.volts is None:
        text = tr("At best from {before} V to {after} V at “{spot}”; how much depends on the work.")
        return text.format(
            spot=spot.spot_name, before=_volts(spot.before_volts), after=_volts(spot.lowest_volts)
        )
    text = (
        tr("Read: from about {before} V to about {after} V at “{spot}”.")
        if spot.is_read
        else tr("Worked out, not measured: from {before} V to about {after} V at “{spot}”.")
        if spot.is_known
        else tr("A guess, to be read: from {before} V to perhaps {after} V at “{spot}”.")
    )
    return text.format(spot=spot.spot_name, before=_volts(spot.before_volts), after=_volts(spot.volts))


def _result_text(result: RemedyResult) -> str:
    sentences = [_verdict_text(result)]
    if result.together_with:
        text = tr("That is the result of this and {others} together.")
        sentences.append(text.format(others=joined(result.together_with)))
    if result.simulated:
        sentences.append(tr("The readings are simulated."))
    return " ".join((*sentences, *result.doubts))


def _verdict_text(result: RemedyResult) -> str:
    compared = [change for change in result.changes if change.difference is not None]
    match result.verdict:
        case ProofVerdict.PROVEN:
            fallen = [change for change in compared if change.fall_volts > 0.0]
            return tr("Read again, it is lower: {changes}.").format(changes=_changes(fallen))
        case ProofVerdict.WORSE:
            risen = [change for change in compared if change.rise_volts > 0.0]
            return tr("Read again, it is higher: {changes}.").format(changes=_changes(risen))
        case ProofVerdict.NO_EFFECT:
            return tr("Read again, nothing has changed: {changes}.").format(changes=_changes(compared))
        case ProofVerdict.NOT_TOLD_APART:
            return tr("Read again, the difference is too small to tell: {changes}.").format(
                changes=_changes(compared)
            )
        case ProofVerdict.NOT_COMPARABLE:
            why = " ".join(dict.fromkeys(change.why_not for change in result.changes if change.why_not))
            return tr("What was read before and after cannot be compared. {why}").format(why=why).strip()
        case ProofVerdict.NOT_READ:
            if not result.unread:
                return tr("Not read again yet: whether it helps is not known.")
            text = tr("Not read again yet at {spots}: whether it helps is not known.")
            return text.format(spots=_quoted(result.unread))


def _changes(changes: Iterable[SpotChange]) -> str:
    text = tr("“{spot}” from about {before} V to about {after} V")
    return joined(
        [
            text.format(
                spot=change.spot_name,
                before=_volts(change.before.volts),
                after=_volts(change.after.volts),
            )
            for change in changes
        ]
    )


def _quoted(names: Iterable[str]) -> str:
    return joined([tr("“{name}”").format(name=name) for name in names])


def _volts(volts: float | None) -> str:
    return "–" if volts is None else fixed(volts, DECIMALS)
