"""Zero, reference and function checks."""

from __future__ import annotations

from dataclasses import dataclass

from logger.report.export.table import (
    ExportColumn,
    ExportTable,
    end_steady_utc,
    local,
    simulated,
    start_steady_utc,
    utc,
)
from logger.report.reading_doubts import doubts_in
from logger.visit.records.reading_records import CheckResult, CheckStep
from logger.visit.storage.visit_log import VisitLog


@dataclass(frozen=True, slots=True)
class CheckLine:
    """A step of a check; the only line of a skipped one has no step."""

    check: CheckResult
    step: CheckStep | None
    run_started_ns: int
    lapse: str
    doubt: str

    @property
    def start_utc_ns(self) -> int | None:
        """Beginning of the step's span."""
        return self.run_started_ns + self.step.span.start_t_ns if self.step else None

    @property
    def end_utc_ns(self) -> int | None:
        """End of the step's span."""
        return self.run_started_ns + self.step.span.end_t_ns if self.step else None


def _rows(log: VisitLog) -> list[CheckLine]:
    started_ns = {run.id: run.started_utc_ns for run in log.runs.all()}
    lines, lapses, doubts = [], log.checks.lapses(), doubts_in(log).checks
    for check in log.checks.all():
        notes = str(lapses.get(check.id, "")), doubts.get(check.id, "")
        if not check.steps:
            lines.append(CheckLine(check, None, 0, *notes))
        lines += [CheckLine(check, step, started_ns[step.span.run_id], *notes) for step in check.steps]
    return lines


CHECKS: ExportTable[CheckLine] = ExportTable(
    "checks",
    "Checks of meter and reference, one row for each value that a check took.",
    _rows,
    (
        ExportColumn(
            "check_id", "", "number of the check; negative where it had failed and was not done to its end",
            lambda line: line.check.id,
        ),
        utc(lambda line: line.check.utc_ns),
        local(lambda line: line.check.utc_ns),
        ExportColumn(
            "kind", "", "zero, reference, function, two-rod or wire check", lambda line: str(line.check.kind)
        ),
        ExportColumn(
            "verdict", "", "passed, failed, not decided, skipped", lambda line: str(line.check.outcome.verdict)
        ),
        ExportColumn(
            "lapse", "", "why it holds no longer with what was stated and recorded last; empty while it does",
            lambda line: line.lapse,
        ),
        ExportColumn("doubt", "", "what speaks against it by now, as in the report", lambda line: line.doubt),
        ExportColumn("sentence", "", "why", lambda line: line.check.outcome.sentence),
        ExportColumn(
            "step", "", "which value of the check; empty where it was skipped",
            lambda line: line.step.name if line.step else "",
        ),
        ExportColumn(
            "volts", "V", "settled level of that step", lambda line: line.step.span.volts if line.step else None
        ),
        ExportColumn(
            "u_volts", "V", "its standard uncertainty from scatter and resolution",
            lambda line: line.step.span.u_volts if line.step else None,
        ),
        start_steady_utc(lambda line: line.start_utc_ns),
        end_steady_utc(lambda line: line.end_utc_ns),
        simulated(lambda line: line.check.simulated),
        ExportColumn(
            "spot", "", "where that step was done; empty where not recorded",
            lambda line: line.step.spot_name if line.step else "",
        ),
    ),
)  # fmt: skip
