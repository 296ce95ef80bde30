"""A home of one room, left before anything was finished: its report says what is missing, and answers nothing."""

from __future__ import annotations

from pathlib import Path

from logger.report.document.first_page.first_page import first_page
from logger.report.document.read_report_data import read_report_data
from logger.report.document.sections.checks import checks
from logger.visit import VisitLog
from scripts.bench.homes import one_room


def test_a_visit_that_was_left_early_is_reported_as_unfinished(tmp_path: Path) -> None:
    path = tmp_path / "one_room.visit"
    one_room.make(path)
    log = VisitLog.open(path)
    data = read_report_data(log)
    log.close()
    page = first_page(data)
    short = dict(page.in_short)
    assert "1 spot was not read with everything off." in short["Found:"]
    assert short["Tonight:"].startswith("There is no list yet of what to switch off")
    # Half a sweep proves nothing: no breaker is named, and what is safe without a list is.
    left = "Still to be measured: “only Light on”, “only Kitchenette on”,"
    assert left in page.tonight.headline and "leave all of them on tonight" in page.tonight.headline
    assert "suggest" not in page.tonight.headline and "unplug lamps" in page.tonight.notes[0]
    assert (
        "These checks of meter and reference have no result: reference check and function check."
        in page.missing
    )
    assert not any(tasks.who == "You yourself:" for tasks in page.calls)
    electrician = next(tasks for tasks in page.calls if tasks.who == "Call a licensed electrician for this:")
    assert [task.what for task in electrician.tasks] == [
        "Any change to wiring, outlets or cords, once it is known what causes the values.",
        "The inside of the panel is for a licensed electrician; local electrical codes come first.",
    ]
    # Of a spot that was not read with everything off nothing is known.
    assert page.outside == (
        "With everything off “Bed” is below the target.",
        "Not read with everything off, so not known: “Armchair”.",
    )
    section = checks(data)
    assert section is not None
    assert "have no result: reference check and function check." in str(section.blocks)
