"""No command writes over a visit log, its own input, or what is no file, however the target is named."""

from __future__ import annotations

import os
import shutil
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from logger.cli.main import main
from logger.visit import VisitLog

LATER = Path(__file__).parents[2] / "fixtures" / "demo" / "garden_flat_later.visit"

COMMANDS: dict[str, Callable[[Path, Path, Path], list[str]]] = {
    "report": lambda visit, _, out: ["report", str(visit), "--out", str(out)],
    "report, its PDF": lambda visit, _, out: [
        "report", str(visit), "--out", str(visit.with_name("new.html")), "--pdf", str(out)
    ],
    "form": lambda visit, _, out: ["form", str(visit), "--out", str(out)],
    "replay": lambda _, trace, out: ["replay", str(trace), "--events", str(out)],
    "salvage": lambda visit, _, out: ["salvage", str(visit), "--out", str(out)],
}  # fmt: skip


def hard_link(other: Path) -> Path:
    link = other.with_name("hard link.html")
    link.hardlink_to(other)
    return link


def symbolic_link(other: Path) -> Path:
    link = other.with_name("symbolic link.html")
    link.symlink_to(other)
    return link


def chain_of_links(other: Path) -> Path:
    link = other.with_name("link of link.html")
    link.symlink_to(symbolic_link(other))
    return link


def open_descriptor(other: Path) -> Path:
    return Path(f"/dev/fd/{os.open(other, os.O_RDWR)}")


def folder(other: Path) -> Path:
    other.with_name("folder").mkdir()
    return other.with_name("folder")


def pipe(other: Path) -> Path:
    os.mkfifo(other.with_name("pipe"))
    return other.with_name("pipe")


def dangling_link(other: Path) -> Path:
    other.with_name("dangling").symlink_to(other.with_name("nothing"))
    return other.with_name("dangling")


def journal(other: Path) -> Path:
    return other.with_name(f"{other.name}-wal")


TARGETS: dict[str, Callable[[Path], Path]] = {
    "another visit log": lambda other: other,
    "a hard link to it": hard_link,
    "a symbolic link to it": symbolic_link,
    "a link to a link to it": chain_of_links,
    "an open descriptor of it": open_descriptor,
    "its journal": journal,
    "a folder": folder,
    "a pipe": pipe,
    "a link to nothing": dangling_link,
    "a device": lambda _: Path(os.devnull),
}

UNIX = pytest.mark.skipif(
    sys.platform == "win32", reason="pipes, descriptors and links are made otherwise there"
)


@pytest.fixture
def files(tmp_path: Path) -> tuple[Path, Path, Path]:
    """A visit log, a trace, and another visit log."""
    visit = Path(shutil.copy(LATER, tmp_path / "home.visit"))
    other = Path(shutil.copy(LATER, tmp_path / "other.visit"))
    trace = tmp_path / "trace.csv"
    trace.write_text("time_s,volts\n0,0.2\n1,0.2\n", encoding="utf-8")
    return visit, trace, other


def refused(words: list[str], capsys: pytest.CaptureFixture[str]) -> str:
    status = main(words)
    printed = capsys.readouterr()
    assert status == 1, printed
    lines = [line for line in printed.err.splitlines() if line.startswith("stillvolt: ")]
    assert len(lines) == 1
    return lines[0]


@UNIX
@pytest.mark.parametrize("command", COMMANDS)
@pytest.mark.parametrize("target", TARGETS)
def test_no_command_writes_over_it(
    files: tuple[Path, Path, Path], command: str, target: str, capsys: pytest.CaptureFixture[str]
) -> None:
    visit, trace, other = files
    out = TARGETS[target](other)
    before = [path.read_bytes() for path in files]
    names = {path.name for path in visit.parent.iterdir()}
    refused(COMMANDS[command](visit, trace, out), capsys)
    assert [path.read_bytes() for path in files] == before
    assert {path.name for path in visit.parent.iterdir()} <= names | {"new.html"}


@pytest.mark.parametrize("command", COMMANDS)
def test_no_command_writes_over_its_own_input(
    files: tuple[Path, Path, Path], command: str, capsys: pytest.CaptureFixture[str]
) -> None:
    visit, trace, _ = files
    own = trace if command == "replay" else visit
    before = own.read_bytes()
    refused(COMMANDS[command](visit, trace, own), capsys)
    assert own.read_bytes() == before


def test_an_export_does_not_write_over_a_visit_log_in_its_folder(
    files: tuple[Path, Path, Path], capsys: pytest.CaptureFixture[str]
) -> None:
    visit, _, other = files
    data = visit.with_name("data")
    assert main(["export", str(visit), "--out", str(data), "--format", "csv"]) == 0
    written = sorted(data.iterdir())
    for path in written:
        before = {other_path: other_path.read_bytes() for other_path in written if other_path != path}
        kept = path.read_bytes()
        path.unlink()
        path.hardlink_to(other)
        capsys.readouterr()
        refused(["export", str(visit), "--out", str(data), "--format", "csv"], capsys)
        assert {other_path: other_path.read_bytes() for other_path in before} == before
        assert path.samefile(other)
        path.unlink()
        path.write_bytes(kept)
    assert other.read_bytes() == LATER.read_bytes()


@UNIX
@pytest.mark.parametrize(
    "target", ["the trace itself", "a folder", "a pipe", "a device", "a link to nothing"]
)
def test_an_import_into_what_is_no_visit_log_is_refused(
    files: tuple[Path, Path, Path], target: str, capsys: pytest.CaptureFixture[str]
) -> None:
    _, trace, other = files
    into = trace if target == "the trace itself" else TARGETS[target](other)
    before = trace.read_bytes()
    refused(["import", str(trace), "--visit", str(into), "--began", "2026-01-01T00:00:00Z"], capsys)
    assert trace.read_bytes() == before


@pytest.mark.parametrize("same", ["by the same name", "by a link"])
def test_two_outputs_of_one_name_are_refused(
    files: tuple[Path, Path, Path], same: str, capsys: pytest.CaptureFixture[str]
) -> None:
    visit, _, _ = files
    out = second = visit.with_name("report.html")
    if same == "by a link":
        out.write_text("old", encoding="utf-8")
        second = symbolic_link(out)
    assert "two files" in refused(["report", str(visit), "--out", str(out), "--pdf", str(second)], capsys)
    assert not out.exists() or out.read_text(encoding="utf-8") == "old"


@pytest.mark.parametrize("command", [command for command in COMMANDS if command != "salvage"])
def test_a_folder_that_does_not_exist_is_refused_before_any_work(
    files: tuple[Path, Path, Path],
    command: str,
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    visit, trace, _ = files
    monkeypatch.setattr(VisitLog, "open", None)  # nothing of the visit is read
    sentence = refused(COMMANDS[command](visit, trace, visit.parent / "nowhere" / "out.html"), capsys)
    assert "There is no folder" in sentence
    assert "Nothing was written." in sentence
    assert not (visit.parent / "nowhere").exists()
