"""What is refused or found damaged is shown in the language that holds; what a log keeps of it is English."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path

import pytest

from logger import translation
from logger.errors import StillvoltError
from logger.output_file import refuse_outputs
from logger.toml_file import parse_by_line, parse_by_table
from logger.translation import in_language
from logger.visit import VisitLog
from logger.visit.storage.run_writer import _moved_text
from logger.visit.storage.salvage import salvage
from logger.visit.storage.verification import Verification, verification_text, verify
from tests.support.other_language import OPENING, OtherLanguage, unspoken
from tests.support.without_triggers import without_triggers
from tests.visit.test_versions import load


@pytest.fixture(autouse=True)
def spoken(monkeypatch: pytest.MonkeyPatch) -> None:
    """A made-up language with a decimal comma."""
    monkeypatch.setattr(translation, "_chosen", [("de", OtherLanguage())])


@pytest.fixture
def changed(tmp_path: Path) -> Path:
    """A visit that another program has changed in several places."""
    path = load(5, tmp_path / "home.visit")
    with without_triggers(path) as db:
        db.execute("INSERT INTO mark (utc_ns, text) VALUES (1, 'x')")
        db.execute("UPDATE spot SET name = 'x' WHERE id = 1")
        db.execute("UPDATE event SET kind = 'x' WHERE id = 1")
        db.execute("UPDATE event SET end_t_ns = start_t_ns - 1 WHERE id = 2")
        db.execute("UPDATE line SET volts = volts + 1 WHERE id < 9")
    return path


def test_what_verify_finds_is_shown_and_its_json_is_english(changed: Path) -> None:
    found = verify(changed)
    text = verification_text(found)
    assert len(found.problems) > 3
    assert not [problem for problem in found.problems if OPENING not in problem]
    words = unspoken(text.replace(str(changed), ""))
    assert not words, words
    assert "1,271 V" in text, "with the decimal sign of the language"
    english = in_language("en")
    assert OPENING not in str(english(Verification.to_json)(english(verify)(changed)))


def test_what_a_salvage_keeps_is_english(changed: Path, tmp_path: Path) -> None:
    record = salvage(changed, tmp_path / "new.visit").record
    assert OPENING not in record.as_fact()
    assert re.search(r"event: \d+ rows? kept\.\n1 row damaged\.", record.lost)


def test_what_became_of_a_recorded_file_is_kept_in_english() -> None:
    assert OPENING not in _moved_text(Path("a.visit"), Path("b/b.visit"))


@pytest.mark.parametrize(
    "refused",
    [
        lambda folder: VisitLog.create(folder / "a?.visit"),
        lambda folder: VisitLog.create(folder / "missing" / "a.visit"),
        lambda folder: VisitLog.open(folder / "a.visit"),
        lambda folder: refuse_outputs([folder / "a.visit-wal"] * 2),
        lambda _: parse_by_line("a =", "file"),
        lambda _: parse_by_table("a =", "file"),
    ],
)
def test_a_refusal_is_shown_whole(refused: Callable[[Path], object], tmp_path: Path) -> None:
    with pytest.raises(StillvoltError) as caught:
        refused(tmp_path)
    parts = [part for part in (caught.value.what, caught.value.kept, caught.value.next_step) if part]
    assert not [part for part in parts if not part.startswith(OPENING)]
