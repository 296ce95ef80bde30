"""What the meter calls zero."""

from __future__ import annotations

from logger.metrology.checks import NO_CHANGE_PROVES_LITTLE
from logger.metrology.rounding import fixed, plain
from logger.metrology.setup import REFERENCES
from logger.report.document.blocks import Block, Pairs, Section, Text
from logger.report.document.report_data import ReportData
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
                (tr("Rod to main panel"), _metres(setup.panel_distance_m)),
                (tr("Reference wire"), _metres(setup.wire_length_m)),
                (tr("Laptop"), _stated(setup.on_battery, tr("on battery"), tr("on its charger"))),
                (
                    tr("Link to the meter"),
                    _stated(setup.link_isolated, tr("isolated"), tr("not isolated")),
                ),
            )
        )
    ]
    if setup.reference == "earth rod":
        context = next((r.context for r in reversed(data.valid_readings) if r.context is not None), None)
        state = setup.reference_state() if context is None else context.reference_state()
        volts = fixed(state.rod_volts, 3)
        if state.rod_proved:
            text = tr("By the two-rod check the rod may be off by up to {volts} V.").format(volts=volts)
        else:
            unproved = tr("No second rod proved the rod: it is counted as off by up to {volts} V.")
            text = f"{unproved.format(volts=volts)} {tr_kept(NO_CHANGE_PROVES_LITTLE)}"
        blocks.append(Text(text))
    return Section("reference", tr("Reference"), tuple(blocks))


def _metres(length_m: float | None) -> str:
    return tr(NOT_STATED) if length_m is None else tr("{metres} m").format(metres=plain(length_m))


def _stated(value: bool | None, yes: str, no: str) -> str:
    return tr(NOT_STATED) if value is None else yes if value else no
