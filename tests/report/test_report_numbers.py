"""Every number of the professional's pages against the log, in one pass; each rule is a test.

Of the demo visit, which has all of it, and of a home of one room that was left early. `scripts/bench/report_rules.py`
holds the same rules against any visit.
"""

from __future__ import annotations

import re
import shutil
from collections.abc import Callable
from contextlib import closing
from dataclasses import dataclass
from datetime import UTC, datetime
from functools import cached_property
from html import unescape
from itertools import pairwise
from math import hypot
from pathlib import Path

import pytest

from logger.metrology.checks import ROD_CHECKS, CheckKind
from logger.metrology.posture import DEFAULT_SHARE
from logger.metrology.rounding import rounded
from logger.metrology.uncertainty import AGREEMENT_VOLTS, COVERAGE_FACTOR, compare_with
from logger.report.document.first_page.in_short import in_short
from logger.report.document.html_page import report_html
from logger.report.document.read_report_data import read_report_data
from logger.report.document.report_data import ReportData
from logger.sweep.switch_off_plan import PlanState
from logger.translation import in_language
from logger.visit import VisitLog
from logger.visit.records.condition import EVERYTHING_OFF, EVERYTHING_ON
from logger.visit.results.on_off_result import budget_of
from scripts.bench.homes import one_room

DEMO = Path(__file__).parents[2] / "fixtures" / "demo" / "garden_flat.visit"
WRITTEN = datetime(2026, 1, 3, 9, 0, tzinfo=UTC)
WITH_U = re.compile(r"([−+]?\d+(?:\.\d+)?)(?: V)? ± (\d+(?:\.\d+)?)")

Row = dict[str, str]


@dataclass(frozen=True)
class Page:
    """The professional's pages of a report, with the log that they are of."""

    data: ReportData
    html: str
    is_whole: bool = False
    """Everything that a report can have is in it: a rule that finds nothing to look at fails."""

    @cached_property
    def sections(self) -> dict[str, str]:
        """The HTML of each section, by its id."""
        part = self.html[self.html.index('<div class="professional">') :]
        found = re.findall(r'<section id="(\w+)".*?</section>', part, flags=re.S)
        return dict(zip(found, re.findall(r'<section id="\w+".*?</section>', part, flags=re.S), strict=True))

    @cached_property
    def text(self) -> str:
        """All that is read there, without the pictures."""
        return plain(" ".join(self.sections.values()))

    def tables(self, section: str) -> list[list[Row]]:
        """The tables of a section: the cells of each row by the head of their column."""
        return [
            [
                {
                    plain(head): plain(cell)
                    for head, cell in re.findall(r'data-head="(.*?)".*?>(.*?)</t[hd]>', row, re.S)
                }
                for row in re.findall(r"<tr>(.*?)</tr>", table, re.S)
                if "data-head" in row
            ]
            for table in re.findall(r"<table.*?</table>", self.sections.get(section, ""), re.S)
        ]


def plain(html: str) -> str:
    """What a reader sees, in one line."""
    without = re.sub(r"<svg\b.*?</svg>", " ", html, flags=re.S)
    text = unescape(re.sub(r"<[^>]+>", " ", without)).replace("\N{NO-BREAK SPACE}", " ")
    return re.sub(r"[\u2066-\u2069]", "", " ".join(text.split()))


def number(text: str) -> float:
    """A number as it is printed."""
    return float(text.replace("−", "-"))


def page_of(visit: Path, is_whole: bool = False) -> Page:
    """The report's pages of a visit, which no other program has open."""
    with closing(VisitLog.open(visit)) as log:
        data = read_report_data(log)
    return Page(data, report_html(data, WRITTEN), is_whole)


@pytest.fixture(scope="module", params=["demo", "one room"])
def page(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Page:
    """From a copy: opening a log leaves its mark in the folder."""
    visit = tmp_path_factory.mktemp("home") / "home.visit"
    if request.param == "demo":
        shutil.copy(DEMO, visit)
    else:
        one_room.make(visit)
    return page_of(visit, is_whole=request.param == "demo")


def of_log(volts: float, expanded_volts: float) -> str:
    figures = rounded(volts, expanded_volts)
    return f"{figures.volts} ± {figures.expanded}"


def each_reading_is_that_of_the_log(page: Page) -> None:
    (rows,) = page.tables("readings")
    assert [row["No."] for row in rows] == [str(reading.id) for reading in page.data.valid_readings]
    for row, reading in zip(rows, page.data.valid_readings, strict=True):
        budget = budget_of(reading)
        assert budget is not None and row["Value ± U, V"] == of_log(budget.volts, budget.expanded_volts)
        assert row["Spot"] == reading.spot_name and row["Samples"] == str(reading.samples)


def a_value_stands_with_the_same_figures_wherever_it_is(page: Page) -> None:
    (rows,), (budgets,) = page.tables("readings"), page.tables("uncertainty")
    printed = {row["No."]: row["Value ± U, V"] for row in rows}
    assert {row["No."]: row["Value ± U, V"] for row in budgets} == printed
    captions = re.findall(r"<figcaption>(\d+)\. .*?: ([^:]*?)</figcaption>", page.sections["traces"])
    assert {key: plain(value).replace(" V", "") for key, value in captions} == printed


def a_value_ends_where_its_u_ends(page: Page) -> None:
    found = WITH_U.findall(page.text)
    assert len(found) > (150 if page.is_whole else 5)
    for value, u in found:
        assert len(value.partition(".")[2]) == len(u.partition(".")[2])
        assert len(u.replace(".", "").lstrip("0")) <= 2


def no_number_has_more_figures_than_a_reader_can_use(page: Page) -> None:
    # The limit as the budget's line has it in the log, and what it is worked out from.
    without = re.sub(r"±0\.\d{5} V|0\.\d{5} V = √\(.*?\)²\): 0\.\d{5}", "", page.text)
    assert not re.search(r"\d\.\d{5}", without)


def a_budget_adds_up_to_its_u(page: Page) -> None:
    (rows,) = page.tables("uncertainty")
    for row in rows:
        parts = [
            number(cell)
            for head, cell in row.items()
            if head.endswith((" (A)", " (B)")) and cell[0].isdigit()
        ]
        u = number(row["combined u"])
        assert hypot(*parts) == pytest.approx(u, abs=0.15)
        # The figures of u say 0.05 mV: at the edge both U are right.
        expanded = [rounded(0.0, COVERAGE_FACTOR * (u + edge) / 1e3).expanded for edge in (-0.05, 0.0, 0.05)]
        assert row["Value ± U, V"].split(" ± ")[1] in expanded


def on_minus_off_is_the_difference_of_what_is_printed(page: Page) -> None:
    rows = page.tables("spots")[0]
    assert len(rows) == len(page.data.spots)
    both = [row for row in rows if row["On ± U, V"] != "–" and row["Off ± U, V"] != "–"]
    assert len(both) == (
        len(rows) if page.is_whole else sum(r.difference() is not None for r in page.data.results.values())
    )
    for row in both:
        on, off, change = (
            number(row[f"{name} ± U, V"].split(" ± ")[0]) for name in ("On", "Off", "On − off")
        )
        assert change == pytest.approx(on - off, abs=1e-9)
        if row["Share"] == "–":
            assert change < number(row["On − off ± U, V"].split(" ± ")[1]), "too close to tell"
            continue
        assert float(row["Share"].removesuffix("%")) == pytest.approx(100 * change / on, abs=0.51)


def the_u_of_a_difference_follows_from_the_parts_beside_it(page: Page) -> None:
    text = plain(page.sections["uncertainty"])
    found = re.search(
        r"So at “(.*?)”.*?posture ([\d.]+) mV, reference ([\d.]+) mV, meter ([\d.]+) mV, both steady spans "
        r"([\d.]+) mV; root of the sum of squares ([\d.]+) mV, and U = 2 u = ([\d.]+) V",
        text,
    )
    assert found is not None
    name, *parts, u, expanded = found.groups()
    assert hypot(*map(float, parts)) == pytest.approx(float(u), abs=0.2)
    assert f"{2e-3 * float(u):.2f}" == expanded
    row = next(row for row in page.tables("spots")[0] if row["Spot"].startswith(name))
    assert row["On − off ± U, V"].endswith(f"± {expanded}")
    pooled, factor, share = re.search(
        r"deviation: ([\d.]+)% of the value.*?counted ([\d.]+) times [^%]*: u = ([\d.]+)% of each", text
    ).groups()
    assert float(share) == pytest.approx(float(pooled) * float(factor), abs=0.1)
    values = [number(row[f"{one} ± U, V"].split(" ± ")[0]) for one in ("On", "Off")]
    assert hypot(*(10 * float(share) * volts for volts in values)) == pytest.approx(float(parts[0]), rel=0.02)


def the_meters_part_of_a_difference_follows_from_its_formula(page: Page) -> None:
    text = plain(page.sections["uncertainty"])
    found = re.search(
        r"meter ([\d.]+) mV, both.*?part is \(([\d.]+)% of ([\d.]+) V "
        r"\+ √\(\(([\d.]+) mV\)² \+ \(([\d.]+) mV\)²\)\) / √3",
        text,
    )
    assert found is not None
    meter, percent, volts, *counts = map(float, found.groups())
    assert (10 * percent * volts + hypot(*counts)) / 3**0.5 == pytest.approx(meter, abs=0.06)


def _swapped_with_another_verdict(page: Page) -> list[str]:
    """The spots whose value with everything off may have been swapped with one on the other side of the target."""
    target = page.data.setup.target_volts
    found = []
    for spot in page.data.tonight.spots if page.data.tonight is not None else ():
        off = page.data.results[spot.spot_id].off
        others = [r for pair in spot.exchangeable if off in pair for r in pair if r != off]
        if off is not None and any((other.volts > target) != (off.volts > target) for other in others):
            found.append(spot.name)
    return found


def what_may_be_swapped_is_nowhere_called_below_the_target(page: Page) -> None:
    """A reading of “everything off” that may be another one's is no tick, neither on page 1 nor in the table."""
    household = plain(page.html[: page.html.index('<div class="professional">')])
    for spot in _swapped_with_another_verdict(page):
        assert f"With everything off “{spot}” is below the target" not in household
        assert f"not certain yet at “{spot}”" in household and "not certain #" in household
        row = next(row for row in page.tables("spots")[0] if row["Spot"].startswith(spot))
        assert "may have been swapped with" in row["What is left with everything off"]


def what_to_read_to_rule_out_a_swap_is_the_same_in_each_place(page: Page) -> None:
    text = plain(page.sections.get("sweep", ""))
    wanted = re.search(r"To make it certain, read once more: (.*?)\. ", text)
    for spot, again in re.findall(
        r"at “([^”]*)”[^.]*?fit as well.*?To rule that out, read (.*?) once more", text
    ):
        for condition in re.findall("“[^”]*”", again):
            assert wanted is not None and f"{condition} at “{spot}”" in wanted[1]


def a_begun_check_is_no_time_without_checks(page: Page) -> None:
    """The longest time that is told as free holds no step of a check that was begun."""
    found = re.search(r"has (?:(\d+) min )?(\d+) s in one piece", page.data.why_no_night)
    if found is None:
        return
    free_s = 60 * int(found[1] or 0) + int(found[2])
    run = page.data.runs[0]
    work_ns = sorted(
        [
            run.started_utc_ns,
            run.ended_utc_ns or run.started_utc_ns,
            *(t for r in page.data.readings for t in (r.start_utc_ns, r.utc_ns) if t is not None),
            *(check.utc_ns for check in page.data.checks),
            *(noted.utc_ns for attempt in page.data.check_attempts for noted in attempt.noted),
        ]
    )
    pauses_s = [(after - before) / 1e9 for before, after in pairwise(work_ns)]
    assert free_s <= max(pauses_s) + 1


def every_spot_without_a_list_is_named_as_such(page: Page) -> None:
    plan = page.data.tonight
    if plan is None or plan.state is not PlanState.CONFIRMED:
        return
    covered = {spot.spot_id for spot in plan.spots}
    above = [
        spot.name
        for spot in page.data.spots
        if spot.id not in covered
        and (on := page.data.results[spot.id].on) is not None
        and (budget := budget_of(on)) is not None
        and compare_with(budget, plan.target_volts) == "above"
    ]
    said = dict(in_short(page.data))["Not covered:"]
    named = [name for name in above if f"“{name}”" in said]
    more = sum(map(int, re.findall(r"and (\d+) more", said)))
    assert len(named) + more == len(above)


def one_span_has_one_length_wherever_it_stands(page: Page) -> None:
    for row in page.tables("readings")[0]:
        for seconds in re.findall(r"the ([\d.]+) s it rests on", row.get("Remarks", "")):
            assert row["Span, s"] == seconds


def the_repeats_that_are_named_are_as_many_as_are_counted(page: Page) -> None:
    text = plain(page.sections["uncertainty"])
    counted = re.search(r"from (\d+) repeats on site", text)
    named = re.search(r"The repeats are readings ([\d+, and]+)\.", text)
    if not page.is_whole and counted is None:
        assert named is None
        return
    assert counted is not None and named is not None
    assert named[1].count("+") == int(counted[1])


def the_limit_of_a_check_follows_from_its_rule(page: Page) -> None:
    for check in page.data.checks:
        if check.kind not in ROD_CHECKS or check.kind is CheckKind.TWO_RODS:
            continue
        limit = max(AGREEMENT_VOLTS, DEFAULT_SHARE * max(abs(step.span.volts) for step in check.steps))
        texts = f"{limit:.3f}", f"{round(limit, 3):g}"  # as older versions kept it, and as it is kept now
        assert any(f"at most {text} V is agreement" in page.text for text in texts)
    assert (
        f"the larger of {AGREEMENT_VOLTS:g} V and {100 * DEFAULT_SHARE:.0f}% of the larger value" in page.text
    )


def the_rods_error_follows_from_the_numbers_beside_it(page: Page) -> None:
    text = plain(page.sections["reference"])
    found = re.search(r"([\d.]+) V = √\(\(([\d.]+) × ([\d.]+) V\)² \+ \(([\d.]+) V\)²\)", text)
    if not page.is_whole and found is None:
        assert "No second rod proved the rod" in text
        return
    assert found is not None
    volts, factor, between, shared = found.groups()
    assert f"{hypot(float(factor) * float(between), float(shared)):.5f}" == volts


def a_mean_of_the_sweep_is_that_of_the_readings_beside_it(page: Page) -> None:
    volts = {str(reading.id): reading.volts for reading in page.data.valid_readings}
    rows = [row for table in page.tables("sweep") for row in table if "Mean ± U, V" in row]
    assert len(rows) > (25 if page.is_whole else -1)
    for row in rows:
        of = [volts[key] for key in row["Reading no."].split(", ")]
        assert number(row["Mean ± U, V"].split(" ± ")[0]) == pytest.approx(sum(of) / len(of), abs=0.006)


def a_contribution_is_that_of_the_plan_at_the_spot_that_heads_it(page: Page) -> None:
    if not page.is_whole and page.data.tonight is None:
        return
    assert page.data.tonight is not None
    rows = [row for table in page.tables("sweep") for row in table]
    for spot in page.data.tonight.spots:
        printed = {row["Circuit or cord"]: row for row in rows if f"At {spot.name} ± U, V" in row}
        found = re.search(
            rf"the model gives (\S+) V at {re.escape(spot.name)}, with a U of at most (\S+) V: ([^:]*)\.",
            plain(page.sections["sweep"]),
        )
        for given in spot.contributions:
            if given.source.name not in printed:
                assert found is not None and given.source.name in found[3]
                u_volts = round(COVERAGE_FACTOR * given.u_volts, 2)
                assert number(found[1]) == 0 and u_volts <= number(found[2])
                assert round(given.volts, 2) == 0
                continue
            row = printed[given.source.name]
            effect = page.data.effects.get((spot.spot_id, given.source.id))
            of = effect if effect is not None and effect.is_confirmed_rise else given
            if row[f"At {spot.name} ± U, V"] == "not known":
                whole = next(one for one in spot.contributions if one.source.id == given.source.circuit_id)
                assert of.u_volts > whole.u_volts
                continue
            assert row[f"At {spot.name} ± U, V"] == of_log(of.volts, COVERAGE_FACTOR * of.u_volts)
            if "Leg of the model" in row:
                assert row["Leg of the model"] == (given.leg or "not known yet")
            else:
                assert (
                    page.data.setup.supply == "single phase" or "Leg of the model: not known yet" in page.text
                )
            if "Remark" in row:
                assert ("part of" in row["Remark"]) is (given.source.circuit_id is not None)
            else:
                assert "Remark, only of these: " in page.text


def a_part_is_not_less_certain_than_all_of_it(page: Page) -> None:
    for rows in page.tables("sweep"):
        head = next((head for head in rows[0] if head.startswith("At ")), "")
        most = {
            row["Circuit or cord"]: sum(map(number, row[head].split(" ± ")))
            for row in rows
            if head and "±" in row[head]
        }
        for row in rows:
            part = re.search(r"part of (.*?), not on top of it", row.get("Remark", ""))
            if part is not None and row["Circuit or cord"] in most and part[1] in most:
                assert number(row[head].split(" ± ")[1]) <= most[part[1]] + 0.01


def what_surely_gives_more_than_the_target_is_for_the_electrician(page: Page) -> None:
    plan = page.data.tonight
    if plan is None or not page.data.advice:
        return
    tasks = plain(" ".join(re.findall(r"<li>(.*?)</li>", page.sections["electrician"], re.S)))
    by_cords = {piece.about for piece in page.data.advice if piece.cords}
    surely = {
        source.name: source
        for (spot_id, source_id), effect in page.data.effects.items()
        if (source := page.data.every_source[source_id])
        and effect.is_confirmed_rise
        and effect.volts - COVERAGE_FACTOR * effect.u_volts > plan.target_volts
        and spot_id in {spot.spot_id for spot in plan.spots}
    } | {
        one.source.name: one.source
        for spot in plan.spots
        for one in spot.contributions
        if one.volts - COVERAGE_FACTOR * one.u_volts > plan.target_volts
    }
    assert all(name in tasks for name in surely if name not in by_cords)


def every_repeat_of_the_sweep_is_counted_or_named_with_why_not(page: Page) -> None:
    text = plain(page.sections["uncertainty"])
    told = set(re.findall(r"\d+(?:\+\d+)+", text))
    for rows in page.tables("sweep"):
        for row in rows:
            ids = row.get("Reading no.", "").split(", ")
            assert len(ids) < 2 or "+".join(ids) in told, ids


def what_was_read_before_the_breakers_is_not_said_to_be_around_them(page: Page) -> None:
    text = plain(page.sections.get("sweep", ""))
    for swept in page.data.swept:
        readings = [reading for same in swept.progress.taken.values() for reading in same]
        between = [r.id for r in readings if r.condition not in (EVERYTHING_OFF, EVERYTHING_ON)]
        off = [r.id for r in readings if r.condition == EVERYTHING_OFF]
        assert max(off) < min(between)
    assert text.count("Everything off was read before the breakers only") == len(page.data.swept)


def a_value_was_taken_after_the_end_of_its_span(page: Page) -> None:
    assert all(r.end_utc_ns is not None and r.end_utc_ns <= r.utc_ns for r in page.data.valid_readings)
    assert "the mean of the steady span that ended before" in page.text


def the_parts_of_a_night_add_up(page: Page) -> None:
    def seconds(text: str) -> int:
        return sum(
            int(n) * {"h": 3600, "min": 60, "s": 1}[unit] for n, unit in re.findall(r"(\d+) (h|min|s)", text)
        )

    if not page.is_whole and not page.data.nights:
        assert "night" not in page.sections
        return
    night = plain(page.sections["night"])
    found = [
        re.search(pattern, night)
        for pattern in (
            r": ([^:]*?) recorded",
            r"Steady for (.*?);",
            r", ([^,]*?) in all",
            r"of the value: (.*?)\.",
        )
    ]
    whole, *parts = (seconds(one[1]) for one in found if one is not None)
    assert len(parts) == 3 and whole // 60 == round(sum(parts) / 60), "rounded so that they add up"


def a_step_changes_by_the_difference_of_its_levels(page: Page) -> None:
    rows = [row for section in ("steps", "night") for table in page.tables(section) for row in table]
    rows = [row for row in rows if "Before, V" in row]
    assert len(rows) > 20 or not page.is_whole
    for row in rows:
        change = number(row["Change ± U, V"].split(" ± ")[0])
        assert change == pytest.approx(number(row["After, V"]) - number(row["Before, V"]), abs=1e-9)


def no_column_is_empty_and_no_table_is(page: Page) -> None:
    for section in page.sections:
        for rows in page.tables(section):
            assert rows
            assert all(any(row[head] for row in rows) for head in rows[0]), rows[0]


def no_word_says_something_else_than_is_meant(page: Page) -> None:
    for wrong in ("true value", "standing reading", "lamp check", "always live", "№", "None"):
        assert wrong not in page.text
    assert not re.search(r"\bonly [^.;”]{3,60} off\b", page.text), "read as those being on"
    assert not re.search(r"\d{4}-\d\d-\d\d", page.text), "a date as no language writes it"
    valid = len(page.data.valid_readings)
    assert f"{valid} valid readings, {len(page.data.readings) - valid} voided" in page.text


def german_has_the_same_numbers(page: Page) -> None:
    with in_language("de"):
        german = Page(page.data, report_html(page.data, WRITTEN)).text
    assert not re.search(r"\d ± \d+\.\d", german)
    decimals = re.findall(r"\d+\.\d+ ± \d+\.\d+", page.text)
    assert [value.replace(".", ",") for value in decimals] == re.findall(r"\d+,\d+ ± \d+,\d+", german)
    assert "“nur" not in german, "quotes as German writes them"
    assert "font-variant-ligatures: none" in page.html, "“Nr.” is no sign of one letter"


def percent_is_written_in_one_way(page: Page) -> None:
    """By the patterns of CLDR: "95%" in English, "95 %" in German; what a user typed is theirs, as air of "48 %"."""
    for language, other in (("en", r"\d\s%"), ("de", r"\d%")):
        with in_language(language):
            text = Page(page.data, report_html(page.data, WRITTEN)).html
        shown = unescape(re.sub(r"<style>.*?</style>|<svg.*?</svg>|<[^>]+>", "", text, flags=re.S))
        shown = shown.replace("\N{NO-BREAK SPACE}", " ")
        for own in (page.data.circumstances.indoor_air, page.data.circumstances.night_air):
            shown = shown.replace(own, "") if own else shown
        assert not re.search(other, shown)


RULES: tuple[Callable[[Page], None], ...] = (
    each_reading_is_that_of_the_log,
    a_value_stands_with_the_same_figures_wherever_it_is,
    a_value_ends_where_its_u_ends,
    no_number_has_more_figures_than_a_reader_can_use,
    a_budget_adds_up_to_its_u,
    on_minus_off_is_the_difference_of_what_is_printed,
    the_u_of_a_difference_follows_from_the_parts_beside_it,
    the_meters_part_of_a_difference_follows_from_its_formula,
    what_may_be_swapped_is_nowhere_called_below_the_target,
    what_to_read_to_rule_out_a_swap_is_the_same_in_each_place,
    a_begun_check_is_no_time_without_checks,
    every_spot_without_a_list_is_named_as_such,
    one_span_has_one_length_wherever_it_stands,
    the_repeats_that_are_named_are_as_many_as_are_counted,
    the_limit_of_a_check_follows_from_its_rule,
    the_rods_error_follows_from_the_numbers_beside_it,
    a_mean_of_the_sweep_is_that_of_the_readings_beside_it,
    a_contribution_is_that_of_the_plan_at_the_spot_that_heads_it,
    a_part_is_not_less_certain_than_all_of_it,
    what_surely_gives_more_than_the_target_is_for_the_electrician,
    every_repeat_of_the_sweep_is_counted_or_named_with_why_not,
    what_was_read_before_the_breakers_is_not_said_to_be_around_them,
    a_value_was_taken_after_the_end_of_its_span,
    the_parts_of_a_night_add_up,
    a_step_changes_by_the_difference_of_its_levels,
    no_column_is_empty_and_no_table_is,
    no_word_says_something_else_than_is_meant,
    german_has_the_same_numbers,
    percent_is_written_in_one_way,
)


@pytest.mark.parametrize("rule", RULES, ids=lambda rule: rule.__name__)
def test_the_numbers_of_the_report_hold(page: Page, rule: Callable[[Page], None]) -> None:
    rule(page)
