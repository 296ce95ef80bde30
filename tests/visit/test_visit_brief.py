"""What a list shows of a visit, and that one in which nothing is goes away."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest

from logger.metrology.setup import Setup
from logger.visit import VisitLog
from logger.visit.storage.visit_brief import read_brief, remove_if_empty, visit_title


def put_nothing(log: VisitLog) -> None:
    assert log.path.exists()


def put_target(log: VisitLog) -> None:
    log.setup.set(replace(Setup(), target_volts=0.2))


def put_household(log: VisitLog) -> None:
    log.setup.set(Setup(household="Beech Lane 4"))


def put_spot(log: VisitLog) -> None:
    log.spots.add("Bed")


def put_mark(log: VisitLog) -> None:
    log.marks.add("here")


@pytest.mark.parametrize(
    ("put", "is_unused", "is_empty"),
    [
        (put_nothing, True, True),
        (put_target, True, True),
        (put_household, True, False),
        (put_spot, False, False),
        (put_mark, False, False),
    ],
)
def test_only_a_visit_in_which_nothing_is_is_removed(
    tmp_path: Path, put: Callable[[VisitLog], None], is_unused: bool, is_empty: bool
) -> None:
    log = VisitLog.create(tmp_path / "a.visit")
    put(log)
    log.close()
    brief = read_brief(log.path)
    assert (brief.is_unused, brief.is_empty) == (is_unused, is_empty)
    assert remove_if_empty(log.path) == is_empty
    assert [path.name for path in tmp_path.iterdir()] == ([] if is_empty else ["a.visit"])


def test_one_that_another_window_has_open_is_kept(tmp_path: Path) -> None:
    log = VisitLog.create(tmp_path / "a.visit")
    assert not remove_if_empty(log.path)
    log.spots.add("Bed")
    assert [spot.name for spot in log.spots.all()] == ["Bed"]
    log.close()


def test_what_cannot_be_read_stays_in_sight(tmp_path: Path) -> None:
    path = tmp_path / "a.visit"
    path.write_text("no visit log")
    assert not read_brief(path).is_empty and not remove_if_empty(path) and path.exists()


def test_a_visit_is_shown_by_its_household(tmp_path: Path) -> None:
    log = VisitLog.create(tmp_path / "2026-11-26 17.59.49.visit")
    put_household(log)
    log.close()
    assert read_brief(log.path).title == "Beech Lane 4, 2026-11-26 17.59.49"
    assert visit_title("garden flat", Path("Garden flat.visit")) == "Garden flat"
    assert visit_title("Garden flat", Path("Garden flat a year later.visit")) == "Garden flat a year later"
    assert visit_title("", log.path) == "2026-11-26 17.59.49"
