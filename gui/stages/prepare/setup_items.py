"""What is stated once for a visit: each item with its words, how it is asked for, and what leaving it open does."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date

from gui.stages.prepare.setup_prompts import SetupPrompts
from gui.widgets.badge import GOOD, OPEN, UNCLEAR
from gui.widgets.row_model import ListRow
from logger import cautions
from logger.metrology.lengths import LengthUnit, length_text
from logger.metrology.rounding import plain
from logger.metrology.setup import ASSUMED_METER, UNKNOWN_METER, Setup
from logger.metrology.target import target_source_text
from logger.translation import kept_text, marked, tr, tr_all, tr_kept
from logger.visit.records.circumstances import CIRCUMSTANCE_FIELDS, MAX_ROD_M, Circumstances

ROD_CAUTION = (cautions.DIGGING, cautions.THUNDERSTORM, cautions.EARTHING_CODES)
NO_NAMES = marked("Such as a street or a number of your own; no person's name is needed.")

REFERENCE, LAPTOP, LINK = marked("Reference"), marked("Laptop"), marked("Link to the meter")
METER, TARGET = marked("Meter"), marked("Target")
"""Names of the items of which more is said than their value."""

_EARTH_ROD, _BUILDING_EARTH = marked("earth rod"), marked("building earth")
_SUPPLIES = (marked("split phase"), marked("single phase"), marked("three-phase"))
_SOILS = (kept_text("loam or clay"), kept_text("sand"), kept_text("gravel"))
_MOISTURES = (kept_text("wet"), kept_text("damp"), kept_text("dry"))
_OFFERED = frozenset({_EARTH_ROD, _BUILDING_EARTH, *_SUPPLIES})
"""Words that are the only choices: the log keeps them in English, as it does what is offered of soil and moisture."""


@dataclass(frozen=True, slots=True)
class SetupItem:
    """One thing that is stated."""

    name: str
    """In English; it goes through `tr` where it is shown."""
    value: Callable[[Setup], str]
    """In words, as stated; empty when it is not."""
    ask: Callable[[SetupPrompts], None]
    needed: bool = False
    """Adds uncertainty while it is not stated."""
    applies: Callable[[Setup], bool] = lambda _: True
    length: Callable[[Setup], float | None] | None = None
    """The length that it is, metres; it is shown in the unit that the user chose."""
    optional: bool = False
    """Nothing misses it: the big button does not ask for it."""
    circumstance: str = ""
    """The field of `Circumstances` that keeps it; empty where the set-up does."""


def consequence_text(setup: Setup) -> str:
    """What adds uncertainty: because it is not stated, or because it is so."""
    missing = setup.missing()
    named = [
        text
        for text, applies in (
            (tr("building earth as reference"), setup.reference == _BUILDING_EARTH),
            (tr("laptop on its charger"), setup.on_battery is False),
            (tr("link not isolated"), setup.link_isolated is False),
        )
        if applies
    ]
    sentences = []
    if named:
        text = tr("Adds uncertainty, and is named on every reading: {causes}.")
        sentences.append(text.format(causes=", ".join(named)))
    if missing:
        text = (
            tr("Not stated, which adds uncertainty too: {missing}.")
            if named
            else tr("Not stated, which adds uncertainty: {missing}.")
        )
        sentences.append(text.format(missing=", ".join(missing)))
    if _meter_text(setup) and (guessed := _guessed_of_meter(setup)):
        text = tr(
            "These details of the meter are not stated, so those of a plain multimeter are assumed: {guessed}."
        )
        sentences.append(text.format(guessed=", ".join(guessed)))
    return "\n".join(sentences) or tr("Nothing here adds uncertainty.")


def _is_rod(setup: Setup) -> bool:
    return setup.reference == _EARTH_ROD


def _shown(word: str | None) -> str:
    """A stated word as it is shown; empty where nothing is stated."""
    return tr(word) if word in _OFFERED else tr_kept(word or "")


def _yes_no(value: bool | None, yes: str, no: str) -> str:
    return "" if value is None else (yes if value else no)


def _guessed_of_meter(setup: Setup) -> list[str]:
    """Name what nobody has stated of the meter and what a usual value stands for.

    Whether the link is isolated is stated in a row of its own. No value stands for the day of the calibration.
    """
    names = {
        "accuracy": tr("accuracy"),
        "input_resistance_ohm": tr("input resistance"),
        "input_capacitance_farad": tr("input capacitance"),
        "true_rms": tr("true rms"),
        "isolated_link": tr("link"),
    }
    unstated = [
        field for field in setup.meter.assumed if field != "isolated_link" or setup.link_isolated is None
    ]
    return [names[field] for field in unstated if field in names]


def _unstated_of_meter(setup: Setup) -> list[str]:
    """Write what nobody has stated of the meter, and what that does, in whole sentences."""
    sentences = []
    if guessed := _guessed_of_meter(setup):
        text = tr(
            "These details of the meter are not stated, so those of a plain multimeter are "
            "assumed: {guessed}."
        )
        sentences.append(text.format(guessed=", ".join(guessed)))
    if doubt := setup.meter.calibration_doubt(date.today()):
        sentences.append(doubt)
    if not setup.meter.calibrated_on:
        sentences.append(
            tr(
                "The day of its last calibration is not entered: its accuracy is used without an "
                "allowance for age."
            )
        )
    return sentences


def _meter_text(setup: Setup) -> str:
    if setup.meter == ASSUMED_METER:
        return tr("assumed")
    return "" if setup.meter.name == UNKNOWN_METER.name else setup.meter.name


def _circumstance(name: str) -> SetupItem:
    """One of the circumstances: a line, or a length of the rod.

    Args:
        name: the field of `Circumstances` that keeps it.
    """
    field = CIRCUMSTANCE_FIELDS[name]

    def ask(prompts: SetupPrompts) -> None:
        if field.is_length:
            prompts.type_metres(tr(field.label), tr(field.hint), name, MAX_ROD_M)
        else:
            prompts.type_optional(tr(field.label), tr(field.hint), name)

    applies = _is_rod if field.only_with_rod else lambda _: True
    return SetupItem(field.label, lambda _: "", ask, applies=applies, optional=True, circumstance=name)


ITEMS: tuple[SetupItem, ...] = (
    SetupItem(
        marked("Household"),
        lambda s: s.household,
        lambda prompts: prompts.ask_household(tr_all((NO_NAMES, cautions.LIVE_CONDUCTOR))),
    ),
    SetupItem(
        REFERENCE,
        lambda s: _shown(s.reference),
        lambda prompts: prompts.choose(
            tr("What is the reference?"),
            tr_all(ROD_CAUTION),
            (tr(_EARTH_ROD), {"reference": _EARTH_ROD}),
            (tr("Building earth: second best, adds uncertainty"), {"reference": _BUILDING_EARTH}),
        ),
        needed=True,
    ),
    SetupItem(
        marked("Soil"),
        lambda s: _shown(s.soil),
        lambda prompts: prompts.choose_or_type(tr("What soil is the rod in?"), "", "soil", *_SOILS),
        applies=_is_rod,
    ),
    SetupItem(
        marked("Moisture"),
        lambda s: _shown(s.moisture),
        lambda prompts: prompts.choose_or_type(tr("How moist is the soil?"), "", "moisture", *_MOISTURES),
        applies=_is_rod,
    ),
    SetupItem(
        marked("Rod to main panel"),
        lambda s: length_text(s.panel_distance_m, LengthUnit.METRES),
        lambda prompts: prompts.type_metres(
            tr("Rod to main panel"), tr("How far is it from the rod to the main panel?"), "panel_distance_m"
        ),
        applies=_is_rod,
        length=lambda s: s.panel_distance_m,
    ),
    SetupItem(
        marked("Reference wire"),
        lambda s: length_text(s.wire_length_m, LengthUnit.METRES),
        lambda prompts: prompts.type_metres(
            tr("Reference wire"), tr("How long is the reference wire?"), "wire_length_m"
        ),
        applies=_is_rod,
        length=lambda s: s.wire_length_m,
    ),
    SetupItem(
        marked("Supply"),
        lambda s: _shown(s.supply),
        lambda prompts: prompts.choose(
            tr("What supply has the home?"),
            "",
            *((tr(supply), {"supply": supply}) for supply in _SUPPLIES),
        ),
    ),
    SetupItem(
        marked("Mains"),
        lambda s: f"{plain(s.mains_hz)} Hz" if s.mains_hz else "",
        lambda prompts: prompts.choose(
            tr("Mains frequency?"), "", ("50 Hz", {"mains_hz": 50.0}), ("60 Hz", {"mains_hz": 60.0})
        ),
    ),
    SetupItem(
        LAPTOP,
        lambda s: _yes_no(s.on_battery, tr("on battery"), tr("on its charger")),
        SetupPrompts.ask_power,
        needed=True,
    ),
    SetupItem(
        LINK,
        lambda s: _yes_no(s.link_isolated, tr("isolated"), tr("not isolated")),
        lambda prompts: prompts.choose(
            tr("Is the link between meter and laptop isolated?"),
            tr(cautions.ISOLATED_LINK),
            (tr("Isolated: optical or radio"), {"link_isolated": True}),
            (tr("Not isolated: spoils the reference, adds uncertainty"), {"link_isolated": False}),
        ),
        needed=True,
    ),
    SetupItem(METER, _meter_text, SetupPrompts.ask_meter),
    SetupItem(
        TARGET,
        lambda s: f"{plain(s.target_volts)} V",
        SetupPrompts.ask_target,
    ),
    SetupItem(
        marked("Certificate"),
        lambda s: s.meter.certificate,
        SetupPrompts.type_certificate,
        applies=lambda s: s.meter not in (UNKNOWN_METER, ASSUMED_METER),
        optional=True,
    ),
    *map(_circumstance, CIRCUMSTANCE_FIELDS),
)
"""In the order in which they are shown; the optional ones last."""


def circumstance_row(item: SetupItem, circumstances: Circumstances, unit: LengthUnit) -> ListRow:
    """Show what is stated of one of the circumstances.

    Args:
        item: what is shown.
        circumstances: as stated.
        unit: in which lengths are shown.
    """
    value = circumstance_text(item, circumstances, unit)
    if value:
        return ListRow(tr(item.name), value, badge=GOOD)
    return ListRow(tr(item.name), tr("not recorded"), quiet=True)


def circumstance_text(item: SetupItem, circumstances: Circumstances, unit: LengthUnit) -> str:
    """What is stated of one of the circumstances; empty where nothing is.

    Args:
        item: which one.
        circumstances: as stated.
        unit: in which a length is written.
    """
    value = getattr(circumstances, item.circumstance)
    return value if isinstance(value, str) else length_text(value, unit)


def setup_row(item: SetupItem, setup: Setup, unit: LengthUnit = LengthUnit.METRES) -> ListRow:
    """Show what is stated of an item, and what that does to the uncertainty.

    Args:
        item: what is shown.
        setup: as stated.
        unit: in which lengths are shown.
    """
    value = length_text(item.length(setup), unit) if item.length else item.value(setup)
    small = ""
    name = tr(item.name)
    if item.name == TARGET:
        small = target_source_text(setup.target_source, setup.target_volts)
    elif item.name == METER:
        small = " ".join(_unstated_of_meter(setup)) or tr("nothing assumed")
    if value:
        widens = {
            REFERENCE: setup.reference == _BUILDING_EARTH,
            LAPTOP: setup.on_battery is False,
            LINK: setup.link_isolated is False,
        }.get(item.name, False)
        small = tr("adds uncertainty") if widens else small
        badge = UNCLEAR if widens else GOOD
        if item.name == METER and (_guessed_of_meter(setup) or setup.meter.calibration_doubt(date.today())):
            badge = UNCLEAR
        if item.name == METER and setup.meter == ASSUMED_METER:
            badge = GOOD  # it was answered, with what counts for it beside it
        return ListRow(name, value, small, badge=badge)
    if item.needed:
        return ListRow(name, tr("not stated"), tr("adds uncertainty"), badge=UNCLEAR)
    if item.optional:
        return ListRow(name, tr("not recorded"), quiet=True)
    return ListRow(name, tr("not stated"), small, quiet=True, badge=OPEN)
