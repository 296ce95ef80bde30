"""A meter whose lines take another form is named, until the form before returns."""

from __future__ import annotations

from logger.meter.line_form import LEARNED_LINES, OTHER_LINES, LineFormWatch
from logger.meter.lines import read_line


def test_the_warning_goes_when_the_form_before_returns() -> None:
    watch = LineFormWatch()
    forms = [b"0.273 V AC"] * LEARNED_LINES + [b"V=0.273"] * OTHER_LINES + [b"0.273 V AC"] * OTHER_LINES
    shown, notices = [], []
    for time_s, raw in enumerate(forms):
        notices += watch.on_line(float(time_s), raw, read_line(raw))
        shown.append(watch.problem(float(time_s)))
    at = LEARNED_LINES + OTHER_LINES - 1
    assert not any(shown[:at]) and all("another form" in text for text in shown[at:-1])
    assert shown[-1] == "" and [notice.kind for notice in notices] == ["line form"]


def test_lines_of_another_form_after_a_lost_port_are_no_samples_until_the_form_is_back() -> None:
    watch = LineFormWatch()

    def notes(raw: bytes, lines: int) -> list[str]:
        out = []
        for _ in range(lines):
            watch.on_line(0.0, raw, read_line(raw))
            out.append(watch.no_sample_note)
        return out

    notes(b"98.5 mV AC", LEARNED_LINES)
    watch.on_port_back()
    assert not any(notes(b"0.273 V AC", 2)), "a range of the same meter"
    assert all(notes(b"DMM 2.000 V", 3 * OTHER_LINES)) and "another form" in watch.problem(1e6)
    assert not any(notes(b"98.5 mV AC", 2))
