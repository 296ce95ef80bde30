"""Number forms of instruments, held against the standards that define them."""

from __future__ import annotations

import pytest

from logger.meter.lines import LineStatus, read_line

# IEEE 488.2-1992, 8.7.2 to 8.7.4: numeric response data. NR1: an optional sign and digits. NR2: with a point that has
# digits on both sides. NR3: with an exponent "E", whose sign is always written. Forms from memory, examples made here.
NR1 = {"0": 0.0, "3": 3.0, "+273": 273.0}
NR2 = {"0.273": 0.273, "+0.273": 0.273, "00.2730": 0.273, "273.0": 273.0}
NR3 = {
    "2.73E-01": 0.273,
    "+2.73120000E-01": 0.27312,
    "+1.2E+1": 12.0,
    "+2.7300E-001": 0.273,
    "0.00000000E+00": 0.0,
}


def test_an_integer_with_leading_zeros_is_not_read() -> None:
    """NR1 may have leading zeros; a lone one from a meter of decimals is more likely one that lost its point."""
    reading = read_line(b"000273")
    assert (reading.status, reading.volts) == (LineStatus.UNREADABLE, None)


@pytest.mark.parametrize(("line", "volts"), [*NR1.items(), *NR2.items(), *NR3.items()])
def test_numeric_response_data(line: str, volts: float) -> None:
    reading = read_line(line.encode())
    assert (reading.status, reading.volts) == (LineStatus.VOLTS, volts)


@pytest.mark.parametrize(
    "line", ["2.73E01", "2.73E", "2.73E+", "E-01", "+", "2.", "1.2.3", "2.73E-0.1", "--1.0"]
)
def test_what_is_no_numeric_response_data_is_refused(line: str) -> None:
    assert read_line(line.encode()).status is LineStatus.UNREADABLE


# SCPI-1999 volume 1, "Infinity and Not-A-Number": +INF is sent as 9.9E37, -INF as -9.9E37, NAN as 9.91E37.
@pytest.mark.parametrize(
    "line", ["9.9E37", "+9.9E37", "-9.9E37", "9.9E+37", "+9.90000000E+37", "INF", "NINF"]
)
def test_infinity_is_an_overload(line: str) -> None:
    assert read_line(line.encode()).status is LineStatus.OVERLOAD


@pytest.mark.parametrize("line", ["9.91E37", "+9.91000000E+37", "NAN"])
def test_not_a_number_is_unreadable(line: str) -> None:
    assert read_line(line.encode()).status is LineStatus.UNREADABLE


# IEEE 488.2-1992, table 7-2 (suffix multipliers, case-insensitive): K 1E3, M 1E-3, U 1E-6, N 1E-9; mega is MA. The
# table is for what a device is sent; in the SI brochure (table 7) M is mega. Where both differ nothing is read. From
# memory.
@pytest.mark.parametrize(
    ("suffix", "scale"),
    [("V", 1.0), ("mV", 1e-3), ("UV", 1e-6), ("uV", 1e-6), ("NV", 1e-9), ("KV", 1e3)],
)
def test_suffix_multipliers(suffix: str, scale: float) -> None:
    assert read_line(f"2.5 {suffix}".encode()).volts == pytest.approx(2.5 * scale, rel=1e-15)


@pytest.mark.parametrize("suffix", ["MV", "MVAC"])
def test_what_is_milli_by_one_standard_and_mega_by_another_is_not_read(suffix: str) -> None:
    assert read_line(f"2.5 {suffix}".encode()).status is LineStatus.UNREADABLE
