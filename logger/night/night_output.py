"""The output of `stillvolt night`: the summary of a night and its comparison with another one, in words or as JSON."""

from __future__ import annotations

import json
from pathlib import Path

from logger.night.night_analysis import NightAnalysis, analyse_as_stated
from logger.night.night_difference import ComparedNights, compare_nights
from logger.night.night_json import comparison_json, night_json
from logger.night.night_text import comparison_text, night_lines
from logger.plain_text import one_line
from logger.translation import in_language


def night_output(visit: Path, number: int | None, against: Path | None, *, as_json: bool) -> str:
    """Format the summary of a night of a visit, and its comparison with another one.

    Args:
        visit: path of the visit log.
        number: number of the night, counted from 1; None for the longest one.
        against: path of the visit with whose longest night it is compared; None for no comparison.
        as_json: whether to give JSON instead of words.

    Raises:
        StillvoltError: a log cannot be read, or there is no such night.
    """
    if as_json:
        return _json(visit, number, against)
    analysis, compared = _analysed(visit, number, against)
    lines = night_lines(analysis)
    if compared is not None:
        lines.append(comparison_text(compared))
    return "\n".join(map(one_line, lines))


@in_language("en")
def _json(visit: Path, number: int | None, against: Path | None) -> str:
    """The output for other programs, whose texts are the same in every language; see `night_output`.

    Args:
        visit: path of the visit log.
        number: number of the night; None for the longest one.
        against: path of the other visit; None for no comparison.
    """
    analysis, compared = _analysed(visit, number, against)
    values = night_json(analysis)
    return json.dumps(values if compared is None else values | comparison_json(compared))


def _analysed(
    visit: Path, number: int | None, against: Path | None
) -> tuple[NightAnalysis, ComparedNights | None]:
    """The night, and how it compares with another one; see `night_output`.

    Args:
        visit: path of the visit log.
        number: number of the night; None for the longest one.
        against: path of the other visit; None for no comparison.
    """
    analysis = analyse_as_stated(visit, number)
    if against is None:
        return analysis, None
    before = analyse_as_stated(against, None)
    same_visit = against.resolve() == visit.resolve()
    return analysis, compare_nights(before.night, analysis.night, same_visit=same_visit)
