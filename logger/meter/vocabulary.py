"""What the words on a meter's line mean: units, function marks, states, names of fields.

In: one word. Out: a `Meaning`. The vocabulary is that of displays, SCPI and common practice, whatever the case of
the letters: IEEE 488.2 table 7-2 makes suffix multipliers case-insensitive, so MV is millivolt (mega is MA). A line
that does not say by more than that which of both it is, is refused (`interpretation/doubts.py`).
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from enum import Enum, StrEnum, auto
from functools import lru_cache

from logger.translation import kept_text


class Quantity(StrEnum):
    """What a number is a number of; the value completes "the meter sends ..."."""

    VOLTS = kept_text("volts")
    AMPERES = kept_text("amperes")
    OHMS = kept_text("ohms")
    FARADS = kept_text("a capacitance")
    HERTZ = kept_text("a frequency")
    DEGREES = kept_text("a temperature")
    PERCENT = kept_text("percent")
    DECIBELS = kept_text("decibels")
    WATTS = kept_text("a power")
    SECONDS = kept_text("a time")
    DIODE = kept_text("a diode test")
    GAIN = kept_text("a transistor test")
    WAVEFORM = kept_text("a crest factor or a distortion")


BESIDE_VOLTS = {Quantity.HERTZ, Quantity.PERCENT, Quantity.SECONDS, Quantity.DEGREES}
"""Quantities that a meter on AC volts sends along; they do not say that its main value is something else."""


class WordKind(StrEnum):
    """How a voltage or a current is measured."""

    AC = "AC"
    DC = "DC"
    AC_AND_DC = "AC+DC"
    PEAK = "peak"


KIND_NAMES = {
    WordKind.DC: kept_text("DC volts"),
    WordKind.AC_AND_DC: kept_text("AC+DC volts"),
    WordKind.PEAK: kept_text("peak volts"),
}
"""What a meter sends that measures a voltage otherwise than as AC."""


class Role(Enum):
    """What a word does on a line."""

    UNIT = auto()
    """A unit, perhaps with its kind: mV, VAC, Hz. As a name ("V=0.273") it is the unit of what follows."""
    KIND = auto()
    """AC, DC, rms, ~."""
    FUNCTION = auto()
    """What the meter measures, said without a unit: FREQ, DIODE, RES."""
    OVERLOAD = auto()
    NOT_A_NUMBER = auto()
    HOLD = auto()
    EXTREME = auto()
    """MIN, MAX, AVG: not the value of this moment."""
    RELATIVE = auto()
    LOW_IMPEDANCE = auto()
    BATTERY = auto()
    LOW = auto()
    LOW_BATTERY = auto()
    VALUE_NAME = auto()
    OTHER_NAME = auto()
    """Names what is not the value: a range, a counter, a time."""
    STATE_NAME = auto()
    """A field whose words speak of the line's value: unit, mode, status."""
    NOTHING = auto()
    """Known, and of no weight for the value: AUTO, OK, TRUE RMS's TRUE."""
    TRUE = auto()
    FALSE = auto()
    UNKNOWN = auto()


@dataclass(frozen=True, slots=True)
class Meaning:
    """What a word means. `quantity` and `exponent` (the prefix, as a power of ten) are set for units."""

    role: Role
    quantity: Quantity | None = None
    exponent: int = 0
    kind: WordKind | None = None


_PREFIX = {"": 0, "P": -12, "N": -9, "U": -6, "µ": -6, "M": -3, "K": 3, "G": 9}

_UNITS = {
    Quantity.VOLTS: "VOLTS|VOLTAGE|VOLT|V",
    Quantity.AMPERES: "AMPERES|AMPERE|AMPS|AMP|A",
    Quantity.OHMS: "OHMS|OHM|Ω",
    Quantity.FARADS: "FARADS|FARAD|F",
    Quantity.HERTZ: "HERTZ|HZ",
    Quantity.WATTS: "WATTS|WATT|WH|W|VA|VAR",
    Quantity.SECONDS: "SEC|S",
}

_KINDS = {
    "AC+DC": WordKind.AC_AND_DC, "DC+AC": WordKind.AC_AND_DC, "ACDC": WordKind.AC_AND_DC,
    "ACPLUSDC": WordKind.AC_AND_DC,
    "AC": WordKind.AC, "RMS": WordKind.AC, "TRMS": WordKind.AC, "EFF": WordKind.AC, "~": WordKind.AC,
    "DC": WordKind.DC, "⎓": WordKind.DC,
    "PEAK": WordKind.PEAK, "PP": WordKind.PEAK, "PK": WordKind.PEAK, "P-P": WordKind.PEAK,
}  # fmt: skip

_KIND = "|".join(re.escape(word) for word in sorted(_KINDS, key=len, reverse=True))
_UNIT_WORD = {
    quantity: re.compile(
        f"(?P<before>(?:{_KIND})*)(?P<prefix>[PNUµMKG]|MILLI|MICRO|KILO)?(?:{names})(?P<after>(?:{_KIND})*)"
    )
    for quantity, names in _UNITS.items()
}
_KIND_WORD = re.compile(f"(?:{_KIND})+")
_SPELLED_PREFIX = {"MILLI": "M", "MICRO": "U", "KILO": "K"}


_FIXED: dict[str, Meaning] = {}
for _role, _list in {
    Role.OVERLOAD: """OVER OVLD OVERLOAD OVERLD OVR OVRNG OVERRANGE OVERFLOW OVF OFL INF NINF INFINITY""",
    Role.NOT_A_NUMBER: """NAN""",
    Role.HOLD: """HOLD HLD AHOLD AUTOHOLD DHOLD""",
    Role.EXTREME: """MIN MAX AVG MINMAX MAXMIN MINIMUM MAXIMUM AVERAGE MEAN""",
    Role.RELATIVE: """REL DELTA Δ RELATIVE""",
    Role.LOW_IMPEDANCE: """LOZ""",
    Role.BATTERY: """BAT BATT BATTERY VBAT""",
    Role.LOW: """LOW LO WEAK EMPTY FLAT REPLACE CHANGE""",
    Role.LOW_BATTERY: """LOBAT LOBATT LOBATTERY LOWBAT LOWBATT LOWBATTERY BATLO BATLOW BATTLO BATTLOW BATTERYLOW LBAT
        LBATT LB LOWPOWER LOWPWR""",
    Role.VALUE_NAME: """VALUE VAL READING RDG READ RESULT MEASUREMENT MEASURED MEASURE MEAS MAIN PRIMARY PRI DISPLAY
        DISP INPUT IN PROBE SENSOR METER DMM CHANNEL CHAN CH BODY DATA LIVE ACTUAL ACT SAMPLE NUMERIC NUMBER U""",
    Role.OTHER_NAME: """TIME TIMESTAMP TS DATE DATETIME CLOCK T SEQ SEQUENCE COUNT COUNTER CNT N NO NR ID IDX INDEX
        RANGE RNG LIMIT OFFSET REF REFERENCE SUPPLY SETPOINT THRESHOLD SN SERIAL MODEL DEVICE NAME FW VERSION VER
        RATE SAMPLES CRC CS CHECKSUM CHK SUM UNCERTAINTY ERROR ERR DIGITS DECIMALS PRECISION RESOLUTION BAR
        BARGRAPH SECONDARY SUB UPTIME ELAPSED""",
    Role.STATE_NAME: """UNIT UNITS MODE FUNC FUNCTION FN TYPE COUPLING STATUS STATE FLAG FLAGS QUANTITY PARAM SYMBOL""",
    Role.NOTHING: """AUTO MANU MANUAL MAN OK GOOD VALID STABLE NORMAL TRMS TRUERMS AUTORANGE ARNG APO USB LPF FAST
        SLOW MED NONE READY RUN RUNNING""",
    Role.TRUE: """TRUE YES ON""",
    Role.FALSE: """FALSE OFF""",
}.items():
    for _word in _list.split():
        _FIXED[_word] = Meaning(_role)
for _quantity, _list in {
    Quantity.AMPERES: "CURR CURRENT",
    Quantity.OHMS: "RES RESISTANCE FRES CONT CONTINUITY BEEP IMPEDANCE",
    Quantity.FARADS: "CAP CAPACITANCE",
    Quantity.HERTZ: "FREQ FREQUENCY",
    Quantity.DEGREES: "TEMP TEMPERATURE",
    Quantity.PERCENT: "DUTY HUMIDITY",
    Quantity.DIODE: "DIODE DIOD DIO",
    Quantity.GAIN: "HFE",
    Quantity.WAVEFORM: "CF CREST THD",
    Quantity.SECONDS: "PER PERIOD",
    Quantity.WATTS: "POWER PWR PF ENERGY",
}.items():
    for _word in _list.split():
        _FIXED[_word] = Meaning(Role.FUNCTION, _quantity)
for _quantity, _list in {
    Quantity.DEGREES: "C DEGC DEGF °C °F ° DEG K CELSIUS FAHRENHEIT",
    Quantity.PERCENT: "% %RH RH PCT",
    Quantity.DECIBELS: "DB DBM DBV DBU",
}.items():
    for _word in _list.split():
        _FIXED[_word] = Meaning(Role.UNIT, _quantity)

for _word in ("UEFF", "URMS", "UAC", "U~"):
    _FIXED[_word] = Meaning(Role.UNIT, Quantity.VOLTS, kind=WordKind.AC)

_AS_NAME = {
    "OL": Meaning(Role.OVERLOAD),
    "I": Meaning(Role.FUNCTION, Quantity.AMPERES),
    "F": Meaning(Role.FUNCTION, Quantity.HERTZ),
    "R": Meaning(Role.FUNCTION, Quantity.OHMS),
    "U": Meaning(Role.UNIT, Quantity.VOLTS),
    "VALUES": Meaning(Role.VALUE_NAME),
    "C": Meaning(Role.OTHER_NAME),
    "S": Meaning(Role.OTHER_NAME),
    "SEC": Meaning(Role.OTHER_NAME),
    "MS": Meaning(Role.OTHER_NAME),
    "K": Meaning(Role.OTHER_NAME),
}
"""Letters that mean something else in front of "=" or ":" than behind a number."""

_OF_OTHER_VALUES = """NULL ZERO TARE MATH OFFSET MEM MEMORY STO STORE STORED RCL RECALL FREEZE PMAX PMIN PKMAX PKMIN
    PEAKHOLD INRUSH UNDER BAD INVALID LIMIT"""
NEVER_TAUGHT = frozenset(_OF_OTHER_VALUES.split())
"""Words of a value that is relative, stored, a peak or doubted by the meter: no format learns them as harmless. Any
other word that is not known is refused as well, until it is taught."""

_NUMBERED = re.compile(r"(?:CH|CHAN|CHANNEL|DMM|METER|PROBE|INPUT|SENSOR)[0-9]{1,2}")
_CAMEL = re.compile(r"[A-Z]?[a-z°µ]+|[A-Z]+(?![a-z])|[^A-Za-z_]+")


@lru_cache(maxsize=4096)
def meaning_of(word: str) -> Meaning:
    """What a word means in a line. Unknown words are `Role.UNKNOWN`."""
    upper = _upper(word)
    fixed = _FIXED.get(upper)
    if fixed is not None:
        return fixed
    if _KIND_WORD.fullmatch(upper):
        return Meaning(Role.KIND, kind=_kind_of(upper))
    for quantity, pattern in _UNIT_WORD.items():
        match = pattern.fullmatch(upper)
        if match:
            prefix = match["prefix"] or ""
            exponent = _PREFIX[_SPELLED_PREFIX.get(prefix, prefix)]
            if quantity is Quantity.VOLTS and not -9 <= exponent <= 3:
                return Meaning(Role.UNKNOWN)
            return Meaning(Role.UNIT, quantity, exponent, _kind_of(match["before"] + match["after"]))
    if _NUMBERED.fullmatch(upper):
        return Meaning(Role.NOTHING)
    return Meaning(Role.UNKNOWN)


@lru_cache(maxsize=4096)
def meanings_of_name(name: str) -> tuple[Meaning, ...]:
    """What the name of a field means, word by word: "acVolts", "v_ac", "Battery.Voltage"."""
    upper = _upper(name)
    if upper in _AS_NAME:
        return (_AS_NAME[upper],)
    whole = meaning_of(name)
    if whole.role is not Role.UNKNOWN:
        return (whole,)
    parts = [part for piece in re.split(r"[_\-. ]+", name) if piece for part in _split_camel(piece)]
    # A number in a name ("ch1_v") only counts.
    parts = [part for part in parts if not part.isdigit()] or parts
    return tuple(_AS_NAME.get(_upper(part)) or meaning_of(part) for part in parts)


def _split_camel(piece: str) -> list[str]:
    if meaning_of(piece).role is not Role.UNKNOWN:
        return [piece]
    return _CAMEL.findall(piece) or [piece]


def _upper(word: str) -> str:
    # str.upper() would turn the micro sign into a Greek capital mu.
    return "".join(char if char == "µ" else char.upper() for char in word)


def _kind_of(kinds: str) -> WordKind | None:
    found = {_KINDS[word] for word in re.findall(_KIND, kinds)}
    if not found:
        return None
    for kind in (WordKind.PEAK, WordKind.AC_AND_DC):
        if kind in found:
            return kind
    return WordKind.AC_AND_DC if len(found) > 1 else found.pop()
