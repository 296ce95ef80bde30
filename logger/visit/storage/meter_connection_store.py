"""How the meter was connected at each moment of a visit, from what the recorder kept and from its lines."""

from __future__ import annotations

import json
from collections.abc import Callable, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace

from logger.errors import StillvoltError
from logger.meter.battery_watch import BATTERY_NOTICE, BATTERY_OVER
from logger.meter.description import states_unit
from logger.meter.line_form import OTHER_LINES, form_of
from logger.meter.lines import LineReading, LineStatus, read_line
from logger.meter.port import PortSettings
from logger.meter.unit_watch import has_unit
from logger.metrology.meter_connection import FormPair, MeterConnection
from logger.metrology.setup import MeterFacts
from logger.visit.records.fact_names import SAME_METER
from logger.visit.records.imported_trace import imported_trace
from logger.visit.records.recording_records import Run
from logger.visit.storage.fact_store import FactStore
from logger.visit.storage.log_connection import LogConnection
from logger.visit.storage.recording_stores import RunStore
from logger.visit.storage.run_meter import description_of

ReadLine = Callable[[bytes], LineReading]


@dataclass(frozen=True, slots=True)
class _RunMeter:
    """What never changes of a run's meter.

    Args:
        connection: without what its lines show.
        read: how its lines are read.
        facts: of the meter; None where the run names none.
    """

    connection: MeterConnection
    read: ReadLine
    facts: MeterFacts | None


class MeterConnectionStore:
    """The connections of the meter.

    Args:
        connection: the open log.
        runs: the runs, each with its port.
        facts: keep what the user said of the forms of lines.
    """

    def __init__(self, connection: LogConnection, runs: RunStore, facts: FactStore) -> None:
        self._connection = connection
        self._runs = runs
        self._facts = facts
        self._of_runs: dict[int, _RunMeter] = {}

    def at(self, run_id: int | None, last_line_id: int | None) -> MeterConnection | None:
        """How the meter was connected in a run.

        Args:
            run_id: the run; None where nothing was recorded.
            last_line_id: the form of the lines is that of the last ones up to this; None where it does not matter.

        Returns:
            None where there is no such run.
        """
        of_run = self._of_run(run_id)
        if of_run is None:
            return None
        connection, read = of_run.connection, of_run.read
        if (
            last_line_id is None
        ):  # a value that rests on no line, such as one by hand, has the unit that was typed
            return replace(connection, is_unit_assumed=False)
        lines = self._newest_lines(run_id, last_line_id, read)
        # Whatever other lines say: one without a unit may be what the value was taken from.
        is_bare = any(not has_unit(raw, reading) for raw, reading in lines) or connection.is_imported
        return replace(
            connection,
            line_form=_line_form(lines),
            is_unit_assumed=connection.is_unit_assumed and is_bare,
            is_battery_low=self._is_battery_low(run_id, last_line_id),
        )

    def facts_of(self, run_id: int | None) -> MeterFacts | None:
        """The meter that a run was recorded with, as it was described then; None where the run names none."""
        of_run = self._of_run(run_id)
        return of_run.facts if of_run is not None else None

    def same_forms(self) -> tuple[FormPair, ...]:
        """Forms of lines that the user called those of one meter."""
        try:
            return tuple(
                (str(one), str(other)) for one, other in json.loads(self._facts.get(SAME_METER, "[]"))
            )
        except (ValueError, TypeError):
            return ()

    def state_same_meter(self, forms: Sequence[str]) -> None:
        """Keep the user's word that lines of these forms come from one meter."""
        pairs = [*self.same_forms(), *((forms[0], form) for form in forms[1:])]
        self._facts.set(SAME_METER, json.dumps(pairs))

    def _of_run(self, run_id: int | None) -> _RunMeter | None:
        if run_id is None:
            return None
        if run_id not in self._of_runs:
            self._of_runs |= {run.id: _of_run(run) for run in self._runs.all()}
        return self._of_runs.get(run_id)

    def _is_battery_low(self, run_id: int | None, last_line_id: int) -> bool:
        """Whether the meter said that its battery is low, by the recorder's newest notice of it.

        Args:
            run_id: the run.
            last_line_id: the notice is no newer than this line.
        """
        rows = self._connection.all(
            "SELECT message FROM notice WHERE run_id = ? AND kind = ? "
            "AND t_ns <= (SELECT t_ns FROM line WHERE id = ?) ORDER BY id DESC LIMIT 1",
            (run_id, BATTERY_NOTICE, last_line_id),
        )
        return any(row["message"] != BATTERY_OVER for row in rows)

    def _newest_lines(
        self, run_id: int | None, last_line_id: int, read: ReadLine
    ) -> list[tuple[bytes, LineReading]]:
        """The newest lines that were samples, where they are read as such.

        Args:
            run_id: the run.
            last_line_id: none of them is newer.
            read: how its lines are read.
        """
        rows = self._connection.all(
            "SELECT raw FROM line WHERE run_id = ? AND id <= ? AND status = 'volts' ORDER BY id DESC LIMIT ?",
            (run_id, last_line_id, OTHER_LINES),
        )
        lines = [(r["raw"], read(r["raw"])) for r in rows]
        return [
            (raw, reading)
            for raw, reading in lines
            if reading.status is LineStatus.VOLTS and reading.number_span is not None
        ]


def _line_form(lines: Sequence[tuple[bytes, LineReading]]) -> str:
    """The form of the newest lines; empty where they differ, so that none can be called the meter's."""
    forms = {form_of(raw, reading) for raw, reading in lines}
    return forms.pop().decode("latin-1") if len(lines) == OTHER_LINES and len(forms) == 1 else ""


def _of_run(run: Run) -> _RunMeter:
    description = description_of(run)
    framing, meter, is_unit_assumed = "", description.name if description else "", False
    imported = imported_trace(run)
    # Imported runs have other settings, damaged ones none.
    with suppress(ValueError, TypeError, StillvoltError, RecursionError):
        settings = PortSettings.from_json(json.loads(run.settings))
        framing = ", asked by ".join(
            filter(None, (settings.framing(), settings.query))
        )  # is compared, never shown
        meter = settings.meter or meter
        is_unit_assumed = not states_unit(settings, description)
    if imported is not None:
        is_unit_assumed = imported.is_unit_assumed
    connection = MeterConnection(
        run.port, framing, meter, is_unit_assumed=is_unit_assumed, is_imported=imported is not None
    )
    return _RunMeter(
        connection,
        description.read() if description else read_line,
        MeterFacts.of(description) if description else None,
    )
