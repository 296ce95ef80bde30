"""What the program puts out never replaces what was measured, and is whole or not there."""

from __future__ import annotations

import os
import stat
import sys
from pathlib import Path

import pytest

from logger.errors import StillvoltError
from logger.output_file import ReplaceRefusedError, refuse_another_visits, refuse_outputs, write_whole
from logger.visit import VisitLog

KEPT = "The visit is unchanged."


@pytest.fixture
def visit(tmp_path: Path) -> Path:
    path = tmp_path / "home.visit"
    VisitLog.create(path).close()
    return path


def refusal(outputs: list[Path], inputs: list[Path]) -> str:
    with pytest.raises(StillvoltError) as error:
        refuse_outputs(outputs, inputs)
    return str(error.value)


def test_a_visit_log_is_never_overwritten_whatever_its_name(visit: Path, tmp_path: Path) -> None:
    other = tmp_path / "report.html"
    VisitLog.create(other).close()
    before = other.read_bytes()
    assert "is a visit log or another database" in refusal([other], [visit])
    with pytest.raises(StillvoltError, match="is a visit log"):
        write_whole(other, b"page", KEPT)
    assert other.read_bytes() == before


def test_the_input_is_refused_by_path_link_and_hard_link(visit: Path, tmp_path: Path) -> None:
    trace = tmp_path / "trace.csv"
    trace.write_text("time_s,volts\n")
    soft, hard = tmp_path / "soft.csv", tmp_path / "hard.csv"
    soft.symlink_to(trace)
    os.link(trace, hard)
    for target in (trace, tmp_path / "sub" / ".." / "trace.csv", soft, hard):
        (tmp_path / "sub").mkdir(exist_ok=True)
        assert "is the file that is read" in refusal([target], [trace])


def test_two_outputs_of_one_name_are_refused(tmp_path: Path) -> None:
    assert "named for two files" in refusal([tmp_path / "a.html", tmp_path / "." / "a.html"], [])


def test_folders_devices_and_pipes_are_refused(tmp_path: Path) -> None:
    pipe = tmp_path / "pipe"
    os.mkfifo(pipe)
    assert "is a folder" in refusal([tmp_path], [])
    assert "special file" in refusal([pipe], [])
    assert "special file" in refusal([Path("/dev/null")], [])


def test_the_journal_of_a_visit_is_refused_before_it_exists(visit: Path) -> None:
    for suffix in ("-wal", "-shm", "-journal"):
        assert "as its journal" in refusal([visit.with_name(visit.name + suffix)], [])


def test_names_that_no_file_may_have_are_refused_in_a_sentence(tmp_path: Path) -> None:
    assert "no name for a file" in refusal([tmp_path / ("n" * 300)], [])
    assert "no name for a file" in refusal([tmp_path / "a\0b"], [])


def test_a_file_of_another_kind_is_replaced_whole_and_private(tmp_path: Path) -> None:
    out = tmp_path / "report.html"
    out.write_text("old")
    write_whole(out, b"new", KEPT)
    assert out.read_bytes() == b"new"
    if sys.platform != "win32":
        assert stat.S_IMODE(out.stat().st_mode) == 0o600
    assert [path.name for path in tmp_path.iterdir()] == ["report.html"]


def test_what_fails_midway_leaves_the_old_file_and_no_remains(tmp_path: Path) -> None:
    out = tmp_path / "report.html"
    out.write_text("old")

    def fail(path: Path) -> None:
        path.write_bytes(b"half")
        raise OSError(28, "No space left on device")

    with pytest.raises(StillvoltError, match="No space left"):
        write_whole(out, fail, KEPT)
    assert out.read_text() == "old"
    assert [path.name for path in tmp_path.iterdir()] == ["report.html"]


@pytest.mark.parametrize("name", ["worn.visit", "HOME.VISIT", "lost.visit-wal", "home.visit.gz", "x-shm"])
def test_what_is_named_as_a_measurement_is_never_replaced(tmp_path: Path, name: str) -> None:
    """A visit with a damaged beginning, a journal that lost its visit, a packed copy: not even when asked."""
    there = tmp_path / name
    there.write_bytes(b"SQLitX format 3\0 and so on")
    with pytest.raises(StillvoltError, match="holds a measurement"):
        refuse_outputs([there], [], replace=True)


@pytest.mark.parametrize(
    ("name", "content"),
    [
        ("readings.csv", b"on,volts,u_volts\n*,0.9,0.01\n"),
        ("trace.csv", b"time_s,volts\n0,0.3\n"),
        ("stream.txt", b"0.273 V AC\r\n0.274 V AC\r\n"),
        ("page.html", b"<!doctype html><title>My notes</title>"),
        ("notes.pdf", b"%PDF-1.7 something else"),
        ("events.jsonl", b'{"kind": "mine"}\n'),
    ],
)
def test_what_others_have_written_is_replaced_only_when_asked(
    tmp_path: Path, name: str, content: bytes
) -> None:
    there = tmp_path / name
    there.write_bytes(content)
    assert "this program has not written it" in refusal([there], [])
    refuse_outputs([there], [], replace=True)


def test_what_was_written_of_another_visit_is_not_replaced_unasked(tmp_path: Path) -> None:
    mine, hers, nobodys = (tmp_path / name for name in ("a.html", "b.html", "c.html"))
    for path, of in ((mine, "begun 1 ns UTC"), (hers, "begun 2 ns UTC"), (nobodys, "")):
        write_whole(path, path.name.encode(), KEPT, of)
    refuse_another_visits([mine, nobodys, tmp_path / "new.html"], "begun 1 ns UTC")
    with pytest.raises(ReplaceRefusedError, match="another visit"):
        refuse_another_visits([mine, hers], "begun 1 ns UTC")


@pytest.mark.parametrize(
    ("name", "content"),
    [
        ("report.html", b'<!doctype html>\n<meta name="generator" content="Stillvolt">\n'),
        ("older.html", b"<!doctype html>\n<title>Body voltage report: Mill</title>"),
        ("events.jsonl", b'{"kind": "gap", "start_s": 1.0, "end_s": 2.0, "known_at_s": 2.0}\n'),
        ("empty", b""),
    ],
)
def test_what_this_program_has_written_is_replaced(tmp_path: Path, name: str, content: bytes) -> None:
    there = tmp_path / name
    write_whole(there, content, KEPT)
    refuse_outputs([there], [])
    if content:
        there.write_bytes(content + b"mine\n")
        assert "somebody has changed it" in refusal([there], [])
        assert "--replace" in refusal([there], [])
        refuse_outputs([there], [], replace=True)
