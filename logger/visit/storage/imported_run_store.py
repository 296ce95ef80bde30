"""Runs that were logged elsewhere, written into the visit log whole."""

from __future__ import annotations

from collections.abc import Callable

from logger.metrology.setup import Setup
from logger.visit.records.fact_names import SETUP
from logger.visit.storage.fact_store import FactStore
from logger.visit.storage.log_connection import LogConnection
from logger.visit.storage.run_writer import FinishedRun, close_unfinished_runs, insert_finished_run
from logger.visit.storage.setup_store import SetupStore
from logger.visit.storage.unfinished_run import left_open_events


class ImportedRunStore:
    """Writes imported runs; once written they are read like any other run.

    Args:
        connection: the open log.
        setup: the set-up of the visit.
        facts: keeps the set-up.
    """

    def __init__(self, connection: LogConnection, setup: SetupStore, facts: FactStore) -> None:
        self._connection = connection
        self._setup = setup
        self._facts = facts

    def add(self, run: FinishedRun, complete_setup: Callable[[Setup], Setup]) -> int:
        """Write a run and what its import states of the set-up in one transaction: all of it or nothing.

        Only to be called by the process that holds the log's recorder lock.

        Args:
            run: the run.
            complete_setup: is given the set-up as it is now; returns it as it is to be.

        Returns:
            The id of the run.

        Raises:
            StillvoltError: the log cannot be written.
        """
        connection = self._connection
        with connection.reading():
            left_open = left_open_events(connection.db)
        with connection.writing():
            close_unfinished_runs(connection.db, connection.clock.utc_ns(), left_open)
            run_id = insert_finished_run(connection.db, run)
            before = self._setup.current()
            after = complete_setup(before)
            if after != before:
                self._facts.insert(SETUP, after.to_json())
        return run_id
