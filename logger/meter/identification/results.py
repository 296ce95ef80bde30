"""What the search for a meter gives: progress on the way, a meter or none in the end."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from logger.meter.port import PortSettings
from logger.meter.received_line import ReceivedLine
from logger.translation import tr


class Certainty(StrEnum):
    """How sure a finding is."""

    SURE = "sure"
    LIKELY = "likely"
    DOUBTFUL = "doubtful"


@dataclass(frozen=True, slots=True)
class IdentifyProgress:
    """What is going on; `doing` says it in a few words. `lines` are the newest of this setting."""

    elapsed_s: float
    doing: str
    settings: PortSettings
    lines: tuple[ReceivedLine, ...]


@dataclass(frozen=True, slots=True)
class IdentifiedMeter:
    """A meter.

    Args:
        settings: how to open the port, with the query if it has to be asked.
        lines: the newest lines, oldest first.
        rate_hz: lines a second; None for too few lines.
        unit: as it stands on the lines; empty if they have none.
        function_mark: what says that the value is AC (or something else); empty if nothing does.
        overload_mark: as seen; empty as long as no overload was seen.
        identity: what the meter answered to `*IDN?`.
        certainty, why: how sure, and a sentence for the user that says why and what to do about it.
        needs_teaching: the lines are text, but do not say which number is the value.
    """

    settings: PortSettings
    lines: tuple[ReceivedLine, ...]
    rate_hz: float | None
    unit: str
    function_mark: str
    overload_mark: str
    identity: str
    certainty: Certainty
    why: str
    needs_teaching: bool

    def describe_marks(self) -> str:
        """For the user: what stands on the lines beside the number."""
        return tr("Unit: {unit}. Function: {function}. Overload mark: {mark}.").format(
            unit=self.unit or tr("not given"),
            function=self.function_mark or tr("not given"),
            mark=self.overload_mark or tr("not seen yet"),
        )


class FailureReason(StrEnum):
    """Why nothing was found."""

    SILENT = "silent"
    GARBLED = "garbled"
    STOPPED = "stopped"
    LOST = "lost"


@dataclass(frozen=True, slots=True)
class NotIdentified:
    """No meter; `why` says so to the user and what can be done. `identity` as in `IdentifiedMeter`."""

    reason: FailureReason
    why: str
    sample: bytes = b""
    identity: str = ""
