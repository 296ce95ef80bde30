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
    assert short["Tonight:"].startswith("This report does not tell you to switch anything off")
    # Half a sweep proves nothing: no breaker is named, and what is safe without a list is.
    assert "is not finished: 4 readings are missing. So nothing is proven yet" in page.tonight.headline
    assert "suggest" not in page.tonight.headline and "unplug lamps" in page.tonight.notes[0]
    assert "Not done, or begun and not finished: reference check and function check." in page.missing
    assert page.yourself is None
    # Of a spot that was not read with everything off nothing is known.
    assert page.outside == (
        "With everything off every spot that was read then is below the target.",
        "Not read with everything off, so not known: “Armchair”.",
    )
    assert "The breaker sweep at “Bed” is not finished: 4 readings are missing." in page.missing
    section = checks(data)
    assert section is not None
    assert "Not done, or begun and not finished: reference check and function check." in str(section.blocks)
