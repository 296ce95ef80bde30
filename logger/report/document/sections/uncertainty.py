"""How the uncertainty was found, and the budget of each reading."""

from __future__ import annotations

from math import hypot

from logger.metrology.difference import shared_gain
from logger.metrology.posture import DEFAULT_DEGREES, POSTURE
from logger.metrology.rounding import fixed, plain, rounded
from logger.metrology.uncertainty import METER, RECTANGULAR, REFERENCE, WAVEFORM, Budget
from logger.name_list import joined
from logger.report.document.blocks import Items, Section, TableBlock, Text
from logger.report.document.report_data import ReportData
from logger.report.document.wording import expanded, millivolts, volts_with_u
from logger.translation import marked, tr, tr_kept, with_percent
from logger.visit.records.condition import EVERYTHING_OFF
from logger.visit.records.reading_records import Reading
from logger.visit.results.on_off_result import SpotResult, budget_of, off_limit_note
from logger.visit.results.posture_repeats import (
    WhyNoRepeat,
    repeat_groups,
    repeatability_on_site,
    uncounted_repeats,
)
from logger.visit.results.simulated_readings import measured_or_all_simulated

_WHAT_U_COUNTS = (
    marked("of a reading: its budget below, with meter and reference, at the posture of that moment"),
    marked("of a check: the meter and the steady span, without the reference"),
    marked(
        "of on − off: both budgets, and the posture twice. For one meter on one range its percent of reading count "
        "only for the difference, since they err alike in both; its counts count in both"
    ),
    marked("of a named step: its change alone, since meter and reference are the same before and after"),
    marked("of switching something on and off: its steps and their scatter, and the posture once"),
    marked(
        "of what the model gives: the fit, in which the posture counts anew in each reading. It is widened to what "
        "the readings leave possible, and to what one mistaken reading would change"
    ),
    marked(
        "of a level of a night: meter and reference as of a reading; of the mean of a night that is compared with "
        "another also how much the level varied within it"
    ),
)
"""The rule behind each U of the report; each goes through `tr`."""


def uncertainty(data: ReportData) -> Section | None:
    """Build the section; None where no reading has a budget."""
    budgets = [(r, b) for r in data.valid_readings if (b := budget_of(r)) is not None]
    if not budgets:
        return None
    names = list(dict.fromkeys(c.name for _, budget in budgets for c in budget.components))
    rows = tuple(_budget_row(data, reading, budget, names) for reading, budget in budgets)
    limited = (off_limit_note(budget) for r, budget in budgets if r.condition == EVERYTHING_OFF)
    notes = [Text(note) for note in dict.fromkeys(filter(None, limited))]
    return Section(
        "uncertainty",
        tr("Uncertainty"),
        (
            Text(
                with_percent(
                    tr(
                        "After the Guide to the Expression of Uncertainty in Measurement (JCGM 100:2008). Each "
                        "line of the budget is a standard uncertainty u: type A from the steady span itself "
                        "(“still span” in the lines), its autocorrelation counted; type B from limits, taken "
                        "as rectangular (limit divided by the square root of 3). They are combined as the root "
                        "of the sum of squares, and U = 2 u (k = 2), about 95 % where the distribution is near "
                        "normal. A value is called above or below the target only if it is above or below it "
                        "by more than U; one with everything off is below it if its “at most” is."
                    )
                )
            ),
            Items(tuple(map(with_percent, _bases(budgets)))),
            *notes,
            *(Text(with_percent(text)) for text in _of_differences(data)),
            Text(tr("What each U includes (always k = 2):")),
            Items(tuple(map(tr, _WHAT_U_COUNTS))),
            TableBlock(
                tr(
                    "Uncertainty budget of every reading, by its number in “Readings”: standard uncertainties u in mV"
                ),
                (
                    tr("No."),
                    tr("Spot"),
                    *(f"{tr_kept(name)} ({_kind(budgets, name)})" for name in names),
                    tr("combined u"),
                    expanded(tr("Value")),
                ),
                rows,
                frozenset({0, *range(2, len(names) + 4)}),
                small=True,
            ),
            Text(
                tr(
                    "“–”: this column adds nothing to the uncertainty of the reading. Tilt, averaging and scatter "
                    "share the uncertainty of the steady span: where tilt and averaging explain all of it, “–” "
                    "stands under scatter. U is 2 × u before rounding, so two readings that show the same u may "
                    "differ by one in the last digit of U."
                )
            ),
        ),
    )


def _of_differences(data: ReportData) -> list[str]:
    """Write what the posture adds to a difference: how that was found, and one difference worked out."""
    readings = measured_or_all_simulated(data.readings)
    repeatability = repeatability_on_site(readings)
    out = [
        tr(
            "A difference of two readings also counts how well the posture repeats once it was left and taken up "
            "again. Its standard deviation: {basis}. The assumed value counts with {assumed} degrees of freedom (no "
            "source), each repeat with one, and both are pooled by these: {degrees} in all. As that rests on few "
            "readings, it is counted {factor} times (Student's t for {degrees}, over 2): u = {share}% of each value."
        ).format(
            assumed=plain(DEFAULT_DEGREES),
            basis=tr_kept(repeatability.basis),
            factor=fixed(repeatability.u_share / repeatability.share, 3),
            degrees=plain(repeatability.degrees),
            share=fixed(100.0 * repeatability.u_share, 1),
        )
    ]
    pairs = ["+".join(str(reading.id) for reading in group) for group in repeat_groups(readings)]
    if repeatability.repeats and pairs:
        out[0] += " " + tr("The repeats are readings {pairs}.").format(pairs=joined(pairs))
    out += _not_counted(readings)
    found = ((spot.name, data.results[spot.id].difference()) for spot in data.spots)
    name, change = next(((name, change) for name, change in found if change is not None), ("", None))
    if change is not None:
        out.append(_worked_out(name, change))
        spot = next(spot for spot in data.spots if spot.name == name)
        if formula := _meter_formula(data.results[spot.id], change):
            out[-1] = " ".join((out[-1], formula))
    return out


def _not_counted(readings: list[Reading]) -> list[str]:
    """Write which readings of one spot in one condition count as no repeats, and why."""
    texts = {
        WhyNoRepeat.NOISE: tr(
            "Read again too low to show the posture above its own noise: readings {pairs}."
        ),
        WhyNoRepeat.SAME_POSTURE: tr(
            "Read again without leaving the posture for long enough in between, or with something else changed: "
            "readings {pairs}."
        ),
    }
    found: dict[WhyNoRepeat, list[str]] = {}
    for why, group in uncounted_repeats(readings):
        found.setdefault(why, []).append("+".join(str(reading.id) for reading in group))
    said = [texts[why].format(pairs=joined(pairs)) for why, pairs in found.items()]
    return [" ".join((tr("Not counted as repeats:"), *said))] if said else []


def _worked_out(name: str, change: Budget) -> str:
    """The U of one difference from its parts."""
    parts = {"posture": 0.0, "reference": 0.0, "meter": 0.0, "span": 0.0}
    for component in change.components:
        kept = component.name.removesuffix(f" ({component.of})")
        part = (
            "posture"
            if kept == POSTURE
            else "reference"
            if kept.startswith(REFERENCE)
            else "meter"
            if kept in (METER, WAVEFORM)
            else "span"
        )
        parts[part] = hypot(parts[part], component.u_volts)
    text = tr(
        "So at “{name}”, of on − off: posture {posture} mV, reference {reference} mV, meter {meter} mV, "
        "both steady spans {span} mV; root of the sum of squares {u} mV, and U = 2 u = {expanded} V."
    )
    return text.format(
        name=name,
        u=millivolts(change.u_volts),
        expanded=rounded(change.volts, change.expanded_volts).expanded,
        **{part: millivolts(u_volts) for part, u_volts in parts.items()},
    )


def _meter_formula(result: SpotResult, change: Budget) -> str:
    """How the meter's part of a difference follows from its data sheet; empty where each value has its own error."""
    if result.on is None or result.off is None or result.on.context is None or result.off.context is None:
        return ""
    if any(component.name.startswith(WAVEFORM) for component in change.components):
        return ""
    volts = (result.on.volts, result.off.volts)
    gain = shared_gain(result.on.context, result.off.context, volts, same_visit=True)
    if gain is None:
        return ""
    text = tr(
        "The meter's part is ({percent}% of {difference} V + √(({on} mV)² + ({off} mV)²)) / √3: the percent of its "
        "limits act on the difference, its counts on each value by itself."
    )
    on, off = (1e3 * gain.offset_limit_volts(abs(value)) for value in volts)
    return with_percent(
        text.format(
            percent=plain(round(gain.percent_of_reading, 2)),
            difference=fixed(change.volts, 3),
            on=plain(on),
            off=plain(off),
        )
    )


def _budget_row(data: ReportData, reading: Reading, budget: Budget, names: list[str]) -> tuple[str, ...]:
    given = {c.name: millivolts(c.u_volts) for c in budget.components}
    is_doubted = reading.id in data.contradicting
    return (
        str(reading.id),
        reading.spot_name,
        *(given.get(name, "–") for name in names),
        millivolts(budget.u_volts),
        rounded(budget.volts).volts if is_doubted else volts_with_u(budget),
    )


def _kind(budgets: list[tuple[Reading, Budget]], name: str) -> str:
    return next(c.kind for _, budget in budgets for c in budget.components if c.name == name)


def _bases(budgets: list[tuple[Reading, Budget]]) -> list[str]:
    """List what each component rests on, once each; the meter's limits differ from reading to reading."""
    bases: dict[str, list[str]] = {}
    for _, budget in budgets:
        for c in budget.components:
            known = bases.setdefault(c.name, [])
            if c.basis not in known:
                known.append(c.basis)
    out = []
    for name, known in bases.items():
        if name == METER:
            text = tr(
                "{name}: % of reading plus counts of the range, rectangular; see the table of the meter"
            )
            out.append(text.format(name=tr_kept(name)))
        elif name == WAVEFORM and len(known) > 1:
            half_widths = [
                RECTANGULAR * c.u_volts for _, budget in budgets for c in budget.components if c.name == name
            ]
            text = tr("{name}: a share of the reading, here ±{low} V to ±{high} V, rectangular")
            out.append(
                text.format(
                    name=tr_kept(name), low=fixed(min(half_widths), 3), high=fixed(max(half_widths), 3)
                )
            )
        else:
            out.append(
                tr("{name}: {what}").format(
                    name=tr_kept(name), what=joined([tr_kept(basis) for basis in known])
                )
            )
    contexts = [r.context for r, _ in budgets if r.context is not None]
    if missing := list(dict.fromkeys(what for c in contexts for what in c.setup_as_known.missing())):
        text = tr("not stated, and counted as the worse of both: {what}")
        out.append(text.format(what=joined(missing)))
    return out
