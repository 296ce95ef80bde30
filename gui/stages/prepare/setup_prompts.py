"""How the page Prepare asks for what is stated once for a visit."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, Protocol

from gui.model.quantity_entry import VOLTS, LengthUnit, length_text, mistake_in, read_length, read_quantity
from gui.model.visit_access import Message
from gui.model.visit_controller import VisitController
from gui.shell.question import Choice, Question
from gui.translation import tr
from logger.cautions import LAPTOP_ON_BATTERY
from logger.errors import StillvoltError
from logger.meter.description_folder import list_descriptions, load
from logger.metrology.setup import UNKNOWN_METER, MeterFacts
from logger.metrology.target import (
    MAX_TARGET_VOLTS,
    MIN_TARGET_VOLTS,
    TARGET_SOURCE,
    TARGET_VOLTS,
    target_source_text,
)

ASSUMED = MeterFacts(
    "assumed",
    UNKNOWN_METER.accuracy,
    UNKNOWN_METER.input_resistance_ohm,
    UNKNOWN_METER.input_capacitance_farad,
    UNKNOWN_METER.true_rms,
    "",
    UNKNOWN_METER.assumed,
)
"""The user has said that nothing is known of the meter."""


class KeepsAnswer(Protocol):
    """Keeps an answer: what was stated in words, and the fields of the set-up with their new values."""

    def __call__(self, what: str, /, **changes: Any) -> None:
        """Keep it, and ask the next thing that is open."""


class SetupPrompts:
    """Asks for one thing after the other.

    Args:
        controller: what the window does with the visit.
        show: shows a prompt.
        keep: keeps an answer.
        ask_next: leaves this open, and asks the next thing that is open.
    """

    def __init__(
        self,
        controller: VisitController,
        show: Callable[[Question], None],
        keep: KeepsAnswer,
        ask_next: Callable[[], None],
    ) -> None:
        self._controller = controller
        self._show = show
        self._keep = keep
        self._ask_next = ask_next

    def choose(
        self, title: str, text: str, *choices: tuple[str, dict[str, Any]], known: int | None = None
    ) -> None:
        """Ask for one of a few, with the one that the system knows of as the answer of Enter.

        Args:
            title: the question.
            text: what the user has to know, below the question.
            choices: each in words, with the fields of the set-up that it sets.
            known: number of the choice that the system knows of, counted from 1; None where it knows of none.
        """

        def state(what: str, changes: dict[str, Any]) -> Callable[[], None]:
            return lambda: self._keep(what, **changes)

        answers = tuple(
            Choice(
                f"{what} (as your laptop reports)" if n == known else what,
                state(what, changes),
                default=n == known,
            )
            for n, (what, changes) in enumerate(choices, 1)
        )
        self._show(Question(title, text, (*answers, self._later())))

    def ask_power(self) -> None:
        """Ask how the laptop is powered, with what the system knows of it."""
        plugged_in = self._controller.setup.charger_plugged_in
        known_text = {
            True: "\nYour laptop reports that it is plugged in. Unplug it first if you can.",
            False: "\nYour laptop reports that it runs on battery.",
            None: "",
        }[plugged_in]
        self.choose(
            "How is the laptop powered?",
            f"{LAPTOP_ON_BATTERY}{known_text}",
            ("on battery", {"on_battery": True}),
            ("on its charger: spoils the reference, adds uncertainty", {"on_battery": False}),
            known={True: 2, False: 1, None: None}[plugged_in],
        )

    def choose_or_type(self, title: str, text: str, field: str, *choices: str) -> None:
        """Ask for one of a few words, or others.

        Args:
            title: the question.
            text: what the user has to know, below the question.
            field: the field of the set-up that keeps the word.
            choices: the usual words.
        """

        def state(word: str) -> Callable[[], None]:
            return lambda: self._keep(word, **{field: word})

        def by_words() -> None:
            self.type(title, "", lambda typed: self._keep(typed, **{field: typed}))

        answers = [Choice(word, state(word)) for word in choices]
        answers.append(Choice("something else: type it", by_words))
        self._show(Question(title, text, (*answers, self._later())))

    def type(
        self,
        title: str,
        text: str,
        on_text: Callable[[str], None],
        prefilled: str = "",
        why_invalid: Callable[[str], str] | None = None,
    ) -> None:
        """Ask for a line of text.

        Args:
            title: the question.
            text: what the user has to know, below the question.
            on_text: takes what was typed.
            prefilled: what stands in the line first.
            why_invalid: why a typed text cannot be taken; None where every text can.
        """
        self._show(
            Question(
                title,
                text,
                (self._later(),),
                on_text,
                prefilled,
                enter_text="Keep it",
                why_invalid=why_invalid,
            )
        )

    def type_metres(self, title: str, field: str) -> None:
        """Ask for a length."""
        unit = self._controller.length_unit

        def state(text: str) -> None:
            metres = read_length(text, unit)
            self._keep(f"{title.lower()} {length_text(metres, unit)}", **{field: metres})

        example = "40 or 25.5" if unit is LengthUnit.FEET else "12 or 7.5"
        self.type(
            tr("{what}: how long?").format(what=title),
            f"In {unit.value}, such as {example}; or with its unit, such as 12 m or 40 ft.", state,
            why_invalid=lambda text: mistake_in(lambda: read_length(text, unit)),
        )  # fmt: skip

    def type_target(self) -> None:
        """Ask for another target; it needs a source."""

        def read(text: str) -> float:
            return read_quantity(text, VOLTS, "V", MIN_TARGET_VOLTS, MAX_TARGET_VOLTS)

        def volts(text: str) -> None:
            value = read(text)
            self._show(
                Question(
                    f"Who says {value:g} V?",
                    "A target other than the usual one stands in the report with its source.",
                    on_text=lambda source: self._keep(
                        f"target {value:g} V ({source})", target_volts=value, target_source=source
                    ),
                )
            )

        self.type(
            "Target in volts",
            "Such as 0.05 or 50 mV.",
            volts,
            why_invalid=lambda text: mistake_in(lambda: read(text)),
        )

    def ask_household(self, caution: str) -> None:
        """Ask whose home it is."""
        self.type(
            tr("Name of this home"),
            caution,
            lambda text: self._keep(text, household=text),
            self._controller.setup.stated.household,
        )

    def ask_target(self) -> None:
        """Ask which target readings are compared with."""
        usual = Choice(
            f"{TARGET_VOLTS:g} V ({target_source_text(TARGET_SOURCE)})",
            lambda: self._keep(
                f"target {TARGET_VOLTS:g} V", target_volts=TARGET_VOLTS, target_source=TARGET_SOURCE
            ),
            default=self._controller.setup.stated.target_volts == TARGET_VOLTS,
        )
        self._show(
            Question(
                "Which target?",
                "Readings are compared with it, with their uncertainty.",
                (usual, Choice("another, with its source", self.type_target)),
            )
        )

    def ask_meter(self) -> None:
        """Ask which of the kept meters took part."""
        names = list_descriptions()

        def use(name: str) -> Callable[[], None]:
            def state() -> None:
                try:
                    self._keep(f"meter {name}", meter=MeterFacts.of(load(name)))
                except StillvoltError as error:
                    self._controller.message = Message(str(error), refused=True)

            return state

        recorded = self._controller.setup.recorded_meter

        def take_over() -> None:
            self._keep(f"meter {recorded.name if recorded else ''}", meter=recorded)

        answers = [Choice(name, use(name)) for name in names]
        if recorded is not None:
            answers.insert(0, Choice(f"{recorded.name}: recorded with it now", take_over, default=True))
        answers.append(
            Choice(
                "not described: assume a plain multimeter",
                lambda: self._keep("meter assumed", meter=ASSUMED),
            )
        )
        text = f"Without a description, these are assumed: {_meter_assumptions(UNKNOWN_METER)}"
        if not names:
            text += "\n“Identify the meter” on the stage Connect finds out what a meter sends, and keeps it."
        self._show(Question("Which meter?", text, (*answers, self._later())))

    def _later(self) -> Choice:
        return Choice("Skip for now", self._ask_next)


def _meter_assumptions(meter: MeterFacts) -> str:
    accuracy = meter.accuracy[-1]
    return (
        f"accurate to {accuracy.percent_of_reading:g} % of the value plus "
        f"{accuracy.counts * accuracy.resolution_volts:g} V, input {meter.input_resistance_ohm / 1e6:g} megohms and "
        f"{meter.input_capacitance_farad * 1e12:.0f} pF."
    )
