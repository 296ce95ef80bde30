"""Every correction of a reading, voids and their withdrawals too."""

from __future__ import annotations

from dataclasses import dataclass

from logger.report.export.table import JOINED_BY, ExportColumn, ExportTable, integers, local, reading_id, utc
from logger.visit.records.reading_corrections import CONDITION, REFERENCE, SPOT, Placement, ReadingCorrection
from logger.visit.storage.visit_log import VisitLog


@dataclass(frozen=True, slots=True)
class CorrectionLine:
    """A correction with its reading and the names of what was live before and after."""

    reading_id: int
    correction: ReadingCorrection
    live_before: str
    live_after: str


def _corrections(log: VisitLog) -> list[CorrectionLine]:
    names = {source_id: source.name for source_id, source in log.circuits.with_removed().items()}

    def live(place: Placement) -> str:
        return JOINED_BY.join(names.get(one, f"No. {one}") for one in sorted(place.live or ()))

    return [
        CorrectionLine(r.id, c, live(c.before), live(c.after))
        for r in log.present_readings()
        for c in r.corrections
    ]


def _of_kind(kind: str, text: str, line: CorrectionLine) -> str:
    return text if line.correction.kind == kind else ""


def _answers(line: CorrectionLine, when: str) -> str:
    correction = line.correction
    return correction.answers_words()[when] if correction.kind == REFERENCE else ""


CORRECTIONS: ExportTable[CorrectionLine] = ExportTable(
    "corrections",
    "Every correction of a reading in the order of entering: spot, condition, reference, void, valid again. The "
    "readings themselves are kept as they were taken.",
    _corrections,
    (
        reading_id(lambda line: line.reading_id),
        ExportColumn(
            "correction_id", "", "of its row; empty for the first void of a reading",
            lambda line: line.correction.id or None, integers,
        ),
        utc(lambda line: line.correction.utc_ns),
        local(lambda line: line.correction.utc_ns),
        ExportColumn("kind", "", "spot, condition, reference, void, valid", lambda line: line.correction.kind),
        ExportColumn(
            "from_spot", "", "spot that it counted for; empty where another thing was corrected",
            lambda line: _of_kind(SPOT, line.correction.before.spot_name, line),
        ),
        ExportColumn(
            "to_spot", "", "spot that it counts for since",
            lambda line: _of_kind(SPOT, line.correction.after.spot_name, line),
        ),
        ExportColumn(
            "from_condition", "", "what was live before, as stated; empty where another thing was corrected",
            lambda line: _of_kind(CONDITION, line.correction.before.condition, line),
        ),
        ExportColumn(
            "to_condition", "", "what was live, by this correction",
            lambda line: _of_kind(CONDITION, line.correction.after.condition, line),
        ),
        ExportColumn(
            "from_reference", "", "what of reference, laptop and link was corrected, as it was before",
            lambda line: _answers(line, "before"),
        ),
        ExportColumn(
            "to_reference", "", "the same as it is by this correction", lambda line: _answers(line, "after")
        ),
        ExportColumn("from_live", "", "circuits and cords that were live before", lambda line: line.live_before),
        ExportColumn("to_live", "", "circuits and cords that were live, by this correction",
                     lambda line: line.live_after),
        ExportColumn("reason", "", "why", lambda line: line.correction.reason),
        ExportColumn("entered_by", "", "name of the practitioner; empty where it was not stated",
                     lambda line: line.correction.entered_by),
    ),
)  # fmt: skip
