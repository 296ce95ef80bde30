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
    assert "“Armchair” was not read with everything off." in short["Found:"]
    # What stays on is named, and a value that may be another one's is no verdict.
    assert (
        "With every breaker off except Refrigerator: “Bed” 0.03 V, not certain: two values there may have been written "
        "down under each other's name."
    ) in short["Found:"]
    assert short["Did it help:"] == "Not known: nothing has been changed yet."
    assert short["How sure:"].endswith(
        "2 checks of the equipment are missing, so the values may be off: reference check and function check."
    )
    assert short["Tonight:"].startswith("There is no list yet of what to switch off")
    # Half a sweep proves nothing: no breaker is named, and what is safe without a list is.
    assert "leave all of them on tonight" in page.tonight.headline
    assert "most of it seems to come from panel hall, 1 (Outlets), but two values" in page.tonight.headline
    assert "suggest" not in page.tonight.headline and "unplug lamps" in page.tonight.notes[0]
    assert not any(tasks.who == "You yourself:" for tasks in page.calls)
    electrician = next(tasks for tasks in page.calls if tasks.who == "A licensed electrician:")
    assert [task.what for task in electrician.tasks] == [
        "Do not call one yet: the causes are not known. First let Jo Sample finish."
    ]
    # Of a spot that was not read with everything off nothing is known.
    assert page.outside == (
        "What is left with everything off is not certain yet at “Bed”: two values there may have been written down "
        "under each other's name.",
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
    assert (
        "fit as well with each other's value: “only Outlets on” with “everything on” and “everything off”. The "
        "breakers may have been set the other way round. To rule that out, read “everything off” and “everything "
        "on” once more."
    ) in str(swept.blocks)
    # Neither the span of a reading nor the step of a check that was begun is time without work.
    assert "has 31 s in one piece" in data.why_no_night
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
