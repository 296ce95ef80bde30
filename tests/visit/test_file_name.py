"""New visit logs get names that every computer can store and that show what they are."""

from __future__ import annotations

from pathlib import Path

import pytest

from logger.errors import StillvoltError
from logger.visit import VisitLog
from logger.visit.storage.file_name import free_kept_name, free_rest_name, may_be_rest_of


@pytest.mark.parametrize(
    ("name", "reason"),
    [
        ("CON.visit", "device on Windows"),
        ("lpt1", "device on Windows"),
        ("...", "only dots"),
        (" . ", "only dots or blanks"),
        ("home.", "ends with a dot"),
        ("home.visit-wal", "the journal of another file"),
        ("a:b.visit", "has a :"),
        ("a\nb.visit", "U\\+000A"),
        ("a\u202etisiv.visit", "U\\+202E"),
        ("a\udcff.visit", "U\\+DCFF"),
        ("n" * 300, "longer than"),
        ("\N{GREEK SMALL LETTER ALPHA}" * 150, "longer than"),
    ],
)
def test_a_name_that_is_not_for_every_computer_is_refused(tmp_path: Path, name: str, reason: str) -> None:
    with pytest.raises(StillvoltError, match=reason) as error:
        VisitLog.create(tmp_path / name)
    assert str(error.value).isprintable()
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize(
    "name", ["Zuhause Süd.visit", "家.visit", "conservatory.visit", ".hidden", "a'b & c (2).visit"]
)
def test_other_names_are_taken(tmp_path: Path, name: str) -> None:
    VisitLog.create(tmp_path / name).close()
    VisitLog.open(tmp_path / name).close()


@pytest.mark.parametrize("name", ["n" * 300, "a\0b", "a\udcff"])
def test_opening_a_name_that_no_file_can_have_is_a_sentence(tmp_path: Path, name: str) -> None:
    with pytest.raises(StillvoltError, match="no visit log"):
        VisitLog.open(tmp_path / name)


def test_what_is_kept_of_a_kept_visit_is_counted_up(tmp_path: Path) -> None:
    for name in ("home.visit", "home (kept).visit", "home (kept) (rest 2) (kept).visit"):
        assert free_kept_name(tmp_path / name) == tmp_path / "home (kept).visit"
        assert free_rest_name(tmp_path, tmp_path / name) == tmp_path / "home (rest).visit"
    (tmp_path / "home (kept).visit").touch()
    assert free_kept_name(tmp_path / "home (kept).visit") == tmp_path / "home (kept 2).visit"
    assert may_be_rest_of(tmp_path / "home (rest 2).visit", tmp_path / "home (kept 2).visit")
    assert free_kept_name(tmp_path / "(kept).visit") == tmp_path / "(kept) (kept).visit"
