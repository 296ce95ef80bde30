"""The example service keeps to what the command line knows, and starts anew after a failure only."""

from __future__ import annotations

import configparser
import shlex
from pathlib import Path

from logger.cli.parser import argument_parser

SERVICE = Path(__file__).parents[2] / "scripts" / "service" / "stillvolt-night.service"


def test_the_example_service_starts_a_recording_that_the_command_line_knows():
    unit = configparser.ConfigParser(interpolation=None, strict=False)
    unit.optionxform = str  # type: ignore[assignment,method-assign]  # as configparser's own documents do it
    unit.read_string(SERVICE.read_text())
    program, *words = shlex.split(unit["Service"]["ExecStart"])
    assert Path(program).name == "stillvolt"
    arguments = argument_parser().parse_args(words)
    assert arguments.nightly and not arguments.detach, "systemd watches the process itself"
    assert unit["Service"]["Restart"] == "on-failure", "`stillvolt stop` must hold"
    assert unit["Unit"]["StartLimitIntervalSec"] == "0"
