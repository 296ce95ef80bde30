"""Marks in the report: one for all from then on says where what was entered with a reading is another thing."""

from __future__ import annotations

from datetime import UTC, datetime
from types import SimpleNamespace
from typing import cast

from logger.report.document.report_data import ReportData
from logger.report.document.sections.marks import marks
from logger.visit.records.mark_about import AboutKind, MarkAbout
from logger.visit.records.reading_records import Mark


def _said(*conditions: str, kind: AboutKind = AboutKind.AFTER) -> str:
    readings = tuple(
        SimpleNamespace(id=n, condition=condition, spot_id=1, utc_ns=n * 10**9, end_utc_ns=None)
        for n, condition in enumerate(conditions, 1)
    )
    mark = Mark(5, 0, None, None, "all off from here", None)
    data = SimpleNamespace(
        marks=(mark,),
        marks_about={5: MarkAbout(kind)},
        valid_readings=readings,
        local=lambda ns: datetime.fromtimestamp(ns / 1e9, UTC),
        clock_changes=False,
    )
    return repr(marks(cast(ReportData, data)))


def test_a_mark_for_all_from_then_on_names_the_first_reading_with_another_condition() -> None:
    assert "reading 3 was entered “everything on”" in _said(
        "everything off", "everything off", "everything on"
    )
    assert "not all alike" not in _said("everything off", "everything off")
    assert "not all alike" not in _said("everything off", "everything on", kind=AboutKind.ALL)
