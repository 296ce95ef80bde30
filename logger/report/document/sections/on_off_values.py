"""On, off and their difference at each spot, each with its uncertainty."""

from __future__ import annotations

from logger.metrology.rounding import plain
from logger.metrology.uncertainty import compare_off_with
from logger.name_list import joined
from logger.report.document.blocks import Block, Section, TableBlock, Text
from logger.report.document.nearest_reading import near_spots
from logger.report.document.report_data import ReportData
from logger.report.document.sections.details import photos, spot_details
from logger.report.document.swapped_readings import may_be_swapped
from logger.report.document.wording import expanded, volts_with_u, with_u
from logger.report.stated_answers import numbers_text
from logger.translation import tr, with_percent
from logger.visit.records.home_records import Spot
from logger.visit.results.on_off_result import SpotResult, budget_of


def on_off_values(data: ReportData) -> Section | None:
    """Build the section; None where there is no spot."""
    results = [(spot, data.results[spot.id]) for spot in data.spots]
    read = [(spot, result) for spot, result in results if result.on is not None or result.off is not None]
    blocks: list[Block] = []
    if read:
        blocks += [Text(_explained(data)), _table(data, read), *_marks(data)]
    taken = {reading.spot_id for reading in data.valid_readings}
    if never := [spot.name for spot in data.spots if spot.id not in taken]:
        blocks.append(Text(tr("Planned and not read: {spots}.").format(spots=joined(never))))
    blocks += [*spot_details(data), *photos(data)]
    return Section("spots", tr("Spots"), tuple(blocks)) if blocks else None


def _explained(data: ReportData) -> str:
    text = tr(
        "On and off are the newest reading of each. On − off is what goes with everything off, so what is under the "
        "household's control; the share is that of on. Its U also counts that nobody lies or sits the same way twice, "
        "so it is not the sum of the other two (see “Uncertainty”). U is expanded, k = 2. All holds for this meter, "
        "posture and moment. “At most” is rounded up, and can be less than the value plus U, since the error of the "
        "reference has a limit (see “Uncertainty”). A value is above or below {target} V only where it is so by more "
        "than U; a value with everything off is below it where its “at most” is."
    )
    return text.format(target=plain(data.setup.target_volts))


def _table(data: ReportData, read: list[tuple[Spot, SpotResult]]) -> TableBlock:
    return TableBlock(
        with_percent(tr("On, off and their difference, each with its uncertainty U (k = 2, about 95 %)")),
        (
            tr("Spot"),
            expanded(tr("On")),
            expanded(tr("Off")),
            expanded(tr("On − off")),
            tr("Share"),
            tr("What is left with everything off"),
        ),
        tuple(_row(data, spot, result) for spot, result in read),
        frozenset({1, 2, 3, 4}),
    )


def _marks(data: ReportData) -> list[Block]:
    """Name what was written down about when a spot was read, beside the values that it may explain."""
    near = near_spots(data)
    text = tr("Written down about “{spot}” or near a reading there: {marks} (see “Marks”).")
    said = [
        text.format(spot=spot.name, marks=joined(near[spot.id])) for spot in data.spots if spot.id in near
    ]
    return [*map(Text, said)]


def _row(data: ReportData, spot: Spot, result: SpotResult) -> tuple[str, ...]:
    same_name = sum(other.name == spot.name for other in data.spots) > 1
    name = _spot_text(spot, same_name, result.simulated and not data.all_simulated)
    target_volts = data.setup.target_volts
    columns = result.columns()
    if columns is not None:
        values = tuple(with_u(figures) for figures in (columns.on, columns.off, columns.difference))
        left = " ".join(filter(None, (result.left_over(target_volts), _swapped(result, data))))
        return (name, *values, columns.share, left)
    budgets = (
        None if result.contradicts(reading) else budget_of(reading) for reading in (result.on, result.off)
    )
    values = tuple(volts_with_u(budget) if budget else "–" for budget in budgets)
    difference = result.difference()
    change = volts_with_u(difference) if difference else "–"
    return (name, *values, change, "–", result.meaning(target_volts))


def _swapped(result: SpotResult, data: ReportData) -> str:
    """That what is left rests on a reading that may have been swapped with others; empty where it does not."""
    others = may_be_swapped(result.off, data, compare_off_with) if result.off is not None else []
    if result.off is None or not others:
        return ""
    text = tr("(not certain: reading {number} may have been swapped with {others})")
    return text.format(number=result.off.id, others=numbers_text([other.id for other in others]))


def _spot_text(spot: Spot, same_name: bool, simulated: bool) -> str:
    """The spot, with its room where another one has the same name."""
    if spot.room and same_name:
        text = tr("{spot} ({room}), simulated") if simulated else tr("{spot} ({room})")
        return text.format(spot=spot.name, room=spot.room)
    return tr("{spot}, simulated").format(spot=spot.name) if simulated else spot.name
