"""A model of a meter: averaging, counts, noise, range, rhythm, and the text of its lines."""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import exp
from typing import Annotated, Any, Literal, get_args

import msgspec
import numpy as np
from msgspec import UNSET, Meta, UnsetType

from logger.body_circuit import PICO, Floats, Impedance
from logger.toml_file import KeyPath, TomlByTable

LineFormatName = Literal["plain", "unit", "milli", "nr3", "comma"]
FORMATS: tuple[LineFormatName, ...] = get_args(LineFormatName)
"""How a line looks: 0.273 | 0.273 V AC | 273.0 mV AC | +2.73000E-01 | 0,273 V~"""

USUAL_INPUT = Impedance(10e6, 30 * PICO)

AUTO_RANGE_COUNTS = 6000
"""A meter that chooses its range by itself shows at most so many counts in each."""

MAX_FILTER_CONSTANTS = 500
"""Most time constants in one piece of the filter: exp(500) is still a number."""


@dataclass(frozen=True)
class MeterModel:
    """What kind of meter it is.

    Args:
        rate_hz: lines a second.
        averaging_s: time constant of its averaging; 0 for none.
        count_volts: its last digit.
        noise_volts: standard deviation of its own noise, white from line to line.
        range_volts: above this it shows overload.
        auto_range: the last digit grows tenfold whenever the value needs more than `AUTO_RANGE_COUNTS`.
        line_format: how a line looks.
        jitter_s: lines arrive late by up to this.
        auto_power_off_s: it switches itself off after so long; 0 for never.
        input: resistance and capacitance of meter and leads.
    """

    rate_hz: float = 10.0
    averaging_s: float = 0.3
    count_volts: float = 0.001
    noise_volts: float = 0.0015
    range_volts: float = 60.0
    auto_range: bool = False
    line_format: LineFormatName = "unit"
    jitter_s: float = 0.004
    auto_power_off_s: float = 0.0
    input: Impedance = USUAL_INPUT

    def line(self, volts: float) -> bytes:
        """The line, with its end, that shows `volts`; overload above the range."""
        if volts > self.range_volts:
            return b"+9.9E+37\r\n" if self.line_format == "nr3" else b"OL\r\n"
        count = self.count_volts
        if self.auto_range:
            while volts > count * AUTO_RANGE_COUNTS:
                count *= 10
        shown = max(0.0, round(volts / count) * count)
        digits = _digits(count)
        if self.line_format == "unit":
            return f"{shown:.{digits}f} V AC\r\n".encode()
        if self.line_format == "plain":
            return f"{shown:.{digits}f}\r\n".encode()
        if self.line_format == "milli":
            return f"{shown * 1000:.{max(0, digits - 3)}f} mV AC\r\n".encode()
        if self.line_format == "nr3":
            return f"{shown:+.5E}\r\n".encode()
        return f"{shown:.{digits}f} V~\r\n".replace(".", ",").encode()

    def overload_line(self) -> bytes:
        """The line of a meter that is asked for more than its range."""
        return self.line(float("inf"))

    def dc_line(self, volts: float) -> bytes:
        """The line of a meter that somebody has turned to DC."""
        return f"{volts:+.3f} V DC\r\n".encode()


def _digits(count_volts: float) -> int:
    digits = 0
    while count_volts * 10**digits < 0.999 and digits < 6:
        digits += 1
    return digits


class _SceneMeterTable(msgspec.Struct, forbid_unknown_fields=True):
    rate_hz: Annotated[float, Meta(ge=0.2, le=200.0)] | UnsetType = UNSET
    averaging_s: Annotated[float, Meta(ge=0.0, le=30.0)] | UnsetType = UNSET
    counts_mv: Annotated[float, Meta(ge=0.01, le=100.0)] | UnsetType = UNSET
    noise_mv: Annotated[float, Meta(ge=0.0, le=1000.0)] | UnsetType = UNSET
    range_volts: Annotated[float, Meta(ge=0.01, le=1000.0)] | UnsetType = UNSET
    auto_range: bool | UnsetType = UNSET
    format: LineFormatName | UnsetType = UNSET
    jitter_ms: Annotated[float, Meta(ge=0.0, le=1000.0)] | UnsetType = UNSET
    auto_power_off_min: Annotated[float, Meta(ge=0.0, le=1440.0)] | UnsetType = UNSET
    input_mohm: Annotated[float, Meta(ge=0.01, le=1e6)] | UnsetType = UNSET
    input_pf: Annotated[float, Meta(ge=0.0, le=10_000.0)] | UnsetType = UNSET


def read_meter(
    document: TomlByTable, values: dict[str, Any], path: KeyPath = (), plain: MeterModel = MeterModel()
) -> MeterModel:
    """The meter that a table describes.

    Args:
        document: for the place of a mistake.
        values: of the table.
        path: the keys to the table in the document.
        plain: the meter as to what the table does not say.

    Raises:
        StillvoltError: a value is wrong; names its place.
    """
    table = document.convert(_SceneMeterTable, values, path)
    given = {key: value for key, value in msgspec.structs.asdict(table).items() if value is not UNSET}

    def scaled(key: str, default: float, divisor: float) -> float:
        return float(given[key]) / divisor if key in given else default

    return replace(
        plain,
        rate_hz=given.get("rate_hz", plain.rate_hz),
        averaging_s=given.get("averaging_s", plain.averaging_s),
        count_volts=scaled("counts_mv", plain.count_volts, 1000),
        noise_volts=scaled("noise_mv", plain.noise_volts, 1000),
        range_volts=given.get("range_volts", plain.range_volts),
        auto_range=given.get("auto_range", plain.auto_range),
        line_format=given.get("format", plain.line_format),
        jitter_s=scaled("jitter_ms", plain.jitter_s, 1000),
        auto_power_off_s=given["auto_power_off_min"] * 60
        if "auto_power_off_min" in given
        else plain.auto_power_off_s,
        input=Impedance(
            given["input_mohm"] * 1e6 if "input_mohm" in given else plain.input.ohms,
            given["input_pf"] * PICO if "input_pf" in given else plain.input.farads,
        ),
    )


class Averaging:
    """First-order averaging with a time constant, over equal steps, piece by piece.

    Args:
        time_constant_s: 0 for none.
        step_s: between values.
    """

    def __init__(self, time_constant_s: float, step_s: float) -> None:
        self._decay = step_s / time_constant_s if time_constant_s else float("inf")
        self._value: float | None = None

    def feed(self, values: Floats) -> Floats:
        """The averaged course of `values`, going on from the piece before; the first value of all is taken as is."""
        if self._decay > 50 or not len(values):
            return values
        if self._value is None:
            self._value = float(values[0])
        out = np.empty_like(values)
        longest = max(1, int(MAX_FILTER_CONSTANTS / self._decay))
        for start in range(0, len(values), longest):
            piece = values[start : start + longest]
            kept = np.exp(-self._decay * np.arange(1, len(piece) + 1))
            # y[n] = d y[n-1] + (1-d) x[n], written as one running sum.
            grown = np.cumsum(piece / kept) * (1 - exp(-self._decay))
            done = kept * (self._value + grown)
            out[start : start + longest] = done
            self._value = float(done[-1])
        return out
