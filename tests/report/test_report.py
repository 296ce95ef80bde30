"""The report: what it says agrees with the log, what is missing is said in a line, text is escaped, it stands alone."""

from __future__ import annotations

import base64
import json
import re
import shutil
import unicodedata
from contextlib import closing
from dataclasses import replace
from datetime import UTC, datetime
from html import unescape
from itertools import pairwise
from pathlib import Path
from xml.etree import ElementTree

import pytest

from logger import __version__
from logger.cli.main import main
from logger.clock import NS_PER_S, ManualClock, format_long_duration
from logger.errors import StillvoltError
from logger.meter.description import MeterDescription
from logger.meter.description_toml import as_toml
from logger.metrology.rounding import rounded
from logger.metrology.setup import ASSUMED_METER, UNKNOWN_METER, MeterFacts, Setup
from logger.metrology.uncertainty import COVERAGE_FACTOR, shown
from logger.night.night_level import level_budget
from logger.night.night_spots import NOWHERE_KNOWN, NightSpot
from logger.report.document.blocks import HeadingBlock, Pairs, TableBlock
from logger.report.document.figures.spot_bars import WIDTH, spot_bars_svg
from logger.report.document.first_page.first_page import first_page
from logger.report.document.first_page.in_short import in_short
from logger.report.document.first_page.measured import measured_sentence, trust_sentence
from logger.report.document.first_page.nights import night_sentence, share_in_words
from logger.report.document.html_page import SECTIONS, report_html
from logger.report.document.read_report_data import read_report_data
from logger.report.document.report_data import NightData, ReportData, SpotPhoto
from logger.report.document.sections.details import spot_details
from logger.report.document.sections.meter import meter
from logger.report.document.sections.recording import MAX_NOTICE_ROWS, recording
from logger.report.document.sections.steps import steps
from logger.report.document.sections.sweep import sweep
from logger.report.document.wording import condition_text, volts_with_u, with_u
from logger.report.document.write_report import write_report
from logger.report.export.tables.setup import SETUP
from logger.report.used_meters import used_meters_of_log
from logger.settling.limits import GAP_INTERVALS, SHORTEST_GAP_S
from logger.sweep.sweep_progress import combination_as_at_night
from logger.sweep.sweep_rows import mean_of_repeats
from logger.translation import in_language
from logger.visit import VisitLog
from logger.visit.records.circumstances import Circumstances
from logger.visit.records.condition import EVERYTHING_OFF, EVERYTHING_ON
from logger.visit.records.home_details import SpotDetails
from logger.visit.records.home_records import Source
from logger.visit.records.practitioner import Practitioner
from logger.visit.records.recording_records import CLOCK_SET, Notice
from logger.visit.results.contradicting_repeats import contradicting_repeats
from logger.visit.results.on_off_result import budget_of
from logger.visit.storage.integrity import Integrity
from logger.visit.storage.run_writer import RunWriter
from tests.support.other_language import OPENING, OtherLanguage, speak, unspoken

WRITTEN = datetime(2026, 1, 3, 9, 0, tzinfo=UTC)
WRITTEN_NS = round(WRITTEN.timestamp()) * NS_PER_S


def data_of(visit: Path) -> ReportData:
    with closing(VisitLog.open(visit)) as log:
        return read_report_data(log)


@pytest.fixture(scope="module")
def data(whole_visit: Path) -> ReportData:
    return data_of(whole_visit)


@pytest.fixture(scope="module")
def html(data: ReportData) -> str:
    return report_html(data, WRITTEN)


def words(html: str) -> str:
    """What a reader sees, in one line."""
    body = html[html.index("<body") :]
    without = re.sub(r"<(desc|title)\b.*?</\1>", " ", body, flags=re.S)
    text = unescape(re.sub(r"<[^>]+>", " ", without)).replace("\N{NO-BREAK SPACE}", " ")
    return re.sub(r"\s+([.,;:])", r"\1", " ".join(text.split()))


def pictures(html: str) -> list[ElementTree.Element]:
    return [ElementTree.fromstring(text) for text in re.findall(r"<svg xmlns.*?</svg>", html, flags=re.S)]


def test_every_spot_stands_with_on_and_off_in_hundredths(html: str, data: ReportData) -> None:
    said = words(html)
    for spot in data.spots:
        result = data.results[spot.id]
        assert result.on is not None
        assert result.off is not None
        assert re.search(
            rf"{spot.name} On: {result.on.volts:.2f} V \S+( \S+)* Off: {result.off.volts:.2f} V ", said
        )


def test_every_valid_reading_stands_with_its_uncertainty_and_its_trace(html: str, data: ReportData) -> None:
    said = words(html)
    taken = [reading for reading in data.valid_readings if reading.taken == "settled"]
    assert len(taken) >= 10
    for reading in data.valid_readings:
        budget = budget_of(reading)
        assert budget is not None
        value = volts_with_u(budget).replace("\N{NO-BREAK SPACE}", " ")
        assert f"{reading.spot_name} {condition_text(reading.condition)} {value}" in said
        assert f"{1e3 * budget.u_volts:.1f} {value}" in said
    titles = [picture[0].text or "" for picture in pictures(html)]
    for reading in taken:
        condition = condition_text(reading.condition)
        assert f"Trace of reading {reading.id}, {reading.spot_name}, {condition}" in titles


def test_a_trace_shows_what_the_reading_rests_on_and_fifteen_seconds_around(data: ReportData) -> None:
    for reading in data.valid_readings:
        if reading.taken != "settled":
            assert reading.id not in data.excerpts
            continue
        excerpt = data.excerpts[reading.id]
        from_s, to_s = excerpt.still_s
        inside = (excerpt.times_s >= from_s - 0.01) & (excerpt.times_s <= to_s + 0.01)
        assert float(excerpt.volts[inside].mean()) == pytest.approx(
            reading.volts, abs=3 * reading.u_volts + 0.002
        )
        # The cable is pulled soon after the last one.
        assert to_s + 5.0 < float(excerpt.times_s[-1]) <= to_s + 15.0
        assert 10.0 < from_s <= 15.01


def test_a_share_in_words_is_within_a_twentieth_of_the_share() -> None:
    stands_for = {
        "nothing": 0.0,
        "nearly nothing": 0.0,
        "about a tenth": 0.1,
        "about a fifth": 0.2,
        "about a quarter": 0.25,
        "about a third": 1 / 3,
        "about two fifths": 0.4,
        "about half": 0.5,
        "about three fifths": 0.6,
        "about two thirds": 2 / 3,
        "about three quarters": 0.75,
        "about four fifths": 0.8,
        "about nine tenths": 0.9,
        "nearly all": 1.0,
    }
    for thousandth in range(1001):
        share = thousandth / 1000
        said = share_in_words(share)
        assert abs(stands_for[said] - share) <= 0.05 + 1e-9
        assert (said == "nothing") is (thousandth == 0)


@pytest.mark.parametrize(
    ("plugged", "shown"),
    [
        ("Nothing plugged in within 2 m.", "does not apply"),
        ("nichts innerhalb von 2 m", "does not apply"),
        ("nothing but the bedside lamp", "not recorded"),
        ("", "not recorded"),
    ],
)
def test_where_nothing_was_plugged_in_no_plug_has_a_side(data: ReportData, plugged: str, shown: str) -> None:
    first, second = data.spots[:2]
    details = {
        first.id: SpotDetails(posture="sitting", plugged=plugged),
        second.id: SpotDetails(posture="lying", plugged="lamp", plug_side="mark up"),
    }
    of = {r.id: details.get(r.spot_id, SpotDetails()) for r in data.readings}
    readings = tuple(replace(r, details=of[r.id]) for r in data.readings)
    table, *_ = spot_details(replace(data, spot_details=details, readings=readings))
    assert isinstance(table, TableBlock)
    (row,) = (row for row in table.rows if row[0] == first.name)
    assert row[table.heads.index("Plugs and lamps")] == shown


def test_what_is_recorded_of_spots_and_circumstances_is_printed_and_no_empty_column(
    data: ReportData,
) -> None:
    spot = data.spots[0]
    told = replace(
        data,
        spot_details={
            spot.id: SpotDetails(
                posture="on the back", height_m=0.55, place="head <north>", height_of="chest"
            )
        },
        circumstances=Circumstances(rod_depth_m=0.4, weather="dry"),
        circumstances_at={},
        photos=(
            SpotPhoto(spot.name, "sketch", "from the door", b"\xff\xd8\xff\xd9"),
            SpotPhoto(spot.name, "photo", "", b"", "The picture is damaged."),
        ),
    )
    page = report_html(told, WRITTEN)
    said = words(page)
    assert "Where exactly Bed, left" in said and "on the back 0.55 m (chest) head <north>" in said
    assert (
        "Not recorded of any of them: Distances, Bed, seat and floor, Cover, Slept in by, How the probe is held, Place "
        "of meter and laptop, What was plugged in, Plugs and lamps, Person" in said
    )
    assert (
        "Depth of the rod 0.4 m" in said
        and "Weather dry" in said
        and "Not recorded Air indoors, Foot" in said
    )
    assert (
        "Length of the rod not recorded" in said and "Not recorded Who lay there at night, Probe at" in said
    )
    assert "How the reference was improved" not in said, "its check was not done"
    assert "“Bed, left”, sketch: from the door" in said and "data:image/jpeg;base64,/9j/2Q==" in page
    assert "“Bed, left”, photo: The picture is damaged." in said and "img-src data:" in page
    assert "To repeat a reading" not in words(report_html(data, WRITTEN))


def test_a_step_before_the_first_reading_at_its_spot_is_marked_as_assumed_there(data: ReportData) -> None:
    def places(of: ReportData) -> set[str]:
        section = steps(of)
        assert section is not None and isinstance(section.blocks[1], TableBlock)
        return {str(row[1]) for row in section.blocks[1].rows}

    assert not any("assumed" in place for place in places(data))
    assert all(
        place.endswith("(assumed: before its first reading)") for place in places(replace(data, readings=()))
    )


def test_a_voided_reading_stands_with_its_reason_and_is_counted_nowhere(html: str, data: ReportData) -> None:
    (voided,) = [reading for reading in data.readings if reading.void_reason is not None]
    said = words(html)
    assert said.count("moved <too early>") == 1
    assert f"Trace of reading {voided.id}," not in html
    result = data.results[voided.spot_id]
    assert result.on is not None
    assert result.on.id != voided.id


def test_checks_stand_with_verdict_sentence_and_trace(html: str, data: ReportData) -> None:
    said = words(html)
    for check in data.checks:
        assert (
            f"{check.outcome.verdict}{' (simulated)' if check.steps else ''} {check.outcome.sentence}" in said
        )
    assert "Trace of the zero check, on the reference wire" in html
    assert "reference check not done" in said
    assert "function check skipped" in said
    assert "This is an example: no meter was connected and the numbers are invented." in said


def test_readings_that_no_check_covers_are_counted_in_the_headline(data: ReportData) -> None:
    measured = replace(
        data,
        runs=tuple(replace(run, port="/dev/ttyUSB0", settings="{}") for run in data.runs),
        readings=tuple(replace(reading, simulated=False) for reading in data.readings),
    )
    sentence = trust_sentence(measured)
    assert "But the equipment is not fully proved" in sentence
    assert "function check skipped" in sentence
    assert "very likely (about 95%)" in sentence
    (damaged, *_) = measured.valid_readings
    differs = {damaged.id: "The log holds 9.5 V, and the mean of the samples it rests on is 0.3 V."}
    sentence = trust_sentence(
        replace(measured, doubts=measured.doubts | differs, integrity=Integrity(readings=differs))
    )
    assert (
        "confidence" not in sentence
        and "1 reading does not agree with the lines that it rests on" in sentence
    )


def test_a_check_that_lapsed_stands_as_lapsed(data: ReportData, whole_visit: Path, tmp_path: Path) -> None:
    assert "lapsed" not in words(report_html(data, WRITTEN))
    visit = Path(shutil.copy(whole_visit, tmp_path / "Mill.visit"))
    _set_up(visit, data.setup.with_changes(reference="building earth"))
    read = words(report_html(data_of(visit), WRITTEN))
    for check in data.checks:
        verdict = f"{check.outcome.verdict}{' (simulated)' if check.steps else ''}"
        assert f"{verdict}; lapsed: other reference {check.outcome.sentence}" in read
    assert "The zero check lapsed: other reference." in read
    _set_up(visit, data.setup.with_changes(meter=replace(data.setup.meter, input_resistance_ohm=1e6)))
    assert "The zero check lapsed: other meter." in words(report_html(data_of(visit), WRITTEN))


def _set_up(visit: Path, setup: Setup) -> None:
    log = VisitLog.open(visit)
    log.setup.set(setup)
    log.close()


def test_tonights_list_is_that_of_the_window(html: str, data: ReportData) -> None:
    found = data.tonight
    assert found is not None
    assert found.off
    said = words(html)
    for source in found.off:
        assert source.name in [one.name for one in first_page(data).tonight.switch_off]
    for source in found.essential:
        assert f"{source.name} ({source.stays})" in said
        assert source.name not in [one.name for one in first_page(data).tonight.switch_off]
    for bar in found.spots[0].contributions:
        value = with_u(rounded(bar.volts, COVERAGE_FACTOR * bar.u_volts)).replace("\N{NO-BREAK SPACE}", " ")
        assert f"{bar.source.name} {value} {bar.leg or 'not known yet'}" in said


def test_the_night_stands_in_words_numbers_and_a_picture(html: str, data: ReportData) -> None:
    (night,) = data.nights
    said = words(html)
    assert night.summary.level is not None
    median = shown(level_budget(night.night, night.summary.level.median_volts))
    assert f"median {median}, 5th" in said
    assert (
        f"1 January 2026, 22:00 to 02:30: while lying still mostly {night.summary.level.p05_volts:.2f} V to"
        in said
    )
    assert night.summary.loads
    for load in night.summary.loads:
        assert (
            f"{load.volts:.2f} {load.on_s / 60:.0f} min {load.period_s / 60:.0f} min {len(load.returns)} times"
            in said
        )
    assert "23:00 Bedroom light off step at 23:0" in said
    assert "00:40 the timer no step of 0.015 V or more found" in said
    assert any("Simulated night from 22:00 to 02:30" in (picture[0].text or "") for picture in pictures(html))
    assert night.night.context is not None
    other = replace(data.setup, meter=MeterFacts.of(MeterDescription("Hall meter")))
    by_other = replace(night.night, context=replace(night.night.context, setup=other))
    section = meter(replace(data, nights=(replace(night, night=by_other),)))
    assert section is not None and "Hall meter" in repr(section), "also where nothing was read with it"
    undescribed = replace(
        night.night, context=replace(night.night.context, setup=replace(data.setup, meter=UNKNOWN_METER))
    )
    stated = [
        replace(r, context=replace(r.context, setup=replace(r.context.setup, meter=ASSUMED_METER)))
        for r in data.readings
        if r.context is not None
    ]
    one = meter(replace(data, readings=tuple(stated), nights=(replace(night, night=undescribed),)))
    assert not any(isinstance(part, HeadingBlock) for part in one.blocks), "not described, twice"


def test_a_night_says_only_as_much_of_the_list_as_was_written_down(data: ReportData) -> None:
    (night,), plan = data.nights, data.tonight
    assert plan is not None and plan.off
    listed = combination_as_at_night([circuit.id for circuit in plan.off], data.sources).label

    def recorded(condition: str, spot: NightSpot = NOWHERE_KNOWN, **level: float) -> NightData:
        conditions = (replace(night.night.conditions[0], condition=condition),)
        of = replace(night, night=replace(night.night, conditions=conditions, spot=spot, context=context))
        assert of.summary.level is not None
        within = replace(of.summary, overloaded=(), level=replace(of.summary.level, **level))
        return replace(of, summary=within)

    def said(condition: str, spot: NightSpot = NOWHERE_KNOWN, **level: float) -> str:
        return night_sentence(recorded(condition, spot, **level), 0.1, plan, data.sources)

    def beside_the_list(*levels: dict[str, float]) -> str:
        of = tuple(recorded(listed, bed, **level) for level in levels)
        return dict(in_short(replace(data, nights=of, doubts={}, contradicting=frozenset())))["Did it help:"]

    read = plan.spots[0].confirming_reading
    assert read is not None and read.context is not None
    context = read.context
    bed, still_s = NightSpot(plan.spots[0].spot_id, "Old name"), night.summary.still_s
    clearly_below = {"clearly_above_s": 0.0, "clearly_below_s": still_s}

    assert "was not written down: this night says nothing" in said("")
    assert "As that is not tonight's list" in said(EVERYTHING_ON)
    assert "Tonight's list does not stop it" in said(listed)
    assert "Whether tonight's breakers stop it is not known" in said("") + said(EVERYTHING_ON)
    assert "tonight's list" not in night_sentence(night, 0.1)
    for condition, spot in (("", bed), (listed, NOWHERE_KNOWN), (EVERYTHING_ON, bed)):
        said_of = said(condition, spot, clearly_above_s=still_s)
        assert "this night says nothing for or against it" in said_of and "held" not in said_of, (
            "never with one"
        )
    lay = "All that is on tonight's list was off, and the person lay at “Old name”."
    assert lay in said(listed, bed, **clearly_below)
    above = {"clearly_above_s": 3600.0, "clearly_below_s": still_s - 3600.0, "near_target_s": 0.0}
    assert "In the recorded night it was below 0.1 V too, for all of" in beside_the_list(clearly_below)
    assert "Yet in the recorded night it was surely above 0.1 V for 1 h 00 min of" in beside_the_list(
        clearly_below, above
    )
    assert "hold" not in said(listed, bed, **above), "whether it holds is said once"
    near = {"clearly_above_s": 0.0, "clearly_below_s": 0.0, "near_target_s": still_s}
    assert "In the recorded night it was too close to 0.1 V too, for all of" in beside_the_list(near)
    short = {"clearly_above_s": 0.0, "clearly_below_s": still_s - 600.0, "near_target_s": 600.0}
    assert "so it is not shown to hold all night" in beside_the_list(short)
    parted = {
        "clearly_below_s": 0.5 * still_s,
        "clearly_above_s": 0.2 * still_s,
        "near_target_s": 0.3 * still_s,
    }
    shares = said("", NOWHERE_KNOWN, **parted)
    assert ") about half was clearly below 0.1 V (" in shares and "), about a fifth clearly above (" in shares
    assert shares.count("the measurement cannot tell") == 1 and f"({format_long_duration(still_s)})" in shares
    assert "The list was not read there" in said(listed, NightSpot(None, "Sofa"), **clearly_below)
    context = replace(context, simulated=not context.simulated)
    assert "one was measured, the other simulated" in said(listed, bed, **clearly_below)


def test_named_steps_marks_gaps_and_the_target_with_its_source(html: str) -> None:
    said = words(html)
    assert "lamp off" in said
    assert "a window was opened & closed" in said
    assert "Gaps in the trace" in said
    assert "0.1 V was stated as the target (the household's own)" in said


def test_what_the_household_typed_is_escaped(html: str, data: ReportData) -> None:
    assert data.setup.household == "Mill <& barn>"
    assert "<& barn>" not in html
    assert html.count("Mill &lt;&amp; barn&gt;") >= 2


def test_version_and_checksum(html: str, data: ReportData) -> None:
    assert f"Stillvolt {__version__}" in html
    assert re.fullmatch("[0-9a-f]{64}", data.checksum)
    assert data.checksum in html


def test_it_says_nothing_of_health_but_that(html: str) -> None:
    said = words(html).casefold()
    assert "no statement about anybody's health" in said
    for word in ("disease", "sleep better", "symptom", "harm", "illness", "cancer", "safe level"):
        assert word not in said


def test_it_needs_nothing_else(html: str) -> None:
    assert not re.search(r"\b(src|srcset|href|data|action|poster)\s*=\s*[\"'](?!#)", html)
    assert not re.search(r"@import|@font-face|url\(|<script|<iframe|<object|\bon[a-z]+=", html)


def test_headings_are_in_order_and_every_part_has_a_name(html: str) -> None:
    levels = [int(level) for level in re.findall(r"<h([1-6])", html)]
    assert levels[0] == 1
    assert levels.count(1) == 1
    assert all(later - earlier <= 1 for earlier, later in pairwise(levels))
    for wanted in ('<html lang="en">', "<main>", "<header>", "<footer>", "<nav "):
        assert wanted in html
    for table in re.findall(r"<table.*?</table>", html, flags=re.S):
        assert "<caption>" in table
        assert '<th scope="col"' in table
        assert '<th scope="row"' in table
    ids = re.findall(r'\bid="([^"]+)"', html)
    assert len(ids) == len(set(ids))
    for named in re.findall(r'aria-labelledby="([^"]+)"', html):
        assert set(named.split()) <= set(ids)


def test_every_picture_has_a_title_and_a_description_and_colours_of_the_palette(html: str) -> None:
    found = pictures(html)
    assert len(found) > 15
    for picture in found:
        assert picture.get("role") == "img"
        title, description = picture[0], picture[1]
        assert title.tag.endswith("title")
        assert title.text
        assert description.tag.endswith("desc")
        assert description.text
        height, width = float(picture.get("height", "0")), float(picture.get("width", "0"))
        for shape in picture.iter():
            if shape.tag.endswith("rect"):
                assert float(shape.get("x", "0")) + float(shape.get("width", "0")) <= width + 0.5
            if shape.tag.endswith("text"):
                assert 0.0 <= float(shape.get("y", "0")) <= height


def test_bars_are_as_long_as_their_values(data: ReportData, html: str) -> None:
    """Lengths of the on bars of the first page, against the readings."""
    spots = {(picture[0].text or "").removesuffix(", on and off"): picture for picture in pictures(html)}
    lengths = {}
    for spot in data.spots:
        on = data.results[spot.id].on
        assert on is not None
        rects = [shape for shape in spots[spot.name].iter() if shape.tag.endswith("rect")]
        lengths[spot.id] = float(rects[0].get("width", "0")) / on.volts
    assert max(lengths.values()) == pytest.approx(min(lengths.values()), rel=0.1)


def test_a_small_value_has_a_bar_that_is_seen_and_ends_before_the_target() -> None:
    def length(volts: float) -> float:
        svg = spot_bars_svg("bed", "Bed", None, volts, 0.1, 5.0)
        return float(re.findall(r'<rect [^>]* width="([\d.]+)"', svg)[0])

    assert length(0.0) == 0.0
    assert 3.0 < length(0.001) == length(0.03) < 0.1 * (WIDTH - 2) / 5.0
    assert length(1.0) == pytest.approx((WIDTH - 2) / 5.0, abs=0.1)


def test_a_planned_spot_that_was_not_read_is_named(tmp_path: Path) -> None:
    with closing(VisitLog.create(tmp_path / "a.visit")) as log:
        log.spots.add("Desk <1>")
    said = words(report_html(data_of(tmp_path / "a.visit"), WRITTEN))
    assert "Planned and not read: Desk <1>." in said


def test_an_empty_visit_has_a_report_without_empty_headings(tmp_path: Path) -> None:
    VisitLog.create(tmp_path / "a.visit").close()
    html = report_html(data_of(tmp_path / "a.visit"), WRITTEN)
    said = words(html)
    for sentence in (
        "No spot has been read.",
        "None of the checks of meter and reference was done.",
        "The breakers were not switched one by one.",
        "Nothing was measured during a night.",
    ):
        assert sentence in said
    headings = [unescape(text) for text in re.findall(r"<h[1-6][^>]*>(.*?)</h", html)]
    for missing in (
        "What causes what",
        "Tonight",
        "For a licensed electrician",
        "From outside",
    ):
        assert missing not in headings
    assert not any(re.search("Night|Sweep|sweep|Readings|Traces|Checks|Voided", text) for text in headings)
    assert not re.search(r"</h[1-6]>\s*</section>", html)


@pytest.mark.parametrize(
    ("off_volts", "off_word", "sentence"),
    [
        (
            0.005,
            "below",
            "every spot is below the target. No value there can be told from zero: no sign of a source",
        ),
        (0.09, "too close to tell", "at “Bed” it is too close to tell"),
        (0.2, "above", "“Bed” (0.20 V) is still above the target"),
    ],
)
def test_table_and_words_on_the_outside_go_together(
    tmp_path: Path, off_volts: float, off_word: str, sentence: str
) -> None:
    log = VisitLog.create(tmp_path / "a.visit", ManualClock())
    spot = log.spots.add("Bed")
    log.setup.set(Setup(reference="earth rod", on_battery=True, link_isolated=True))
    log.readings.enter(spot.id, EVERYTHING_OFF, off_volts, 0.001)
    log.close()
    page = first_page(data_of(tmp_path / "a.visit"))
    ((row,),) = (group.spots for group in page.spot_groups)
    assert row.off.word == off_word
    assert sentence in page.outside[0]
    assert ("no sign of a source outside" in page.outside[0]) is (off_volts == 0.005)


def test_readings_against_two_references_do_not_contradict_each_other(tmp_path: Path) -> None:
    log = VisitLog.create(tmp_path / "a.visit", ManualClock())
    spot = log.spots.add("Bed")
    log.setup.set(Setup(reference="building earth", on_battery=True, link_isolated=True))
    log.readings.enter(spot.id, EVERYTHING_OFF, 0.02, 0.002)
    log.setup.set(Setup(reference="earth rod", on_battery=True, link_isolated=True))
    log.readings.enter(spot.id, EVERYTHING_OFF, 0.23, 0.002)
    log.close()
    data = data_of(tmp_path / "a.visit")
    assert data.contradicting == frozenset() and not data.results[spot.id].apart
    assert contradicting_repeats([replace(r, context=None) for r in data.readings]), "by their values alone"
    mean = mean_of_repeats(data.readings)
    assert mean is not None and mean.volts == pytest.approx(0.23), "no mean of two voltages"


def test_a_spot_that_was_removed_with_its_readings_is_named(tmp_path: Path) -> None:
    log = VisitLog.create(tmp_path / "a.visit", ManualClock())
    log.setup.set(Setup(reference="earth rod", on_battery=True, link_isolated=True))
    bed, desk = log.spots.add("Bed"), log.spots.add("Desk")
    log.readings.enter(bed.id, EVERYTHING_ON, 1.9, 0.3)
    log.readings.enter(bed.id, EVERYTHING_OFF, 0.2, 0.001)
    log.readings.enter(desk.id, EVERYTHING_ON, 0.4, 0.001)
    log.spots.remove(bed.id)
    removed = (
        "One of them, “Bed”, was removed from the list of spots; its 2 valid readings stand in the section "
    )
    removed += "“Readings”: the "
    data = data_of(tmp_path / "a.visit")
    highest = budget_of(data.readings[0])
    assert highest is not None
    said = measured_sentence(data)
    assert (
        "at 2 spots with everything on" in said
        and f"{removed}highest is {volts_with_u(highest)} V on " in said
    )
    assert f"± {highest.expanded_volts:.1f}" in trust_sentence(data)
    assert words(report_html(data, WRITTEN)).count("spot removed from the list") == 2
    log.spots.remove(desk.id)
    log.close()
    only_removed = measured_sentence(data_of(tmp_path / "a.visit"))
    assert removed in only_removed and "at 2 spots with everything on" in only_removed


def test_the_widest_uncertainty_of_all_valid_readings_is_named(tmp_path: Path) -> None:
    log = VisitLog.create(tmp_path / "a.visit", ManualClock())
    spot = log.spots.add("Bed")
    log.setup.set(Setup(reference="earth rod", on_battery=True, link_isolated=True))
    log.readings.enter(spot.id, "only Kitchen on", 0.26, 0.4)
    log.readings.enter(spot.id, EVERYTHING_ON, 0.3, 0.001)
    log.close()
    data = data_of(tmp_path / "a.visit")
    widest = budget_of(data.readings[0])
    assert widest is not None and f"± {widest.expanded_volts:.2f} V of the one" in trust_sentence(data)


def test_another_target_is_not_called_usual_and_below_it_is_no_proof_of_no_source(tmp_path: Path) -> None:
    log = VisitLog.create(tmp_path / "a.visit", ManualClock())
    log.setup.set(Setup(reference="earth rod", on_battery=True, link_isolated=True, target_volts=5.0))
    log.readings.enter(log.spots.add("Bed").id, EVERYTHING_OFF, 0.26, 0.001)
    log.close()
    data = data_of(tmp_path / "a.visit")
    said = words(report_html(data, WRITTEN))
    assert "5 V; source: chosen for this visit, no source stated" in said and "source: usual" not in said
    (outside,) = first_page(data).outside
    assert (
        "Up to 0.26 V is left (“Bed”): it comes from outside, or from a circuit that was on (which" in outside
    )
    assert "no sign" not in outside


def test_below_the_target_with_all_circuits_off_what_is_left_is_of_no_circuit(tmp_path: Path) -> None:
    log = VisitLog.create(tmp_path / "a.visit", ManualClock())
    log.setup.set(Setup(reference="earth rod", on_battery=True, link_isolated=True, target_volts=5.0))
    log.circuits.add("circuit", "Kitchen")
    log.readings.enter(log.spots.add("Bed").id, EVERYTHING_OFF, 0.26, 0.001, live=frozenset())
    log.close()
    (outside,) = first_page(data_of(tmp_path / "a.visit")).outside
    assert "Up to 0.26 V is left (“Bed”): its source is likely outside the home's own wiring." in outside
    assert "what was on" not in outside


def test_a_spot_that_was_read_with_one_circuit_on_only_is_counted(tmp_path: Path) -> None:
    log = VisitLog.create(tmp_path / "a.visit", ManualClock())
    log.readings.enter(log.spots.add("Bed").id, EVERYTHING_ON, 0.4, 0.001)
    log.readings.enter(log.spots.add("Desk").id, "only Kitchen on", 0.3, 0.001)
    log.close()
    assert "at 2 spots (what was on stands at each reading)" in measured_sentence(
        data_of(tmp_path / "a.visit")
    )


def test_readings_that_cannot_be_compared_say_why(tmp_path: Path) -> None:
    log = VisitLog.create(tmp_path / "a.visit", ManualClock())
    spot = log.spots.add("Bed")
    log.setup.set(Setup(reference="earth rod", on_battery=True, link_isolated=True))
    log.readings.enter(spot.id, EVERYTHING_ON, 0.9, 0.01)
    log.setup.set(Setup(reference="building earth", on_battery=True, link_isolated=True))
    log.readings.enter(spot.id, EVERYTHING_OFF, 0.05, 0.01)
    log.close()
    said = words(report_html(data_of(tmp_path / "a.visit"), WRITTEN))
    assert "Not comparable: one was read against earth rod, the other against building earth." in said
    assert "building earth as reference" in said
    assert "too close to tell ‡" in said or "below ‡" in said
    assert "‡ The practitioner read it off the meter and typed it in." in said
    assert "Reference earth rod (reading 1); building earth (reading 2) Soil" in said
    assert "a person's skin and different references (see the section “Reference”)" in said
    assert "To be kept in mind: building earth as reference for 1 of 2 readings." in said


def test_an_answer_is_of_the_readings_that_it_held_for_and_the_first_one_of_those_before(
    tmp_path: Path,
) -> None:
    clock = ManualClock()
    log = VisitLog.create(tmp_path / "a.visit", clock)
    spot = log.spots.add("Bed")
    for setup in (
        Setup(),
        Setup(reference="earth rod", soil="loam", on_battery=True),
        Setup(reference="building earth", on_battery=True, link_isolated=True),
    ):
        clock.advance_ns(NS_PER_S)
        log.setup.set(setup)
        if setup.reference != "building earth":
            clock.advance_ns(NS_PER_S)
            log.readings.enter(spot.id, EVERYTHING_OFF, 0.2, 0.01)
    first, second = (reading.context for reading in log.readings.all())
    assert first is not None and first.setup.reference == "earth rod" and first.setup.soil == "loam"
    assert first.answered_later == {"reference", "soil", "on_battery", "link_isolated"}
    assert first.reference_state() == Setup().reference_state(), "its ± is what it was when it was taken"
    assert second is not None and second.answered_later == {"link_isolated"}
    log.close()
    data = data_of(tmp_path / "a.visit")
    said = words(report_html(data, WRITTEN))
    assert (
        "Reference earth rod (readings 1–2); building earth (entered since: nothing was read with it)" in said
    )
    assert "person's skin and an earth rod in the soil was read" in said
    assert "Entered only after reading 1 was taken: the reference." in said


def test_the_command_writes_the_file_and_leaves_the_visit_as_it_was(
    day_visit: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    visit, out = Path(shutil.copy(day_visit, tmp_path / "Mill.visit")), tmp_path / "report.html"
    with closing(VisitLog.open(visit)) as log:
        before = log.checksum()
    assert main(["report", str(visit), "--out", str(out)]) == 0
    assert capsys.readouterr().out == f"{out}\n"
    text = out.read_text(encoding="utf-8")
    assert text.startswith("<!doctype html>")
    assert before in text
    with closing(VisitLog.open(visit)) as log:
        assert log.checksum() == before
    assert sorted(path.name for path in tmp_path.iterdir() if "-" not in path.name) == [
        "Mill.visit",
        "report.html",
    ]


def test_it_never_overwrites_the_visit_and_says_when_it_cannot_write(day_visit: Path, tmp_path: Path) -> None:
    visit = Path(shutil.copy(day_visit, tmp_path / "Mill.visit"))
    content = visit.read_bytes()
    with pytest.raises(StillvoltError, match="is the file that is read"):
        write_report(visit, visit)
    with pytest.raises(StillvoltError, match="is the file that is read"):
        write_report(visit, tmp_path / "a.html", visit)
    with pytest.raises(StillvoltError, match="There is no folder"):
        write_report(visit, tmp_path / "no folder" / "a.html")
    assert visit.read_bytes() == content


def test_what_is_read_belongs_together_while_a_recorder_writes(day_visit: Path, tmp_path: Path) -> None:
    visit = Path(shutil.copy(day_visit, tmp_path / "a.visit"))
    with closing(VisitLog.open(visit)) as log, closing(VisitLog.open(visit)) as other:
        count = len(log.marks.all())
        with log.read_transaction():
            before = log.checksum()
            other.marks.add("meanwhile")
            assert log.checksum() == before
            assert len(log.marks.all()) == count
        assert log.checksum() != before


def test_a_spots_name_cannot_turn_round_the_value_beside_it(tmp_path: Path) -> None:
    path = tmp_path / "sent.visit"
    with closing(VisitLog.create(path)) as log:
        for name in ("Bed\u202e", "\x1b[31mDesk\x00", "מיטה"):
            log.readings.enter(log.spots.add(name, "חדר").id, "everything on", 0.25, 0.01)
        log.setup.set(Setup(household="\u2067Home"))
    write_report(path, tmp_path / "report.html")
    page = (tmp_path / "report.html").read_text(encoding="utf-8")
    assert not {c for c in page if unicodedata.category(c) == "Cc"} - set("\n")
    assert not set(page) & set("\u200e\u200f\u202a\u202b\u202c\u202d\u202e\u2066\u2067")
    assert "Bed\\u202e" in page
    for name in ("מיטה", "חדר"):
        assert page.count(name) == page.count(f"\u2068{name}\u2069") > 0, "in tables, sentences and pictures"


def test_a_trace_without_a_gap_states_what_counts_as_one(data: ReportData) -> None:
    said = words(report_html(replace(data, gaps=()), WRITTEN))
    assert f"no gap: none is longer than {SHORTEST_GAP_S:g} s or {GAP_INTERVALS:g} sampling intervals" in said


def test_two_settings_of_the_clock_are_both_listed_and_many_notices_are_bounded(data: ReportData) -> None:
    messages = ["set forward by 3600.0 s", "set back by 10800.0 s", "set back by 10800.0 s"]
    notices = [
        Notice(number, 1, WRITTEN_NS, CLOCK_SET, message, WRITTEN_NS, WRITTEN_NS)
        for number, message in enumerate(messages)
    ]
    notices += [
        Notice(
            10 + number,
            1,
            WRITTEN_NS,
            "port lost",
            f"It was lost the {number}. time.",
            WRITTEN_NS,
            WRITTEN_NS,
        )
        for number in range(3 * MAX_NOTICE_ROWS)
    ]
    section = recording(replace(data, notices=tuple(notices)))
    assert section is not None
    (table,) = [
        block for block in section.blocks if isinstance(block, TableBlock) and "Notices" in block.caption
    ]
    shown = [(row[0], row[1], row[-1]) for row in table.rows]
    assert shown[:2] == [("Clock set", "1", messages[0]), ("Clock set", "2", messages[1])]
    more = 2 * MAX_NOTICE_ROWS
    assert shown[-1] == ("Port lost", str(more), f"{more} more of this kind; the export lists each.")
    assert len(shown) == 2 + MAX_NOTICE_ROWS + 1


LOGO = bytes.fromhex(
    "89504e470d0a1a0a0000000d4948445200000001000000010806000000"
    "1f15c489" "0000000d49444154" "78da6364f8cf500f0003860180" "5a347d6b" "0000000049454e44ae426082"
)  # fmt: skip
"""A picture of one pixel."""


def test_the_report_names_who_measured_and_embeds_the_logo(data: ReportData) -> None:
    practitioner = Practitioner("<b>Ünal</b>", "Firm & Söhne", "0042", LOGO, "555 <0100>", "a@example.org")
    page = report_html(replace(data, practitioner=practitioner), WRITTEN)
    named = (
        "Measured by <b>Ünal</b>, Firm & Söhne, Licence: 0042, Telephone: 555 <0100>, E-mail: a@example.org"
    )
    assert named in unescape(page) and "<0100>" not in page
    assert "<b>Ünal" not in page and page.count("<img") == 1
    (source,) = re.findall(r'<img[^>]* src="data:image/png;base64,([^"]+)"', page)
    assert base64.b64decode(source) == LOGO
    assert 'alt="Logo of Firm &amp; Söhne"' in page and "img-src data:" in page


def test_a_report_without_a_practitioner_names_nobody_and_has_no_picture(html: str) -> None:
    assert "Measured by" not in html and "<img" not in html and "img-src" not in html


def test_plate_of_the_meter_and_who_measured_are_in_report_and_export(tmp_path: Path) -> None:
    visit = tmp_path / "a.visit"
    described = MeterDescription("Bench", make="Maker", model="M-1", serial_number="0042")
    with closing(VisitLog.create(visit, ManualClock())) as log:
        log.setup.set(Setup(meter=MeterFacts.of(described)))
        log.practitioner.set(Practitioner("A. Meyer", licence="7"))
    said = words(report_html(data_of(visit), WRITTEN))
    assert "Make and model Maker M-1" in said and "Serial number 0042" in said
    assert "Measured by A. Meyer, Licence: 7" in said
    with closing(VisitLog.open(visit)) as log:
        rows = {item: value for item, value, _ in SETUP.rows(log)}
    assert (rows["practitioner"], rows["licence"], rows["firm"]) == ("A. Meyer", "7", "")
    assert rows["serial number of the meter"] == "0042"


def test_a_meter_that_only_the_recording_describes_is_that_of_the_report(data: ReportData) -> None:
    described = MeterFacts.of(MeterDescription("Bench", make="Maker", model="M-1"))
    none_taken = replace(data, readings=(), nights=(), setup=Setup(), recorded_meters=(described,))
    assert "Maker M-1" in words(report_html(none_taken, WRITTEN))


def test_the_export_has_the_meter_that_the_recording_describes_whatever_is_stated(tmp_path: Path) -> None:
    meter = MeterDescription("Bench", make="Maker", model="M-1")
    settings = json.dumps({"meter": meter.name, "description": as_toml(meter)})
    with closing(VisitLog.create(tmp_path / "a.visit", ManualClock())) as log:
        RunWriter(
            log.path,
            utc_ns=1,
            zone="Etc/UTC",
            utc_offset_s=0,
            port="/dev/ttyUSB0",
            settings=settings,
            software="test",
            pid=0,
        ).close()
        log.setup.set(Setup(meter=ASSUMED_METER))
        rows = {item: value for item, value, _ in SETUP.rows(log)}
        assert [one.name for one in used_meters_of_log(log)] == ["Bench"]
    assert (rows["meter"], rows["model of the meter"]) == ("Bench", "M-1")


def test_the_pdf_has_the_logo(tmp_path: Path) -> None:
    visit = tmp_path / "a.visit"
    with closing(VisitLog.create(visit, ManualClock())) as log:
        log.practitioner.set(Practitioner("A. Meyer", logo=LOGO))
    write_report(visit, tmp_path / "a.html", tmp_path / "a.pdf")
    assert b"/Subtype /Image" in (tmp_path / "a.pdf").read_bytes()


def test_a_cord_whose_circuit_was_off_is_not_called_live(data: ReportData) -> None:
    """It is plugged in all the time, and carries voltage only with its circuit."""
    swept = data.swept[0]
    on_and_off = [circuit for circuit in data.sources if circuit.kind == "circuit"]
    circuit = next(
        one
        for one in on_and_off
        if 0 < sum(one.id in live for live in swept.progress.taken) < len(swept.rows)
    )
    lamp = Source(999, "cord", "Lamp", circuit.id)
    taken = {live | {lamp.id}: readings for live, readings in swept.progress.taken.items()}
    swept = replace(swept, progress=replace(swept.progress, taken=taken))
    section = sweep(replace(data, sources=(*data.sources, lamp), swept=(swept,)))
    assert section is not None
    table = next(
        block
        for block in section.blocks
        if isinstance(block, TableBlock) and "What had voltage then" in block.heads
    )
    had_voltage = [row[1].split(", ") for row in table.rows]
    named = [(circuit.name in names, "Lamp (plugged in)" in names) for names in had_voltage]
    assert set(named) == {(True, True), (False, False)} and "Lamp" not in table.caption


def test_of_a_damaged_photo_the_report_says_so_and_goes_on(data: ReportData) -> None:
    damaged = SpotPhoto(data.spots[0].name, "photo", "", b"", "Photo 1 cannot be shown.")
    html = report_html(replace(data, photos=(damaged,)), WRITTEN)
    assert "photo: Photo 1 cannot be shown." in html and "data:image/jpeg" not in html


def test_what_had_voltage_is_said_the_short_way(data: ReportData) -> None:
    section = sweep(data)
    assert section is not None
    rows = {
        row[0]: row[1]
        for block in section.blocks
        if isinstance(block, TableBlock) and "What had voltage then" in block.heads
        for row in block.rows
    }
    assert (
        rows["everything on"] == "all other circuits and cords" and rows["everything off"] == "nothing else"
    )
    assert len(max(rows.values(), key=len)) < 60


def test_a_name_without_a_blank_is_broken_inside_its_cell_wherever_it_stands(data: ReportData) -> None:
    long = "W" * 200
    spots = tuple(replace(spot, name=long) for spot in data.spots)
    sources = tuple(replace(one, name=long) for one in data.sources)
    html = report_html(replace(data, spots=spots, sources=sources), WRITTEN)
    cells = re.findall(rf"<t[hd]([^>]*)>(?:[^<]*\b)?{long}", html)
    assert len(cells) > 5 and all("unbroken" in attributes for attributes in cells)


def test_titles_heads_and_captions_are_in_the_language_that_holds(
    data: ReportData, monkeypatch: pytest.MonkeyPatch
) -> None:
    speak(monkeypatch, OtherLanguage())
    typed = {*(spot.name for spot in data.spots), *(source.name for source in data.sources)}
    found = []
    for section in filter(None, (make(data) for make in SECTIONS)):
        found.append(section.title)
        for block in section.blocks:
            if isinstance(block, TableBlock):
                components = {head for head in block.heads if head.endswith((" (A)", " (B)"))}
                found += [block.caption, *(head for head in block.heads if head not in components)]
            elif isinstance(block, Pairs):
                found += [name for name, _ in block.pairs]
            elif isinstance(block, HeadingBlock):
                found.append(block.text)
    assert len(found) > 90
    for name in typed:
        found = [text.replace(name, "") for text in found]
    assert [text for text in found if unspoken(text)] == []
    page = report_html(data, WRITTEN)
    assert '<html lang="xx">' in page and f"<title>{OPENING}SIMULATED" in page


def test_the_numbers_of_a_german_report_have_a_comma_and_its_page_says_that_it_is_german(
    data: ReportData,
) -> None:
    with in_language("de"):
        html = report_html(data, WRITTEN)
    assert '<html lang="de">' in html and "0,1 V" in words(html)
    with in_language("en"):
        limits = re.findall(r": at most ([\d.]+) V", words(report_html(data, WRITTEN)))
    assert limits and all(limit.replace(".", ",") + " V" in words(html) for limit in limits)
    assert not re.search(r"<td class=\"number\">[−+]?\d+\.\d", html)
