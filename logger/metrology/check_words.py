"""What the checks, their verdicts and their states are called where they are shown."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from logger.metrology.check_validity import Lapse
from logger.metrology.checks import REQUIRED_CHECKS, CheckKind, CheckVerdict
from logger.translation import marked, tr

_NAMES = {
    CheckKind.ZERO: marked("zero check"),
    CheckKind.REFERENCE: marked("reference check"),
    CheckKind.FUNCTION: marked("function check"),
    CheckKind.TWO_RODS: marked("two-rod check"),
    CheckKind.LEAD: marked("wire check"),
}

_NAMES_ALONE = {
    CheckKind.ZERO: marked("Zero check"),
    CheckKind.REFERENCE: marked("Reference check"),
    CheckKind.FUNCTION: marked("Function check"),
    CheckKind.TWO_RODS: marked("Two-rod check"),
    CheckKind.LEAD: marked("Wire check"),
}
_VERDICTS = {
    CheckVerdict.PASSED: marked("passed"),
    CheckVerdict.FAILED: marked("failed"),
    CheckVerdict.NOT_DECIDED: marked("not decided"),
    CheckVerdict.SHOWS_NOTHING: marked("shows nothing here"),
    CheckVerdict.SKIPPED: marked("skipped"),
    CheckVerdict.IN_DOUBT: marked("in doubt"),
}
_VERDICTS_ALONE = {
    CheckVerdict.PASSED: marked("Passed"),
    CheckVerdict.FAILED: marked("Failed"),
    CheckVerdict.NOT_DECIDED: marked("Not decided"),
    CheckVerdict.SHOWS_NOTHING: marked("Shows nothing here"),
    CheckVerdict.SKIPPED: marked("Skipped"),
    CheckVerdict.IN_DOUBT: marked("In doubt"),
}
_LAPSES = {
    Lapse.REFERENCE: marked("lapsed: other reference"),
    Lapse.METER: marked("lapsed: other meter"),
    Lapse.PORT: marked("lapsed: other port"),
    Lapse.PORT_SETTINGS: marked("lapsed: other port settings"),
    Lapse.LINE_FORM: marked("lapsed: the meter's lines have another form"),
    Lapse.SIMULATED: marked("does not count: it was simulated"),
    Lapse.MEASURED: marked("does not count here: it was measured, and this is simulated"),
    Lapse.STEPS: marked("does not count: its steps were not read alike"),
    Lapse.AGE: marked("lapsed: more than 24 hours old"),
}
_STATES: dict[CheckVerdict | Lapse | None, str] = {
    CheckVerdict.PASSED: marked("{check} passed"),
    CheckVerdict.FAILED: marked("{check} failed"),
    CheckVerdict.NOT_DECIDED: marked("{check} not decided"),
    CheckVerdict.SHOWS_NOTHING: marked("{check} shows nothing here"),
    CheckVerdict.SKIPPED: marked("{check} skipped"),
    CheckVerdict.IN_DOUBT: marked("{check} in doubt"),
    Lapse.REFERENCE: marked("{check} lapsed: other reference"),
    Lapse.METER: marked("{check} lapsed: other meter"),
    Lapse.PORT: marked("{check} lapsed: other port"),
    Lapse.PORT_SETTINGS: marked("{check} lapsed: other port settings"),
    Lapse.LINE_FORM: marked("{check} lapsed: the meter's lines have another form"),
    Lapse.SIMULATED: marked("{check} does not count: it was simulated"),
    Lapse.MEASURED: marked("{check} does not count here: it was measured, and this is simulated"),
    Lapse.STEPS: marked("{check} does not count: its steps were not read alike"),
    Lapse.AGE: marked("{check} lapsed: more than 24 hours old"),
    None: marked("{check} not done"),
}


def check_name(kind: CheckKind) -> str:
    """What a check is called within a sentence."""
    return tr(_NAMES[kind])


def check_name_alone(kind: CheckKind) -> str:
    """What a check is called where its name stands alone, or begins a sentence."""
    return tr(_NAMES_ALONE[kind])


def listed_checks(kinds: Sequence[CheckKind]) -> str:
    """What several checks are called in a list: 'zero check, function check'."""
    return ", ".join(check_name(kind) for kind in kinds)


def checks_in_short(states: Mapping[CheckKind, CheckVerdict | Lapse | None]) -> list[str]:
    """What the checks of a reading leave open, in few words; one that has lapsed did pass, but does not count.

    Args:
        states: of the checks that leave a doubt, each as `state_text` takes it.
    """
    out = []
    lapsed = [kind for kind, state in states.items() if isinstance(state, Lapse)]
    not_passed = [kind for kind in states if kind not in lapsed]
    if set(not_passed) >= set(REQUIRED_CHECKS):
        out.append(tr("no check passed"))
    elif not_passed:
        out.append(tr("not passed: {checks}").format(checks=listed_checks(not_passed)))
    if set(lapsed) >= set(REQUIRED_CHECKS):
        out.append(tr("no check counts here"))
    elif lapsed:
        out.append(tr("does not count here: {checks}").format(checks=listed_checks(lapsed)))
    return out


def verdict_word(verdict: CheckVerdict) -> str:
    """The verdict of a check behind its name."""
    return tr(_VERDICTS[verdict])


def verdict_alone(verdict: CheckVerdict, *, simulated: bool = False) -> str:
    """The verdict of a check where it stands alone, or begins a sentence, with a mark where it is simulated."""
    text = tr(_VERDICTS_ALONE[verdict])
    return tr("{text} (simulated)").format(text=text) if simulated else text


def lapse_text(lapse: Lapse) -> str:
    """Why a check proves nothing any more, behind its verdict."""
    return tr(_LAPSES[lapse])


def state_text(check: str, state: CheckVerdict | Lapse | None) -> str:
    """What a check proves: 'zero check failed'.

    Args:
        check: what it is called.
        state: its verdict, or why it has lapsed; None where it was not done.
    """
    return tr(_STATES[state]).format(check=check)
