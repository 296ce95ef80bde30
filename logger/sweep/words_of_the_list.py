"""Whether what was on at a reading is known of each listed circuit; a remark where words leave it open."""

from __future__ import annotations

from collections.abc import Sequence

from logger.sweep.sweep_progress import circuits_of, live_with_everything
from logger.translation import tr
from logger.visit.records.condition import OUTSIDE_WALK
from logger.visit.records.home_records import Source
from logger.visit.records.reading_records import Reading


def remark_by_words(reading: Reading, sources: Sequence[Source]) -> str:
    """What has to be known of a reading whose condition no list can use, in a few words; empty where one can.

    Args:
        reading: of the visit, as `storage.reading_store` gives it: words that name circuits wholly have their ids.
        sources: circuits and cords of the visit.
    """
    if reading.live is not None or reading.condition in ("", OUTSIDE_WALK) or not circuits_of(sources):
        return ""
    if live_with_everything(reading.condition, sources) is not None:
        return ""
    return tr("not used for the list: the words do not say of each listed circuit whether it was on")
