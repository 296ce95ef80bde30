"""What this report was made from."""

from __future__ import annotations

from logger import __version__
from logger.metrology.rounding import grouped
from logger.name_list import joined
from logger.report.document.blocks import Pairs, Section, Text
from logger.report.document.report_data import ReportData
from logger.translation import tr, tr_n
from logger.visit.records.salvage_record import shown_lost


def _integrity(data: ReportData) -> list[str]:
    """Write what was found when the log was compared with itself."""
    found = data.integrity
    if found.sound:
        sentences = [
            tr(
                "Each value and each settled span was compared with the lines of the meter that it rests on. The lines "
                "of each recording, its beginning, settings, events, notices and end, and every spot, statement, "
                "reading, check and void were compared with their own checksums and with the number of entries that "
                "were written: they agree."
            ),
            found.not_compared(),
        ]
    else:
        sentences = [found.summary(), *found.sentences()]
    if found.by_hand:
        ids = joined([str(reading_id) for reading_id in found.by_hand])
        text = tr_n(
            "Entered by hand, so that no lines can confirm it: reading {ids}.",
            "Entered by hand, so that no lines can confirm them: readings {ids}.",
            len(found.by_hand),
        )
        sentences.append(text.format(ids=ids))
    return sentences


def document(data: ReportData) -> Section:
    """Build the section: log, version and checksum, so that the report can be checked."""
    valid = len(data.valid_readings)
    counts = tr_n("{n} valid reading, {voided} voided", "{n} valid readings, {voided} voided", valid)
    return Section(
        "document",
        tr("This document"),
        (
            Pairs(
                (
                    (tr("Visit log"), data.title),
                    (
                        tr("Readings"),
                        counts.format(n=grouped(valid), voided=grouped(len(data.readings) - valid)),
                    ),
                    (
                        tr("Simulated"),
                        data.simulation or tr("no, as far as the ports of the recordings show"),
                    ),
                    *_salvage(data),
                    *((tr("Not in this log"), sentence) for sentence in data.rests),
                    (tr("Written by"), " ".join(("Stillvolt", __version__))),
                    (tr("Checksum of the log, SHA-256"), data.checksum),
                )
            ),
            Text(
                tr(
                    "The checksum is taken over all that was recorded, stated, planned and taken, in an order of its "
                    "own, not over the file's bytes: opening or copying the log leaves it as it is, and a changed "
                    "value changes it. The program computes it again from any copy of the log."
                )
            ),
            *map(Text, filter(None, _integrity(data))),
        ),
    )


def _salvage(data: ReportData) -> tuple[tuple[str, str], ...]:
    """That the visit was salvaged, and what was lost then; nothing where it never was."""
    if data.salvage is None:
        return ()
    return ((tr("Salvaged"), f"{data.salvage.sentence} {shown_lost(data.salvage.lost)}".strip()),)
