"""A home of one room, left before anything was finished: its report says what is missing, and answers nothing."""

from __future__ import annotations

from pathlib import Path

from logger.report.document.blocks import Items, TableBlock
from logger.report.document.first_page.amounts import amount_at
from logger.report.document.first_page.first_page import first_page
from logger.report.document.first_page.still_to_read import still_to_read
from logger.report.document.read_report_data import read_report_data
from logger.report.document.sections.checks import checks
from logger.report.document.sections.meter import meter
from logger.report.document.sections.readings import readings
from logger.report.document.sections.sweep import sweep
from logger.report.document.wording import NBSP
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
    assert "leave all of them on tonight" in page.tonight.headline
    assert (
        "most of it seems to come from panel hall, 1 (Outlets), but that rests on a" in page.tonight.headline
    )
    assert "suggest" not in page.tonight.headline and "unplug lamps" in page.tonight.notes[0]
    assert (
        "These checks of meter and reference were not done, or not to the end: reference check and function check."
        in page.missing
    )
    assert not any(tasks.who == "You yourself:" for tasks in page.calls)
    electrician = next(tasks for tasks in page.calls if tasks.who == "Call a licensed electrician for this:")
    assert [task.what for task in electrician.tasks] == [
        "Any change to wiring, outlets or cords, once it is known what causes the values.",
        "Who measured, Jo Sample, stated as licence: “Electrician, register no. 000”. Ask whether it covers this; else "
        "call another.",
        "The inside of the panel is for a licensed electrician; local electrical codes come first.",
    ]
    # Of a spot that was not read with everything off nothing is known.
    assert page.outside == (
        "With everything off “Bed” is below the target.",
        "Not read with everything off, so not known: “Armchair”.",
    )
    section = checks(data)
    assert section is not None
    # A check that was never done is not "not done again".
    assert "Not done again after the last reading, on 9 Apr 2026, 15:32:25: zero check." in str(
        section.blocks
    ).replace(r"\xa0", " ")
    # What may have been swapped is marked at both readings, and every pair is named in one place.
    listed = readings(data)
    assert listed is not None
    table = next(block for block in listed.blocks if isinstance(block, TableBlock))
    marked = {row[0]: row[-1].partition("may have been swapped with ")[2] for row in table.rows}
    assert marked == {"1": "reading 4", "2": "", "3": "reading 4", "4": "one of the readings 1, 3"}
    swept = sweep(data)
    assert swept is not None
    assert "swapped by mistake, by their numbers: 4 with 1, 3." in str(swept.blocks)
    # The span of a reading is no time without readings.
    assert "has 46 s in one piece" in data.why_no_night
    # The same list for whoever is called and beside the sweep.
    wanted = tuple(task.what for task in page.calls[-1].tasks)
    assert wanted == tuple(still_to_read(data, every=True))
    assert "Read with everything off too: “Armchair”." in wanted and "“everything off” at “Bed”" in wanted[1]
    beside_the_sweep = sweep(data)
    assert beside_the_sweep is not None and beside_the_sweep.blocks[-1] == Items(wanted)
    assert "suggest" not in str(beside_the_sweep.blocks)
    # Nobody recorded the range: what was counted, and what told it.
    told = (
        "readings 1–4 are those of the range up to 6 V: their samples go in steps of 0.001 V, the least count"
    )
    assert told in str(meter(data).blocks)
    text = str(beside_the_sweep.blocks).replace(NBSP, " ").replace(r"\xa0", " ")
    assert "“0.40 ± 0.40” is a range from 0 to 0.80 V: such values must not be added up." in text
    # One U of one thing: as the household's bar has it, and as the model's table.
    (spot,) = data.tonight.spots if data.tonight is not None else ()
    outlets = next(given for given in spot.contributions if given.source.name == one_room.READ_ALONE)
    amount = amount_at(spot, outlets, data)
    assert amount.read and amount.u_volts == outlets.u_volts
