# ruff: noqa: E501
"""Writes fixtures/lines again: the forms of lines that meters send, and how each line has to be read.

    python scripts/make_line_forms.py

The table below was written by hand from what meters do, before and apart from the code that reads lines; nothing in
it was produced by that code. For each form: its name, the end of its lines, and pairs of a line and its reading:
a number (AC volts), OL (overload), NOT (something else than AC volts) or BAD (unreadable).
"""

from __future__ import annotations

import functools
import json
import operator
from dataclasses import dataclass
from pathlib import Path

OL, NOT, BAD = "overload", "not_ac_volts", "unreadable"


@dataclass(frozen=True)
class Held:
    """AC volts that are not those of this moment: the recorder keeps the line, and takes no sample from it."""

    volts: float


Reading = float | str | Held
FOLDER = Path(__file__).parent.parent / "fixtures" / "lines"


def _as_json(reading: Reading) -> dict[str, object]:
    if isinstance(reading, str):
        return {"status": reading, "volts": None}
    if isinstance(reading, Held):
        return {"status": "volts", "volts": reading.volts, "held": True}
    return {"status": "volts", "volts": reading}


def summed(text: str) -> str:
    """A line with its characters folded together by exclusive or, as "$...*hh" has it."""
    return f"${text}*{functools.reduce(operator.xor, text.encode()):02X}"


FORMS: list[tuple[str, bytes, list[tuple[str | bytes, Reading]]]] = [
    # A number and nothing else.
    ("plain_point", b"\r\n", [("0.273", 0.273), ("0.268", 0.268), ("12.04", 12.04), ("0.2?3", BAD), ("0.000", 0.0)]),
    ("plain_four_digits", b"\n", [("0.2731", 0.2731), ("1.0000", 1.0), ("0.27 1", BAD), ("OL", OL), ("0.2733", 0.2733)]),
    ("plain_signed", b"\r", [("+0.273", 0.273), ("+00.27", 0.27), ("-0.273", BAD), ("+.273", 0.273)]),
    ("plain_padded", b"\r\n", [("   0.273", 0.273), ("  12.040", 12.04), ("   0.2X3", BAD), ("     OL ", OL)]),
    ("plain_zeros_in_front", b"\r\n", [("0000.273", 0.273), ("0012.040", 12.04), ("0000.2\x7f3", BAD)]),
    ("plain_comma", b"\r\n", [("0,273", 0.273), ("12,04", 12.04), ("0,2,3", BAD), ("0,268", 0.268)]),
    ("nr1", b"\n", [("2", 2.0), ("0", 0.0), ("+3", 3.0), ("1O", BAD)]),
    ("nr2", b"\n", [("+0.27310", 0.2731), ("+1.20400", 1.204), ("+0.27a10", BAD)]),
    ("nr3", b"\n", [("+2.73100E-01", 0.2731), ("+1.20400E+00", 1.204), ("+9.90000E+37", OL), ("+9.91000E+37", BAD),
                    ("-9.90000E+37", OL), ("+2.73100E-0", BAD), ("+2.7310?E-01", BAD), ("+3.00000E-03", 0.003)]),
    ("nr3_short", b"\r\n", [("2.731E-1", 0.2731), ("1.204E+0", 1.204), ("2.731F-1", BAD)]),
    ("nr3_lower", b"\n", [("2.73100e-01", 0.2731), ("1.2e+00", 1.2), ("9.9e37", OL), ("nan", BAD)]),
    ("nr3_two_decimals_long", b"\n", [("+2.731000000E-01", 0.2731), ("+2.731000000E-001", 0.2731)]),
    # A number with its unit.
    ("unit_glued", b"\r\n", [("0.273V", 0.273), ("12.04V", 12.04), ("0.27V3", BAD), ("OLV", OL), ("0.268V", 0.268)]),
    ("unit_apart", b"\r\n", [("0.273 V", 0.273), ("OL V", OL), ("0.2 3 V", BAD), ("0.270 V", 0.27)]),
    ("unit_ac_glued", b"\r\n", [("0.273VAC", 0.273), ("0.273VDC", NOT), ("0.2#3VAC", BAD), ("OLVAC", OL), ("0.27VAC", 0.27)]),
    ("unit_ac_apart", b"\r\n", [("0.273 V AC", 0.273), ("0.273 V DC", NOT), ("0.L V AC", OL), ("-0.273 V AC", BAD)]),
    ("unit_acv", b"\n", [("0.273 ACV", 0.273), ("1.204 DCV", NOT), ("OL ACV", OL), ("O.273 ACV", BAD)]),
    ("unit_tilde", b"\r\n", [("0.273 V~", 0.273), ("0.300 V~", 0.3), ("OL V~", OL), ("0.3O0 V~", BAD)]),
    ("unit_tilde_first", b"\r\n", [("~ 0.273 V", 0.273), ("~ 0.268 V", 0.268), ("~ OL V", OL), ("~0.273 V", BAD)]),
    ("unit_rms", b"\r\n", [("0.273 Vrms", 0.273), ("273.1 mVrms", 0.2731), ("0.8 Vpp", NOT), ("0.2_3 Vrms", BAD)]),
    ("unit_volts_spelled", b"\n", [("0.273 volts", 0.273), ("1.204 Volts AC", 1.204), ("1.204 Volts DC", NOT)]),
    ("unit_milli_glued", b"\r\n", [("273.1mV", 0.2731), ("273mV", 0.273), ("1.204V", 1.204), ("2.04mA", NOT), ("27?.1mV", BAD)]),
    ("unit_milli_apart", b"\r\n", [("273.1 mV", 0.2731), ("0.9 mV", 0.0009), ("OL mV", OL), ("273.1 mW", NOT)]),
    ("unit_autorange", b"\r\n", [("599.9 mV AC", 0.5999), ("0.601 V AC", 0.601), ("6.01 V AC", 6.01), ("60.1 V AC", 60.1),
                                 ("601 V AC", 601.0), ("OL V AC", OL), ("599.8 mV AC", 0.5998), ("0.001 kV AC", 1.0)]),
    ("unit_micro", b"\r\n", [("273 uV", 0.000273), ("273.1 µV".encode(), 0.0002731), (b"273.1 \xb5V", 0.0002731), ("27\x013 uV", BAD)]),
    ("unit_micro_latin", b"\n", [(b"950 \xb5V AC", 0.00095), (b"1.2 mV AC", 0.0012), (b"1.\xff mV AC", BAD)]),
    ("unit_ohm_turned", b"\r\n", [("0.273 V AC", 0.273), ("4.70 kOhm", NOT), ("OL MOhm", NOT), ("0.00 Ohm", NOT), ("0.270 V AC", 0.27)]),
    ("unit_knob_turned_round", b"\r\n", [("0.273 V AC", 0.273), ("0.012 V DC", NOT), ("1.02 A AC", NOT), ("12.1 nF", NOT),
                                         ("49.98 Hz", NOT), ("0.612 V DIODE", NOT), ("23.4 C", NOT), ("0.275 V AC", 0.275)]),
    ("unit_upper", b"\r\n", [("273.1 MV AC", BAD), ("0.273 V AC", 0.273), ("HOLD 0.273 V AC", Held(0.273))]),
    ("unit_comma", b"\r\n", [("0,273 V", 0.273), ("12,04 V~", 12.04), ("273,1 mV", 0.2731), ("1,234 mV", 0.001234), ("1,234 V", 1.234)]),
    # The function first.
    ("function_first", b"\r\n", [("ACV 0.273", 0.273), ("DCV 0.273", NOT), ("ACV OL", OL), ("ACV 0.27e", BAD), ("OHM 470.1", NOT)]),
    ("function_first_unit_last", b"\r\n", [("AC 0.273 V", 0.273), ("DC 0.273 V", NOT), ("AC 273.1 mV", 0.2731), ("AC OL V", OL)]),
    ("function_vac_colon", b"\n", [("VAC: 0.273", 0.273), ("VAC: 1.204", 1.204), ("VDC: 1.204", NOT), ("VAC: OL", OL), ("VAC: 0.2.3", BAD)]),
    ("function_v_tilde", b"\n", [("V~ 0.273", 0.273), ("V~ OL", OL), ("V~ 0.27:", BAD)]),
    ("function_two_words", b"\r\n", [("AC V 0.273", 0.273), ("DC V 0.273", NOT), ("AC mV 273.1", 0.2731), ("AC V 0.L", OL)]),
    ("function_comma", b"\n", [("VOLT:AC,0.273", 0.273), ("VOLT:DC,0.273", NOT), ("RES,470.1", NOT), ("FREQ,50.01", NOT)]),
    ("function_scpi_quoted", b"\n", [('"VOLT:AC",+2.73100E-01', 0.2731), ('"VOLT:DC",+2.73100E-01', NOT), ('"VOLT:AC",+9.90000E+37', OL)]),
    ("function_last", b"\n", [("0.273,V,AC", 0.273), ("0.273,V,DC", NOT), ("273.1,mV,AC", 0.2731), ("OL,V,AC", OL), ("27,1,mV,AC", BAD)]),
    ("function_semicolon_last", b"\r\n", [("0.273;V;AC", 0.273), ("0.L;V;AC", OL), ("0.0;A;AC", NOT), ("0.2\xa03;V;AC".encode("latin-1"), BAD)]),
    ("function_state_words", b"\r\n", [("AUTO 0.273 V AC", 0.273), ("AUTO HOLD 0.273 V AC", Held(0.273)), ("MANU 0.27 V AC", 0.27),
                                       ("AUTO LOW BAT 0.273 V AC", 0.273), ("AUTO OL V AC", OL)]),
    # Names.
    ("key_equal", b"\r\n", [("V=0.273", 0.273), ("V=0.268", 0.268), ("V=OL", OL), ("V=", BAD), ("V=0.2V3", BAD)]),
    ("key_equal_spaces", b"\n", [("VAC = 0.273", 0.273), ("VAC = 12.04", 12.04), ("VDC = 12.04", NOT)]),
    ("key_equal_unit", b"\n", [("U=0.273V", 0.273), ("U=273.1mV", 0.2731), ("I=1.02A", NOT), ("U=OL", OL)]),
    ("key_two", b"\n", [("V=0.273 F=50.0", 0.273), ("V=0.271 F=49.9", 0.271), ("V=OL F=0.0", OL), ("F=50.0 V=0.265", 0.265)]),
    ("key_comma_list", b"\n", [("value=0.273,unit=V,mode=AC", 0.273), ("value=273.1,unit=mV,mode=AC", 0.2731),
                               ("value=0.273,unit=V,mode=DC", NOT), ("value=4.7,unit=kOhm,mode=AUTO", NOT), ("value=OL,unit=V,mode=AC", OL)]),
    ("key_semicolon_count", b"\n", [("n=17;vac=0.273;hz=50.0", 0.273), ("n=18;vac=0.271;hz=50.0", 0.271), ("n=19;vac=OL;hz=0.0", OL),
                                    ("n=20;vac=0.2b;hz=50.0", BAD)]),
    ("key_colon", b"\r\n", [("Reading: 0.273 V AC", 0.273), ("Reading: 0.275 V AC", 0.275), ("Reading: OL V AC", OL), ("Reading: 0.27 V DC", NOT)]),
    # Fields with a counter or a time first.
    ("counter_comma", b"\n", [("17,0.273", 0.273), ("18,0.271", 0.271), ("19,0.2r1", BAD), ("20,OL", OL)]),
    ("counter_semicolon", b"\r\n", [("17;0.273;V", 0.273), ("18;0.275;V", 0.275), ("19;0.2;5;V", BAD), ("20;OL;V", OL)]),
    ("counter_semicolon_comma", b"\r\n", [("17;0,273;V;AC", 0.273), ("18;0,275;V;AC", 0.275), ("19;0,27;V;DC", NOT), ("20;OL;V;AC", OL)]),
    ("counter_tab", b"\n", [("17\t0.273\tV\tAC", 0.273), ("18\t271.5\tmV\tAC", 0.2715), ("19\t0.271\tV\tDC", NOT), ("20\t0.2\x1b1\tV\tAC", BAD)]),
    ("counter_space", b"\n", [("17 0.273 V", 0.273), ("18 0.275 V", 0.275), ("19 0.2 5 V", BAD)]),
    ("counter_padded", b"\r\n", [("000017, 0.273, VAC", 0.273), ("000018, 0.275, VAC", 0.275), ("000019, OL, VAC", OL), ("000020, 0.2*5, VAC", BAD)]),
    ("counter_hash", b"\n", [("#17 0.273 V AC", 0.273), ("#18 0.271 V AC", 0.271), ("#19 OL V AC", OL)]),
    ("time_comma", b"\r\n", [("12:31:05,0.273", 0.273), ("12:31:06,0.27x", BAD), ("12:31:07,0.268", 0.268), ("12:31:08,OL", OL)]),
    ("time_space", b"\n", [("12:31:05 0.273 V", 0.273), ("12:31:06 0.270 V", 0.27), ("12:31:07 0.L V", OL)]),
    ("time_millis_semicolon", b"\n", [("12:31:05.200;0.273;V;AC", 0.273), ("12:31:05.400;0.274;V;AC", 0.274), ("12:31:05.600;0.274;V;DC", NOT)]),
    ("date_time_semicolon", b"\r\n", [("2026-01-05 20:15:00;0.273;V", 0.273), ("2026-01-05 20:15:01;0.270;V", 0.27), ("2026-01-05 20:15:02;0.2!0;V", BAD)]),
    ("date_time_german", b"\r\n", [("05.01.2026;20:15:00;0,273;V;AC", 0.273), ("05.01.2026;20:15:01;0,271;V;AC", 0.271), ("05.01.2026;20:15:02;OL;V;AC", OL)]),
    ("date_time_slash", b"\r\n", [("01/05/2026,8:15:00 PM,0.273,V,AC", 0.273), ("01/05/2026,8:15:01 PM,0.272,V,AC", 0.272)]),
    ("date_time_iso_tab", b"\n", [("2026-01-05T20:15:00Z\t0.273", 0.273), ("2026-01-05T20:15:01Z\t0.271", 0.271), ("2026-01-05T20:15:02Z\t0.2\x001", BAD)]),
    ("unix_time_comma", b"\n", [("1767645300,0.273,V", 0.273), ("1767645301,0.275,V", 0.275), ("1767645302,OL,V", OL)]),
    ("seconds_and_value_tab", b"\n", [("12\t0.273", 0.273), ("13\t0.274", 0.274), ("14\t0.2", 0.2), ("15\t0.2 4", BAD)]),
    # A frequency or more beside it.
    ("hertz_comma", b"\n", [("0.273 V, 50.0 Hz", 0.273), ("0.271 V, 49.9 Hz", 0.271), ("OL V, 50.0 Hz", OL), ("0.27. V, 50.0 Hz", BAD)]),
    ("hertz_space", b"\r\n", [("0.273 VAC 50.01 Hz", 0.273), ("273.1 mVAC 50.00 Hz", 0.2731), ("OL VAC 0.00 Hz", OL), ("0.273 VDC 0.00 Hz", NOT)]),
    ("hertz_semicolon", b"\n", [("0,273;V;50,0;Hz", 0.273), ("0,275;V;50,0;Hz", 0.275), ("0,2;5;V;50,0;Hz", BAD)]),
    ("hertz_fields", b"\n", [("0.273,V,50.0,Hz", 0.273), ("0.271,V,50.0,Hz", 0.271), ("OL,V,---,Hz", OL)]),
    ("hertz_slash", b"\r\n", [("V 0.273 Hz 50.0", 0.273), ("V 0.270 Hz 50.0", 0.27)]),
    ("hertz_at", b"\n", [("0.273 V @ 50.0 Hz", 0.273), ("0.2@3 V @ 50.0 Hz", BAD), ("OL V @ 50.0 Hz", OL), ("0.271 V @ 50.0 Hz", 0.271)]),
    ("temperature_beside", b"\n", [("0.273 V AC 21.5 C", 0.273), ("0.275 V AC 21.4 C", 0.275), ("OL V AC 21.4 C", OL)]),
    ("battery_beside", b"\n", [("vac=0.273 bat=8.7", 0.273), ("vac=0.271 bat=8.6", 0.271), ("vac=OL bat=8.6", OL)]),
    ("status_code_last", b"\n", [("0.273,V,AC,0", 0.273), ("0.274,V,AC,0", 0.274), ("0.27-,V,AC,0", BAD)]),
    # JSON objects.
    ("json_value_unit", b"\n", [('{"value":0.273,"unit":"V","mode":"AC"}', 0.273), ('{"value":273.1,"unit":"mV","mode":"AC"}', 0.2731),
                                ('{"value":0.273,"unit":"V","mode":"DC"}', NOT), ('{"value":0.2?3,"unit":"V","mode":"AC"}', BAD),
                                ('{"value":"OL","unit":"V","mode":"AC"}', OL), ('{"value":-0.2,"unit":"V","mode":"AC"}', BAD)]),
    ("json_spaces", b"\r\n", [('{"t": 17, "ac_v": 0.273, "hz": 50.0}', 0.273), ('{"t": 18, "ac_v": 0.27', BAD), ('{"t": 19, "ac_v": 0.274, "hz": 50.0}', 0.274)]),
    ("json_nested", b"\n", [('{"id":"m1","reading":{"value":0.273,"unit":"V AC"},"battery":{"low":false}}', 0.273),
                            ('{"id":"m1","reading":{"value":0.271,"unit":"V AC"},"battery":{"low":true}}', 0.271)]),
    ("json_string_value", b"\n", [('{"display":"0.273","unit":"V AC"}', 0.273), ('{"display":"0.27S","unit":"V AC"}', BAD), ('{"display":"0.L","unit":"V AC"}', OL)]),
    ("json_exponent", b"\n", [('{"vrms":2.731e-1}', 0.2731), ('{"vrms":1.2}', 1.2), ('{"vrms":null}', BAD)]),
    ("json_overload_flag", b"\n", [('{"volts_ac":0.273,"overload":false}', 0.273), ('{"volts_ac":60.0,"overload":true}', OL)]),
    ("json_time_text", b"\n", [('{"time":"2026-01-05T20:15:00Z","value":0.273,"unit":"V","function":"AC"}', 0.273),
                               ('{"time":"2026-01-05T20:15:01Z","value":470,"unit":"Ohm","function":"RES"}', NOT)]),
    ("json_knob_by_key", b"\n", [('{"vac":0.273}', 0.273), ('{"vdc":0.273}', NOT), ('{"ohms":470.0}', NOT), ('{"vac":0.274}', 0.274)]),
    # What cables and meters put around a line.
    ("nul_first", b"\r\n", [(b"\x00\x00\x000.273 V AC", 0.273), (b"\x000.275 V AC", 0.275), (b"0.2\x005 V AC", BAD)]),
    ("nul_last", b"\n", [(b"0.273 V\x00", 0.273), (b"0.275 V\x00\x00", 0.275)]),
    ("stx_etx", b"\r", [(b"\x020.273 V AC\x03", 0.273), (b"\x02OL V AC\x03", OL), (b"\x020.2\x033 V AC\x03", BAD)]),
    ("xon_xoff", b"\r\n", [(b"\x110.273 V", 0.273), (b"\x130.275 V\x11", 0.275), (b"0.\x1175 V", BAD)]),
    ("cr_lf_cr", b"\r\r\n", [("0.273 V", 0.273), ("0.274 V", 0.274)]),
    ("lf_cr", b"\n\r", [("0.273 VAC", 0.273), ("OL VAC", OL)]),
    ("prompt", b"\r\n", [("> 0.273 V", 0.273), ("> 0.270 V", 0.27), ("> OL V", OL)]),
    ("high_bytes", b"\r\n", [("0.273 V AC", 0.273), (b"0.2\xb73 V AC", BAD), (b"\xb0.273 V AC", BAD), (b"\xb0\xae\xb2\xb7\xb3 V AC", BAD), ("0.274 V AC", 0.274)]),
    ("checksum_star", b"\r\n", [(summed("V,0.273"), 0.273), (summed("V,0.273").replace("273", "274"), BAD),
                                 (summed("V,0.274"), 0.274)]),
    # States of the meter.
    ("low_battery", b"\n", [("0.273 V AC LOBAT", 0.273), ("LOW BATT 0.271 V AC", 0.271), ("0.27l V AC LOBAT", BAD),
                              ("3.3 V battery", BAD), ("3.30 V, BATT", BAD), ("3.3 VBAT", BAD), ("0.273 V AC BATT", 0.273), ("0.273 V LOW BATT", 0.273),
                              ("0.273 VAC BATT OK", 0.273)]),
    ("counted", b"\r\n", [("MAX 1 0.900 V", Held(0.9)), ("0.273 V AVG 10", Held(0.273)), ("AVG,10,0.273,V", Held(0.273)),
                         ("MAX=1 0.273 V", Held(0.273)), ("MAX=0 0.273 V", 0.273), ('{"value":0.273,"unit":"V","max":1}', Held(0.273)),
                         ('{"value":0.273,"unit":"V","max":0.281}', 0.273), ("0.273 V MAX 0.281 V MIN 0.250 V", 0.273)]),
    ("min_max", b"\r\n", [("MAX 0.403 V AC", Held(0.403)), ("MIN 0.203 V AC", Held(0.203)), ("0.273 V AC", 0.273)]),
    ("overload_marks", b"\n", [("OL", OL), ("0L", OL), ("O.L", OL), (".OL", OL), ("-OL", OL), ("OVER", OL), ("OVLD", OL), ("INF", OL),
                               ("9.9E37", OL), ("0.273", 0.273)]),
    ("dashes", b"\n", [("----", BAD), ("--.-- V", BAD), ("17;----;V", BAD), ("OL V; --- Hz", OL), ("---- V; 50.0", BAD), ("0.273 V", 0.273)]),
    ("ac_plus_dc", b"\n", [("0.273 V AC", 0.273), ("0.273 V AC+DC", NOT), ("0.274 V AC", 0.274)]),
    ("two_displays", b"\n", [("0.273 V AC; 0.001 V DC", 0.273), ("0.274 V AC; 0.001 V DC", 0.274)]),
    # What a sceptic sends: lines that look like values and are none, and values in unusual dress.
    ("thousands_blank", b"\r\n", [("1 234.5 mV", BAD), ("12 345.6 mV", BAD), ("1 234.5 V", BAD), ("1 023.4 mV AC", BAD), ("1 234 mV", BAD),
                                 ("1 234,5 mV", BAD), ("1 234 567.8 uV", BAD), ("234.5 mV", 0.2345)]),
    ("thousands_other_blanks", b"\n", [("1\u00a0234.5 mV", BAD), ("1\u2009234.5 mV", BAD), ("1\u202f234.5 mV", BAD), ("1\u202f234,5 mV", BAD),
                                      ("12\u00a0345 mV", BAD), ("0\u00a0273 V", BAD), ("273.1\u00a0mV", 0.2731), ("0.273\u202fV AC", 0.273)]),
    ("thousands_marks", b"\n", [("1'234.5 mV", BAD), ("1_234.5 mV", BAD), ("1.234,5 mV", BAD), ("1,234.5 mV", BAD), ("1.234.5 mV", BAD)]),
    ("counter_or_thousands", b"\n", [("17 273.1 mV", BAD), ("000017 273.1 mV", 0.2731), ("1017 273.1 mV", 0.2731), ("#17 273.1 mV", 0.2731),
                                    ("17;273.1;mV", 0.2731), ("17\t273.1\tmV", 0.2731), ("17 73.1 mV", BAD)]),
    ("digit_became_a_blank", b"\r\n", [("12 50.1 mV", BAD), ("25 0.1 mV AC", BAD), ("2 50.1 mV AC", BAD), ("12 50.1", BAD), ("3 0.27 V", BAD),
                                      ("AC 12 50.1 mV", BAD), ("CH 1 50.1 mV", BAD), ("1 2.04 V AC", BAD), ("12 50,1 mV", BAD), ("12 50.1 mV 50.0 Hz", BAD)]),
    ("dc_in_a_damaged_field", b"\n", [("0.273 V T:DC", NOT), ("25.769 k:DC", NOT), ("0.273 V T:AC", 0.273), ("0.273 V, T=21.5 C", 0.273)]),
    ("counter_explained", b"\n", [("17 0.273 V", 0.273), ("#12 50.1 mV", 0.0501), ("0012 50.1 mV", 0.0501), ("12;50.1 mV", 0.0501), ("12\t50.1 mV", 0.0501),
                                 ("12, 50.1 mV", 0.0501), ("n=12 50.1 mV", 0.0501), ("CH1 50.1 mV", 0.0501), ("CH 1 0.273 V", 0.273), ("1767645300 50.1 mV", 0.0501),
                                 ("3 0.273 V", 0.273), ("12:30:01 50.1 mV", 0.0501), ("2026-01-05 20:15:00 50.1 mV", 0.0501)]),
    ("above_range", b"\r\n", [("> 60 V", OL), (">60 V", OL), (">6.000 V", OL), ("> 600.0 mV", OL), (">= 60 V", OL), ("≥60 V", OL), ("> 1000 V AC", OL),
                              (">750 V", OL), ("ACV >600", OL), ("17;>60;V;AC", OL), ("V=>60", OL), ("> 60,00 V", OL), ("59.99 V", 59.99)]),
    ("above_range_of_another", b"\n", [("> 60 MOhm", NOT), (">10 A", NOT), ("> 60 V DC", NOT), (">60 nF", NOT)]),
    ("below_range", b"\n", [("<0.1 mV", BAD), ("< 1 mV", BAD), ("<60 V", BAD), ("0.3 mV", 0.0003)]),
    ("prompt_values", b"\r\n", [("> 0.273 V", 0.273), ("> 12.04 V", 12.04), (">0.273 V", BAD), ("> OL V", OL), (">", BAD)]),
    ("versions", b"\r\n", [("V1.04", BAD), ("V2.1", BAD), ("v1.04", BAD), ("Ver 1.04", BAD), ("FW 1.04", BAD), ("V1.0.4", BAD), ("V0.2731", 0.2731),
                           ("firmware V1.04", BAD), ("REV 2", BAD)]),
    ("states_and_replies", b"\n", [("OK 0", BAD), ("OK 1", BAD), ("OK", BAD), ("AUTO 2", BAD), ("HOLD 1", BAD), ("ERR 0", BAD), ("ERROR 17", BAD), ("E1", BAD),
                                  ("0 OK", BAD), ("+0,\"No error\"", BAD), ("1 ERR", BAD), ("AUTO 0.273", 0.273)]),
    ("lost_points", b"\r\n", [("0273", BAD), ("007", BAD), ("0273 V", BAD), ("0273 VAC", BAD), ("+0273", BAD), ("0", 0.0), ("273 mV", 0.273)]),
    ("ratios", b"\n", [("0.273 V/V", BAD), ("0.273 mV/V", BAD), ("0.273 V/A", BAD), ("0.273 V/m", BAD), ("0.273 V/Hz", BAD), ("0.273 V^2", BAD), ("0.273 V2", BAD),
                      ("1/2 V", BAD), ("0.273 V/AC", 0.273)]),
    ("minus_zero", b"\r\n", [("-0.000 V", 0.0), ("-0.0 mV AC", 0.0), ("-0", 0.0), ("-00.00 V~", 0.0), ("-0.001 V", 0.0), ("-0.006 V", BAD), ("-0.02 V", BAD), ("-0,000 V", 0.0), ("-0.00000E+00", 0.0)]),
    ("ranges_named", b"\n", [("0.273 V range 6 V", 0.273), ("range 6 V 0.273 V", 0.273), ("6 V range 0.273 V", BAD), ("60 V range", BAD)]),
    ("tolerances", b"\n", [("0.273 V +/- 0.001 V", BAD), ("0.273 ± 0.001 V", BAD), ("0.273(1) V", BAD), ("~0.273 V", BAD), ("≈0.273 V", BAD), ("ca. 0.273 V", BAD)]),
    ("other_digits", b"\n", [("٠.٢٧٣ V", BAD), ("０.２７３ V", BAD), ("0·273 V", BAD), ("0٫273 V", BAD), ("O.273 V", BAD), ("l.273 V", BAD), ("0.27З V", BAD)]),
    ("doubted_by_the_meter", b"\n", [("0.273 V?", BAD), ("0.273 V!", BAD), ("0.273* V", BAD), ("0.273 V ERR", BAD), ("UNCAL 0.273", BAD), ("12.34 V AC err", BAD), ("1.234 V AC H", BAD),
                                     ("1.234 V AC CF", NOT), ("1.234 V AC MAX-MIN", Held(1.234)), ("0.273 V AC, ERR 0", 0.273)]),
    ("comma_alone", b"\n", [("1,234 V", BAD), ("1,234 mV", BAD), ("1,235", BAD), ("12,345 V AC", BAD)]),
    ("comma_settled", b"\r\n", [("0,987 V", 0.987), ("1,234 V", 1.234), ("-0,000 V", 0.0), ("1,235 V", 1.235)]),
    ("comma_settled_late", b"\r\n", [("1,234 V", BAD), ("0,987 V", 0.987), ("1,234 V", BAD), ("0,987 V", 0.987), ("0,988 V", 0.988), ("0,986 V", 0.986),
                                      ("1,235 V", 1.235)]),
    ("words_of_other_values", b"\n", [("0.273 V AC", 0.273), ("0.273 V AC NULL", BAD), ("0.273 V AC ZERO", BAD), ("0.273 V AC OFFSET", BAD), ("0.273 V AC TARE", BAD),
                                      ("0.273 V AC MATH", BAD), ("0.273 V AC MEM", BAD), ("0.273 V AC STO", BAD), ("0.273 V AC RCL", BAD), ("0.273 V AC RECALL", BAD),
                                      ("0.273 V AC FREEZE", BAD), ("0.273 V AC SAMPLE 3", BAD), ("0.273 V AC PMAX", BAD), ("0.273 V AC PkMax", BAD),
                                      ("0.273 V AC PEAKHOLD", BAD), ("0.273 V AC INRUSH", BAD), ("Uss=0.5 V", BAD), ("Uss 0.5 V", BAD), ("0.273 V AC UNDER", BAD),
                                      ("0.273 V AC BAD", BAD), ("0.273 V AC LIMIT", BAD), ("H 0.273 V AC", BAD), ("0.273 V AC QQ", BAD), ("0.273 VAC ready", 0.273),
                                      ('{"v_ac":0.273,"mode":"null"}', BAD), ('{"v_null":0.273}', BAD), ('{"ch1_vac":0.273,"site":"kitchen"}', 0.273)]),
    ("hexadecimal", b"\n", [("0x0111", BAD), ("111h", BAD), ("0b100010001", BAD), ("02 37 33 31 0D", BAD), ("$0273", BAD)]),
    ("power_and_level", b"\n", [("0.273 VA", NOT), ("0.273 W", NOT), ("-11.3 dBV", NOT), ("0.273 VAr", NOT), ("0.273 Vs", BAD), ("0.273 eV", BAD)]),
    ("calendar_alone", b"\n", [("2026-01-05", BAD), ("20:15:00", BAD), ("05.01.2026 20:15", BAD), ("1767645300", BAD), ("12:31", BAD)]),
    # Common practice, no source, but for SCPI-1999 (infinity) and IEEE 488.2 (exponents, multipliers).
    ("thousands_of_other_lands", b"\n", [("1,23,456.7 mV", BAD), ("1 23 456.7 mV", BAD), ("1\u2019234.5 mV", BAD), ("1\u2007234.5 mV", BAD), ("1\u3000234.5 mV", BAD),
                                         ("12,345.6 mV", BAD), ("1.234.567,8 uV", BAD), ("0,273.5 V", BAD), ("0.273,5 V", BAD), ("0,2,7,3 V", BAD)]),
    ("infinity_and_marks", b"\n", [("∞", OL), ("∞ V", OL), ("-∞ V", OL), ("+inf V", OL), ("Infinity", OL), ("-.OL", OL), ("OL.", OL), ("OVER RANGE", OL),
                                   ("∞ Ohm", NOT), ("NaN V", BAD)]),
    ("exponents", b"\r\n", [("1e-1 V", 0.1), ("1E+03mV", 1.0), ("1E-01V", 0.1), ("1e3 V", BAD), ("1.2.3 V", BAD), ("1..2 V", BAD), ("0. V", BAD), (".0 V", 0.0)]),
    ("multipliers", b"\n", [("273 \u03bcV", 0.000273), ("273 \u00b5V", 0.000273), ("273 mv", 0.273), ("273 MV", BAD), ("mV 273.1", 0.2731), ("0.273 kV", 273.0),
                             ("0.273 V *10", BAD), ("0.273 V *1000", BAD), ("GAIN=10 0.273 V", BAD), ("GAIN=1 0.273 V", 0.273), ("GAIN=2 0.273 V", BAD), ("0.273 V mV", BAD),
                             ("0.273 VAC mV", BAD), ("273.1;ACV;mV", 0.2731), ("ACV mV 273.1", 0.2731)]),
    ("kinds_of_volts", b"\n", [("0.273 Vac", 0.273), ("0.273 V AC RMS", 0.273), ("0.273 Vdc", NOT), ("0.273 V=", NOT), ("0.273 V⎓", NOT), ("0.273 Vpk", NOT), ("-9.1 dBm", NOT),
                               ("50.00 Hz", NOT), ("0.050 kHz", NOT), ("0.273 V²", BAD)]),
    ("foreign_signs", b"\n", [("\u200b0.273 V", BAD), ("\u202e0.273 V", BAD), ("０.２７３Ｖ", BAD), ("०.२७३ V", BAD), ("½ V", BAD), ("zero V", BAD), ("_._ V", BAD)]),
    ("tables_and_lists", b"\n", [("time_s,volts", BAD), ("index;volts", BAD), ("Date,Time,Value,Unit", BAD), ("[0.273, 0.274]", BAD), ("0.273 V; 0.274 V", BAD), ("AC 0.273 VAC 0.900 V", BAD), ("0.273 VAC, 0.9 V", BAD), ("0.273 V AC 0.900", BAD), ("0.273 VAC 7.1 V LO BAT", BAD), ("0.273V0.274V", BAD),
                                 ('{"a":{"b":{"v_ac":0.273}}}', 0.273), ('{"value":1e999}', BAD), ('{"value":true,"unit":"V"}', BAD), ("0x1F V", BAD), ("DEADBEEF", BAD), ("#0001", BAD)]),
    ("times_before_values", b"\n", [("2026-01-05 20:15:00 0.273 V", 0.273), ("20:15:00.123 0.273", 0.273), ("20:15:00,123 0.273", 0.273), ("05/01/26 20:15 0.273 V", 0.273)]),
    ("signs_doubled", b"\n", [("+-0.273 V", BAD), ("--0.273 V", BAD), ("0.273- V", BAD), ("+0.273 V", 0.273), ("-0 V", 0.0)]),
    ("ambiguous", b"\n", [("0.273 0.300", BAD), ("0.273;0.300", BAD), ("0.273", 0.273)]),
    ("words_between", b"\r\n", [("READY", BAD), ("0.273 V AC", 0.273), ("ERR 17", BAD), ("0.270 V AC", 0.27)]),
]  # fmt: skip


def main() -> None:
    """Write two files a form: the stream, and how each of its lines has to be read."""
    for old in FOLDER.glob("*"):
        old.unlink()
    for name, end, pairs in FORMS:
        stream = b"".join((line if isinstance(line, bytes) else line.encode()) + end for line, _ in pairs)
        (FOLDER / f"{name}.txt").write_bytes(stream)
        expected = [_as_json(reading) for _, reading in pairs]
        text = "".join(json.dumps(one) + "\n" for one in expected)
        (FOLDER / f"{name}.expected.jsonl").write_text(text, encoding="utf-8")
    print(f"{len(FORMS)} forms, {sum(len(pairs) for *_, pairs in FORMS)} lines in {FOLDER}")


if __name__ == "__main__":
    main()
