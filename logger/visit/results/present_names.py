"""Readings by the present names of their spot, circuits and cords, as lists, report and export show them.

The log keeps the names that each reading was taken with: a typing error that was put right there would otherwise stand
in the report for ever, beside the lists that have the present name.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace

from logger.visit.records.home_records import Source, Spot
from logger.visit.records.named_condition import NAMED
from logger.visit.records.reading_corrections import Placement, ReadingCorrection
from logger.visit.records.reading_records import Reading


def with_present_names(
    readings: Iterable[Reading], spots: Sequence[Spot], sources: Sequence[Source]
) -> list[Reading]:
    """Name each reading by its spot, circuits and cords as these are called now.

    Args:
        readings: as the log keeps them.
        spots: of the visit, also those that are no longer listed.
        sources: circuits and cords of the visit, also those that are no longer listed, in the order of the list.
    """
    names = {spot.id: spot.name for spot in spots}
    return [
        replace(
            reading,
            spot_name=names.get(reading.spot_id, reading.spot_name),
            condition=_present_condition(_placement_of(reading), sources),
            corrections=tuple(_present_correction(c, names, sources) for c in reading.corrections),
        )
        for reading in readings
    ]


def _placement_of(reading: Reading) -> Placement:
    return Placement(reading.spot_id, reading.spot_name, reading.condition, reading.live, reading.listed)


def _present_correction(
    correction: ReadingCorrection, spots: Mapping[int, str], sources: Sequence[Source]
) -> ReadingCorrection:
    """A correction with the present names, so that a name that changed is not told as a thing that was corrected.

    Args:
        correction: of a reading of the visit.
        spots: names by id.
        sources: circuits and cords of the visit.
    """

    def present(place: Placement) -> Placement:
        return replace(
            place,
            spot_name=spots.get(place.spot_id, place.spot_name),
            condition=_present_condition(place, sources),
        )

    return replace(correction, before=present(correction.before), after=present(correction.after))


def _present_condition(reading: Placement, sources: Sequence[Source]) -> str:
    """The condition of a reading with the present names; as it is where it does not say which sources it names.

    Args:
        reading: for what it counts, or counted.
        sources: circuits and cords of the visit.
    """
    match = NAMED.fullmatch(reading.condition)
    if reading.live is None or match is None:
        return reading.condition
    listed = [source for source in sources if source.id in reading.listed]
    circuits = [source for source in listed if source.kind == "circuit"]
    if match["state"] == "off":
        named = [[source for source in circuits if source.id not in reading.live]]
    else:
        live = [source for source in circuits if source.id in reading.live]
        # What stays on is named by no label; what was to stay on when it was read is not kept.
        named = [[source for source in live if not source.stays], live]
    out = [source for source in listed if source.kind == "cord" and source.id not in reading.live]
    condition = reading.condition
    for part, candidates in (
        ("out", [out]),
        ("circuits", named),
    ):  # the last part first: the places before it stay
        if match[part] is not None:
            now = _present_list(match[part], candidates)
            condition = condition[: match.start(part)] + now + condition[match.end(part) :]
    return condition


def _present_list(text: str, candidates: Sequence[Sequence[Source]]) -> str:
    """A list of names as they are now; as it is where nothing was renamed, or where it fits none of the candidates.

    Args:
        text: the names as they were, with commas.
        candidates: which sources they may be.
    """
    was = sorted(text.split(", "))
    lists = [", ".join(source.name for source in sources) for sources in candidates]
    if any(sorted(now.split(", ")) == was for now in lists):
        return text
    fitting = [now for now, sources in zip(lists, candidates, strict=True) if len(sources) == len(was)]
    return fitting[0] if fitting else text
