"""What the sweep says goes through the translation; what it computes, keeps and gives to programs does not."""

from __future__ import annotations

import json

import pytest

from logger import translation
from logger.metrology.uncertainty import Budget, ReferenceState
from logger.sweep.advice import SourceFinding, advise
from logger.sweep.confirmation import SwitchedStep, confirmation_hint, effect_of, effect_text
from logger.sweep.solver.answer import solve_sweep
from logger.sweep.solver.answer_text import answer_text
from logger.sweep.solver.readings import sweep_of
from logger.sweep.sweep_progress import (
    combination_as_at_night,
    combination_of,
    plain_sweep,
    switching_instructions,
)
from logger.translation import in_language, tr_kept
from logger.visit.records.condition import EVERYTHING_OFF, typed_condition, unlisted_on
from logger.visit.records.home_records import Source
from tests.support.other_language import OtherLanguage, speak, unspoken

SOURCES = [
    Source(1, "circuit", "a"),
    Source(2, "circuit", "b"),
    Source(3, "circuit", "c", stays="d"),
    Source(4, "cord", "e", circuit_id=1),
]

LABELS = (
    "everything off",
    "everything on",
    "only {circuits} on",
    "only {circuits} off",
    "everything on, without {cords}",
    "only {circuits} off, without {cords}",
)


class KeptIn(OtherLanguage):
    """Brackets around what is kept as well."""

    def pgettext(self, context: str, message: str) -> str:
        """The kept sentence in brackets.

        Args:
            context: of kept sentences.
            message: in English.
        """
        return f"⟦{message}⟧" if message in LABELS else message


def test_the_answer_the_advice_and_the_instructions_are_whole_sentences_of_the_language(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    readings = [("", 0.02, 0.005), ("a", 0.8, 0.005), ("b", 0.3, 0.005), ("a+b", 0.5, 0.005)]
    apart = [*readings, ("a+b", 0.9, 0.005)]
    pieces = advise(
        [
            SourceFinding("circuit", "a", 0.9, 0.01, off_tonight=True),
            SourceFinding("circuit", "b", 0.9, 0.01, stays="s"),
            SourceFinding("cord", "e", 0.8, 0.01, circuit="a"),
        ],
        Budget.of_u("scatter", 0.25, 0.01),
        ["c"],
        reference=ReferenceState(building_earth=True),
    )
    effect = effect_of([SwitchedStep(True, 0.43, 0.01, simulated=True)])
    answers = [(sweep := sweep_of(rows), solve_sweep(sweep, "split")) for rows in (readings, apart)]
    in_english = [json.dumps(found.as_json()) for _, found in answers]
    labels = [combination.label for combination in plain_sweep(SOURCES)]
    speak(monkeypatch, OtherLanguage())
    shown = [answer_text(found, sweep, frozenset(), 0.1) for sweep, found in answers]
    shown += [f"{piece.text} {piece.for_the_household} {piece.for_an_electrician}" for piece in pieces]
    shown += [effect_text(effect), confirmation_hint(effect)]
    shown += [switching_instructions(None, combination, SOURCES) for combination in plain_sweep(SOURCES)]
    assert [words for text in shown if (words := unspoken(text))] == []
    assert [json.dumps(found.as_json()) for _, found in answers] == in_english
    assert [combination.label for combination in plain_sweep(SOURCES)] == labels


def test_the_label_of_a_combination_is_kept_in_english_and_found_again(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    combinations = [*plain_sweep(SOURCES), combination_as_at_night([1], SOURCES, [4])]
    speak(monkeypatch, KeptIn())
    monkeypatch.setattr(translation, "kept_sentences", lambda language: LABELS[2:])
    translation._kept_in.cache_clear()
    assert [combination.shown for combination in combinations] == [
        "⟦everything off⟧",
        "⟦only a on⟧",
        "⟦only b on⟧",
        "⟦everything on⟧",
        "⟦everything on, without e⟧",
        "⟦only a off, without e⟧",
    ]
    assert unlisted_on(combination_of([1], SOURCES).label) is False
    assert tr_kept("kettle on") == "kettle on", "what somebody typed stays as it was typed"
    assert typed_condition("⟦Everything off⟧") == typed_condition("Everything off") == EVERYTHING_OFF
    with in_language("en"):
        assert combinations[1].shown == "only a on"
    translation._kept_in.cache_clear()
