r"""One line of a meter, read: AC rms volts, an overload, something that is not AC volts, or unreadable.

In: the bytes of a line without its terminator. Out: a `LineReading`. What is decided, and why:

| line | read as | because |
| --- | --- | --- |
| `0.273`, `+273E-3`, `.273` | volts | a number without a unit is volts |
| `0.273 V`, `0.273VAC`, `ACV 0.273`, `V~ 0.273` | volts | a V without a mark is AC: the meter is set up so |
| `273.1 mV AC`, `273 µV` `273 UV` | volts | IEEE 488.2 table 7-2: multipliers in any case |
| `273.1 MV` | unreadable | milli by that table, which is for what a device is sent, and mega by the SI |
| `0,273` `12,04 V` `17;0,273;V` | volts | a decimal comma |
| `1,234 V` `1,234 mV` | unreadable | 1.234 and 1234 are both possible; other lines may settle it (`decimal_comma`) |
| `1,234.5` `0,273,5` `0,273,V` | unreadable | the comma has two meanings |
| `17,0.273` `17 0.273 V` `#17 0.273` | volts | a counter is digits only and comes first |
| `12:31:05;0.273` `2026-01-05T20:15:00Z 0.273` | volts | a time or date comes first |
| `0.273 V, 50.0 Hz` `V 0.273 Hz 50` `0.273,V,AC,0` | volts | the unit shows which number |
| `0.273 VAC 0.900 V` `0.273 V AC 0.9` | unreadable | two values, or the beginnings of two lines |
| `0.273 0.300` `0.2;3 V` `0 273 V` `17;V;0.273` | unreadable | nothing shows which number, or a digit is damaged |
| `V=0.273` `{"ac_v":0.273,"hz":50}` | volts | names show which number |
| `AUTO 0.273 V`, `LOW BAT 0.273 V` | volts | states of the meter |
| `HOLD 0.273 V`, `MAX 0.273 V`, `0.273 V REL` | volts, flagged, `is_live` false | read, but not of this moment |
| `0.273 V LoZ` | volts, flagged, `is_live` false | a low input impedance takes the body voltage away |
| `OL` `0L` `O.L mV~` `-OL` `OVLD` `inf` `9.9E37` | overload | SCPI-1999: +-9.9E37 is infinity |
| `----` `--.-- V` | unreadable | the display has no value; that it is too high is not said |
| `9.91E37` `NaN` | unreadable | SCPI-1999: not a number |
| `0.273 V DC` `DCV 0.273` `4.7 kOhm` `50 Hz` `OL MOhm` `0.6 V DIODE` | not AC volts | the user gets a message |
| `0.273 V AC+DC`, `0.8 Vpp` | not AC volts | holds a direct part; is no rms value |
| `-0.273 V` | unreadable | an AC rms voltage is never negative; the user is asked about DC |
| `-0.000 V` | volts | it is zero |
| `-0.003 V` `-0.2 mV` | volts | zero: the meter's zero is off by a few counts |
| `> 60 V` `>6.000 V` | overload | a full range is a round number; `> 0.273 V` is a prompt and its value |
| `1 234.5 mV` | unreadable | the blank may separate thousands, or a counter and its value |
| `12 50.1 mV` `25 0.1 mV` | unreadable | may be one number of up to five digits, one of them damaged |
| `V1.04` `OK 0` `0273` `0.273 V/V` | unreadable | a version, a state, a lost point, a ratio |
| `2.73E3` | unreadable | NR3 writes the exponent's sign; the E may be a damaged digit |
| `0.2?3`, `0.2\x003`, `0.273X`, `0.273 QQ` | unreadable | a damaged byte; never a guess |
| NULs, STX, XON at either end | as without them | cables and meters send them there |
| `0.273 VAC ready` | volts | a word that is known to be harmless |
| `0.273 V AC NULL`, `... QQ`, `Uss=0.5 V` | unreadable | an unknown word may say anything until it is taught |

A line is worked out once for each shape it comes in (digits replaced); further lines of that shape only need
their number converted. `read_line` is `read_any_line` with that memory.
"""

from __future__ import annotations

import re
from decimal import Decimal
from enum import StrEnum
from functools import reduce
from typing import NamedTuple

from logger.diagnostics import log_exception
from logger.meter.interpretation import FLAG_NOTES, LineFlag, NotAcVolts, OverRange, Value, interpret
from logger.meter.interpretation.doubts import FACTOR_NAMES
from logger.meter.splitter import MAX_LINE_BYTES
from logger.meter.tokens import AmbiguousComma, Refused, decode, tokens_of
from logger.translation import kept_text

MAX_VOLTS = 100_000.0
"""No meter shows more, with any probe; a larger number is a damaged one."""

INFINITY = 9.9e37
"""SCPI-1999 volume 1: +-9.9E37 stands for infinity."""
NOT_A_NUMBER = 9.91e37
"""SCPI-1999 volume 1: 9.91E37 stands for not a number."""

MAX_DIGITS = 17
"""More digits than a double holds: no meter has them, and a change of the last would be lost."""

MAX_ZERO_OFFSET_COUNTS = 5
MAX_ZERO_OFFSET_VOLTS, MIN_ZERO_OFFSET_VOLTS = 0.010, 0.001
"""A meter's zero may lie so many counts too low, or so many volts where its counts are finer, and no more volts than
the first whatever a count is worth. No source; meters are specified to some counts."""

NEGATIVE_NOTE = kept_text("the meter sends negative volts; set it to AC volts")
OVERLOAD_NOTE = kept_text("the voltage is above the meter's range")
CUT_NOTE = kept_text("the line was cut off, had no end, or came in parts too far apart to be one line")
TEACH_AGAIN_NOTE = kept_text(
    "the meter's range is another than when its scale was taught; teach it again, or set the range back"
)
MISTAKE_NOTE = kept_text("reading it failed by a mistake of this software; please report the line")
"""Tests and the fuzz campaign take this note for a failure."""


class LineStatus(StrEnum):
    """How a line was read. Only VOLTS is a sample."""

    VOLTS = "volts"
    OVERLOAD = "overload"
    NOT_AC_VOLTS = "not_ac_volts"
    UNREADABLE = "unreadable"


NOT_LIVE = frozenset({LineFlag.HOLD, LineFlag.EXTREME, LineFlag.RELATIVE, LineFlag.LOW_IMPEDANCE})
"""Flags of a value that is not the body voltage of this moment."""


class LineReading(NamedTuple):
    """A line as it was read. A tuple, since making one takes a third of a frozen dataclass's time.

    Args:
        status: how it was read.
        volts: AC rms volts, for VOLTS only.
        note: a fragment of a sentence for the user: why the line is no sample, or what its flags say.
        number_span: where in `decode(raw)` the number or the overload mark stands.
        flags: what else the line says about its value.
        unit_exponent: the power of ten of the number's unit: -3 for mV.
    """

    status: LineStatus
    volts: float | None = None
    note: str = ""
    number_span: tuple[int, int] | None = None
    flags: frozenset[LineFlag] = frozenset()
    unit_exponent: int = 0

    @property
    def is_live(self) -> bool:
        """Whether the volts are the body's of this moment.

        A held display is flat, and would look settled; a low input impedance takes the body voltage away.
        """
        return self.status is LineStatus.VOLTS and not self.flags & NOT_LIVE

    def split(self, raw: bytes) -> tuple[bytes, bytes, bytes]:
        """What stands in front of the number of a line, the number, and what stands behind it.

        Args:
            raw: the line; the place of its number is known.
        """
        assert self.number_span is not None
        start, end = self.number_span
        return raw[:start], raw[start:end], raw[end:]


CUT = LineReading(LineStatus.UNREADABLE, note=CUT_NOTE)
"""What a piece of a line is read as."""


def read_line(raw: bytes) -> LineReading:
    """Read one line, without its terminator."""
    shape = raw.translate(_DIGITS_ALIKE)
    plan = _plans.get(shape)
    if plan is not None:
        span, comma, exponent, note, flags = plan
        number = raw[span[0] : span[1]]
        if comma:
            number = number.replace(b",", b".")
        volts = _volts(number.decode(), exponent) if exponent else float(number)
        if volts <= MAX_VOLTS:
            return LineReading(_VOLTS, volts, note, span, flags, exponent)
    return _read(raw, shape)


def read_any_line(raw: bytes) -> LineReading:
    """`read_line` without its memory of shapes; gives the same."""
    return _read(raw, None)


_VOLTS = LineStatus.VOLTS  # looking a member up in its enumeration costs more than converting the number
_DIGITS_ALIKE = bytes.maketrans(b"123456789", b"111111111")
"""Zeros stay: 0L is an overload and 5L is not, 0,273 is a fraction and 1,234 may be thousands."""

_Plan = tuple[tuple[int, int], bool, int, str, frozenset[LineFlag]]
"""Where the number stands, whether it has a decimal comma, the unit's power of ten, note, flags."""

_plans: dict[bytes, _Plan] = {}
MAX_PLANS = 4096
"""A meter needs some hundreds of shapes; noise has no shapes that can be read."""

_LONG_DIGITS = re.compile(r"[0-9]{10}")


def _read(raw: bytes, shape: bytes | None) -> LineReading:
    if len(raw) > MAX_LINE_BYTES:
        return LineReading(LineStatus.UNREADABLE, note=kept_text("the line is too long"))
    try:
        text = decode(raw)
        sense = interpret(tokens_of(text))
        if isinstance(sense, OverRange):
            return LineReading(LineStatus.OVERLOAD, None, OVERLOAD_NOTE, sense.span, sense.flags)
        volts = checked_volts(sense)
    except Refused as refused:
        return refused_reading(refused)
    except NotAcVolts as other:
        return LineReading(LineStatus.NOT_AC_VOLTS, note=str(other))
    except Exception:  # a mistake in the reading of one line must not end a night's recording
        log_exception(f"reading the line {raw!r}")
        return LineReading(LineStatus.UNREADABLE, note=MISTAKE_NOTE)
    span = (sense.token.start, sense.token.end)
    if volts is None:
        return LineReading(LineStatus.OVERLOAD, None, OVERLOAD_NOTE, span, sense.flags)
    note = flags_note(sense.flags)
    if shape is not None and _holds_for_all_digits(raw, text, sense):
        if len(_plans) >= MAX_PLANS:
            _plans.clear()
        _plans[shape] = (span, sense.token.comma, sense.exponent, note, sense.flags)
    return LineReading(LineStatus.VOLTS, volts, note, span, sense.flags, sense.exponent)


def refused_reading(refused: Refused) -> LineReading:
    """How a line is read that cannot be told; where its comma alone is open, with the place of its number."""
    if not isinstance(refused, AmbiguousComma):
        return LineReading(LineStatus.UNREADABLE, note=str(refused))
    span = (refused.number.start, refused.number.end)
    return LineReading(
        LineStatus.UNREADABLE, note=str(refused), number_span=span, unit_exponent=refused.exponent
    )


def checked_volts(value: Value, scale: float = 1.0) -> float | None:
    """The volts of a value; None for infinity.

    Args:
        value: the number and its unit.
        scale: what the number in this unit is multiplied by, where a line format has a scale.

    Raises:
        Refused: no AC voltage has this value.
    """
    number = value.token.text
    mantissa = re.split("[eE]", number)[0]
    if sum(char.isdigit() for char in mantissa.lstrip("+-0.")) > MAX_DIGITS:
        raise Refused(kept_text("no meter has as many digits"))
    if abs(float(number)) == INFINITY:
        return None
    if float(number) == NOT_A_NUMBER:
        raise Refused(kept_text("the meter says that it has no number"))
    if not float(number):
        return 0.0
    if number[0] == "-" and not _is_zero_offset(value, scale):
        raise Refused(NEGATIVE_NOTE)
    if number[0] == "-":
        return 0.0
    volts = _volts(number, value.exponent)
    if scale != 1.0:
        # Decimal, so that 273 counts of a millivolt are 0.273 V to the last bit.
        volts = float(Decimal(number).scaleb(value.exponent) * Decimal(repr(scale)))
    if volts > MAX_VOLTS:
        raise Refused(kept_text("no meter reads as much"))
    return volts


def _is_zero_offset(value: Value, scale: float) -> bool:
    """Whether a negative value is what a meter shows at no voltage, whose zero lies a little low.

    Args:
        value: the number and its unit.
        scale: what the number in this unit is multiplied by.
    """
    mantissa = re.split("[eE]", value.token.text)[0].lstrip("-")
    counts = int(mantissa.replace(".", "") or 0)
    volts = abs(_volts(value.token.text, value.exponent)) * scale
    limit = MAX_ZERO_OFFSET_VOLTS if counts <= MAX_ZERO_OFFSET_COUNTS else MIN_ZERO_OFFSET_VOLTS
    return volts <= limit


def flags_note(flags: frozenset[LineFlag]) -> str:
    """What the flags of a line say, for the user."""
    notes = [note for flag, note in FLAG_NOTES.items() if flag in flags]
    return reduce(
        lambda one, other: kept_text("{one} (also: {other})").format(one=one, other=other), notes or [""]
    )


def _volts(number: str, exponent: int) -> float:
    """The double nearest to number * 10**exponent: 273.1 mV are 0.2731 V to the last bit."""
    if not exponent:
        return float(number)
    mantissa, _, own = number.replace("e", "E").partition("E")
    return float(f"{mantissa}E{int(own or 0) + exponent}")


def _holds_for_all_digits(raw: bytes, text: str, value: Value) -> bool:
    """Whether every line of the same shape says its value at the same place in the same unit."""
    return (
        value.token.text[0] != "-"  # zero, and no other digits would be read
        and value.alone  # else the other number has to be compared
        and b"*" not in raw  # a checksum has to be compared
        and not any(name in text.upper() for name in FACTOR_NAMES)  # one of 1 changes nothing
        and not _LONG_DIGITS.search(text)  # seconds since 1970 begin with 1
        and raw[: value.token.end].isascii()  # places in the text are places in the bytes
        and value.token.text.replace(".", ",") == text[value.token.start : value.token.end].replace(".", ",")
    )
