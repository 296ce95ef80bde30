"""Find out how a meter is connected and what its lines look like, by listening and, if it is silent, by asking.

In: a port. Out: `IdentifiedMeter` (settings, form of the lines, how certain and why) or `NotIdentified` (why,
and what to do).
"""

from __future__ import annotations

from logger.meter.identification.candidate_settings import BAUDS, FRAMINGS
from logger.meter.identification.known_queries import KNOWN_QUERIES
from logger.meter.identification.results import (
    Certainty,
    FailureReason,
    IdentifiedMeter,
    IdentifyProgress,
    NotIdentified,
)
from logger.meter.identification.search import identify
from logger.meter.identification.session import IdentifyPort

__all__ = [
    "BAUDS",
    "FRAMINGS",
    "KNOWN_QUERIES",
    "Certainty",
    "FailureReason",
    "IdentifiedMeter",
    "IdentifyPort",
    "IdentifyProgress",
    "NotIdentified",
    "identify",
]
