"""What is stated once for a visit: household, supply, reference, meter, target. Kept as one fact, `setup`.

Nothing here is assumed silently: what the user has not stated is None and is named as such beside the readings.
"""

from __future__ import annotations

import json
from dataclasses import asdict, dataclass, field, replace
from typing import Any, Literal

from logger.meter.description import Accuracy, MeterDescription
from logger.metrology.supply import Supply
from logger.metrology.target import TARGET_SOURCE, TARGET_VOLTS
from logger.metrology.uncertainty import AGREEMENT_VOLTS, ReferenceState

Reference = Literal["earth rod", "building earth"]


@dataclass(frozen=True, slots=True)
class MeterFacts:
    """What a reading needs to know of the meter that took it; `assumed` names what nobody has stated."""

    name: str
    accuracy: tuple[Accuracy, ...]
    input_resistance_ohm: float
    input_capacitance_farad: float
    true_rms: bool
    calibrated_on: str
    """ISO date; empty when unknown."""
    assumed: tuple[str, ...]

    @classmethod
    def of(cls, description: MeterDescription) -> MeterFacts:
        """The facts as a meter description gives them now; a later edit of the description changes no visit."""
        return cls(
            description.name,
            description.accuracy,
            description.input_resistance_ohm,
            description.input_capacitance_farad,
            description.true_rms,
            description.calibrated_on.isoformat() if description.calibrated_on else "",
            tuple(sorted(description.assumed)),
        )

    @property
    def inputs(self) -> tuple[float, float]:
        """Input resistance, ohm, and capacitance, F."""
        return self.input_resistance_ohm, self.input_capacitance_farad

    def inputs_shown(self) -> str:
        """The input in words: '10 Mohm and 100 pF'."""
        return f"{self.input_resistance_ohm / 1e6:g} Mohm and {self.input_capacitance_farad * 1e12:g} pF"

    def accuracy_at(self, volts: float) -> Accuracy:
        """The range that a reading belongs to: the smallest that holds it, else the largest."""
        return next((a for a in self.accuracy if volts <= a.up_to_volts), self.accuracy[-1])


def shared_range(one: MeterFacts, other: MeterFacts, volts: tuple[float, float]) -> Accuracy | None:
    """The range on which two values were read with the same meter; None for other meters or ranges.

    Args:
        one: the meter of the first value.
        other: the meter of the second value.
        volts: both values.
    """
    first, second = one.accuracy_at(abs(volts[0])), other.accuracy_at(abs(volts[1]))
    return first if one == other and first == second else None


UNKNOWN_METER = MeterFacts.of(MeterDescription("not described"))


@dataclass(frozen=True, slots=True)
class Setup:
    """The set-up of a visit.

    Args:
        household: whatever tells this home from others; no names are needed.
        reference: what the meter calls zero; None until stated.
        soil, moisture: of the rod's place, in the user's words.
        panel_distance_m, wire_length_m: from the rod to the main panel, and of the reference wire.
        supply, mains_hz: of the home.
        on_battery: the laptop runs on its battery; None until stated.
        link_isolated: nothing conducts between meter and laptop; None until stated.
        target_volts, target_source: what values are held against, and who says so.
        meter: the meter's facts at the time.
    """

    household: str = ""
    reference: Reference | None = None
    soil: str = ""
    moisture: str = ""
    panel_distance_m: float | None = None
    wire_length_m: float | None = None
    supply: Supply | None = None
    mains_hz: float | None = None
    on_battery: bool | None = None
    link_isolated: bool | None = None
    target_volts: float = TARGET_VOLTS
    target_source: str = TARGET_SOURCE
    meter: MeterFacts = field(default=UNKNOWN_METER)

    def reference_state(self, rod_volts: float | None = None) -> ReferenceState:
        """What the uncertainty budget needs; what was not stated counts as the worse of both.

        Args:
            rod_volts: half-width that the reference check found for the rod; None: not checked, for which the
                tolerance of that check stands (assumed, no source).
        """
        rod = self.reference == "earth rod"
        known = AGREEMENT_VOLTS if rod_volts is None else rod_volts
        return ReferenceState(
            building_earth=not rod,
            on_charger=self.on_battery is not True,
            link_isolated=self.link_isolated is True,
            rod_volts=known if rod else 0.0,
            rod_checked=rod_volts is not None,
        )

    def missing(self) -> list[str]:
        """What has not been stated yet and widens the uncertainty until it is."""
        return [
            name
            for name, value in (
                ("what the reference is", self.reference),
                ("whether the laptop is on battery", self.on_battery),
                ("whether the link is isolated", self.link_isolated),
            )
            if value is None
        ]

    def to_json(self) -> str:
        """As JSON text; `from_json` is the way back."""
        return json.dumps(asdict(self))

    @classmethod
    def from_json(cls, text: str) -> Setup:
        """From what `to_json` gave; empty text is a set-up in which nothing is stated.

        Keys of later versions are left out.
        """
        data: dict[str, Any] = json.loads(text or "{}")
        known = {name: value for name, value in data.items() if name in cls.__dataclass_fields__}
        if "meter" in known:
            meter = dict(known["meter"])
            meter["accuracy"] = tuple(Accuracy(**range_) for range_ in meter["accuracy"])
            meter["assumed"] = tuple(meter["assumed"])
            known["meter"] = MeterFacts(**meter)
        return cls(**known)

    def with_changes(self, **changes: Any) -> Setup:
        """The same with some things stated anew."""
        return replace(self, **changes)
