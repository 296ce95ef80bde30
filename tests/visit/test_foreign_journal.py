"""The journal of another visit that lies beside a file is never read with it."""

from __future__ import annotations

from contextlib import closing
from pathlib import Path

import pytest

from logger.errors import StillvoltError
from logger.visit import VisitLog
from logger.visit.storage.salvage import salvage
from logger.visit.storage.verification import verify


def _visit(path: Path, spot: str) -> bytes:
    with closing(VisitLog.create(path)) as log:
        log.spots.add(spot)
    return path.read_bytes()


def _killed_with_a_journal(folder: Path) -> tuple[Path, bytes, bytes]:
    """A visit as a killed window leaves it, with an entry in its journal only; its file and its journal."""
    before = _visit(folder / "open.visit", "Bed")
    with closing(VisitLog.open(folder / "open.visit")) as log:
        log.spots.add("Sofa")
        journal = (folder / "open.visit-wal").read_bytes()
    path = folder / "home.visit"
    path.with_name("home.visit-wal").write_bytes(journal)
    return path, before, journal


@pytest.mark.parametrize("older", [False, True])
def test_another_file_is_not_opened_with_it_and_is_salvaged_alone(tmp_path: Path, older: bool) -> None:
    path, _, journal = _killed_with_a_journal(tmp_path)
    content = (tmp_path / "empty.visit") if older else (tmp_path / "other.visit")
    expected = ["Cot"]
    if older:
        with closing(VisitLog.create(content)) as log:
            log.marks.add("first")
        expected = []
    else:
        _visit(content, "Cot")
    path.write_bytes(content.read_bytes())
    with pytest.raises(StillvoltError, match="not of it"):
        VisitLog.open(path)
    assert "not of it" in verify(path).problems[0]
    assert "It was left out." in " ".join(salvage(path, tmp_path / "new.visit").remarks)
    assert (path.read_bytes(), path.with_name("home.visit-wal").read_bytes()) == (
        content.read_bytes(),
        journal,
    )
    with closing(VisitLog.open(tmp_path / "new.visit")) as log:
        assert [spot.name for spot in log.spots.all()] == expected


def test_its_own_journal_is_read(tmp_path: Path) -> None:
    path, before, _ = _killed_with_a_journal(tmp_path)
    path.write_bytes(before)
    assert not verify(path).problems
    with closing(VisitLog.open(path)) as log:
        assert [spot.name for spot in log.spots.all()] == ["Bed", "Sofa"]
