"""What every command has in common: its module, its help, and a start that imports nothing large."""

from __future__ import annotations

import subprocess
import sys
from argparse import _SubParsersAction
from pathlib import Path

import pytest

from logger.cli import commands
from logger.cli.main import WINDOW, main, module_name
from logger.cli.parser import argument_parser

LARGE = {"numpy", "pandas", "scipy", "serial", "jinja2", "PySide6", "sqlite3"}
MODULES = {path.stem for path in Path(commands.__path__[0]).glob("*.py")} - {"__init__"}


def declared() -> dict[str, str]:
    """Each command of the parser with its help."""
    (action,) = (a for a in argument_parser()._actions if isinstance(a, _SubParsersAction))
    return {choice.dest: choice.help or "" for choice in action._choices_actions}


def test_each_command_has_a_module_of_its_name_and_each_module_a_command():
    assert {module_name(command) for command in (*declared(), WINDOW)} == MODULES


def test_the_help_lists_each_command_and_what_it_does(capsys):
    with pytest.raises(SystemExit) as ended:
        main(["--help"])
    printed = " ".join(capsys.readouterr().out.split())
    assert ended.value.code == 0
    for name, does in declared().items():
        assert f"{name} {does}" in printed


def large_modules_after(*words: str) -> set[str]:
    """The large modules that a program has imported that ran with these words."""
    code = (
        "import sys\n"
        "from logger.cli.main import main\n"
        f"try: main({list(words)})\n"
        "except SystemExit: pass\n"
        "print('imported', *sys.modules, file=sys.stderr)"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    return LARGE & set(done.stderr.split("imported")[-1].split())


def test_help_imports_nothing_large():
    assert large_modules_after("--help") == set()
    assert large_modules_after("archive", "--help") == set()
    assert large_modules_after("--version") == set()


def test_a_command_imports_what_it_needs_and_no_more():
    assert large_modules_after("ports") >= {"serial"}
    assert not large_modules_after("running") & {"pandas", "PySide6", "jinja2"}


@pytest.mark.parametrize("words", [["nonsense"], ["archive"], ["record", "--port", "x"], ["lines"]])
def test_wrong_usage_has_the_status_2(words, capsys):
    with pytest.raises(SystemExit) as ended:
        main(words)
    assert ended.value.code == 2 and "usage: stillvolt" in capsys.readouterr().err


def test_a_refusal_has_the_status_1_and_its_reason(tmp_path, capsys):
    assert main(["lines", str(tmp_path / "none.txt")]) == 1
    printed = capsys.readouterr()
    assert printed.out == ""
    assert printed.err == f"stillvolt: {tmp_path / 'none.txt'} cannot be read (No such file or directory).\n"


def test_lines_of_a_meter_are_printed_as_json(tmp_path, capsys):
    stream = tmp_path / "stream.txt"
    stream.write_bytes(b"0.273 V AC\r\nOL\r\n")
    assert main(["lines", str(stream)]) == 0
    assert capsys.readouterr().out == (
        '{"status": "volts", "volts": 0.273}\n{"status": "overload", "volts": null}\n'
    )
