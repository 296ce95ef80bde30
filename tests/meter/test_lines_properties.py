"""What holds for every line, whatever it is: nothing raises, no digit is lost, damage is never a guess."""

from __future__ import annotations

import runpy
from pathlib import Path

from hypothesis import given, settings
from hypothesis import strategies as st

from logger.meter.lines import MISTAKE_NOTE, LineStatus, read_any_line, read_line

SCRIPTS = Path(__file__).parents[2] / "scripts"

# Below 100: from there on a counter with a comma ("17,100.5") looks like thousands and is refused.
PLAIN = st.decimals(min_value=0, max_value=99, places=4, allow_nan=False).map(lambda value: f"{value:.4f}")
NR3 = st.floats(min_value=1e-6, max_value=99).map(lambda value: f"{value:.8E}")
FRAMES = st.sampled_from(
    [
        "{}", "{} V", "{}V AC", "ACV {}", "V~ {}", "{} mV", "{},V,AC", "17;{};V", "17,{}", "#3 {} V", "{} V, 50.0 Hz",
        "12:31:05,{}", "2026-01-05T20:15:00Z;{};V", "V={} f=50.0", "V {} Hz 50", '{{"ac_v":{}}}',
        '{{"value":"{}","unit":"V","mode":"AC","n":17}}', "AUTO {} V AC", "\x00\x00{} V", "{} V\x03",
    ]
)  # fmt: skip


@given(st.binary(max_size=200))
def test_any_bytes_give_a_reading(line: bytes) -> None:
    reading = read_line(line)
    assert reading == read_any_line(line)
    assert (reading.volts is None) == (reading.status is not LineStatus.VOLTS)
    assert reading.note or reading.status is LineStatus.VOLTS
    assert reading.note != MISTAKE_NOTE


@given(st.text("0123456789.,+-eE VACDCmkOLHz:;=\t{}\"'#*", max_size=40))
def test_any_text_gives_a_reading(text: str) -> None:
    reading = read_line(text.encode())
    assert reading == read_any_line(text.encode())
    assert reading.note != MISTAKE_NOTE
    if reading.status is LineStatus.VOLTS:
        assert reading.volts is not None
        assert 0 <= reading.volts <= 100_000


@given(PLAIN | NR3, FRAMES)
def test_a_number_is_read_wherever_it_stands(number: str, frame: str) -> None:
    line = frame.format(number).encode()
    reading = read_line(line)
    expected = float(number) * (1e-3 if "mV" in frame else 1)
    assert reading.status is LineStatus.VOLTS
    assert reading.volts is not None
    assert abs(reading.volts - expected) <= 1e-12 * expected
    assert reading == read_any_line(line)


@given(PLAIN | NR3, FRAMES, st.data())
def test_changing_any_digit_changes_the_value_or_the_status(
    number: str, frame: str, data: st.DataObject
) -> None:
    line = frame.format(number)
    place = data.draw(st.sampled_from([index for index, char in enumerate(number) if char.isdigit()]))
    digit = data.draw(st.sampled_from([char for char in "0123456789" if char != number[place]]))
    changed = frame.format(number[:place] + digit + number[place + 1 :])
    before, after = read_line(line.encode()), read_line(changed.encode())
    assert (before.status, before.volts) != (after.status, after.volts)


@given(PLAIN | NR3, FRAMES, st.data())
def test_a_damaged_byte_inside_the_number_is_never_a_guess(
    number: str, frame: str, data: st.DataObject
) -> None:
    """Inside: at the ends of the number a shorter number and another separator cannot be told from damage."""
    end = len(number.partition("E")[0])
    inside = range(1, end - 1)
    place = data.draw(st.sampled_from(inside))
    byte = data.draw(st.sampled_from([byte for byte in range(256) if chr(byte) not in "0123456789\r\n"]))
    line = frame.format("@").encode()
    damaged = number.encode()[:place] + bytes([byte]) + number.encode()[place + 1 :]
    before, after = read_line(line.replace(b"@", number.encode())), read_line(line.replace(b"@", damaged))
    looks_whole = chr(byte) in "., \t;|" and after.volts is not None
    assert after.status is not LineStatus.VOLTS or after.volts == before.volts or looks_whole


@settings(max_examples=300)
@given(st.sampled_from(["{} V", "ACV {}", "{}", "{} mV AC", '{{"ac_v":{}}}']), st.integers(1, 4), st.data())
def test_a_number_broken_by_a_letter_or_a_sign_is_refused(
    frame: str, place: int, data: st.DataObject
) -> None:
    damage = data.draw(st.sampled_from("?!xQzZ:/=<*\x00\x07\x1b\x7f\xff#$%&@\\^_`~'\"()[]{}"))
    number = "12.345"
    line = (
        frame.replace("{}", number[:place] + damage + number[place + 1 :])
        .replace("{{", "{")
        .replace("}}", "}")
    )
    assert read_line(line.encode("latin-1")).status is LineStatus.UNREADABLE


def test_a_short_fuzz_campaign_finds_nothing() -> None:
    bench = runpy.run_path(str(SCRIPTS / "bench" / "lines.py"))
    assert bench["fuzz"](10_000, seed=7) == []
