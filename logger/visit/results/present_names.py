"""Readings by the present names of their spot, circuits and cords, as lists, report and export show them.

The log keeps the names that each reading was taken with: a typing error that was put right there would otherwise stand
in the report for ever, beside the lists that have the present name.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import replace

from logger.visit.records.home_records import Source, Spot
from logger.visit.records.named_condition import NAMED
from logger.visit.records.reading_corrections import CONDITION, Placement
from logger.visit.records.reading_records import Reading

ByWords = Callable[[str, int, str], str]
"""From table and id of an entry, and the words that it has of what was on, to these by the present names."""


def with_present_names(
    readings: Iterable[Reading], spots: Sequence[Spot], sources: Sequence[Source], by_words: ByWords
) -> list[Reading]:
    """Name each reading by its spot, circuits and cords as these are called now.

    Args:
        readings: as the log keeps them.
        spots: of the visit, also those that are no longer listed.
        sources: circuits and cords of the visit, also those that are no longer listed, in the order of the list.
        by_words: gives what was on by the names that held when it was entered.
    """
    names = {spot.id: spot.name for spot in spots}

    def present(place: Placement, table: str, entry_id: int) -> Placement:
        # What is kept one by one says it surely; of what is kept in words alone the names of then have to be known.
        condition = _present_condition(place, sources)
        if condition is None:
            condition = by_words(table, entry_id, place.condition)
        return replace(place, spot_name=names.get(place.spot_id, place.spot_name), condition=condition)

    def present_reading(reading: Reading) -> Reading:
        # What was on before a correction has the words of the entry before it.
        entry, corrections = ("reading", reading.id), []
        for correction in reading.corrections:
            before = present(correction.before, *entry)
            if correction.kind == CONDITION:
                entry = "reading_correction", correction.id
            corrections.append(replace(correction, before=before, after=present(correction.after, *entry)))
        place = present(
            Placement(reading.spot_id, reading.spot_name, reading.condition, reading.live, reading.listed),
            *entry,
        )
        return replace(
            reading, spot_name=place.spot_name, condition=place.condition, corrections=tuple(corrections)
        )

    return [present_reading(reading) for reading in readings]


def _present_condition(reading: Placement, sources: Sequence[Source]) -> str | None:
    """The condition of a reading with the present names; None where it does not say which sources it names.

    Args:
        reading: for what it counts, or counted.
        sources: circuits and cords of the visit.
    """
    match = NAMED.fullmatch(reading.condition)
    if reading.live is None or match is None:
        return None
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
            if now is None:
                return None
            condition = condition[: match.start(part)] + now + condition[match.end(part) :]
    return condition


def _present_list(text: str, candidates: Sequence[Sequence[Source]]) -> str | None:
    """A list of names as they are now; as it is where nothing was renamed, None where it fits none of the candidates.

    Args:
        text: the names as they were, with commas.
        candidates: which sources they may be.
    """
    was = sorted(text.split(", "))
    lists = [", ".join(source.name for source in sources) for sources in candidates]
    if any(sorted(now.split(", ")) == was for now in lists):
        return text
    fitting = [now for now, sources in zip(lists, candidates, strict=True) if len(sources) == len(was)]
    return fitting[0] if fitting else None
