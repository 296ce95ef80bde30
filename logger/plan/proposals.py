"""The remedies that fit each finding.

What must stay on is never among what is switched off or unplugged; it can only be moved away, shielded, or its wiring
moved. A circuit that feeds a cord that must stay plugged in stays on itself.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from logger.plan.planned_remedy import Finding, FindingKind
from logger.plan.remedy_kinds import KINDS, KnownEffect
from logger.visit.records.home_records import Source, SourceKind
from logger.visit.records.remedy_records import RemedyKind

OF_SOURCE: Mapping[SourceKind, tuple[RemedyKind, ...]] = {
    "cord": (
        RemedyKind.UNPLUG_AT_NIGHT,
        RemedyKind.UNPLUG,
        RemedyKind.SWITCHED_OUTLET,
        RemedyKind.MOVE,
        RemedyKind.SHIELDED_CORD,
    ),
    "circuit": (
        RemedyKind.BREAKER_AT_NIGHT,
        RemedyKind.DISCONNECT,
        RemedyKind.MOVE,
        RemedyKind.WIRING,
    ),
}
"""What fits a cord and a circuit, the least effort first (common practice, no source)."""

OF_NO_SOURCE: Mapping[FindingKind, tuple[RemedyKind, ...]] = {
    FindingKind.OUTSIDE: (RemedyKind.NEIGHBOUR, RemedyKind.MOVE),
    FindingKind.REFERENCE: (RemedyKind.READ_AGAIN,),
}


@dataclass(frozen=True, slots=True)
class Proposal:
    """A remedy that fits findings.

    Args:
        kind: what is done.
        source: the circuit or cord that it is about; None for the outside and the reference.
        spot_id: the spot that it is about; None where it is about a circuit or cord, or the reference.
        findings: what it answers.
    """

    kind: RemedyKind
    source: Source | None
    spot_id: int | None
    findings: tuple[Finding, ...]


def stays_on(source: Source, sources: Sequence[Source]) -> bool:
    """Whether a circuit or cord must stay on: itself, or since it feeds a cord that must stay plugged in.

    Args:
        source: the circuit or cord.
        sources: of the visit.
    """
    return bool(source.stays) or any(cord.stays and cord.circuit_id == source.id for cord in sources)


def kinds_for(source: Source, sources: Sequence[Source]) -> tuple[RemedyKind, ...]:
    """Return what fits a circuit or cord, the least effort first.

    Args:
        source: the circuit or cord.
        sources: of the visit.
    """
    kinds = OF_SOURCE[source.kind]
    if not stays_on(source, sources):
        return kinds
    return tuple(kind for kind in kinds if KINDS[kind].effect is not KnownEffect.TAKEN_AWAY)


def proposals(findings: Sequence[Finding], sources: Sequence[Source]) -> list[Proposal]:
    """Return the remedies that fit the findings, in their order; one that fits several is there once.

    Args:
        findings: of the visit.
        sources: of the visit.
    """
    found: dict[tuple[RemedyKind, int | None, int | None], Proposal] = {}
    for finding in findings:
        for kind, source, spot_id in _fitting(finding, sources):
            key = kind, source.id if source else None, spot_id
            known = found.get(key)
            answers = (*known.findings, finding) if known else (finding,)
            found[key] = Proposal(kind, source, spot_id, answers)
    return list(found.values())


def _fitting(
    finding: Finding, sources: Sequence[Source]
) -> Iterator[tuple[RemedyKind, Source | None, int | None]]:
    for source in finding.sources:
        for kind in kinds_for(source, sources):
            yield kind, source, None
    for kind in OF_NO_SOURCE.get(finding.kind, ()):
        yield kind, None, finding.spot_id if kind is RemedyKind.MOVE else None
