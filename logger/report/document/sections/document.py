"""What this report was made from."""

from __future__ import annotations

from logger import __version__
from logger.name_list import joined
from logger.report.document.blocks import Pairs, Section, Text
from logger.report.document.report_data import ReportData
from logger.report.document.wording import counted


def _integrity(data: ReportData) -> list[str]:
    """Write what was found when the log was compared with itself."""
    found = data.integrity
    if found.sound:
        sentences = [
            "Each value and each settled span was compared with the lines of the meter that it rests on. The lines of "
            "each recording, its beginning, settings, events, notices and end, and every spot, statement, reading, "
            "check and void were compared with their own checksums and with the number of entries that were written: "
            f"they agree. {found.not_compared()}"
        ]
    else:
        sentences = [found.summary(), *found.sentences()]
    if found.by_hand:
        ids = joined([str(reading_id) for reading_id in found.by_hand])
        sentences.append(f"Entered by hand, so that no lines can confirm them: reading {ids}.")
    return sentences


def document(data: ReportData) -> Section:
    """Build the section: log, version and checksum, so that the report can be checked."""
    return Section(
        "document",
        "This document",
        (
            Pairs(
                (
                    ("Visit log", data.title),
                    ("Readings", f"{counted(len(data.valid_readings), 'standing reading')}, "
                     f"{len(data.readings) - len(data.valid_readings)} voided"),
                    ("Simulated", data.simulation or "no, as far as the ports of the recordings show"),
                    *_salvage(data),
                    *(("Not in this log", sentence) for sentence in data.rests),
                    ("Written by", f"Stillvolt {__version__}"),
                    ("Checksum of the log, SHA-256", data.checksum),
                )
            ),
            Text(
                "The checksum is taken over all that was recorded, stated, planned and taken, in an order of its own, "
                "not over the file's bytes: opening or copying the log leaves it as it is, and a changed value changes "
                "it. The program computes it again from any copy of the log."
            ),
            *map(Text, _integrity(data)),
        ),
    )  # fmt: skip


def _salvage(data: ReportData) -> tuple[tuple[str, str], ...]:
    """That the visit was salvaged, and what was lost then; nothing where it never was."""
    if data.salvage is None:
        return ()
    return (("Salvaged", f"{data.salvage.sentence} {data.salvage.lost}".strip()),)
