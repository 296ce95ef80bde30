"""A sentence to be kept in the visit log, before it has its time."""

from __future__ import annotations

from dataclasses import dataclass

PORT_LOST = "port lost"
"""Kind of the notice of a port that is gone, from which a replay knows it too."""


@dataclass(frozen=True, slots=True)
class NoticeDraft:
    """Something that happened: `kind` for programs, `message` for people."""

    kind: str
    message: str
