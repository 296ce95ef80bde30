"""The example visits: those of the fixtures, copied beside the user's visits."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import closing
from pathlib import Path

import pytest

from gui.model.example_visits import EXAMPLES, example_folder, examples_beside, unpack_examples
from gui.model.visit_controller import VisitController
from gui.model.visits_folder import usual_visits_folder
from gui.window import Window
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


def test_from_an_example_ones_own_visits_are_in_reach_and_a_new_one_is_made_beside_them(
    tmp_path: Path, show_window: Callable[[Window], Driver]
) -> None:
    visits: dict[str, Path] = {
        "mine": tmp_path / "mine.visit",
        "usual": usual_visits_folder() / "usual.visit",
    }
    for path in visits.values():
        path.parent.mkdir(parents=True, exist_ok=True)
        with closing(VisitLog.create(path)) as visit:
            visit.spots.add("Bed")
    unpack_examples(tmp_path / "Examples")
    with closing(VisitLog.open(tmp_path / "Examples" / EXAMPLES[0].file_name)) as example:
        driver = show_window(Window(VisitController(example), polls=False))
        shown: list[VisitRequest] = []
        driver.window.visit_requested.connect(shown.append)
        driver.do("file.visits")
        question = driver.window.question.question
        assert question is not None
        assert {"mine", "usual"} <= {answer.text.split(" (")[0] for answer in question.answers}
        driver.press("Esc")
        driver.do("file.new")
        line = driver.window.question.line
        assert line is not None
        line.setText("next")
        driver.press("Return")
        assert shown[0].path == tmp_path / "next.visit"
        assert not driver.window.registry["file.go_on"].isVisible(), "the example is not new"


def test_a_new_visit_offers_to_go_on_with_the_one_of_today(
    log: VisitLog, show_window: Callable[[Window], Driver]
) -> None:
    with closing(VisitLog.create(log.path.with_name("morning.visit"))) as visit:
        visit.spots.add("Bed")
    driver = show_window(Window(VisitController(log), polls=False))
    shown: list[VisitRequest] = []
    driver.window.visit_requested.connect(shown.append)
    button = driver.window.pages.connect._start_buttons.buttons["file.go_on"]
    assert button.isVisible() and "Go on with “morning”" in button.text().replace("&", "")
    button.click()
    assert shown[0].path.stem == "morning"
