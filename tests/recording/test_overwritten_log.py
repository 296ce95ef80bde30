"""A visit log that another program overwrites or cuts in place is never called kept, and its run is kept elsewhere."""

from __future__ import annotations

import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from logger.visit import VisitLog
from tests.recording.test_file_watch import Recording

pytestmark = pytest.mark.skipif(
    sys.platform == "win32", reason="Windows does not let an open file be overwritten"
)


def _overwrite(path: Path) -> None:
    other = path.with_name("other.visit")
    VisitLog.create(other).close()
    with path.open("r+b") as file:
        file.truncate(0)
        file.write(other.read_bytes())


def _cut(path: Path) -> None:
    with path.open("r+b") as file:
        file.truncate(0)


def _cut_journal(path: Path) -> None:
    _cut(path.with_name(f"{path.name}-wal"))


def test_a_log_that_nobody_touched_is_kept(tmp_path: Path) -> None:
    recording = Recording(tmp_path / "home.visit")
    recording.write(30)
    assert recording.writer.is_kept()
    recording.writer.end(1, 1, "stopped")
    assert recording.writer.is_kept()
    recording.writer.close()


@pytest.mark.parametrize("change", [_overwrite, _cut, _cut_journal, Path.unlink])
def test_what_was_overwritten_is_noticed_and_can_be_written_again(
    tmp_path: Path, change: Callable[[Path], None]
) -> None:
    recording = Recording(tmp_path / "home.visit")
    recording.write(30)
    change(tmp_path / "home.visit")
    assert not recording.writer.is_kept()
    assert [line[4] for line in recording.writer.written().lines] == [b"%d" % n for n in range(1, 31)]
    recording.writer.close()
