"""What a check that fails means for the readings before it, which it did not stop: it leaves a doubt."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from logger.metrology.check_validity import TAKEN_APART, Lapse
from logger.metrology.check_words import check_name
from logger.metrology.checks import CLOSING_CHECKS, CheckKind, CheckVerdict
from logger.name_list import joined
from logger.translation import tr, tr_n
from logger.visit.records.reading_records import CheckResult, Reading
from logger.visit.results.reading_context import ReadWith, lapse_of_check, steps_apart
from logger.visit.results.span_review import SpanReview


@dataclass(frozen=True, slots=True)
class FailedLater:
    """A check that failed after readings: that had passed with the same reference and meter, or had not been done.

    Args:
        passed: when it had passed before; None where it had not been done with that reference and meter.
        failed: when it failed.
    """

    passed: CheckResult | None
    failed: CheckResult

    @property
    def kind(self) -> CheckKind:
        """Which check."""
        return self.failed.kind

    def covers(self, reading: Reading) -> bool:
        """Whether a reading was taken between the two, or before the first, of a meter or a simulation as they were."""
        if reading.simulated != self.failed.simulated or reading.utc_ns > self.failed.utc_ns:
            return False
        context = reading.context
        if self.passed is not None:
            # By a correction it was read against something else, of which neither of the two says anything.
            is_of_other = context is not None and context.lapses.get(self.kind) is Lapse.REFERENCE
            return self.passed.utc_ns <= reading.utc_ns and not is_of_other
        if context is None or self.kind in context.verdicts:
            return False
        return (
            lapse_of_check(self.failed, ReadWith(context.setup, reading.simulated, context.connection))
            is None
        )


def failed_later(checks: Sequence[CheckResult]) -> list[FailedLater]:
    """The checks that failed, had passed before or not been done, oldest first.

    Args:
        checks: of the visit, oldest first.
    """
    passed: dict[tuple[CheckKind, bool], CheckResult] = {}
    found = []
    for check in (check for check in checks if steps_apart(check) is None):
        key = check.kind, check.simulated
        before = passed.get(key)
        if check.outcome.verdict is CheckVerdict.PASSED:
            passed[key] = check
        elif check.outcome.verdict is CheckVerdict.FAILED:
            is_alike = before is not None and _same_meter_and_reference(before, check)
            found.append(FailedLater(before if is_alike else None, check))
            passed.pop(key, None)
    return found


def _same_meter_and_reference(before: CheckResult, check: CheckResult) -> bool:
    if check.setup is None:
        return True
    connections = [step.connection for step in check.steps] or [None]
    return all(
        lapse_of_check(before, ReadWith(check.setup, check.simulated, connection)) is None
        for connection in connections
    )


def not_closed(checks: Sequence[CheckResult], last_utc_ns: int) -> list[CheckKind]:
    """The checks that were not done once more after the last value, in the order in which they are done.

    Args:
        checks: of the visit.
        last_utc_ns: when the last reading was taken, or the last night ended, UTC ns.
    """
    done = {check.kind for check in checks if check.steps and check.utc_ns >= last_utc_ns}
    return [kind for kind in CLOSING_CHECKS if kind not in done]


def check_doubts(checks: Sequence[CheckResult], review: SpanReview) -> dict[int, str]:
    """What speaks against checks by now, by their ids: steps that were not read alike, else what was seen later.

    Args:
        checks: of the visit.
        review: what was seen later in the trace.
    """
    first = {
        check.id: not_alike(check) or next(filter(None, (review.of_span(s.span) for s in check.steps)), "")
        for check in checks
    }
    return {check_id: doubt for check_id, doubt in first.items() if doubt}


def not_alike(check: CheckResult) -> str:
    """In what the steps of a check were not read alike, in a sentence; empty where they prove something together."""
    apart = steps_apart(check)
    return "" if apart is None else tr(TAKEN_APART[apart]).format(check=check_name(check.kind))


def doubt_by_checks(reading: Reading, found: Sequence[FailedLater], doubts: Mapping[int, str]) -> str:
    """What checks speak against a reading by now, in a sentence or two; empty where nothing does.

    Args:
        reading: which was taken.
        found: the checks that failed later, `failed_later`.
        doubts: what speaks against checks by now, by their ids, `check_doubts`.
    """
    sentences = [_by_failed(reading, found), _by_doubts(reading, doubts)]
    return " ".join(filter(None, sentences))


def _by_doubts(reading: Reading, doubts: Mapping[int, str]) -> str:
    context = reading.context
    if context is None:
        return ""
    kinds = [
        check_name(kind)
        for kind, check_id in context.check_ids.items()
        if check_id in doubts and context.verdicts.get(kind) is CheckVerdict.PASSED
    ]
    if not kinds:
        return ""
    text = tr_n(
        "The {checks} that it rests on is in doubt by now.",
        "The {checks} that it rests on are in doubt by now.",
        len(kinds),
    )
    return text.format(checks=joined(kinds))


def _by_failed(reading: Reading, found: Sequence[FailedLater]) -> str:
    covering = [one for one in found if one.covers(reading)]
    repeated = list(dict.fromkeys(check_name(one.kind) for one in covering if one.passed is not None))
    first = list(dict.fromkeys(check_name(one.kind) for one in covering if one.passed is None))
    sentences = []
    if repeated:
        text = tr("The {checks} passed before this reading and failed after it.")
        sentences.append(text.format(checks=joined(repeated)))
    if first:
        text = tr("The {checks} failed after this reading, and had not been done before it.")
        sentences.append(text.format(checks=joined(first)))
    return " ".join(sentences)
