"""The tables of an export, one file a subject."""

from __future__ import annotations

from typing import Any

from logger.report.export.table import ExportTable
from logger.report.export.tables.checks import CHECKS
from logger.report.export.tables.circuits import SOURCES, SWEEP
from logger.report.export.tables.corrections import CORRECTIONS
from logger.report.export.tables.details import PHOTOS, SPOT_DETAILS
from logger.report.export.tables.events import EVENTS, STEPS
from logger.report.export.tables.nights import NIGHT_CONDITIONS
from logger.report.export.tables.readings import BUDGET, READINGS
from logger.report.export.tables.recording import MARKS, NOTICES, REFUSED_LINES, RUNS
from logger.report.export.tables.remedies import ENTRIES, REMEDIES, RESULTS
from logger.report.export.tables.samples import SAMPLES
from logger.report.export.tables.setup import SETUP
from logger.report.export.tables.spots import SPOTS

TABLES: tuple[ExportTable[Any], ...] = (
    SETUP,
    SPOTS,
    READINGS,
    CORRECTIONS,
    BUDGET,
    CHECKS,
    SOURCES,
    SWEEP,
    STEPS,
    EVENTS,
    NIGHT_CONDITIONS,
    REMEDIES,
    ENTRIES,
    RESULTS,
    SPOT_DETAILS,
    PHOTOS,
    MARKS,
    NOTICES,
    RUNS,
    REFUSED_LINES,
    SAMPLES,
)
"""Everything that is exported, the samples last because they are long."""

PARQUET = ("samples", "events")
"""Tables that are long enough to be wanted in a columnar file; their times are UTC nanoseconds there."""
