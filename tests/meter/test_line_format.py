"""Teaching by the display, and reading by what was taught."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from logger.errors import StillvoltError
from logger.meter.line_format import LineFormat
from logger.meter.line_format_reader import read_formatted_line, reader_of
from logger.meter.line_format_search import Candidate, how_to_decide, matching_formats
from logger.meter.lines import LineStatus, read_line
from logger.meter.meter_monitor import MeterMonitor
from logger.meter.tokens import is_for_other_form

TWO_FIELDS = [b"%d;0.27%d;0.30%d;4%d" % (i, i, 9 - i, i) for i in range(9)]


def only(candidates: list[Candidate]) -> Candidate:
    assert len(candidates) == 1, candidates
    return candidates[0]


@pytest.mark.parametrize(
    ("shown", "field"), [("0.274", 2), ("274 mV", 2), ("0,274 V", 2), ("0.305", 3), ("0.305 V AC", 3)]
)
def test_the_field_that_the_display_shows(shown: str, field: int) -> None:
    form = only(matching_formats(TWO_FIELDS, shown)).line_format
    assert form is not None
    assert (form.separator, form.field, form.fields, form.scale) == ("semicolon", field, 4, 1.0)
    assert read_formatted_line(form, b"9;0.281;0.322;40").volts == {2: 0.281, 3: 0.322}[field]


def test_the_scale_follows() -> None:
    counts = [b"%d %d 3" % (i, 2730 + i) for i in range(5)]
    form = only(matching_formats(counts, "0.2731")).line_format
    assert form is not None
    assert (form.field, form.scale) == (2, 0.0001)
    assert read_formatted_line(form, b"7 2799 3").volts == 0.2799


def test_a_number_alone_in_counts() -> None:
    form = only(matching_formats([b"273", b"274"], "273 mV")).line_format
    assert form is not None
    assert read_formatted_line(form, b"281").volts == 0.281


def test_mv_in_capitals_is_what_the_display_shows() -> None:
    lines = [b"273.1 MV AC", b"273.4 MV AC"]
    form = only(matching_formats(lines, "273.4 mV")).line_format
    assert form is not None
    assert read_formatted_line(form, b"281.5 MV AC").volts == pytest.approx(0.2815)


def test_a_whole_number_without_a_unit_is_asked_about() -> None:
    lines = [b"7;273;8", b"8;274;9"]
    candidates = matching_formats(lines, "273")
    assert {c.line_format.scale for c in candidates if c.line_format} == {1.0, 0.001}
    assert "unit" in how_to_decide(candidates, lines)
    assert only(matching_formats(lines, "274 mV", candidates)).volts == 0.274


def test_a_whole_number_alone_may_be_millivolts() -> None:
    candidates = matching_formats([b"273", b"274"], "273")
    assert [c.volts for c in candidates] == [274.0, 0.274]
    assert only(matching_formats([b"275"], "275 mV", candidates)).volts == 0.275


def test_lines_that_explain_themselves_need_no_form() -> None:
    assert only(matching_formats([b"0.273 V AC", b"0.274 V AC"], "0.274")).line_format is None
    assert only(matching_formats([b"273.1 mV AC"], "273.1")).line_format is None


def test_two_fields_that_agree_wait_for_another_value() -> None:
    lines = [b"1;0.273;0.273", b"2;0.273;0.273"]
    candidates = matching_formats(lines, "0.273")
    assert [c.line_format.field for c in candidates if c.line_format] == [2, 3]
    assert "always say the same" in how_to_decide(candidates, lines)
    later = [*lines, b"3;0.301;0.273"]
    now = matching_formats(later, "0.273")
    assert "field 2 reads 0.301 V, field 3 reads 0.273 V" in how_to_decide(now, later)
    form = only(matching_formats(later[-1:], "0.301", candidates)).line_format
    assert form is not None and form.field == 2


def test_names_and_json() -> None:
    lines = [b'{"x":0.27%d,"b":0.30%d}' % (i, i) for i in range(5)]
    form = only(matching_formats(lines, "0.302")).line_format
    assert form is not None and form.key == "b"
    assert read_formatted_line(form, b'{"x":0.1,"b":0.35}').volts == 0.35
    assert read_formatted_line(form, b'{"x":0.1,"c":0.35}').status is LineStatus.UNREADABLE
    assert read_formatted_line(form, b'{"x":0.1,"b":"OL"}').status is LineStatus.OVERLOAD


@pytest.mark.parametrize("shown", ["", "V", "zero", "-0.2", "0.2 0.3", "50 Hz", "0", "0.000"])
def test_what_is_no_voltage_is_refused(shown: str) -> None:
    with pytest.raises(StillvoltError):
        matching_formats(TWO_FIELDS, shown)


def test_what_no_field_shows_has_no_candidate() -> None:
    assert matching_formats(TWO_FIELDS, "7.77") == []


FORM = LineFormat("semicolon", 2, 4, known_words=("X1",), overload_words=("99999",))


@pytest.mark.parametrize(
    ("line", "status"),
    [
        (b"17;0.273;0.3;X1", LineStatus.VOLTS),
        (b"17;0.273;0.3;X2", LineStatus.UNREADABLE),  # a word that was not there
        (b"17;0.2?3;0.3;X1", LineStatus.UNREADABLE),
        (b"17;0.273;0.3", LineStatus.UNREADABLE),  # a damaged separator moves the fields
        (b"17;0.2;73;0.3;X1", LineStatus.UNREADABLE),
        (b"17;-0.273;0.3;X1", LineStatus.UNREADABLE),
        (b"17;;0.3;X1", LineStatus.UNREADABLE),
        (b"17;0.273\x00;0.3;X1", LineStatus.UNREADABLE),
        (b"17;0.2 73;0.3;X1", LineStatus.UNREADABLE),
        (b"17;OL;0.3;X1", LineStatus.OVERLOAD),
        (b"17;99999;0.3;X1", LineStatus.OVERLOAD),
        (b"OL", LineStatus.OVERLOAD),
        (b"17;0.273;DC;X1", LineStatus.NOT_AC_VOLTS),
        (b"17;0.273 mA;0.3;X1", LineStatus.NOT_AC_VOLTS),
    ],
)
def test_the_same_care_as_for_other_lines(line: bytes, status: LineStatus) -> None:
    reading = read_formatted_line(FORM, line)
    assert reading.status is status
    assert (reading.volts is not None) == (status is LineStatus.VOLTS)


def test_a_range_that_changes_the_unit_changes_the_scale() -> None:
    form = only(matching_formats([b"1;2;273.%d;mV" % i for i in range(5)], "273.2 mV")).line_format
    if form is not None:
        assert read_formatted_line(form, b"1;2;1.273;V").volts == 1.273
    elsewhere = only(matching_formats([b"mV x %d 273.%d" % (i, i) for i in range(5)], "273.2 mV")).line_format
    assert elsewhere is not None
    assert read_formatted_line(elsewhere, b"mV x 7 271.0").volts == 0.271
    assert read_formatted_line(elsewhere, b"V x 7 0.271").volts in (0.271, None)


def test_a_held_display_is_flagged() -> None:
    assert not read_formatted_line(FORM, b"17;0.273;HOLD;X1").is_live


@given(st.integers(0, 4), st.sampled_from("0123456789"))
def test_any_changed_digit_changes_the_value(place: int, digit: str) -> None:
    number = "0.273"
    changed = number[:place] + digit + number[place + 1 :]
    if changed == number:
        return
    before, after = (read_formatted_line(FORM, f"17;{n};0.3;X1".encode()) for n in (number, changed))
    assert (before.status, before.volts) != (after.status, after.volts)


@given(st.binary(max_size=60))
def test_nothing_breaks_it(raw: bytes) -> None:
    for form in (FORM, LineFormat(key="v"), LineFormat("space", 1)):
        reading = read_formatted_line(form, raw)
        assert "mistake" not in reading.note
        assert (reading.volts is not None) == (reading.status is LineStatus.VOLTS)


def test_a_word_that_is_always_there_is_taught_unless_it_says_that_the_value_is_no_plain_one():
    lines = [f"Kitchen {volts:.3f} V AC QQ".encode() for volts in (0.271, 0.273, 0.272)]
    assert all(read_line(raw).volts is None for raw in lines)
    (candidate,) = matching_formats(lines, "0.272 V")
    assert candidate.line_format is not None
    read = reader_of(candidate.line_format)
    assert [read(raw).volts for raw in lines] == [0.271, 0.273, 0.272]
    assert read(b"Kitchen 0.272 V AC QQ NULL").volts is None
    assert matching_formats([b"0.020 V AC NULL"] * 3, "0.020 V") == []


@pytest.mark.parametrize(("shown", "volts"), [("500 V", 500.0), ("500 mV", 0.5)])
def test_a_display_without_its_unit_sets_no_scale_of_a_thousand(shown: str, volts: float) -> None:
    lines = [b"0.500", b"0.501", b"0.500"]
    candidates = matching_formats(lines, "500")
    assert sorted(candidate.volts for candidate in candidates) == [0.5, 500.0]
    assert "unit" in how_to_decide(candidates, lines)
    assert only(matching_formats(lines, shown, candidates)).volts == volts


@pytest.mark.parametrize("shown", ["5 V", "0.050 V"])
def test_a_number_with_a_point_differs_from_the_display_by_its_unit_alone(shown: str) -> None:
    assert matching_formats([b"0.500", b"0.500"], shown) == []


def test_the_unit_of_a_bare_number_is_kept_where_it_was_typed() -> None:
    assert only(matching_formats([b"0.500", b"0.500"], "0.500")).line_format is None
    form = only(matching_formats([b"0.500", b"0.500"], "0.500 V")).line_format
    assert form is not None and form.scale == 1.0


def test_a_scale_that_no_usual_meter_has_is_asked_about_and_taken_when_it_is_typed_again() -> None:
    lines = [b"273", b"274"]
    candidates = matching_formats(lines, "0.273 mV")
    assert len(candidates) > 1 and "1e-06" in how_to_decide(candidates, lines)
    assert only(matching_formats(lines, "0.274 mV", candidates)).volts == pytest.approx(0.000274)
    assert only(matching_formats(lines, "274 mV", candidates)).volts == 0.274


@pytest.mark.parametrize("line", [b"0.2731 V", b"273.1 mV", b"V 273"])
def test_a_unit_that_was_not_there_when_a_scale_was_taught_is_another_form_and_no_damage(line: bytes) -> None:
    form = only(matching_formats([b"273", b"274"], "273 mV")).line_format
    assert form is not None
    reading = read_formatted_line(form, line)
    assert reading.volts is None and is_for_other_form(reading.note)
    monitor = MeterMonitor(unit_is_stated=True)
    news = [one for t_s in range(40) for one in monitor.on_line(t_s, line, reading)]
    assert [one.kind for one in news] == ["teach again"] and "Teach it again" in monitor.problem


def test_a_unit_on_lines_between_the_numbers_does_not_hide_them() -> None:
    form = only(matching_formats([b"mV", b"273.1", b"mV", b"273.2"], "273.2 mV")).line_format
    assert form is not None and form.scale == 0.001
