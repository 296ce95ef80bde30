"""What is kept of a meter is English whatever the language; what is shown of it goes through the translation."""

from __future__ import annotations

import pytest

from logger.errors import StillvoltError
from logger.meter.identification import FailureReason, NotIdentified
from logger.meter.identification.capture import Capture, Verdict
from logger.meter.identification.search import _not_identified
from logger.meter.identification.summary import summarise
from logger.meter.line_format import LineFormat
from logger.meter.line_format_search import how_to_decide, matching_formats
from logger.meter.lines import read_line
from logger.meter.meter_monitor import MeterMonitor
from logger.meter.port import PortSettings, open_port
from logger.meter.received_line import receive_line
from tests.support.other_language import OtherLanguage, speak, unspoken

LINES = (
    *(
        "0.273 V",
        "0.274 V AC",
        "HOLD 0.273 V",
        "OL",
        "-0.273 V",
        "0.273 V DC",
        "50 Hz",
        "0.273 QQ",
        "1,234 V",
    ),
    *("CH1 0.2 V", "CH2 0.3 V", "0.2 0.3", "----", "0.273 V LoZ", "", "V=", "OK 0", "GAIN=10 0.273 V"),
)


def kept() -> list[str]:
    monitor, texts = MeterMonitor(), []
    for second, line in enumerate(line for line in LINES for _ in range(9)):
        reading = read_line(line.encode())
        texts += [one.message for one in monitor.on_line(0.2 * second, line.encode(), reading)]
        texts += [reading.note, monitor.problem, monitor.no_sample_note]
    texts += [one.message for one in monitor.on_silence(1e4)]
    return texts


def test_what_a_recorder_keeps_of_lines_is_english(monkeypatch: pytest.MonkeyPatch) -> None:
    before = kept()
    assert len(set(before)) > 20
    speak(monkeypatch, OtherLanguage())
    assert kept() == before


def shown() -> list[str]:
    texts = []
    for answer in (b"\x80\x81", b""):
        failure = _not_identified(answer, "", was_asked=bool(answer))
        assert isinstance(failure, NotIdentified) and failure.reason is not FailureReason.LOST
        texts.append(failure.why)
    capture = Capture(PortSettings("x"), verdict=Verdict.RIGHT)
    capture.add(b"", [receive_line(b"0.273")] * 5, 0)
    found = summarise(capture, "")
    texts += [found.why, found.describe_marks(), receive_line(b"").describe_value()]
    numbers = [b"1;0.273;0.273;7", b"2;0.273;0.273;7"]
    texts.append(how_to_decide(matching_formats(numbers, "0.273"), numbers))
    texts += [
        one.describe() for one in (LineFormat("comma", 2, scale=0.5), LineFormat(), LineFormat(key="7"))
    ]
    for url in ("", "7://", "socket://7"):
        with pytest.raises(StillvoltError) as refusal:
            open_port(PortSettings(url))
        texts += filter(None, (refusal.value.what, refusal.value.next_step))
    return texts


def test_what_is_found_of_a_meter_goes_through_the_translation(monkeypatch: pytest.MonkeyPatch) -> None:
    assert len(shown()) > 12
    speak(monkeypatch, OtherLanguage())
    assert {text: words for text in shown() if (words := unspoken(text.replace("socket", "")))} == {}
