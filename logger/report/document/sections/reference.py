"""What the meter calls zero."""

from __future__ import annotations

from math import isclose

from logger.metrology.checks import NO_CHANGE_PROVES_LITTLE, CheckKind, seen_of_rod
from logger.metrology.reference_error import ROD_PAIR_FACTOR, SHARED_BY_BOTH_RODS_VOLTS, by_pair_of_rods
from logger.metrology.rounding import fixed, plain
from logger.metrology.setup import REFERENCES
from logger.report.document.blocks import Block, Pairs, Section, Text
from logger.report.document.report_data import ReportData
from logger.report.document.sections.details import circumstance_pairs, metres
from logger.report.document.wording import NOT_STATED
from logger.translation import tr, tr_kept


def reference(data: ReportData) -> Section:
    """Build the section."""
    setup = data.setup
    not_stated = tr(NOT_STATED)
    blocks: list[Block] = [
        Pairs(
            (
                (tr("Reference"), tr(REFERENCES[setup.reference]) if setup.reference else not_stated),
                (tr("Soil"), tr_kept(setup.soil) or not_stated),
                (tr("Moisture"), tr_kept(setup.moisture) or not_stated),
                (tr("Rod to main panel"), metres(setup.panel_distance_m) or not_stated),
                (tr("Reference wire"), _wire(data) or not_stated),
                *circumstance_pairs(data),
                (tr("Laptop"), _stated(setup.on_battery, tr("on battery"), tr("on its charger"))),
                (
                    tr("Link to the meter"),
                    _stated(setup.link_isolated, tr("isolated"), tr("not isolated")),
                ),
            )
        )
    ]
    if setup.reference == "earth rod":
        blocks += [Text(text) for text in _of_rod(data)]
    return Section("reference", tr("Reference"), tuple(blocks))


def _of_rod(data: ReportData) -> list[str]:
    """Write how far the rod may be off, and how that follows from its checks."""
    context = next((r.context for r in reversed(data.valid_readings) if r.context is not None), None)
    state = data.setup.reference_state() if context is None else context.reference_state()
    volts = fixed(state.rod_volts, 3)
    if not state.rod_proved:
        text = tr(
            "No second rod proved the rod: it is counted as off by up to {volts} V (ours, no source; more where a "
            "check showed more)."
        )
        return [text.format(volts=volts), tr_kept(NO_CHANGE_PROVES_LITTLE)]
    out = [tr("By the two-rod check the rod may be off by up to {volts} V.").format(volts=volts)]
    seen_volts = _between_rods(data)
    if seen_volts is not None and isclose(by_pair_of_rods(seen_volts), state.rod_volts, rel_tol=1e-3):
        text = tr(
            "{exact} V = √(({factor} × {between} V)² + ({shared} V)²): {between} V is the larger voltage between the "
            "rods with its U, {shared} V is counted for what both rods share. The factor and the share are ours, no "
            "source. The two-rod check compares the voltage between the rods alone with its limit, so it passes by a "
            "smaller figure than what is counted here."
        )
        out.append(
            text.format(
                exact=fixed(by_pair_of_rods(seen_volts), 5),
                factor=plain(ROD_PAIR_FACTOR),
                between=fixed(seen_volts, 5),
                shared=plain(SHARED_BY_BOTH_RODS_VOLTS),
            )
        )
    return [" ".join(out)]


def _between_rods(data: ReportData) -> float | None:
    """The largest voltage that may lie between the rods by the newest two-rod check; None where there is none."""
    check = next((c for c in reversed(data.checks) if c.kind is CheckKind.TWO_RODS and c.steps), None)
    if check is None or check.setup is None:
        return None
    values = {check.kind: [(step.span.volts, step.span.u_volts) for step in check.steps]}
    return seen_of_rod(values, check.setup.meter).between_rods_volts


def _wire(data: ReportData) -> str:
    """The reference wire: its length, and what else was written down of the lead; one length stands once."""
    length, lead = metres(data.setup.wire_length_m), data.circumstances.lead
    if length and lead.startswith(length) and not lead[len(length) : len(length) + 1].isalnum():
        return lead
    return ", ".join(part for part in (length, lead) if part)


def _stated(value: bool | None, yes: str, no: str) -> str:
    return tr(NOT_STATED) if value is None else yes if value else no
