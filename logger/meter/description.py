"""The description of a meter: how it is connected, how its lines are read, how well it measures."""

from __future__ import annotations

import datetime
from collections.abc import Callable
from dataclasses import dataclass, replace

from logger.meter.line_format import LineFormat
from logger.meter.line_format_reader import reader_of
from logger.meter.lines import LineReading, read_line
from logger.meter.port import PortSettings
from logger.translation import tr

UNSPECIFIED_FACTOR = 2.0
"""Below what a range is specified for, its limit of error is taken as so many times that of the lowest reading that it
is specified for: converters are less linear there, and nobody says how much. The number is ours."""

CALIBRATION_INTERVAL_MONTHS = 12
"""How long a calibration holds where the description does not say (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class Accuracy:
    """What a meter's data sheet says about one of its ranges.

    Args:
        up_to_volts: end of the range.
        percent_of_reading, counts: the limit of error is this part of the reading plus so many counts.
        resolution_volts: one count.
        specified_from_volts: below this the data sheet says nothing, as many do for AC below a part of the range.
    """

    up_to_volts: float
    percent_of_reading: float
    counts: float
    resolution_volts: float
    specified_from_volts: float = 0.0

    def limit_volts(self, volts: float) -> float:
        """The limit of error at a reading. As a standard uncertainty: divided by the square root of 3.

        Below `specified_from_volts` it is that of the lowest specified reading, times `UNSPECIFIED_FACTOR`.
        """
        if not self.specifies(volts):
            return UNSPECIFIED_FACTOR * self._limit_volts(self.specified_from_volts)
        return self._limit_volts(volts)

    def offset_limit_volts(self, volts: float) -> float:
        """The part of the limit that is no common share of two readings: the counts; below the specified part all."""
        return self.counts * self.resolution_volts if self.specifies(volts) else self.limit_volts(volts)

    def specifies(self, volts: float) -> bool:
        """Whether the data sheet says anything of a reading of that size."""
        return volts >= self.specified_from_volts

    def _limit_volts(self, volts: float) -> float:
        return volts * self.percent_of_reading / 100.0 + self.counts * self.resolution_volts

    def widened(self, factor: float) -> Accuracy:
        """The same range with wider limits.

        Args:
            factor: how many times as wide.
        """
        return replace(self, percent_of_reading=self.percent_of_reading * factor, counts=self.counts * factor)


ASSUMED_ACCURACY = (Accuracy(600.0, 2.0, 5.0, 0.001),)
"""A plain multimeter on AC volts; common practice, no source."""


NO_PORT = PortSettings(url="")


@dataclass(frozen=True, slots=True)
class MeterDescription:
    """A meter.

    Args:
        name: for people; also the name of its file.
        port: settings; its url is empty, since the same meter may be plugged in anywhere.
        line: None where `read_line` reads the meter's lines by itself.
        accuracy: one for each range, the smallest first.
        input_resistance_ohm, input_capacitance_farad: what the meter puts between body and earth.
        true_rms: it measures rms for any wave form.
        isolated_link: its cable does not connect it to the computer electrically (optical, radio).
        calibrated_on: day of the last calibration; None when unknown.
        calibration_interval_months: how long a calibration holds.
        make, model, serial_number: as on its plate; empty where nobody has stated them.
        certificate: number of the calibration certificate and who issued it; empty where nobody has stated it.
        assumed: names of those of these fields that nobody has given and that have their default.
    """

    name: str
    port: PortSettings = NO_PORT
    line: LineFormat | None = None
    accuracy: tuple[Accuracy, ...] = ASSUMED_ACCURACY
    # 10 Mohm is the input of nearly every multimeter; the rest is the careful guess (common practice, no source).
    input_resistance_ohm: float = 10e6
    input_capacitance_farad: float = 100e-12
    true_rms: bool = False
    isolated_link: bool = False
    calibrated_on: datetime.date | None = None
    calibration_interval_months: int = CALIBRATION_INTERVAL_MONTHS
    make: str = ""
    model: str = ""
    serial_number: str = ""
    certificate: str = ""
    assumed: frozenset[str] = frozenset(
        {
            "accuracy",
            "input_resistance_ohm",
            "input_capacitance_farad",
            "true_rms",
            "isolated_link",
            "calibrated_on",
        }
    )

    def read(self) -> Callable[[bytes], LineReading]:
        """What reads the meter's lines."""
        return reader_of(self.line) if self.line else read_line

    def settings(self, url: str) -> PortSettings:
        """The settings of the port that the meter is plugged in at."""
        return replace(self.port, url=url, meter=self.name)


def calibration_doubt(calibrated_on: datetime.date | None, today: datetime.date) -> str:
    """Why the day of a calibration cannot be right, in a sentence; empty where it can, or is not known.

    Args:
        calibrated_on: as stated.
        today: the day of now; of a value the day on which it was read.
    """
    if calibrated_on is None or calibrated_on <= today:
        return ""
    text = tr(
        "The day entered for the meter's calibration, {date}, is yet to come: how old its calibration is counts as not "
        "known. Correct the day, or the computer's clock."
    )
    return text.format(date=calibrated_on.isoformat())


def states_unit(settings: PortSettings, meter: MeterDescription | None) -> bool:
    """Whether it is known in which unit a meter sends its numbers, without any on its lines.

    Args:
        settings: of its port.
        meter: its description; None for none.
    """
    return (meter is not None and meter.line is not None) or settings.asks_for_volts
