"""How each form of line is read: volts, overload, not AC volts, unreadable."""

from __future__ import annotations

import pytest

from logger.meter.interpretation import FLAG_NOTES, LineFlag
from logger.meter.lines import MISTAKE_NOTE, LineStatus, read_any_line, read_line
from logger.meter.recorded_stream import read_stream
from logger.meter.tokens import decode

VOLTS = {
    # plain
    "0.273": 0.273,
    "+0.273": 0.273,
    "  0.273  ": 0.273,
    ".273": 0.273,
    "273": 273.0,
    "00.273": 0.273,
    "+ 0.273": 0.273,
    "0.2731E0": 0.2731,
    "+2.73120000E-01": 0.27312,
    "2.731e-001": 0.2731,
    # units, glued and apart, in front and behind
    "0.273V": 0.273,
    "0.273 V": 0.273,
    "273.1 mV": 0.2731,
    "273.1mV": 0.2731,
    "273100 uV": 0.2731,
    "273100 µV": 0.2731,
    "273100 μV": 0.2731,
    "0.000273 kV": 0.273,
    "2.731E+02 mV": 0.2731,
    "0.273 volts": 0.273,
    "273 millivolts": 0.273,
    "V 0.273": 0.273,
    "V0.273": 0.273,
    "mV 273.1": 0.2731,
    "VAC: 0.273": 0.273,
    "0.273 v": 0.273,
    # AC marks
    "0.273 VAC": 0.273,
    "0.273VAC RMS": 0.273,
    "0.273 V AC": 0.273,
    "0.273 ACV": 0.273,
    "ACV 0.2731E+0": 0.2731,
    "+0.27312E+0 VAC": 0.27312,
    "AC 0.273 V": 0.273,
    "AC V 0.273": 0.273,
    "0.273 V~": 0.273,
    "V~ 0.273": 0.273,
    "0.273 V rms": 0.273,
    "0.273 Vrms": 0.273,
    "0.273 V(rms)": 0.273,
    "0.273 V_rms": 0.273,
    "0.273 V TRMS": 0.273,
    "T-RMS 0.273 V": 0.273,
    "273.1 mV AC": 0.2731,
    "273.1mVAC": 0.2731,
    "0.273 AC": 0.273,
    "VOLT:AC 0.273": 0.273,
    '"VOLT:AC",0.273': 0.273,
    # decimal comma
    "0,273": 0.273,
    "0,273 V": 0.273,
    "1,234": None,
    "1,234 V": None,
    "12,34 V AC": 12.34,
    "273,1 mV": 0.2731,
    "0,273;": 0.273,
    "17;0,273;V": 0.273,
    "17\t0,273\tV": 0.273,
    "0,273 V, 50,0 Hz": 0.273,
    '"17","0,273","V"': 0.273,
    "+2,731E-01": 0.2731,
    # fields
    "AC,0.273,V": 0.273,
    "0.273,V,AC": 0.273,
    "0.273,V,AC,0,1": 0.273,
    "17,0.273": 0.273,
    "17,0.273,V": 0.273,
    "17;273;mV": 0.273,
    "17 0.273 V": 0.273,
    "17\t0.273\tV\tAC": 0.273,
    "#17 0.2730 V": 0.273,
    "[17] 0.273 V": 0.273,
    "17: 0.273 V": 0.273,
    "0.273;V;OK;": 0.273,
    "V,0.273": 0.273,
    "V;17;0.273": 0.273,
    "0.273   V     AC": 0.273,
    # a time or date first
    "12:31:05,0.273": 0.273,
    "12:31:05 0.273 V": 0.273,
    "12:31:05.250;0.273": 0.273,
    "12:31:05,250;0,273": 0.273,
    "12:31 0.273": 0.273,
    "2026-01-05T20:15:00Z;0,273;V": 0.273,
    "2026-01-05T20:15:00.123+01:00 0.273 V": 0.273,
    "2026-01-05 20:15:00,17,0.273,V": 0.273,
    "05.01.2026 20:15:00;0,273;V": 0.273,
    "01/05/2026 8:15:00 PM,0.273": 0.273,
    "1767640500,0.273": 0.273,
    "1767640500.25 0.273 V": 0.273,
    "0.273 V 12:31:05": 0.273,
    # a frequency or another value beside it
    "0.273 V, 50.0 Hz": 0.273,
    "0.273 V 50.01 Hz": 0.273,
    "0.273V 50Hz": 0.273,
    "0.273 V AC 50 Hz AUTO": 0.273,
    "0.273, 50.0 Hz": 0.273,
    "0.273 V FREQ 50.0": 0.273,
    "V 0.273 Hz 50.0": 0.273,
    "50.0 Hz 0.273 V": 0.273,
    "0.273 V 21.5 C": 0.273,
    "0.273 VAC, 0.012 VDC": 0.273,
    "0.273 V AC RANGE 4V": 0.273,
    "RANGE 4 V 0.273 V AC": 0.273,
    "0.273 V 273 mV DC": None,
    # names
    "V=0.273": 0.273,
    "U = 0,273 V": 0.273,
    "Uac=0.273V": 0.273,
    "Voltage: 0.273 V": 0.273,
    "Voltage AC: 0.273": 0.273,
    "Reading: 0.273": 0.273,
    "Bedroom: 0.273 V": None,
    "V=0.273 f=50.0": 0.273,
    "V=5.0 f=50.0": 5.0,
    "T=21.5C V=0.273V": 0.273,
    "mode=AC;value=0.273;unit=V": 0.273,
    "mode=AC;value=273.1;unit=mV": 0.2731,
    "FUNC:ACV RNG:AUTO VAL:0.273 UNIT:V": 0.273,
    "n=17, v=0.273": 0.273,
    "CH1 0.273 V": 0.273,
    "Vac: 273.1 mV": 0.2731,
    "U 0,273 V": 0.273,
    "U~ 0,273 V": 0.273,
    "sensor1,0.273,V": 0.273,
    "ACV 273.1 mV": 0.2731,
    "273.1,mV,ACV": 0.2731,
    "voltage_mv=273.1": 0.2731,
    "Voltage (AC): 0.273 V": 0.273,
    "V(AC)=0.273": 0.273,
    "Sample 17: 0.273 V": 0.273,
    "0.273 V AC CRC=A5": 0.273,
    # JSON
    '{"voltage":273.1,"unit":"mV"}': 0.2731,
    '{"func":"ACV","val":0.273,"range":4}': 0.273,
    '{"ac_v":0.273}': 0.273,
    '{"acVolts":273.1e-3}': 0.2731,
    '{"value":0.273,"unit":"V","mode":"AC"}': 0.273,
    '{"value": 273.1, "unit": "mV"}': 0.2731,
    '{"value":"0.273","unit":"VAC"}': 0.273,
    '{"value":"0,273 V"}': 0.273,
    '{"v":0.273,"i":0.1}': 0.273,
    '{"voltage":0.273,"hz":50.0}': 0.273,
    '{"t":12.5,"mv":273.1}': 0.2731,
    '{"ts":1767640500,"v":0.273,"bat":8.4}': 0.273,
    '{"ac":0.273,"dc":0.01}': 0.273,
    '{"reading":{"value":0.273,"unit":"V"},"function":"VAC"}': 0.273,
    '{"v":0.273,"min":0.1,"max":0.4}': 0.273,
    '{"device":"DMM 12.5","v":0.273}': 0.273,
    '{"value":273100,"unit":"\\u00b5V"}': 0.2731,
    '{"overload":false,"ac_v":0.273}': 0.273,
    '{"frequency":"--","v":0.273}': 0.273,
    '[17,0.273,"V"]': 0.273,
    # states
    "AUTO AC 0.273 V": 0.273,
    "0.273 V AC AUTO": 0.273,
    "RANGE AUTO 0.273 V": 0.273,
    "0.273 VAC ready": 0.273,
    "0.273 V,B7": 0.273,
    "0.273 V 0x04": 0.273,
    "$DMM,0.273,V*3A": 0.273,
    "> 0.273 V": 0.273,
    "(0.273)": 0.273,
    "0.273 V 273 mV": None,
}

OVERLOAD = [
    "OL", "0L", "O.L", "0.L", ".OL", "OL.", "0L.", "+OL", "-OL", "OL V", "O.L V", "OL mV~", "OLmV", "OL VAC", "ol",
    "AC OL V", "17,OL,V", "12:31:05 OL", "OL, 50.0 Hz", "OVER", "OVLD", "OVERLOAD", "OVRNG", "OL V; --- Hz",
    "inf", "+INF", "-inf V", "-Infinity", "9.9E37", "+9.9E37", "-9.9E+37", "+9.90000000E+37", "9.9E37 V",
    "17,+9.9E37", '{"value":"OL","unit":"V"}', '{"ac_v":"OVLD"}', '{"overload":true,"ac_v":0.0}',
    '{"status":"OL","value":1.0}', '{"reading":0.273,"ol":true}', '{"reading":0.273,"OL":1}', "VAL=OL UNIT=V", "V: OL",
]  # fmt: skip

NOT_AC_VOLTS = {
    "0.273 V DC": "DC volts",
    "0.273 VDC": "DC volts",
    "0.273VDC": "DC volts",
    "-0.273 V DC": "DC volts",
    "DC 0.273 V": "DC volts",
    "DCV 0.273": "DC volts",
    "VDC: 0.273": "DC volts",
    "VOLT:DC 0.273": "DC volts",
    "mV DC 12.5": "DC volts",
    "0.273,V,DC": "DC volts",
    "0.273 V 21 C DC": "DC volts",
    "0.273 V⎓": "DC volts",
    "0.273 V=": "DC volts",
    "OL V DC": "DC volts",
    "mode=DC;value=0.273;unit=V": "DC volts",
    '{"v_dc":0.1}': "DC volts",
    '{"value":0.1,"unit":"V","mode":"DC"}': "DC volts",
    '{"ac":false,"value":0.273}': "DC volts",
    "0.273 V AC+DC": "AC+DC volts",
    "0.273 VAC+DC": "AC+DC volts",
    "0.273 Vpp": "peak volts",
    "0.8Vp-p": "peak volts",
    "0.273 V PEAK": "peak volts",
    "0.273 A": "amperes",
    "1.5 mA AC": "amperes",
    "CURR:AC 0.273": "amperes",
    '"CURR:AC",0.273': "amperes",
    '{"function":"CURR:AC","value":0.273}': "amperes",
    '{"value":0.1,"unit":"A"}': "amperes",
    "4.7 kOhm": "ohms",
    "4.7 kΩ": "ohms",
    "4.7 k\u2126": "ohms",
    "OL MOhm": "ohms",
    "OHM 470": "ohms",
    "RES 470": "ohms",
    "CONT 0.2": "ohms",
    "50.01 Hz": "a frequency",
    "50.01Hz": "a frequency",
    "FREQ 50.01": "a frequency",
    "21.5 °C": "a temperature",
    "21.5 C": "a temperature",
    "TEMP 21.5": "a temperature",
    "12.3 nF": "a capacitance",
    "12.3 µF": "a capacitance",
    "0.553 V DIODE": "a diode test",
    "DIODE 0.553 V": "a diode test",
    "OL DIODE": "a diode test",
    "47.5 %": "percent",
    "-12.3 dBV": "decibels",
    "12.3 W": "a power",
}

UNREADABLE = [
    "273.1 MV", "273.1 MV AC", "MVAC 273.1", '{"MV":273.1}', "2.731E+02 MVolts",
    "AC 0.2345 VAC 0.9000 V", "0.2345 VAC, 0.9 V", "0.2345 VAC 0.9000", "LO BAT 7.1 V 0.273 VAC",
    '{"reading":0.273,"valid":false}',
    '{"reading":0.273,"ok":0}',
    '{"v":0.273,"stale":true}',
    '{"v":0.273,"error":true}',
    "Error 12 0.273 V",
    "0.273 V, ERR=7",
    '{"volts": 0.273, "unit": "mV"}',
    "6V 0.273",
    "6.0 V 0.273",
    "600mV 273.1",
    "", " ", "\x00\x00", "xyz", "V", "AC", "VAC", ";;;", "{}", "[]", "{", '{"ac_v":0.27', '{"ac_v":}', '{"ac_v":null}',
    '{"ac_v":"--?"}', "12:31:05", "2026-01-05",
    # a negative rms value
    "-0.273", "-0.273 V", "- 0.273 V", "AC - 0.273 V", "-0.273 VAC",
    # damaged
    "0.2?3", "0.2?3 V", "0.2x3 V", "0.2 73 V", "0 273 V", "0;273 V", "0.2;3", "0.2;3 V", "0.2:3", "0:273 V", "0.2,3 V",
    "0.2/3", "0.2=3", "0.2*31", "0..273", "0.27.3", "0.273.", "273.", "1.2.3 V", "+-0.273", "++0.273", "0.273+0.274",
    "0.2730.274", "0.273N", "0.273VV", "0.273 VX", "B2.34 V", "0.273 V 0.2?4", "0.273 Q", "xyz 0.273", "xyz 0.273 V",
    "2.73E", "2.73E-", "2.73E-0", "2.73E3", "0.2E37", "2.73E-1234", "2.73E 1", ".731E-01", "(0.273", '"0.273', "0.273)",
    "0.27\x003 V", "0.2\x073", "\x1612.3", "12.3\x16", "\x00.273", "0.273 \ufffd", "0,2730,1", ",0.273", ";0.273",
    "0.273 V \x01 AC", "-,5", "AC -,5", "0.273 U", "CH1,5 V", "$DMM,0.274,V*53", "0.273*5A",
    "DMM v1.2", "DMM V1.2", "mV 273.1 V", "273.1 mV V",
    # two candidates
    "0.273 0.300", "0.273,0.300", "0.273 V 0.300 V", "1 2", "230 50", "12.5,0.273", "17;V;0.273", "V 1.5 0.273",
    "AC 0.273 V DC 0.012 V", '{"ch1":0.273,"ch2":0.3}', '{"v":0.273,"v":0.3}', "V=12;34", "0.273 VAC 0.3 VAC",
    # commas with two meanings
    "0,273,5", "0,273,V", "AC,0,273,V", "1,234.5", "1,234.5 V", "1.234,5", "1,234 mV", "1,234,567", "12:31:05,273",
    "12:31:05,0,273",
    # contradictions, and what is no value
    "0.273 V A", "VAC 0.273 A", "0.273 VAC DC", "OL 0.273 V", "9.91E37", "+9.91E+37", "NaN", "nan V", "BATT 8.4 V",
    "Battery: 8.4 V", '{"seq":17,"x":0.273}', "RANGE 4 V", "T 0.273", "1E10", "+1.0E+30", "100001 V",
    "0." + "1" * 30,
]  # fmt: skip


@pytest.mark.parametrize("line", VOLTS)
def test_volts(line: str) -> None:
    expected = VOLTS[line]
    reading = read_line(line.encode())
    if expected is None:
        assert reading.volts is None
        return
    assert (reading.status, reading.volts) == (LineStatus.VOLTS, expected)
    assert reading.note == ""
    if "\\u" not in line:
        assert reading.number_span is not None
        begin, end = reading.number_span
        shown = decode(line.encode())[begin:end].replace(",", ".").replace(" ", "")
        ratio = float(shown) / expected
        assert any(ratio == pytest.approx(scale) for scale in (1, 1e-3, 1e3, 1e6))


@pytest.mark.parametrize("line", OVERLOAD)
def test_overload(line: str) -> None:
    reading = read_line(line.encode())
    assert (reading.status, reading.volts) == (LineStatus.OVERLOAD, None)


@pytest.mark.parametrize("line", NOT_AC_VOLTS)
def test_not_ac_volts_is_told_in_one_sentence(line: str) -> None:
    reading = read_line(line.encode())
    assert (reading.status, reading.volts) == (LineStatus.NOT_AC_VOLTS, None)
    assert reading.note == f"the meter sends {NOT_AC_VOLTS[line]}; switch it to AC volts"


@pytest.mark.parametrize("line", UNREADABLE)
def test_unreadable(line: str) -> None:
    reading = read_line(line.encode())
    assert (reading.status, reading.volts) == (LineStatus.UNREADABLE, None)
    assert reading.note
    assert reading.note != MISTAKE_NOTE


@pytest.mark.parametrize(
    ("line", "volts"),
    [
        (b"\x00\x00\x000.273 V", 0.273),
        (b"\x020.273 V\x03", 0.273),
        (b"\x110.273\x13", 0.273),
        (b"0.273 V\x00\x00", 0.273),
        (b"0.273,V,\x03", 0.273),
        (b"\xef\xbb\xbf0.273", 0.273),
        (b"273.1 \xb5V", 0.0002731),  # Latin 1
        (b"273.1 \xe6V", 0.0002731),  # code page 437
    ],
)
def test_bytes_around_the_number(line: bytes, volts: float) -> None:
    assert read_line(line)[:2] == (LineStatus.VOLTS, volts)


@pytest.mark.parametrize(
    "line",
    [
        b"\xff\xfe\x81\x12\x99",
        b"0.27\xb3 V",
        b"\xb0.273 V",
        b"0.273 \xd6",
        b"\x12\x34\x56\x78" * 4,
        b"\x80" * 20,
    ],
)
def test_noise_is_unreadable(line: bytes) -> None:
    assert read_line(line).status is LineStatus.UNREADABLE


@pytest.mark.parametrize(
    ("line", "flag", "is_live"),
    [
        ("HOLD 0.273 V AC", LineFlag.HOLD, False),
        ("0.273 VAC HOLD", LineFlag.HOLD, False),
        ('{"v":0.273,"hold":true}', LineFlag.HOLD, False),
        ("MAX 0.273 VAC", LineFlag.EXTREME, False),
        ("0.273 V REL", LineFlag.RELATIVE, False),
        ("0.273 V LoZ", LineFlag.LOW_IMPEDANCE, False),
        ("0.273 V AC LOW BAT", LineFlag.LOW_BATTERY, True),
        ("LOW BAT 0.273 V AC", LineFlag.LOW_BATTERY, True),
        ("BATT 0.273 V AC", LineFlag.LOW_BATTERY, True),
        ('{"battery":"low","ac_v":0.273}', LineFlag.LOW_BATTERY, True),
    ],
)
def test_states_of_the_meter(line: str, flag: LineFlag, is_live: bool) -> None:
    reading = read_line(line.encode())
    assert (reading.status, reading.volts, reading.flags) == (LineStatus.VOLTS, 0.273, frozenset({flag}))
    assert reading.is_live is is_live
    assert reading.note == FLAG_NOTES[flag]


def test_a_shape_that_is_known_is_read_as_carefully_as_the_first_time() -> None:
    assert read_line(b"17;0.273;V").volts == 0.273
    assert read_line(b"42;1.999;V").volts == 1.999
    assert read_line(b"1.5E+02").volts == 150.0
    assert read_line(b"9.9E+37").status is LineStatus.OVERLOAD
    assert read_line(b"9.9E+09").status is LineStatus.UNREADABLE
    assert read_line(b"0.273 V 0.273 V").volts == 0.273
    assert read_line(b"0.273 V 0.274 V").status is LineStatus.UNREADABLE


def test_a_file_is_read_line_by_line_without_empty_lines() -> None:
    stream = [b"0.1 V\r\n\r\n\n0.2 V\rOL\n" + b"1" * 5000 + b"\n0.3 V"]
    readings = list(read_stream(stream))
    assert [reading.volts for reading in readings if reading.volts] == [0.1, 0.2, 0.3]
    assert readings[2].status is LineStatus.OVERLOAD
    assert {reading.status for reading in readings[3:-1]} == {LineStatus.UNREADABLE}


@pytest.mark.parametrize(
    ("text", "last"), [(b"273 mV\r\n27", None), (b"0.274 V\n0.273 V", 0.273), (b"0.273", 0.273)]
)
def test_a_last_line_without_its_end_is_none_where_it_is_the_beginning_of_one(
    text: bytes, last: float | None
) -> None:
    assert list(read_stream([text]))[-1].volts == last


def test_a_mistake_in_the_reading_costs_one_line_and_not_the_night(monkeypatch: pytest.MonkeyPatch) -> None:
    def fail(_: object) -> None:
        raise IndexError

    monkeypatch.setattr("logger.meter.lines.tokens_of", fail)
    reading = read_any_line(b"0.273 V")
    assert (reading.status, reading.note) == (LineStatus.UNREADABLE, MISTAKE_NOTE)


def test_a_line_longer_than_any_meters_is_refused_at_once() -> None:
    assert read_any_line(b"1" * 1_000_000).note == "the line is too long"


@pytest.mark.parametrize(
    ("lines", "volts"),
    [
        (["AC 273.1 mV", "AC 273.2 mV", "AC 273.0 ", "AC 273.2 mV"], [0.2731, 0.2732, None, 0.2732]),
        (["AC 273.1 mV", "AC 180.2", "AC 273.2 mV", "0.3010"], [0.2731, None, 0.2732, 0.301]),
        (["AC 90.1 mV", "AC 90.2", "89.9", "AC 90.2 mV"], [0.0901, None, None, 0.0902]),
        (["AC 273.0", "273.1", "AC 273.2 mV"], [None, None, 0.2732]),
        (["AC 273.1 mV", "AC 273.0 V", "AC 273.2 V", "AC 273.2 mV"], [0.2731, None, None, 0.2732]),
        (["AC 273.0 V", "AC 273.1 mV", "AC 273.2 mV"], [None, 0.2731, 0.2732]),
        (["1.234 mV", "1.234 V"], [0.001234, 1.234]),
        (["AC 273.1 mV", "AC 1.204 V", "AC 273.2 mV"], [0.2731, 1.204, 0.2732]),
        (["0.273", "0.301", "AC 273.1 mV"], [0.273, 0.301, 0.2731]),
    ],
)  # fmt: skip
def test_a_line_of_a_file_that_lost_its_unit_is_not_read_as_volts(
    lines: list[str], volts: list[float | None]
) -> None:
    readings = list(read_stream(["\n".join([*lines, ""]).encode()]))
    assert [reading.volts for reading in readings] == [v if v is None else pytest.approx(v) for v in volts]
    refused = {reading.status for reading in readings if reading.volts is None}
    assert refused <= {LineStatus.UNREADABLE}
