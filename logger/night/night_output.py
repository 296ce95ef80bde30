"""The output of `stillvolt night`: the summary of a night and its comparison with another one, in words or as JSON."""

from __future__ import annotations

import json
from pathlib import Path

from logger.night.night_analysis import analyse_as_stated
from logger.night.night_difference import compare_nights
from logger.night.night_json import comparison_json, night_json
from logger.night.night_text import comparison_text, night_lines
from logger.plain_text import one_line


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
    analysis = analyse_as_stated(visit, number)
    compared = None
    if against is not None:
        before = analyse_as_stated(against, None)
        same_visit = against.resolve() == visit.resolve()
        compared = compare_nights(before.night, analysis.night, same_visit=same_visit)
    if as_json:
        values = night_json(analysis)
        if compared is not None:
            values |= comparison_json(compared)
        return json.dumps(values)
    lines = night_lines(analysis)
    if compared is not None:
        lines.append(comparison_text(compared))
    return "\n".join(map(one_line, lines))
