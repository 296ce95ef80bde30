"""What is stated once for a visit: each item with its words, how it is asked for, and what leaving it open does."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from gui.model.quantity_entry import LengthUnit, length_text
from gui.stages.prepare.setup_prompts import SetupPrompts
from gui.widgets.badge import GOOD, OPEN, UNCLEAR
from gui.widgets.row_model import ListRow
from logger import cautions
from logger.metrology.setup import UNKNOWN_METER, Setup
from logger.metrology.target import target_source_text

ROD_CAUTION = f"{cautions.DIGGING} {cautions.THUNDERSTORM} {cautions.EARTHING_CODES}"
HOUSEHOLD_CAUTION = f"No names are needed. {cautions.LIVE_CONDUCTOR}"

LAPTOP, METER = "Laptop", "Meter"
"""Names of the items of which the system may know otherwise."""


@dataclass(frozen=True, slots=True)
class SetupItem:
    """One thing that is stated."""

    name: str
    value: Callable[[Setup], str]
    """In words, as stated; empty when it is not."""
    ask: Callable[[SetupPrompts], None]
    needed: bool = False
    """Adds uncertainty while it is not stated."""
    applies: Callable[[Setup], bool] = lambda _: True
    length: Callable[[Setup], float | None] | None = None
    """The length that it is, metres; it is shown in the unit that the user chose."""


def consequence_text(setup: Setup) -> str:
    """What adds uncertainty: because it is not stated, or because it is so."""
    missing = setup.missing()
    named = [
        text
        for text, applies in (
            ("building earth as reference", setup.reference == "building earth"),
            ("laptop on its charger", setup.on_battery is False),
            ("link not isolated", setup.link_isolated is False),
        )
        if applies
    ]
    sentences = []
    if named:
        sentences.append(f"Adds uncertainty, and is named on every reading: {', '.join(named)}.")
    if missing:
        sentences.append(
            f"Not stated, which adds uncertainty too: {', '.join(missing)}."
            if named
            else f"Not stated, which adds uncertainty: {', '.join(missing)}."
        )
    if _meter_text(setup) and (guessed := _guessed_of_meter(setup)):
        sentences.append(f"Of the meter a cautious guess counts for: {', '.join(guessed)}.")
    return "\n".join(sentences) or "Nothing here adds uncertainty."


def _is_rod(setup: Setup) -> bool:
    return setup.reference == "earth rod"


def _yes_no(value: bool | None, yes: str, no: str) -> str:
    return "" if value is None else (yes if value else no)


def _guessed_of_meter(setup: Setup) -> list[str]:
    """Name what nobody has stated of the meter and what a usual value stands for.

    Whether the link is isolated is stated in a row of its own. No value stands for the day of the calibration.
    """
    names = {
        "accuracy": "accuracy",
        "input_resistance_ohm": "input resistance",
        "input_capacitance_farad": "input capacitance",
        "true_rms": "true rms",
        "isolated_link": "link",
    }
    unstated = [
        field for field in setup.meter.assumed if field != "isolated_link" or setup.link_isolated is None
    ]
    return [names[field] for field in unstated if field in names]


def _unstated_of_meter(setup: Setup) -> list[str]:
    """Write what nobody has stated of the meter, and what that does, in whole sentences."""
    sentences = []
    if guessed := _guessed_of_meter(setup):
        sentences.append(f"Not stated, so a cautious guess counts: {', '.join(guessed)}.")
    if not setup.meter.calibrated_on:
        sentences.append(
            "The day of its last calibration is not entered: its accuracy is used without an allowance for age."
        )
    return sentences


def _meter_text(setup: Setup) -> str:
    return "" if setup.meter.name == UNKNOWN_METER.name else setup.meter.name


ITEMS: tuple[SetupItem, ...] = (
    SetupItem(
        "Household",
        lambda s: s.household,
        lambda prompts: prompts.ask_household(HOUSEHOLD_CAUTION),
    ),
    SetupItem(
        "Reference",
        lambda s: s.reference or "",
        lambda prompts: prompts.choose(
            "What is the reference?",
            ROD_CAUTION,
            ("earth rod", {"reference": "earth rod"}),
            ("building earth: second best, adds uncertainty", {"reference": "building earth"}),
        ),
        needed=True,
    ),
    SetupItem(
        "Soil",
        lambda s: s.soil,
        lambda prompts: prompts.choose_or_type(
            "What soil is the rod in?", "", "soil", "loam or clay", "sand", "gravel"
        ),
        applies=_is_rod,
    ),
    SetupItem(
        "Moisture",
        lambda s: s.moisture,
        lambda prompts: prompts.choose_or_type("How moist is it?", "", "moisture", "wet", "damp", "dry"),
        applies=_is_rod,
    ),
    SetupItem(
        "Rod to main panel",
        lambda s: length_text(s.panel_distance_m, LengthUnit.METRES),
        lambda prompts: prompts.type_metres("Rod to main panel", "panel_distance_m"),
        applies=_is_rod,
        length=lambda s: s.panel_distance_m,
    ),
    SetupItem(
        "Reference wire",
        lambda s: length_text(s.wire_length_m, LengthUnit.METRES),
        lambda prompts: prompts.type_metres("Reference wire", "wire_length_m"),
        applies=_is_rod,
        length=lambda s: s.wire_length_m,
    ),
    SetupItem(
        "Supply",
        lambda s: s.supply or "",
        lambda prompts: prompts.choose(
            "What supply has the home?",
            "",
            ("split phase", {"supply": "split phase"}),
            ("single phase", {"supply": "single phase"}),
            ("three-phase", {"supply": "three-phase"}),
        ),
    ),
    SetupItem(
        "Mains",
        lambda s: f"{s.mains_hz:g} Hz" if s.mains_hz else "",
        lambda prompts: prompts.choose(
            "Mains frequency?", "", ("50 Hz", {"mains_hz": 50.0}), ("60 Hz", {"mains_hz": 60.0})
        ),
    ),
    SetupItem(
        LAPTOP,
        lambda s: _yes_no(s.on_battery, "on battery", "on its charger"),
        SetupPrompts.ask_power,
        needed=True,
    ),
    SetupItem(
        "Link to the meter",
        lambda s: _yes_no(s.link_isolated, "isolated", "not isolated"),
        lambda prompts: prompts.choose(
            "Is the link between meter and laptop isolated?",
            cautions.ISOLATED_LINK,
            ("isolated: optical or radio", {"link_isolated": True}),
            ("not isolated: spoils the reference, adds uncertainty", {"link_isolated": False}),
        ),
        needed=True,
    ),
    SetupItem(METER, _meter_text, SetupPrompts.ask_meter),
    SetupItem(
        "Target",
        lambda s: f"{s.target_volts:g} V",
        SetupPrompts.ask_target,
    ),
)


def setup_row(item: SetupItem, setup: Setup, unit: LengthUnit = LengthUnit.METRES) -> ListRow:
    """Show what is stated of an item, and what that does to the uncertainty.

    Args:
        item: what is shown.
        setup: as stated.
        unit: in which lengths are shown.
    """
    value = length_text(item.length(setup), unit) if item.length else item.value(setup)
    small = ""
    if item.name == "Target":
        small = target_source_text(setup.target_source)
    elif item.name == METER:
        small = " ".join(_unstated_of_meter(setup)) or "nothing assumed"
    if value:
        widens = (item.name, value) in (
            ("Reference", "building earth"), (LAPTOP, "on its charger"), ("Link to the meter", "not isolated"),
        )  # fmt: skip
        small = "adds uncertainty" if widens else small
        badge = UNCLEAR if widens else GOOD
        if item.name == METER and _guessed_of_meter(setup):
            badge = UNCLEAR
        return ListRow(item.name, value, small, badge=badge)
    if item.needed:
        return ListRow(item.name, "not stated", "adds uncertainty", badge=UNCLEAR)
    return ListRow(item.name, "not stated", small, quiet=True, badge=OPEN)
