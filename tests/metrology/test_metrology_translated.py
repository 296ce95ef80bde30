"""What metrology says goes through the translation; what the log keeps of it and what files have stays English."""

from __future__ import annotations

import ast
from pathlib import Path

import pytest

from logger import metrology, translation
from logger.metrology.change_verdict import Change, ChangeVerdict
from logger.metrology.checks import STEPS, CheckKind, CheckVerdict, failure_so_far, judge, skipped
from logger.metrology.context import Context, why_not_comparable
from logger.metrology.posture import Repeatability, with_posture
from logger.metrology.setup import UNKNOWN_METER, Setup
from logger.metrology.uncertainty import Budget, independent_difference_budget
from logger.translation import tr_kept
from tests.support.other_language import OtherLanguage, speak, unspoken

KEPT_SENTENCES = tuple(
    str(call.args[0].value)
    for name in ("checks", "posture", "uncertainty")
    for call in ast.walk(ast.parse((Path(metrology.__path__[0]) / f"{name}.py").read_text(encoding="utf-8")))
    if isinstance(call, ast.Call) and isinstance(call.func, ast.Name) and call.func.id == "kept_text"
    if isinstance(call.args[0], ast.Constant)
)

VALUES = {
    CheckKind.ZERO: [(0.001, 0.0005)],
    CheckKind.REFERENCE: [(1.0, 0.001), (1.3, 0.001)],
    CheckKind.FUNCTION: [(0.3, 0.001), (0.5, 0.001), (0.3, 0.001)],
    CheckKind.TWO_RODS: [(0.2, 0.0001), (0.2, 0.0001)],
    CheckKind.LEAD: [(0.5, 0.001), (0.5, 0.001)],
}


class AllKept(OtherLanguage):
    """A language with a decimal comma that has every kept sentence."""

    def pgettext(self, context: str, message: str) -> str:
        """The kept sentence in brackets.

        Args:
            context: of kept sentences.
            message: in English.
        """
        return f"⟦{message}⟧"


@pytest.fixture
def outcomes() -> list[str]:
    judged = [judge(kind, values, UNKNOWN_METER).sentence for kind, values in VALUES.items()]
    return [*judged, skipped("no lamp").sentence, skipped("").sentence]


def _budget() -> Budget:
    context = Context(Setup(), {}, 0.05)
    budget = with_posture(context.budget(0.3, 0.01), Repeatability(repeats=2))
    return independent_difference_budget(budget, budget, ("on", "off"))


def test_what_is_kept_and_exported_is_the_same_in_every_language(
    monkeypatch: pytest.MonkeyPatch, outcomes: list[str]
) -> None:
    budget = _budget()
    speak(monkeypatch, AllKept())
    assert [judge(kind, values, UNKNOWN_METER).sentence for kind, values in VALUES.items()] == outcomes[:-2]
    assert [skipped("no lamp").sentence, skipped("").sentence] == outcomes[-2:]
    assert _budget() == budget


def test_what_is_kept_is_found_again_where_it_is_shown(
    monkeypatch: pytest.MonkeyPatch, outcomes: list[str]
) -> None:
    components = _budget().components
    speak(monkeypatch, AllKept())
    monkeypatch.setattr(translation, "kept_sentences", lambda _: KEPT_SENTENCES)
    kept = [
        *outcomes,
        *(c.basis for c in components),
        *(step.name for steps in STEPS.values() for step in steps),
    ]
    shown = [*map(tr_kept, kept), *(c.shown_name() for c in components)]
    assert unspoken(" ".join(shown).replace(" V", "").replace("no lamp", "")) == []


def test_what_is_shown_is_of_the_language(monkeypatch: pytest.MonkeyPatch) -> None:
    speak(monkeypatch, OtherLanguage())
    verdicts = {CheckKind.ZERO: CheckVerdict.FAILED}
    context = Context(
        Setup(), verdicts, unmoved="step", unmoved_since="7", condition_stated_later=True, simulated=True
    )
    rod = Context(Setup(reference="earth rod"), verdicts, simulated=True)
    change = Change(Budget(0.3, ()), Budget(0.05, ()), Budget(-0.25, ()))
    said = [
        *context.remarks(0.0001),
        *map(context.check_text, CheckKind),
        why_not_comparable(context, rod),
        why_not_comparable(context, None),
        *Setup().missing(),
        change.verdict_text(ChangeVerdict.IMPROVED, 0.1),
        *(step.to_do() for steps in STEPS.values() for step in steps),
        failure_so_far(CheckKind.FUNCTION, VALUES[CheckKind.FUNCTION][:2], UNKNOWN_METER),
    ]
    assert all(said) and unspoken(" ".join(said)) == []
