"""What is stated once for a visit: household, supply, reference, meter, target. Kept as one fact, `setup`.

Nothing here is assumed silently: what the user has not stated is None and is named as such beside the readings.
"""

from __future__ import annotations

import json
from dataclasses import asdict, dataclass, field, replace
from datetime import date, timedelta
from typing import Any, Literal

from logger.body_circuit import Impedance
from logger.meter.description import (
    CALIBRATION_INTERVAL_MONTHS,
    Accuracy,
    MeterDescription,
    calibration_doubt,
)
from logger.metrology.reference_error import UNPROVEN_ROD_VOLTS
from logger.metrology.rounding import plain
from logger.metrology.supply import Supply
from logger.metrology.target import TARGET_SOURCE, TARGET_VOLTS
from logger.metrology.uncertainty import (
    BUILDING_EARTH,
    BUILDING_EARTH_VOLTS,
    LINK_NOT_ISOLATED,
    ON_CHARGER,
    ReferenceState,
)
from logger.metrology.waveform import average_responding_share
from logger.translation import marked, tr

Reference = Literal["earth rod", "building earth"]

REFERENCES: dict[Reference, str] = {
    "earth rod": marked("earth rod"),
    "building earth": marked("building earth"),
}
"""What the meter calls zero, by what the log calls it; translated where it is shown."""

MAINS_HZ = (50.0, 60.0)

SAME_COUNT = 1.01
"""A learned count up to so many times smaller than a range's is that range's: it is a difference of rounded numbers."""

COARSER_DISPLAY = 5.0
"""A display whose count is over so many times that of the range is taken at its own count. A learned count may be a few
times the true one by chance; the next range has ten times the count."""

DAYS_PER_MONTH = 365.25 / 12


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
    calibration_interval_months: int = CALIBRATION_INTERVAL_MONTHS
    make: str = ""
    model: str = ""
    serial_number: str = ""
    """As on the meter's plate; each empty where nobody has stated it."""
    certificate: str = field(default="", compare=False)
    """Number of the calibration certificate and who issued it; empty where nobody has stated it. A meter whose
    certificate is entered later is the same meter: no value and no check depends on it."""

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
            description.calibration_interval_months,
            description.make,
            description.model,
            description.serial_number,
            description.certificate,
        )

    @property
    def inputs(self) -> tuple[float, float]:
        """Input resistance, ohm, and capacitance, F."""
        return self.input_resistance_ohm, self.input_capacitance_farad

    def name_shown(self) -> str:
        """What the meter is called; in words where nobody has described it."""
        return tr("not described") if self in (UNKNOWN_METER, ASSUMED_METER) else self.name

    def inputs_shown(self) -> str:
        """The input in words: '10 Mohm and 100 pF'."""
        return tr("{megohms} Mohm and {picofarads} pF").format(
            megohms=plain(self.input_resistance_ohm / 1e6),
            picofarads=plain(self.input_capacitance_farad * 1e12),
        )

    def accuracy_at(self, volts: float, count_volts: float | None = None) -> Accuracy:
        """The range that a reading was taken on.

        The count that the display showed tells it: a meter left on its 20 V range reads 0.05 V with that range's
        counts. A learned count may be a multiple of the true one, never a part of it, so it is the coarsest range whose
        count is not above it. Where the count is not known, or is finer than that of every range, it is the smallest
        range that holds the value, else the largest. A display still much coarser than that range's count is taken at
        its own.

        Args:
            volts: the reading.
            count_volts: the count learned from the samples; None where it is not known.
        """
        holding = [a for a in self.accuracy if volts <= a.up_to_volts] or [self.accuracy[-1]]
        if count_volts is None:
            return holding[0]
        not_above = [a for a in holding if a.resolution_volts <= count_volts * SAME_COUNT]
        chosen = max(not_above, key=lambda a: a.resolution_volts, default=holding[0])
        if count_volts > COARSER_DISPLAY * chosen.resolution_volts:
            return replace(chosen, resolution_volts=count_volts)
        return chosen

    def is_calibrated_after(self, read_on: str) -> bool:
        """Whether the calibration is dated after a reading, so that what it says of that reading is not known.

        Args:
            read_on: ISO date of the reading in UTC, a day behind the local one at most; empty where it is not known.
        """
        if not (self.calibrated_on and read_on):
            return False
        local = date.fromisoformat(read_on) + timedelta(days=1)
        return bool(calibration_doubt(date.fromisoformat(self.calibrated_on), local))

    def calibration_doubt(self, today: date) -> str:
        """Why the day of the calibration cannot be right by a day, in a sentence; empty where it can."""
        day = date.fromisoformat(self.calibrated_on) if self.calibrated_on else None
        return calibration_doubt(day, today)

    def overdue_factor(self, read_on: str) -> float:
        """How many times wider the limits of error are, since the calibration was out of date; 1 where it was not.

        A data sheet's limits hold for one interval after a calibration; errors that drift grow with the time, so they
        are taken as wider by its ratio to the interval (no source; ours). Where the day of the calibration, or of the
        reading, is not known it is 1, and the report says so.

        Args:
            read_on: ISO date of the reading; empty where it is not known.
        """
        if not (self.calibrated_on and read_on):
            return 1.0
        age = date.fromisoformat(read_on) - date.fromisoformat(self.calibrated_on)
        return max(age.days / (self.calibration_interval_months * DAYS_PER_MONTH), 1.0)

    def waveform_share(self, mains_hz: float | None) -> float:
        """How far a reading may be off by the waveform, as a share of it (half-width); 0 for a true rms meter.

        Args:
            mains_hz: 50 or 60; None where it is not stated, which counts as the worse of both.
        """
        if self.true_rms:
            return 0.0
        return average_responding_share(Impedance(*self.inputs), mains_hz or min(MAINS_HZ))


UNKNOWN_METER = MeterFacts.of(MeterDescription("not described"))

ASSUMED_METER = replace(UNKNOWN_METER, name="assumed")
"""The user has said that nothing is known of the meter."""


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

    def reference_state(self, rod_volts: float | None = None, rod_proved: bool = False) -> ReferenceState:
        """What the uncertainty budget needs; what was not stated counts as the worse of both.

        Args:
            rod_volts: half-width of what the rod may be off by, after its checks; None: not checked.
            rod_proved: a second rod proved it.
        """
        known = UNPROVEN_ROD_VOLTS if rod_volts is None else rod_volts
        # While nothing is stated it is the worse of both: a rod that failed its check may be worse than any building.
        rod = self.reference == "earth rod" or (self.reference is None and known > BUILDING_EARTH_VOLTS)
        return ReferenceState(
            building_earth=not rod,
            on_charger=self.on_battery is not True,
            link_isolated=self.link_isolated is True,
            rod_volts=known if rod else 0.0,
            rod_proved=rod_proved,
            not_stated=frozenset(
                cause
                for cause, stated in (
                    (BUILDING_EARTH, self.reference),
                    (ON_CHARGER, self.on_battery),
                    (LINK_NOT_ISOLATED, self.link_isolated),
                )
                if stated is None
            ),
        )

    def missing(self) -> list[str]:
        """What has not been stated yet and widens the uncertainty until it is."""
        return [
            name
            for name, value in (
                (tr("what the reference is"), self.reference),
                (tr("whether the laptop is on battery"), self.on_battery),
                (tr("whether the link is isolated"), self.link_isolated),
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
