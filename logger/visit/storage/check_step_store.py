"""Takes the value for a step of a check, so that no other window takes the same lines meanwhile."""

from __future__ import annotations

from collections.abc import Sequence

from logger.errors import StillvoltError
from logger.metrology.checks import STEPS, VALUE_MAY_STAY, CheckKind
from logger.translation import marked, tr
from logger.visit.records.home_records import Spot
from logger.visit.records.reading_records import Span
from logger.visit.results.body_moves import is_same_after_gap
from logger.visit.results.used_stretch import (
    StretchInUseError,
    blocking_step,
    free_of_check_since_utc_ns,
    steps_for,
    uses_of_stretch,
)
from logger.visit.storage.check_store import CheckStore
from logger.visit.storage.current_value import CurrentValue
from logger.visit.storage.log_connection import LogConnection
from logger.visit.storage.reading_store import ReadingStore
from logger.visit.storage.recorder_status import RecorderStatus
from logger.visit.storage.recording_stores import EventStore

SAME_AFTER_GAP = marked(
    "Part of the trace since the step before is missing, and the value is the same: nothing shows that something was "
    "done for this step."
)
"""Why a value is not taken for the next step of a check."""


class CheckStepStore:
    """The steps of the checks as they are taken.

    Args:
        connection: the open log.
        current_value: what a step is taken from.
        checks: keep the steps, and judge them once all are there.
        readings: may rest on the same stretch.
        recorder: gives the newest heartbeat.
        events: show whether something was done between two steps.
    """

    def __init__(
        self,
        connection: LogConnection,
        current_value: CurrentValue,
        checks: CheckStore,
        readings: ReadingStore,
        recorder: RecorderStatus,
        events: EventStore,
    ) -> None:
        self._connection = connection
        self._current_value = current_value
        self._checks = checks
        self._readings = readings
        self._recorder = recorder
        self._events = events

    def take(
        self, kind: CheckKind, before: Sequence[Span], since_utc_ns: int = 0, spot: Spot | None = None
    ) -> Span:
        """Take the settled value of now for the next step of a check.

        Args:
            kind: which check.
            before: the values of its steps so far.
            since_utc_ns: samples before this moment of the steady time line do not count.
            spot: where it is done; None where nobody has said. The check keeps it once it is complete.

        Raises:
            StretchInUseError: another check, or a reading, rests on the still stretch that goes on.
            StillvoltError: nothing is settled, the steps were not read alike, or only a time without lines or a new
                recording lies between this value and the same one of the step before.
        """
        with self._connection.writing():
            live = self._recorder.live()
            steps = steps_for(kind, self._checks.used_steps())
            uses = uses_of_stretch(self._readings.all(), steps, live) if live is not None else []
            if not before:
                since_utc_ns = max(since_utc_ns, free_of_check_since_utc_ns(kind, uses))
            span, _ = self._current_value.take(override=False, switched_utc_ns=since_utc_ns)
            use = blocking_step(kind, uses, is_first=not before)
            if use is not None:
                raise StretchInUseError(use)
            self._checks.refuse_steps_apart(kind, [*before, span], spot.id if spot else None)
            if before and live is not None and kind not in VALUE_MAY_STAY:
                logged = self._events.of_run(live.run_id)
                if is_same_after_gap(before[-1], span, live, logged):
                    raise StillvoltError(
                        tr(SAME_AFTER_GAP), tr("Nothing was taken."), STEPS[kind][len(before)].for_new_value()
                    )
            self._checks.note_step(kind, STEPS[kind][len(before)].name, span, spot)
        return span
