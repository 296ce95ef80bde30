"""What the command line says is in the language that was asked for."""

from __future__ import annotations

from pathlib import Path

import pytest

from logger import translation
from logger.cli.commands import night, record
from logger.cli.commands.identify import describe
from logger.cli.main import _run_to_a_sentence, main
from logger.cli.translated_parser import refusal
from logger.meter.identification import Certainty, IdentifiedMeter
from logger.meter.lines import read_line
from logger.meter.port import PortSettings
from logger.meter.received_line import ReceivedLine
from logger.recording import detached
from logger.recording.detached import start_detached
from tests.support.other_language import OPENING, OtherLanguage, speak, unspoken


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


@pytest.mark.parametrize(
    "command", [(), ("record",), ("import",), ("identify",), ("sources",), ("night",), ("compare",)]
)
def test_each_word_of_the_help_is_in_the_language_that_holds(
    command: tuple[str, ...], monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("COLUMNS", "10000")
    speak(monkeypatch, OtherLanguage())
    with pytest.raises(SystemExit):
        main([*command, "--help"])
    usage, _, described = capsys.readouterr().out.partition("\n\n")
    assert usage.startswith(f"{OPENING}usage: ")
    words = {line.split("  ")[-1] for line in described.splitlines() if OPENING in line}
    assert words
    assert [word for text in words if (word := unspoken(text))] == []


@pytest.mark.parametrize(
    "words",
    [
        ["nonsense"],
        ["lines"],
        ["ports", "extra: word"],
        ["record", "--port", "x"],
        ["record", "--port", "x", "--visit", "7", "--nightly", "7"],
        ["record", "--port"],
        ["record", "--d", "x"],
        ["record", "--baud", "fast: 9"],
        ["record", "--data-bits", "nine"],
        ["sources", "7", "--supply", "none: (choose from"],
        ["night", "7", "--json=yes"],
    ],
)
def test_wrong_usage_is_in_the_language_that_holds(
    words: list[str], monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    speak(monkeypatch, OtherLanguage())
    with pytest.raises(SystemExit) as ended:
        main(words)
    shown = capsys.readouterr().err.splitlines()[-1]
    assert ended.value.code == 2
    assert unspoken(shown.partition(OPENING)[0]) in (["stillvolt"], ["stillvolt", words[0]])
    assert unspoken(shown.removeprefix("stillvolt").removeprefix(f" {words[0]}")) == []


def test_what_a_later_argparse_says_stays() -> None:
    assert refusal("a sentence of its own") == "a sentence of its own"


@pytest.mark.usefixtures("german_in_brackets")
def test_a_refusal_is_in_the_language_that_was_asked_for(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    words = ["night", str(tmp_path / "7"), "--language", "de", "--from", "23:10", "--found-edges"]
    assert main(words) == 1
    shown = capsys.readouterr().err
    assert OPENING in shown and unspoken(shown) == ["stillvolt"]
    assert translation.shown_language() == "en"


@pytest.mark.usefixtures("german_in_brackets")
def test_a_recorder_refuses_in_the_language_of_its_starter_and_is_english_once_it_has_begun(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    given: list[str] = []
    monkeypatch.setattr("subprocess.Popen", lambda *_, env, **__: given.append(env[detached.LANGUAGE]))
    with translation.in_language("de"):
        start_detached(tmp_path / "7", PortSettings("7"))
    assert given == ["de"]

    monkeypatch.setenv(detached.LANGUAGE, "de")
    words = ["record", "--port", "7", "--visit", str(tmp_path / "9" / "7.visit")]
    assert main(words) == 1
    shown = capsys.readouterr().err
    assert OPENING in shown and unspoken(shown) == ["stillvolt"]

    spoken: list[str] = []

    def record_in_foreground(*before: object) -> None:
        spoken.append(translation.shown_language())
        before[4]()  # type: ignore[operator]
        spoken.append(translation.shown_language())

    monkeypatch.setattr(record, "record_in_foreground", record_in_foreground)
    assert main(words) == 0
    assert spoken == ["de", "en"]


def test_what_the_recorder_says_is_shown_in_the_language_of_its_starter(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def record_in_foreground(*before: object) -> None:
        before[4]()  # type: ignore[operator]
        before[6]("Recording ended: the time was up.")  # type: ignore[operator]

    monkeypatch.setenv(detached.LANGUAGE, "de")
    monkeypatch.setattr(record, "record_in_foreground", record_in_foreground)
    assert main(["record", "--port", "7", "--visit", str(tmp_path / "7.visit")]) == 0
    assert capsys.readouterr().out == "Aufzeichnung beendet: die Zeit war um.\n"


@pytest.mark.usefixtures("german_in_brackets")
def test_what_ends_a_command_early_is_told_in_the_language_that_was_asked_for(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def pressed(*_: object, **__: object) -> str:
        raise KeyboardInterrupt

    monkeypatch.setattr(translation, "_chosen", list(translation._chosen))
    monkeypatch.setattr(night, "night_output", pressed)
    assert _run_to_a_sentence(["night", "7", "--language", "de"]) == 130
    assert unspoken(capsys.readouterr().err) == ["stillvolt"]
