"""Sections for the next professional: method, meter, reference, checks, uncertainty."""

from __future__ import annotations

from logger.metrology.setup import UNKNOWN_METER, MeterFacts, Setup
from logger.metrology.uncertainty import METER, Budget
from logger.report.document.blocks import (
    EXPANDED,
    NBSP,
    Block,
    Figure,
    Figures,
    HeadingBlock,
    Items,
    Pairs,
    Section,
    TableBlock,
    Text,
    joined,
    moment,
)
from logger.report.document.figures import trace_picture
from logger.report.document.report_data import ReportData
from logger.visit.records.records import CheckResult, Reading
from logger.visit.results.on_off_result import budget_of


def method(facts: ReportData) -> Section:
    """How it was measured."""
    setup = facts.setup
    mains = f"{setup.mains_hz:g} Hz" if setup.mains_hz else "frequency not stated"
    return Section(
        "method",
        "Method",
        (
            Text(
                "Body voltage is the AC rms voltage between a person's skin and the reference, read through a meter of "
                "known input impedance. The person holds the probe and keeps still; movement lifts the value, so only "
                "a still span of the trace is taken as a reading. The program looks for such spans while recording; a "
                "motion, a lasting step, a drift, a gap and an overload are told apart from them. A reading is the "
                "mean of its span. A spot read with everything on and with everything off stands as “on (off)”, "
                "such as 0.9 (0.05); “off” means everything that may be switched off."
            ),
            Text(
                "Another meter input, another reference or another posture gives other values at the same spot; "
                "values of two visits are comparable only where these agree."
            ),
            Pairs(
                (
                    ("Household", setup.household or "not stated"),
                    ("Supply", f"{setup.supply or 'not stated'}, {mains}"),
                    ("Target", f"{setup.target_volts:g} V; source: {setup.target_source}"),
                )
            ),
        ),
    )


def meter(facts: ReportData) -> Section:
    """The meter, as it was when the readings were taken; every one that was used."""
    used: list[MeterFacts] = []
    for reading in facts.standing:
        if reading.context is not None and reading.context.setup.meter not in used:
            used.append(reading.context.setup.meter)
    if not used:
        used = [facts.setup.meter]
    blocks: list[Block] = []
    for found in used:
        if len(used) > 1:
            blocks.append(HeadingBlock(found.name))
        blocks += _meter(found)
    return Section("meter", "Meter", tuple(blocks))


def _meter(found: MeterFacts) -> list[Block]:
    def assumed(name: str) -> str:
        return " (assumed: nobody has stated it)" if name in found.assumed else ""

    blocks: list[Block] = [
        Pairs(
            (
                ("Meter", "not described" if found == UNKNOWN_METER else found.name),
                (
                    "Input",
                    f"{found.input_resistance_ohm / 1e6:g} Mohm{assumed('input_resistance_ohm')}, "
                    f"{found.input_capacitance_farad * 1e12:g} pF{assumed('input_capacitance_farad')}",
                ),
                (
                    "True rms",
                    ("yes" if found.true_rms else "no, or not known") + assumed("true_rms"),
                ),
                ("Calibrated on", found.calibrated_on or "not known"),
            )
        ),
        TableBlock(
            "Limits of error by the data sheet" + assumed("accuracy"),
            ("Range up to, V", "% of reading", "counts", "one count, V"),
            tuple(
                (
                    f"{a.up_to_volts:g}",
                    f"{a.percent_of_reading:g}",
                    f"{a.counts:g}",
                    f"{a.resolution_volts:g}",
                )
                for a in found.accuracy
            ),
            frozenset({0, 1, 2, 3}),
        ),
    ]
    return blocks


def reference(facts: ReportData) -> Section:
    """What the meter calls zero."""
    setup = facts.setup
    blocks: list[Block] = [
        Pairs(
            (
                ("Reference", setup.reference or "not stated"),
                ("Soil", setup.soil or "not stated"),
                ("Moisture", setup.moisture or "not stated"),
                ("Rod to main panel", _metres(setup.panel_distance_m)),
                ("Reference wire", _metres(setup.wire_length_m)),
                ("Laptop", _stated(setup.on_battery, "on battery", "on its charger")),
                ("Link to the meter", _stated(setup.link_isolated, "isolated", "not isolated")),
            )
        )
    ]
    rod_volts = next((r.context.rod_volts for r in reversed(facts.standing) if r.context is not None), None)
    if setup.reference == "earth rod":
        blocks.append(
            Text("How far the rod may be off was not checked; the tolerance of the check stands for it.")
            if rod_volts is None
            else Text(f"By its reference check the rod may be off by up to {rod_volts:.4f} V.")
        )
    return Section("reference", "Reference", tuple(blocks))


def _metres(length_m: float | None) -> str:
    return "not stated" if length_m is None else f"{length_m:g} m"


def _stated(value: bool | None, yes: str, no: str) -> str:
    return "not stated" if value is None else yes if value else no


def checks(facts: ReportData) -> Section | None:
    """Every check with its verdict and the traces it rests on; repeated ones too."""
    if not facts.checks:
        return None
    rows = tuple(
        (
            check.kind.capitalize(),
            moment(facts.local(check.utc_ns)),
            check.outcome.verdict.value,
            check.outcome.sentence + _check_note(check, facts),
        )
        for check in facts.checks
    )
    figures = tuple(
        Figure(
            trace_picture(f"check-{check.id}-{number}", f"Trace of the {check.kind}, {name}", excerpt),
            f"{check.kind.capitalize()}, {name}: {excerpt.level_volts:.4f}{NBSP}V",
        )
        for check in facts.checks
        for number, (name, excerpt) in enumerate(facts.check_excerpts[check.id], 1)
    )
    blocks: list[Block] = [
        TableBlock("Checks of meter and reference", ("Check", "Done", "Verdict", "Values"), rows)
    ]
    if figures:
        blocks.append(Figures(figures))
    return Section("checks", "Checks", tuple(blocks))


def _check_note(check: CheckResult, facts: ReportData) -> str:
    notes = []
    if check.id in facts.check_doubts:
        notes.append(facts.check_doubts[check.id])
    if check.setup is not None and not check.setup.proves_for(facts.setup):
        notes.append("Done with another meter or reference than stated last: it proves nothing for these.")
    return f" {' '.join(notes)}" if notes else ""


def uncertainty(facts: ReportData) -> Section | None:
    """How the uncertainty was found, and its budget for every reading that stands."""
    budgets = [(r, b) for r in facts.standing if (b := budget_of(r)) is not None]
    if not budgets:
        return None
    names = list(dict.fromkeys(c.name for _, budget in budgets for c in budget.components))
    rows = tuple(_budget_row(facts, reading, budget, names) for reading, budget in budgets)
    return Section(
        "uncertainty",
        "Uncertainty",
        (
            Text(
                "After the Guide to the Expression of Uncertainty in Measurement (JCGM 100:2008). Each line of the "
                "budget is a standard uncertainty u: type A from the scatter within the still span, its "
                "autocorrelation counted, with half a count of the display; type B from limits, taken as rectangular "
                "(limit divided by the square root of 3). They are combined as the root of the sum of squares, and "
                "expanded with k = 2, about 95 % where the distribution is near normal. A value is called above or "
                "below the target only if it is so by more than its expanded uncertainty."
            ),
            Items(tuple(_bases(budgets, facts.setup))),
            TableBlock(
                "Uncertainty budget of every reading: standard uncertainties, V",
                (
                    "No.",
                    "Spot, condition",
                    "Value, V",
                    *(f"{name} ({_kind(budgets, name)})" for name in names),
                    "combined u",
                    EXPANDED,
                ),
                rows,
                frozenset({0, *range(2, len(names) + 5)}),
                small=True,
            ),
        ),
    )


def _budget_row(facts: ReportData, reading: Reading, budget: Budget, names: list[str]) -> tuple[str, ...]:
    given = {c.name: f"{c.u_volts:.5f}" for c in budget.components}
    return (
        str(reading.id),
        f"{reading.spot_name}, {reading.condition or 'condition not stated'}",
        f"{budget.volts:.5f}",
        *(given.get(name, "–") for name in names),
        f"{budget.u_volts:.5f}",
        f"{budget.expanded_volts:.5f}",
    )


def _kind(budgets: list[tuple[Reading, Budget]], name: str) -> str:
    return next(c.kind for _, budget in budgets for c in budget.components if c.name == name)


def _bases(budgets: list[tuple[Reading, Budget]], setup: Setup) -> list[str]:
    """What each component rests on, once each; the meter's limits differ from reading to reading."""
    bases: dict[str, list[str]] = {}
    for _, budget in budgets:
        for c in budget.components:
            known = bases.setdefault(c.name, [])
            if c.basis not in known:
                known.append(c.basis)
    out = []
    for name, known in bases.items():
        if name == METER:
            out.append(
                f"{name}: % of reading plus counts of the range, rectangular; see the table of the meter"
            )
        else:
            out.append(f"{name}: {joined(known)}")
    if missing := setup.missing():
        out.append(f"not stated, and counted as the worse of both: {joined(missing)}")
    return out
