"""What rests on a reading that may have been swapped with another one is nowhere said to be read or known."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from gui.stages.plan.plan_content import remedy_rows, spot_bars
from gui.widgets.row_model import ListRow
from logger.plan.plan_json import plan_json
from logger.plan.planned_remedy import PlannedRemedy
from logger.plan.remedy_plan import remedy_plan_of
from logger.plan.remedy_text import READ_SWAPPED_FIRST, plan_lines
from logger.report.document.plan_sheet.effect_text import effect_text
from logger.sweep.sweep_progress import combination_as_at_night
from logger.visit import VisitLog
from logger.visit.records.remedy_records import RemedyKind
from tests.support.swept_home import Home


@pytest.fixture
def home(tmp_path: Path) -> Iterator[Home]:
    """Two circuits, each read alone: the two values may have been written down in each other's place."""
    log = VisitLog.create(tmp_path / "home.visit")
    home = Home(log, {"bed": {"A": 0.9, "B": 0.4}}, {"A": (0,), "B": (1,)})
    home.sweep()
    yield home
    log.close()


def breaker_a(home: Home) -> PlannedRemedy:
    return next(
        remedy
        for remedy in remedy_plan_of(home.log).remedies
        if remedy.kind is RemedyKind.BREAKER_AT_NIGHT and remedy.about == "A"
    )


def test_text_window_and_sheet_ask_to_read_again_first(home: Home) -> None:
    remedy = breaker_a(home)
    (left,) = remedy.predictions
    assert left.may_be_swapped and not left.is_read and not left.is_known
    plan = remedy_plan_of(home.log)
    assert any(READ_SWAPPED_FIRST in line for line in plan_lines(plan))
    row = next(
        one
        for one in remedy_rows(plan.remedies, lambda _: False)
        if isinstance(one, ListRow) and one.head == remedy.shown
    )
    assert READ_SWAPPED_FIRST in row.note
    (bar,) = spot_bars(remedy.predictions, plan.target_volts)
    assert READ_SWAPPED_FIRST in bar.note and "read:" not in bar.note
    assert READ_SWAPPED_FIRST in effect_text(remedy) and "Read:" not in effect_text(remedy)
    (kept,) = (one for one in plan_json(plan)["remedies"] if one["id"] == remedy.code)
    assert kept["predictions"][0]["may_be_swapped"] is True


def test_once_it_was_read_again_it_is_read(home: Home) -> None:
    for _ in range(2):
        for name in ("A", "B"):
            home.read(combination_as_at_night([home.ids[name]], home.log.circuits.all(), []), "bed")
    (left,) = breaker_a(home).predictions
    assert left.is_read and not left.may_be_swapped
    assert READ_SWAPPED_FIRST not in effect_text(breaker_a(home))
