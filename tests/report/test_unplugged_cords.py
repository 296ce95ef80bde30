"""A cord of which the model tells nothing while two readings do: it is asked for, and its range does not begin at 0."""

from __future__ import annotations

import shutil
from contextlib import closing
from dataclasses import replace
from pathlib import Path

from logger.report.document.first_page.still_to_read import still_to_read
from logger.report.document.read_report_data import read_report_data
from logger.report.document.report_data import ReportData
from logger.report.document.sections.sweep import sweep
from logger.report.document.unplugged_cords import unplugged_cords
from logger.visit import VisitLog

DEMO = Path(__file__).parents[2] / "fixtures" / "demo" / "garden_flat.visit"
ASKED = "By two readings Bedside lamp gives something at “Bed, left”"


def _untold(data: ReportData) -> ReportData:
    """The same with no switching that confirms the lamp, and a model that tells nothing of it."""
    plan = data.tonight
    assert plan is not None
    spots = tuple(
        replace(
            spot,
            contributions=tuple(
                replace(given, u_volts=max(given.volts, 0.4))
                if given.source.name == "Bedside lamp"
                else given
                for given in spot.contributions
            ),
        )
        for spot in plan.spots
    )
    return replace(data, effects={}, tonight=replace(plan, spots=spots))


def test_a_cord_that_only_two_readings_tell_of_is_asked_to_be_switched_again(tmp_path: Path) -> None:
    with closing(VisitLog.open(Path(shutil.copy(DEMO, tmp_path)))) as log:
        data = read_report_data(log)
    assert not any(text.startswith("By two readings") for text in still_to_read(data, every=True))
    untold = _untold(data)
    (asked,) = (text for text in still_to_read(untold, every=True) if text.startswith("By two readings"))
    assert asked.startswith(ASKED) and asked.endswith("unplug it and plug it in again twice there.")
    (found,) = (one for swept in untold.swept for one in unplugged_cords(untold, swept))
    assert found.on.volts > found.without.volts + 1.0
    section = sweep(untold)
    assert section is not None and "With just Bedside lamp unplugged" in str(section.blocks)
