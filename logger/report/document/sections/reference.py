"""What the meter calls zero."""

from __future__ import annotations

from logger.metrology.checks import NO_CHANGE_PROVES_LITTLE
from logger.report.document.blocks import Block, Pairs, Section, Text
from logger.report.document.report_data import ReportData


def reference(data: ReportData) -> Section:
    """Build the section."""
    setup = data.setup
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
    if setup.reference == "earth rod":
        context = next((r.context for r in reversed(data.valid_readings) if r.context is not None), None)
        state = setup.reference_state() if context is None else context.reference_state()
        blocks.append(
            Text(f"By the two-rod check the rod may be off by up to {state.rod_volts:.3f} V.")
            if state.rod_proved
            else Text(
                f"No second rod proved the rod: it is counted as off by up to {state.rod_volts:.3f} V. "
                f"{NO_CHANGE_PROVES_LITTLE}"
            )
        )
    return Section("reference", "Reference", tuple(blocks))


def _metres(length_m: float | None) -> str:
    return "not stated" if length_m is None else f"{length_m:g} m"


def _stated(value: bool | None, yes: str, no: str) -> str:
    return "not stated" if value is None else yes if value else no
