"""The example visits: those of the fixtures, copied beside the user's visits."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from gui.model.example_visits import EXAMPLES, example_folder, examples_beside, unpack_examples
from gui.window.other_visit_actions import VisitRequest
from logger.errors import StillvoltError
from logger.visit import VisitLog
from tests.support.window_driver import Driver

DEMO = Path(__file__).parents[2] / "fixtures" / "demo"


def test_they_are_the_demo_visits_and_a_copy_is_never_replaced(tmp_path: Path) -> None:
    folder = example_folder(tmp_path)
    unpack_examples(folder)
    for example in EXAMPLES:
        content = (DEMO / example.packed.removesuffix(".xz")).read_bytes()
        assert (folder / example.file_name).read_bytes() == content
    first = folder / EXAMPLES[0].file_name
    first.write_bytes(b"mine")
    unpack_examples(folder)
    assert first.read_bytes() == b"mine"
    assert example_folder(folder) == folder
    assert [path.name for _, path in examples_beside(first)] == [EXAMPLES[1].file_name]


def test_a_folder_that_cannot_be_made_is_a_sentence(tmp_path: Path) -> None:
    (tmp_path / "Examples").write_text("a file")
    with pytest.raises(StillvoltError, match="example visits cannot be written"):
        unpack_examples(tmp_path / "Examples")


def test_an_example_is_opened_by_its_name(open_window: Callable[[], Driver], log: VisitLog) -> None:
    driver = open_window()
    asked: list[VisitRequest] = []
    driver.window.visit_requested.connect(asked.append)
    driver.do("file.visits")
    driver.answer("Example: a garden flat")
    assert [request.path for request in asked] == [
        log.path.resolve().parent / "Examples" / "Garden flat.visit"
    ]
