"""What a repeated check means for the readings between: passed before them and failed after, it leaves a doubt."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from logger.metrology.check_validity import lapse_of
from logger.metrology.checks import CheckKind, CheckVerdict
from logger.visit.records.reading_records import CheckResult, Reading


@dataclass(frozen=True, slots=True)
class FailedLater:
    """A check that had passed and then failed with the same reference and meter: in between something changed."""

    passed: CheckResult
    failed: CheckResult

    @property
    def kind(self) -> CheckKind:
        """Which check."""
        return self.failed.kind

    def covers(self, reading: Reading) -> bool:
        """Whether a reading was taken between the two, of a meter or of a simulation as they were."""
        return (
            reading.simulated == self.failed.simulated
            and self.passed.utc_ns <= reading.utc_ns <= self.failed.utc_ns
        )


def failed_later(checks: Sequence[CheckResult]) -> list[FailedLater]:
    """The checks that had passed and failed when they were repeated, oldest first.

    Args:
        checks: of the visit, oldest first.
    """
    passed: dict[tuple[CheckKind, bool], CheckResult] = {}
    found = []
    for check in checks:
        key = check.kind, check.simulated
        before = passed.get(key)
        if check.outcome.verdict is CheckVerdict.PASSED:
            passed[key] = check
        elif check.outcome.verdict is CheckVerdict.FAILED and before is not None:
            now = check.setup
            if now is None or lapse_of(before.setup, now) is None:
                found.append(FailedLater(before, check))
            del passed[key]
    return found


def doubt_by_checks(reading: Reading, found: Sequence[FailedLater]) -> str:
    """What repeated checks speak against a reading, in one sentence; empty where nothing does.

    Args:
        reading: which was taken.
        found: the checks that failed later, `failed_later`.
    """
    kinds = list(dict.fromkeys(one.kind.value for one in found if one.covers(reading)))
    if not kinds:
        return ""
    return f"The {' and the '.join(kinds)} passed before this reading and failed after it."
