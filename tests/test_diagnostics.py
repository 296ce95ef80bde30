"""The diagnostic log: what is written, for whom, and what it never does."""

from __future__ import annotations

import stat
import subprocess
import sys
import threading

import pytest

from logger import __version__, diagnostics
from logger.cli.main import main
from logger.diagnostics import log_exception, log_path, logged
from logger.meter import lines
from logger.meter.lines import MISTAKE_NOTE, read_any_line


@pytest.fixture(autouse=True)
def own_state_folder(tmp_path, monkeypatch):
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path))
    monkeypatch.setattr(diagnostics, "_repeats", type(diagnostics._repeats)())


def fail(text: str) -> None:
    raise ValueError(text)


def log_failure(text: str) -> None:
    try:
        fail(text)
    except ValueError:
        log_exception("testing")


def test_an_exception_is_logged_with_its_traceback_and_what_was_being_done():
    log_failure("out of cheese")
    text = log_path().read_text()
    assert "An exception while testing" in text
    assert "Traceback (most recent call last)" in text
    assert "in fail\n" in text
    assert "ValueError: out of cheese" in text


def test_a_suppressed_exception_is_logged():
    with logged("closing"):
        fail("gone")
    assert "ValueError: gone" in log_path().read_text()


def test_nothing_is_made_before_the_first_entry(tmp_path):
    with logged("nothing"):
        pass
    assert not list(tmp_path.iterdir())


@pytest.mark.skipif(sys.platform == "win32", reason="file modes are those of POSIX")
def test_only_the_user_can_read_it():
    log_failure("private")
    assert stat.S_IMODE(log_path().stat().st_mode) == 0o600
    assert stat.S_IMODE(log_path().parent.stat().st_mode) & 0o077 == 0


def test_a_mistake_that_goes_on_is_logged_a_few_times_only():
    for _ in range(100):
        log_failure("again")
    assert log_path().read_text().count("Traceback") == diagnostics.MAX_REPEATS


def test_it_never_grows_beyond_its_files(monkeypatch):
    monkeypatch.setattr(diagnostics, "MAX_REPEATS", 10_000)
    monkeypatch.setattr(diagnostics, "MAX_BYTES", 20_000)
    diagnostics._logger.cache_clear()
    for number in range(200):
        log_failure(f"number {number} {'x' * 500}")
    files = sorted(log_path().parent.iterdir())
    assert [file.name for file in files] == ["diagnostics.log", "diagnostics.log.1", "diagnostics.log.2"]
    assert all(file.stat().st_size <= diagnostics.MAX_BYTES for file in files)
    assert "number 199 " in files[0].read_text()
    if sys.platform != "win32":
        assert {stat.S_IMODE(file.stat().st_mode) for file in files} == {0o600}


def test_a_folder_that_cannot_be_made_disturbs_nothing(tmp_path, monkeypatch, capsys):
    (tmp_path / "file").write_text("")
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path / "file"))
    log_failure("lost")
    assert capsys.readouterr() == ("", "")
    assert not log_path().exists()


def test_what_ends_a_program_or_a_thread_is_logged(monkeypatch, capsys):
    monkeypatch.setattr(sys, "excepthook", sys.__excepthook__)
    monkeypatch.setattr(threading, "excepthook", threading.__excepthook__)
    diagnostics.log_uncaught_exceptions()
    thread = threading.Thread(target=fail, args=("in a thread",))
    thread.start()
    thread.join()
    try:
        fail("at the end")
    except ValueError as error:
        sys.excepthook(type(error), error, error.__traceback__)
    text = log_path().read_text()
    assert "ValueError: in a thread" in text
    assert "ValueError: at the end" in text
    printed = capsys.readouterr().err
    assert "ValueError: in a thread" in printed
    assert "ValueError: at the end" in printed


def test_a_line_whose_reading_fails_leaves_its_traceback(monkeypatch):
    monkeypatch.setattr(lines, "tokens_of", lambda text: fail("a mistake"))
    assert read_any_line(b"0.273 V").note == MISTAKE_NOTE
    text = log_path().read_text()
    assert "reading the line b'0.273 V'" in text
    assert "ValueError: a mistake" in text


def test_the_version_says_on_request_where_it_is(capsys):
    assert main(["--version"]) == 0
    assert capsys.readouterr().out == f"Stillvolt {__version__}\n"
    assert main(["--version", "-v"]) == 0
    assert capsys.readouterr().out == f"Stillvolt {__version__}\nDiagnostic log: {log_path()}\n"


def test_it_costs_no_import_at_the_start():
    code = "import sys, logger.diagnostics; print(sorted({'logging', 'platformdirs'} & set(sys.modules)))"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout == "[]\n"
