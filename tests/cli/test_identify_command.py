"""`stillvolt identify`, `stillvolt meters` and recording by a kept description, as a user runs them."""

from __future__ import annotations

import itertools
import json
import shlex
import threading
from collections.abc import Iterator
from pathlib import Path

import pytest

from logger.cli.commands import identify as identify_command
from logger.cli.main import main
from logger.cli.parser import argument_parser
from logger.cli.port_settings import port_settings, unescaped
from logger.meter import description_folder
from logger.meter.description import MeterDescription
from logger.meter.identification import Certainty, IdentifiedMeter
from logger.meter.lines import read_line
from logger.meter.port import PortSettings
from logger.meter.received_line import ReceivedLine
from logger.recording.detached import options
from logger.visit import VisitLog


@pytest.fixture(autouse=True)
def meters(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    folder = tmp_path / "meters"
    monkeypatch.setattr(description_folder, "folder", lambda: folder)
    return folder


@pytest.fixture
def sending(cable) -> Iterator[str]:
    """A meter whose lines do not say which of two numbers is the value."""
    ended = threading.Event()

    def run() -> None:
        for count in itertools.count():
            if ended.wait(0.04):
                return
            cable.send(b"%d;273%d;412\r\n" % (count, count % 10))

    thread = threading.Thread(target=run)
    thread.start()
    yield cable.url
    ended.set()
    thread.join()


def test_taught_kept_and_recorded(sending, meters, tmp_path, capsys) -> None:
    assert main(["identify", "--port", sending, "--shown", "273.4 mV", "--keep", "Bench meter"]) == 0
    printed = capsys.readouterr().out
    assert f"stillvolt record --port {sending} --meter 'Bench meter' --visit FILE" in printed
    kept = description_folder.load("Bench meter")
    assert kept.line is not None
    assert (kept.line.field, kept.line.scale) == (2, 0.0001)

    assert main(["meters"]) == 0
    assert capsys.readouterr().out == "Bench meter\t9600 baud, 8N1\n"

    visit = tmp_path / "evening.visit"
    words = ["record", "--port", sending, "--meter", "Bench meter", "--visit", str(visit), "--for", "0.6"]
    assert main(words) == 0
    log = VisitLog.open(visit)
    volts = list(log.samples.after().volts)
    settings = json.loads(log.runs.all()[-1].settings)
    log.close()
    assert volts and all(0.2729 < value < 0.274 for value in volts)
    assert settings["meter"] == "Bench meter"
    assert 'separator = "semicolon"' in settings["description"]


def test_what_the_display_does_not_show_is_refused(sending, capsys) -> None:
    assert main(["identify", "--port", sending, "--shown", "7.77"]) == 1
    assert "No number of the lines is 7.77" in capsys.readouterr().err


def test_found_settings_are_a_ready_command(cable, monkeypatch, capsys) -> None:
    settings = PortSettings(cable.url, 2400, 7, "E", dtr=True, rts=False, query="D\r", query_every_s=0.4)
    line = ReceivedLine(b"0.273 V", "0.273 V", read_line(b"0.273 V"))
    found = IdentifiedMeter(settings, (line,), 2.5, "V", "", "", "", Certainty.LIKELY, "Because.", False)
    monkeypatch.setattr(identify_command, "identify", lambda *a, **k: found)
    assert main(["identify", "--port", cable.url]) == 0
    command = capsys.readouterr().out.splitlines()[-1].strip()
    words = shlex.split(command)[1:]
    arguments = argument_parser().parse_args(words)
    base = port_settings(arguments, PortSettings(arguments.port))
    assert (base.baud, base.data_bits, base.parity, base.dtr, base.rts) == (2400, 7, "E", True, False)
    assert (unescaped(arguments.query), arguments.query_every) == ("D\r", 0.4)


def test_a_detached_recorder_is_given_every_setting() -> None:
    settings = PortSettings("x", meter="m", query="READ?\r\n")
    words = options(settings)
    assert words[words.index("--meter") + 1] == "m"
    assert words[words.index("--dtr") + 1] == "system"
    assert unescaped(words[words.index("--query") + 1]) == "READ?\r\n"


def test_a_broken_description_does_not_hide_the_others(meters, capsys) -> None:
    description_folder.save(MeterDescription("good"), meters)
    (meters / "bad.toml").write_text("nonsense = 1\n")
    assert main(["meters"]) == 0
    printed = capsys.readouterr().out
    assert "bad\t" in printed and "line 1: nonsense is not known" in printed
    assert "good\t9600 baud, 8N1" in printed
