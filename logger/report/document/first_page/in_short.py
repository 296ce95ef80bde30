"""The report in a few sentences: what was found, what to do tonight, what is not covered, what the target is."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable

from logger.metrology.check_words import check_name
from logger.metrology.checks import REQUIRED_CHECKS, CheckVerdict
from logger.metrology.rounding import fixed, grouped, plain
from logger.metrology.target import TARGET_SOURCE, TARGET_VOLTS
from logger.metrology.uncertainty import Budget, Verdict, compare_off_with, compare_with
from logger.name_list import in_turn, joined, quoted
from logger.report.document.first_page.doubted_list import spots_in_doubt
from logger.report.document.first_page.measured import removed_spots, trust_sentence
from logger.report.document.first_page.missing import checks_not_done
from logger.report.document.first_page.nights import nights_of_the_list
from logger.report.document.report_data import ReportData
from logger.report.document.swapped_readings import may_be_swapped
from logger.report.document.wording import some_of
from logger.sweep.plan_text import NO_LIST
from logger.sweep.read_unproved import read_unproved
from logger.sweep.spot_plan import ReadElsewhere, SpotPlan
from logger.sweep.switch_off_plan import PlanState, SwitchOffPlan
from logger.translation import tr, tr_n
from logger.visit.records.home_records import Spot
from logger.visit.records.reading_records import Reading
from logger.visit.results.on_off_result import budget_of, has_failed_function_check

MAX_NAMED = 6
"""Spots without a list that are named; of more only the number is told."""

MANY_SPOTS, MAX_NAMED_OF_MANY = 12, 2
"""Of more spots fewer are named, so that the page stays one side."""

MAX_OFF_NAMED = 2
"""Of so many spots that were read with everything off each has its value in the sentence."""

MAX_LEFT_ON_NAMED = 3
"""Circuits and cords that stay on and are named in a sentence, where the part “Leave on” names all."""

BOTH = 2
"""Of so many alike nobody says "all"."""

TOO_CLOSE: Verdict = "not distinguishable"
"""Said as “too close to tell” all over the page, and explained once."""

NOT_KNOWN = "not known"
"""Beside the verdicts: no uncertainty is known, or the readings contradict each other."""


def in_short(data: ReportData) -> tuple[tuple[str, str], ...]:
    """Write what everybody has to know, each with a word before it."""
    sentences = (
        (tr("Measured:"), _measured(data)),
        (tr("Found:"), _found(data)),
        (tr("Tonight:"), _tonight(data)),
        (tr("Did it help:"), _helped(data)),
        (tr("How sure:"), " ".join(filter(None, (trust_sentence(data), *checks_not_done(data))))),
        (tr("Not covered:"), _not_covered(data)),
        (tr("The target:"), target_standing(data)),
    )
    return tuple((word, sentence) for word, sentence in sentences if sentence)


def verdict_of(
    reading: Reading, data: ReportData, compare: Callable[[Budget, float], Verdict]
) -> Verdict | None:
    """How a reading compares with the target; None where nobody knows, or a swapped reading would change it.

    Args:
        reading: that is shown.
        data: of the report.
        compare: the rule that holds for it.
    """
    budget = budget_of(reading)
    if budget is None or reading.id in data.contradicting or has_failed_function_check(reading):
        return None
    if may_be_swapped(reading, data, compare):
        return None
    return compare(budget, data.setup.target_volts)


def _measured(data: ReportData) -> str:
    """What was measured, in words that say what the volts are of; empty where nothing was."""
    if not data.valid_readings:
        return ""
    return " ".join(
        (
            tr("The voltage that wiring and cords put on a person's body at the spots of this report."),
            *removed_spots(data),
            tr("Nothing was measured elsewhere."),
        )
    )


def _found(data: ReportData) -> str:
    on = [(spot, reading) for spot in data.spots if (reading := data.results[spot.id].on) is not None]
    off = [reading for spot in data.spots if (reading := data.results[spot.id].off) is not None]
    out = _failed_checks([*(reading for _, reading in on), *off])
    if on:
        counts = counts_text([verdict_of(reading, data, compare_with) for _, reading in on], data)
        out.append(_with_everything_on(counts, on, data))
    if any(data.results[spot.id].off is not None for spot in data.spots):
        out.append(_with_everything_off(data))
    if unread := [spot for spot, _ in on if data.results[spot.id].off is None]:
        text = tr_n(
            "{spots} was not read with everything off.",
            "{spots} were not read with everything off.",
            len(unread),
        )
        out.append(text.format(spots=_some_names(unread)))
    close = [
        spot
        for spot in data.spots
        if any(
            reading is not None and verdict_of(reading, data, compare) == TOO_CLOSE
            for reading, compare in (
                (data.results[spot.id].on, compare_with),
                (data.results[spot.id].off, compare_off_with),
            )
        )
    ]
    if close and len(data.spots) <= MANY_SPOTS:
        text = tr(
            "Too close to tell ({spots}): so near to {target} V that the measurement does not decide it."
        )
        out.append(text.format(spots=_some_names(close), target=plain(data.setup.target_volts)))
    return " ".join(out)


def _with_everything_off(data: ReportData) -> str:
    """Write how the spots are with everything off that may be off; of few spots each with its value."""
    off = [(spot, reading) for spot in data.spots if (reading := data.results[spot.id].off) is not None]
    if len(off) <= MAX_OFF_NAMED:
        what = in_turn([_off_at(spot, reading, data) for spot, reading in off])
    else:
        what = counts_text([verdict_of(reading, data, compare_off_with) for _, reading in off], data)
    stays = [source.name for source in data.sources if source.stays]
    plan = data.tonight
    listed = plan is not None and plan.state is PlanState.CONFIRMED and bool(plan.off or plan.unplug)
    if not stays:
        return tr("With every breaker off: {what}.").format(what=what)
    if listed and len(stays) > MAX_LEFT_ON_NAMED:
        return tr("With every breaker off except what must stay on: {what}.").format(what=what)
    return tr("With every breaker off except {names}: {what}.").format(names=joined(stays), what=what)


def _off_at(spot: Spot, reading: Reading, data: ReportData) -> str:
    target = plain(data.setup.target_volts)
    text = {
        "above": tr("“{spot}” {volts} V, above {target} V"),
        "below": tr("“{spot}” {volts} V, below {target} V"),
        "not distinguishable": tr("“{spot}” {volts} V, too close to tell"),
        None: (
            tr(
                "“{spot}” {volts} V, not certain: two values there may have been written down under each other's name"
            )
            if may_be_swapped(reading, data, compare_off_with)
            else tr("“{spot}” not known")
        ),
    }[verdict_of(reading, data, compare_off_with)]
    return text.format(spot=spot.name, volts=fixed(reading.volts, 2), target=target)


def _failed_checks(readings: list[Reading]) -> list[str]:
    """Write which checks had failed when the values of this page were read, in a sentence; nothing where none had."""
    out = []
    for kind in REQUIRED_CHECKS:
        verdicts = [r.context.verdicts.get(kind) for r in readings if r.context is not None]
        if failed := verdicts.count(CheckVerdict.FAILED):
            text = (
                tr(
                    "The {check} failed before all of these readings: do not rely on them, have them read again."
                )
                if failed == len(readings)
                else tr(
                    "The {check} failed before {n} of these {total} readings: do not rely on those, have them read "
                    "again."
                )
            )
            out.append(text.format(check=check_name(kind), n=grouped(failed), total=grouped(len(readings))))
    return out


def _with_everything_on(counts: str, on: list[tuple[Spot, Reading]], data: ReportData) -> str:
    """Write how the spots are with everything on, and which is the highest of those that do not contradict themselves.

    Args:
        counts: how many are above the target and below, in words.
        on: each spot with its reading.
        data: of the report.
    """
    agreeing = [one for one in on if one[1].id not in data.contradicting]
    if not agreeing:
        return tr("With all breakers on: {counts}.").format(counts=counts)
    highest, reading = max(agreeing, key=lambda one: one[1].volts)
    text = (
        tr("With all breakers on: {counts}, “{spot}” with {volts} V.")
        if len(on) == 1
        else tr("With all breakers on: {counts}; the highest is “{spot}” with {volts} V.")
    )
    return text.format(counts=counts, spot=highest.name, volts=fixed(reading.volts, 2))


def counts_text(verdicts: list[Verdict | None], data: ReportData) -> str:
    """Write how many spots are above the target, too close to tell, below, and not known."""
    counted = Counter(verdict or NOT_KNOWN for verdict in verdicts)
    target = plain(data.setup.target_volts)
    order = [verdict for verdict in ("above", "not distinguishable", "below", NOT_KNOWN) if counted[verdict]]
    first, *others = order
    if not others and len(verdicts) == BOTH:
        text = {
            "above": tr("both spots above {target} V"),
            "not distinguishable": tr("both spots too close to {target} V to tell"),
            "below": tr("both spots below {target} V"),
            NOT_KNOWN: tr("both spots not known"),
        }[first]
        return text.format(target=target)
    if not others and len(verdicts) > 1:
        text = {
            "above": tr("all {n} spots above {target} V"),
            "not distinguishable": tr("all {n} spots too close to {target} V to tell"),
            "below": tr("all {n} spots below {target} V"),
            NOT_KNOWN: tr("all {n} spots not known"),
        }[first]
        return text.format(n=grouped(len(verdicts)), target=target)
    n = counted[first]
    if others:
        text = {
            "above": tr("{n} of {total} spots above {target} V"),
            "not distinguishable": tr("{n} of {total} spots too close to {target} V to tell"),
            "below": tr("{n} of {total} spots below {target} V"),
            NOT_KNOWN: tr("{n} of {total} spots not known"),
        }[first]
    else:
        text = {
            "above": tr("{n} spot above {target} V"),
            "not distinguishable": tr("{n} spot too close to {target} V to tell"),
            "below": tr("{n} spot below {target} V"),
            NOT_KNOWN: tr("{n} spot not known"),
        }[first]
    more = {
        "not distinguishable": tr("{n} too close to tell"),
        "below": tr("{n} below"),
        NOT_KNOWN: tr("{n} not known"),
    }
    return joined(
        [
            text.format(n=grouped(n), total=grouped(len(verdicts)), target=target),
            *(more[verdict].format(n=grouped(counted[verdict])) for verdict in others),
        ]
    )


def _tonight(data: ReportData) -> str:
    plan = data.tonight
    if plan is None:
        if not data.valid_readings:
            return ""
        if unproved := read_unproved(data.readings, [spot.id for spot in data.spots], data.sources):
            return " ".join((tr(NO_LIST), *(one.text for one in unproved)))
        if not data.swept:
            return tr("There is no list of what to switch off: the breakers were not switched one by one.")
        return tr("There is no list of what to switch off: the supply of the home is not stated.")
    if plan.state is not PlanState.CONFIRMED:
        return tr("There is no list yet of what to switch off: leave all breakers on.")
    if not (plan.off or plan.unplug):
        return tr("Nothing has to be switched off: the part “Tonight” says why.")
    return _acts(plan)


def _helped(data: ReportData) -> str:
    """Write what switching the list off did; empty where nothing was read. What stays anyway has its own part."""
    if not data.valid_readings:
        return ""
    plan = data.tonight
    if plan is None or plan.state is not PlanState.CONFIRMED:
        out = [tr("Not known: nothing has been changed yet.")]
    else:
        out = [_reached(plan, data)] if plan.off or plan.unplug else []
    return " ".join(filter(None, out))


def _acts(plan: SwitchOffPlan) -> str:
    off, unplug = len(plan.off), len(plan.unplug)
    acts = []
    if off:
        text = tr_n(
            "Switch off the {n} breaker listed below.",
            "Switch off the {n} breakers listed below.",
            off,
        )
        acts.append(text.format(n=grouped(off)))
    if unplug:
        text = tr_n("Unplug the {n} cord listed below.", "Unplug the {n} cords listed below.", unplug)
        acts.append(text.format(n=grouped(unplug)))
    return " ".join(acts)


def _reached(plan: SwitchOffPlan, data: ReportData) -> str:
    """What was read with the list off, and what the nights tell of it; nothing of a reading in doubt.

    This is the one place of the page that says whether the list is enough. Spots with the same verdict share a
    sentence; what a night tells of one comes after it.
    """
    if spots_in_doubt(data):
        return tr("Whether that is enough is not certain: something speaks against a reading of it.")
    target = plain(plan.target_volts)
    nights = nights_of_the_list(data)
    out = []
    if plan.verdict == "above":
        out.append(tr("It comes nearest to {target} V, but is not below it.").format(target=target))
    alike: dict[tuple[Verdict, bool], list[str]] = {}
    for spot in plan.spots_read:
        verdict, before = spot.verdict(plan.target_volts), _before(spot, data)
        text = (
            tr("“{spot}” {volts} V")
            if before is None
            else tr("“{spot}” from {before} V to about {volts} V")
            if verdict == "not distinguishable"
            else tr("“{spot}” from {before} V to {volts} V")
        )
        before_text = "" if before is None else fixed(before, 2)
        read = text.format(spot=spot.name, volts=fixed(spot.left.volts, 2), before=before_text)
        alike.setdefault((verdict, before is not None), []).append(read)
    for (verdict, fell), several in alike.items():
        out.append(f"{_with_the_list(verdict, several, target, fell=fell)}.")
    for spot in plan.spots_read:
        if spot.spot_id in nights:
            text = tr("{night}.") if len(plan.spots_read) == 1 else tr("At “{spot}”: {night}.")
            out.append(text.format(spot=spot.name, night=nights[spot.spot_id]))
    return " ".join(out)


def _before(spot: SpotPlan | ReadElsewhere, data: ReportData) -> float | None:
    """The value with everything on from which it fell, V; None where it did not fall, or that value is in doubt."""
    result = data.results.get(spot.spot_id)
    on = result.on if result is not None else None
    if on is None or on.id in data.contradicting or on.volts <= spot.left.volts:
        return None
    return on.volts


def _with_the_list(verdict: Verdict, spots: list[str], target: str, *, fell: bool) -> str:
    """How spots compare with the target with just the list off, in a sentence without its stop."""
    if fell:
        text = {
            "above": tr("Measured with just this list off, it fell, but stayed above {target} V: at {spots}"),
            "below": tr("Measured with just this list off, it fell below {target} V: at {spots}"),
            # Of what is too close to tell a household asks why, where the figure alone is below the target.
            "not distinguishable": tr(
                "Measured with just this list off, it fell at {spots}; that may be just under or just over {target} V"
            ),
        }[verdict]
    else:
        text = {
            "above": tr("Measured with just this list off, it was above {target} V: at {spots}"),
            "below": tr("Measured with just this list off, it was below {target} V: at {spots}"),
            "not distinguishable": tr(
                "Measured with just this list off, it was, at {spots}; that may be just under or just over {target} V"
            ),
        }[verdict]
    return text.format(spots=joined(spots), target=target)


def _not_covered(data: ReportData) -> str:
    """Which spots have no list, and what no reading here says anything about."""
    general = tr(
        "This report does not tell about magnetic fields or radio, nor about health, nor whether the wiring is safe "
        "from electric shock."
    )
    return " ".join(filter(None, (_without_a_list(data), general)))


def above_without_a_list(data: ReportData) -> list[Spot]:
    """The spots above the target with everything on that no list was worked out for, the highest first.

    What stays above it with everything off is none of them: there nothing that may be switched off does it.
    """
    plan = data.tonight
    with_list = {spot.spot_id for spot in plan.spots} if plan is not None else set()
    above = [
        (spot, reading.volts)
        for spot in data.spots
        if spot.id not in with_list
        and (reading := data.results[spot.id].on) is not None
        and verdict_of(reading, data, compare_with) == "above"
        and not stays_above(spot, data)
    ]
    return [spot for spot, _ in sorted(above, key=lambda one: -one[1])]


def stays_above(spot: Spot, data: ReportData) -> bool:
    """Whether a spot is above the target with everything off too."""
    off = data.results[spot.id].off
    return off is not None and verdict_of(off, data, compare_off_with) == "above"


def _without_a_list(data: ReportData) -> str:
    plan = data.tonight
    if plan is None or plan.state is not PlanState.CONFIRMED:
        return ""
    target = plain(data.setup.target_volts)
    out = []
    is_many = len(data.spots) > MANY_SPOTS
    with_list = {spot.spot_id for spot in plan.spots}
    stay = [spot for spot in data.spots if spot.id not in with_list and stays_above(spot, data)]
    above = above_without_a_list(data)
    if is_many:
        above, stay = [*above, *stay], []
    if above:
        text = tr_n(
            "For {spots}, above {target} V with everything on, it is not known yet what to switch off: the breakers "
            "were not switched one by one there.",
            "For {spots}, all above {target} V with everything on, it is not known yet what to switch off: the "
            "breakers were not switched one by one there.",
            len(above),
        )
        names = [quoted(spot.name) for spot in above]
        out.append(
            text.format(spots=some_of(names, MAX_NAMED_OF_MANY if is_many else MAX_NAMED), target=target)
        )
    if stay:
        text = (
            tr(
                "At {spots}, above {target} V even with everything off, they were not switched one by one either."
            )
            if above
            else tr(
                "At {spots}, above {target} V even with everything off, the breakers were not switched one by one."
            )
        )
        out.append(text.format(spots=_some_names(stay), target=target))
    return " ".join(out)


def _some_names(spots: list[Spot]) -> str:
    return some_of([quoted(spot.name) for spot in spots], MAX_NAMED)


def target_standing(data: ReportData) -> str:
    """Write what the target is, and what it is not: nobody shall take a rule of the trade for a law."""
    setup = data.setup
    target = plain(setup.target_volts)
    if setup.target_source != TARGET_SOURCE:
        text = tr("{target} V was stated as the target ({source}). This report calls it no health limit.")
        return text.format(target=target, source=setup.target_source)
    if setup.target_volts != TARGET_VOLTS:
        text = tr("{target} V was chosen for this visit. It is no law and no health limit.")
        return text.format(target=target)
    return tr("{target} V is a rule of thumb of the trade, no law and no health limit.").format(target=target)
