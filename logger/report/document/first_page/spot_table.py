"""The table of spots: values, bars, verdicts against the target, remarks."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import groupby

from logger.metrology.rounding import fixed, grouped
from logger.metrology.uncertainty import Budget, Verdict, compare_off_with, compare_with
from logger.report.document.figures.spot_bars import spot_bars_svg
from logger.report.document.figures.svg import round_scale
from logger.report.document.first_page.in_short import counts_text, verdict_of
from logger.report.document.report_data import ReportData
from logger.report.document.swapped_readings import may_be_swapped
from logger.translation import marked, tr
from logger.visit.records.home_records import Spot
from logger.visit.records.reading_records import Reading
from logger.visit.results.correction_history import doubt_by_correction, footnote

MAX_SPOTS, MAX_SPOTS_SHOWN = 12, 6
"""Of more than so many spots only the highest stand in the table: else the household's page would be two."""

VERDICT_WORDS = {
    "above": marked("above"),
    "below": marked("below"),
    "not distinguishable": marked("too close to tell"),
}


@dataclass(frozen=True, slots=True)
class SpotVerdict:
    """How a value compares with the target: the word, and the name of its shape in the template."""

    word: str
    shape: str
    volts: str = ""
    """The value, to two decimals; empty where nothing was read."""
    marks: str = ""
    """Of the footnotes below the table."""


CORRECTED, IN_DOUBT, BY_HAND, NOT_SETTLED, IS_SIMULATED, SWAPPED = "*", "†", "‡", "§", "¶", "#"
FOOTNOTES = {
    CORRECTED: marked(
        "The practitioner has corrected later at which spot, with what switched on or against what it was read."
    ),
    IN_DOUBT: marked("Something speaks against this value."),
    BY_HAND: marked("The practitioner read it off the meter and typed it in."),
    NOT_SETTLED: marked("The value was still changing when it was taken."),
    IS_SIMULATED: marked("Simulated: not a measurement."),
    SWAPPED: marked(
        "Not certain yet: two values at this spot may have been written down under each other's name."
    ),
}
"""What the marks in the table mean; the section “Readings” has the details of each."""


@dataclass(frozen=True, slots=True)
class SpotRow:
    """A row of the table of spots."""

    name: str
    picture: str
    on: SpotVerdict
    off: SpotVerdict
    remark: str


@dataclass(frozen=True, slots=True)
class SpotGroup:
    """Spots of one room."""

    name: str
    """Empty where none is stated."""
    spots: tuple[SpotRow, ...]


def scale_volts(data: ReportData) -> float:
    """Return the end of the scale that the bars of all spots share."""
    values = [r.volts for result in data.results.values() for r in (result.on, result.off) if r is not None]
    return round_scale(max([*values, 1.5 * data.setup.target_volts]))


def spot_groups(data: ReportData, scale_volts: float) -> list[SpotGroup]:
    """Group the spots by room in the order of the route; a room that is entered twice is one group."""
    read = read_spots(data)
    if len(read) > MAX_SPOTS:
        return [SpotGroup("", tuple(_spot_row(spot, data, scale_volts) for spot in _highest(read, data)))]
    order = list(dict.fromkeys(spot.room for spot in read))
    read.sort(key=lambda spot: order.index(spot.room))
    return [
        SpotGroup(room, tuple(_spot_row(spot, data, scale_volts) for spot in spots))
        for room, spots in groupby(read, key=lambda spot: spot.room)
    ]


def read_spots(data: ReportData) -> list[Spot]:
    """The spots of which a reading is shown."""
    return [spot for spot in data.spots if data.results[spot.id].on or data.results[spot.id].off]


def _highest(spots: list[Spot], data: ReportData) -> list[Spot]:
    """The spots with the highest values, whatever was on, the highest first."""

    def highest_volts(spot: Spot) -> float:
        result = data.results[spot.id]
        return max(reading.volts for reading in (result.on, result.off) if reading is not None)

    return sorted(spots, key=highest_volts, reverse=True)[:MAX_SPOTS_SHOWN]


def others_text(data: ReportData) -> str:
    """Write how the spots are that are not in the table; empty where all are."""
    read = read_spots(data)
    if len(read) <= MAX_SPOTS:
        return ""
    shown = _highest(read, data)
    others = [data.results[spot.id] for spot in read if spot not in shown]
    on = [verdict_of(result.on, data, compare_with) for result in others if result.on is not None]
    if not on:
        return tr("These are the {n} with the highest values.").format(n=grouped(len(shown)))
    text = tr("These are the {n} with the highest values. Of the others, with everything on: {counts}.")
    return text.format(n=grouped(len(shown)), counts=counts_text(on, data))


def all_spots_text(data: ReportData) -> str:
    """Write where the others are."""
    return tr("All {n} spots are in the section “Spots”").format(n=grouped(len(read_spots(data))))


def _spot_row(spot: Spot, data: ReportData, scale_volts: float) -> SpotRow:
    result, target = data.results[spot.id], data.setup.target_volts
    on, off = (r.volts if r else None for r in (result.on, result.off))
    return SpotRow(
        spot.name,
        spot_bars_svg(
            f"spot-{spot.id}", tr("{spot}, on and off").format(spot=spot.name), on, off, target, scale_volts
        ),
        _verdict(result.on, data, compare_with),
        _verdict(result.off, data, compare_off_with),
        result.why_no_off() or result.why_not_comparable(),
    )


def _verdict(
    reading: Reading | None, data: ReportData, compare: Callable[[Budget, float], Verdict]
) -> SpotVerdict:
    if reading is None:
        return SpotVerdict(tr("not read"), "dash")
    marks, verdict = _marks(reading, data), verdict_of(reading, data, compare)
    volts = fixed(reading.volts, 2)
    if may_be_swapped(reading, data, compare):
        return SpotVerdict(tr("not certain"), "dash", volts, marks + SWAPPED)
    if verdict is None:
        return SpotVerdict(tr("not known"), "dash", volts, marks)
    return SpotVerdict(tr(VERDICT_WORDS[verdict]), verdict.split()[0], volts, marks)


def _marks(reading: Reading, data: ReportData) -> str:
    """The marks of the footnotes that a reading needs; see `FOOTNOTES`."""
    by_correction = doubt_by_correction(reading)
    found = {
        CORRECTED: bool(footnote(reading)),
        # What the correction itself speaks against is said by its own mark.
        IN_DOUBT: data.doubts.get(reading.id, by_correction) != by_correction,
        BY_HAND: reading.taken == "by hand",
        NOT_SETTLED: reading.taken == "override",
        IS_SIMULATED: reading.simulated and not data.all_simulated,  # else the page says it of everything
    }
    return "".join(mark for mark, applies in found.items() if applies)


def spot_footnotes(groups: Sequence[SpotGroup]) -> tuple[str, ...]:
    """Write what each mark in the table of spots means, in a sentence each.

    Args:
        groups: the table.
    """
    used = "".join(
        verdict.marks for group in groups for spot in group.spots for verdict in (spot.on, spot.off)
    )
    return tuple(f"{mark} {tr(sentence)}" for mark, sentence in FOOTNOTES.items() if mark in used)


def caption(data: ReportData) -> str:
    """Write what the figures and words of the table mean."""
    if any(source.stays for source in data.sources):
        return tr("Volts with everything on, and with all off that may be off.")
    return tr("Volts with everything on and off.")
