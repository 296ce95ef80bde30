"""Which badge each verdict gets: of a check, of repeated switching, and of a comparison of two visits."""

from __future__ import annotations

from gui.widgets.badge import BAD, GOOD, LEFT_OUT, OPEN, UNCLEAR, Badge
from logger.metrology.change_verdict import ChangeVerdict
from logger.metrology.checks import CheckVerdict
from logger.sweep.confirmation import ConfirmationVerdict

_CHECKS: dict[CheckVerdict, Badge] = {
    CheckVerdict.PASSED: GOOD,
    CheckVerdict.FAILED: BAD,
    CheckVerdict.NOT_DECIDED: UNCLEAR,
    CheckVerdict.SHOWS_NOTHING: UNCLEAR,
    CheckVerdict.SKIPPED: LEFT_OUT,
    CheckVerdict.IN_DOUBT: UNCLEAR,
}

_CONFIRMATIONS: dict[ConfirmationVerdict, Badge] = {
    ConfirmationVerdict.CONFIRMED: GOOD,
    ConfirmationVerdict.NOT_CONFIRMED: UNCLEAR,
    ConfirmationVerdict.NOT_DISTINGUISHABLE: LEFT_OUT,
}

_COMPARISONS: dict[str, Badge] = {
    ChangeVerdict.IMPROVED: GOOD,
    ChangeVerdict.SLIGHTLY_LOWER: LEFT_OUT,
    ChangeVerdict.NOT_DISTINGUISHABLE: LEFT_OUT,
    ChangeVerdict.SLIGHTLY_HIGHER: LEFT_OUT,
    ChangeVerdict.WORSE: BAD,
    "not comparable": UNCLEAR,
}


def check_badge(verdict: CheckVerdict) -> Badge:
    """The badge of a check's result."""
    return _CHECKS[verdict]


def confirmation_badge(verdict: ConfirmationVerdict) -> Badge:
    """The badge of what a circuit or cord does, by how well repeated switching confirms it."""
    return _CONFIRMATIONS[verdict]


def comparison_badge(verdict: str) -> Badge:
    """The badge of a value read in two visits; a value read in one visit only is open."""
    return _COMPARISONS.get(verdict, OPEN)
