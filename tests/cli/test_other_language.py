"""The text output of each command that has --language goes through the translation; its JSON does not."""

from __future__ import annotations

from pathlib import Path

import pytest

from logger import translation
from logger.cli.commands.identify import describe
from logger.cli.main import main
from logger.meter.identification import Certainty, IdentifiedMeter
from logger.meter.lines import read_line
from logger.meter.port import PortSettings
from logger.meter.received_line import ReceivedLine
from tests.support.other_language import OPENING, OtherLanguage, speak, unspoken

GARDEN = Path(__file__).parents[2] / "fixtures" / "demo" / "garden_flat.visit"


@pytest.fixture
def german_in_brackets(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(translation, "translations_of", lambda _: OtherLanguage())


def test_what_was_found_of_a_meter_is_in_the_language_that_holds(monkeypatch: pytest.MonkeyPatch) -> None:
    settings = PortSettings("7", 2400, 7, "E", dtr=True, rts=False, query="?", query_every_s=0.4)
    line = ReceivedLine(b"0.273", "0.273", read_line(b"0.273"))
    speak(monkeypatch, OtherLanguage())
    for certainty in Certainty:
        found = IdentifiedMeter(settings, (line,), 2.5, "", "", "", "7", certainty, "", False)
        assert unspoken("\n".join(describe(found))) == []


@pytest.mark.usefixtures("german_in_brackets")
def test_a_refusal_is_in_the_language_that_was_asked_for(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    words = ["night", str(tmp_path / "7"), "--language", "de", "--from", "23:10", "--found-edges"]
    assert main(words) == 1
    shown = capsys.readouterr().err
    assert OPENING in shown and unspoken(shown) == ["stillvolt"]
    assert translation.shown_language() == "en"
