"""How the uncertainty was found, and the budget of each reading."""

from __future__ import annotations

from logger.metrology.rounding import fixed
from logger.metrology.setup import Setup
from logger.metrology.uncertainty import METER, RECTANGULAR, WAVEFORM, Budget
from logger.name_list import joined
from logger.report.document.blocks import Items, Section, TableBlock, Text
from logger.report.document.report_data import ReportData
from logger.report.document.wording import EXPANDED, condition_text
from logger.translation import tr, tr_kept
from logger.visit.records.condition import EVERYTHING_OFF
from logger.visit.records.reading_records import Reading
from logger.visit.results.on_off_result import budget_of, off_limit_note
from logger.visit.results.posture_repeats import repeatability_on_site


def uncertainty(data: ReportData) -> Section | None:
    """Build the section; None where no reading has a budget."""
    budgets = [(r, b) for r in data.valid_readings if (b := budget_of(r)) is not None]
    if not budgets:
        return None
    names = list(dict.fromkeys(c.name for _, budget in budgets for c in budget.components))
    rows = tuple(_budget_row(data, reading, budget, names) for reading, budget in budgets)
    limited = (off_limit_note(budget) for r, budget in budgets if r.condition == EVERYTHING_OFF)
    notes = [Text(note) for note in dict.fromkeys(filter(None, limited))]
    repeats = tr(
        "A difference of two readings also counts how well the posture repeats once it was left and taken up again, as "
        "a standard deviation: {basis}."
    )
    return Section(
        "uncertainty",
        tr("Uncertainty"),
        (
            Text(
                tr(
                    "After the Guide to the Expression of Uncertainty in Measurement (JCGM 100:2008). Each line of the "
                    "budget is a standard uncertainty u: type A from the scatter within the still span, its "
                    "autocorrelation counted, with half a count of the display; type B from limits, taken as "
                    "rectangular (limit divided by the square root of 3). They are combined as the root of the sum of "
                    "squares, and expanded with k = 2, about 95 % where the distribution is near normal. A value is "
                    "called above or below the target only if it is so by more than its expanded uncertainty."
                )
            ),
            Items(tuple(_bases(budgets, data.setup))),
            *notes,
            Text(repeats.format(basis=tr_kept(repeatability_on_site(data.readings).basis))),
            TableBlock(
                tr("Uncertainty budget of every reading: standard uncertainties, V"),
                (
                    tr("No."),
                    tr("Spot, condition"),
                    tr("Value, V"),
                    *(f"{tr_kept(name)} ({_kind(budgets, name)})" for name in names),
                    tr("combined u"),
                    EXPANDED,
                ),
                rows,
                frozenset({0, *range(2, len(names) + 5)}),
                small=True,
            ),
        ),
    )


def _budget_row(data: ReportData, reading: Reading, budget: Budget, names: list[str]) -> tuple[str, ...]:
    given = {c.name: fixed(c.u_volts, 5) for c in budget.components}
    return (
        str(reading.id),
        tr("{spot}, {condition}").format(spot=reading.spot_name, condition=condition_text(reading.condition)),
        fixed(budget.volts, 5),
        *(given.get(name, "–") for name in names),
        fixed(budget.u_volts, 5),
        "–" if reading.id in data.contradicting else fixed(budget.expanded_volts, 5),
    )


def _kind(budgets: list[tuple[Reading, Budget]], name: str) -> str:
    return next(c.kind for _, budget in budgets for c in budget.components if c.name == name)


def _bases(budgets: list[tuple[Reading, Budget]], setup: Setup) -> list[str]:
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
    if missing := setup.missing():
        text = tr("not stated, and counted as the worse of both: {what}")
        out.append(text.format(what=joined(missing)))
    return out
