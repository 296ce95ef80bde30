"""How the page Prepare asks for what is stated once for a visit."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, Protocol

from gui.model.visit_access import Message
from gui.model.visit_controller import VisitController
from gui.shell.prompt import Choice, Prompt
from logger.cautions import LAPTOP_ON_BATTERY
from logger.errors import StillvoltError
from logger.meter.description_folder import list_descriptions, load
from logger.metrology.setup import UNKNOWN_METER, MeterFacts
from logger.metrology.target import TARGET_SOURCE, TARGET_VOLTS

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

MAX_METERS = 9
"""So many kept meters can be chosen by a digit."""


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
        show: Callable[[Prompt], None],
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
        """Ask for one of a few, each by its number; Enter takes the one that the system knows of.

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
                str(n),
                f"{what} (as the system says; Enter)" if n == known else what,
                state(what, changes),
                ("Return",) if n == known else (),
            )
            for n, (what, changes) in enumerate(choices, 1)
        )
        self._show(Prompt(title, text, (*answers, self._later())))

    def ask_power(self) -> None:
        """Ask how the laptop is powered, with what the system knows of it."""
        plugged_in = self._controller.setup.charger_plugged_in
        known_text = {
            True: "\nThe charger is plugged in now, says the system. Unplug it first if you can.",
            False: "\nIt runs on battery now, says the system.",
            None: "",
        }[plugged_in]
        self.choose(
            "How is the laptop powered?",
            f"{LAPTOP_ON_BATTERY}{known_text}",
            ("on battery", {"on_battery": True}),
            ("on its charger: spoils the reference, widens the uncertainty", {"on_battery": False}),
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

        answers = [Choice(str(n), word, state(word)) for n, word in enumerate(choices, 1)]
        answers.append(Choice("T", "something else: type it", by_words))
        self._show(Prompt(title, text, (*answers, self._later())))

    def type(self, title: str, text: str, on_text: Callable[[str], None], prefilled: str = "") -> None:
        """Ask for a line of text.

        Args:
            title: the question.
            text: what the user has to know, below the question.
            on_text: takes what was typed.
            prefilled: what stands in the line first.
        """
        self._show(Prompt(title, text, (self._later(),), on_text, prefilled, enter_text="keep it"))

    def type_metres(self, title: str, field: str) -> None:
        """Ask for a length."""

        def state(text: str) -> None:
            try:
                metres = _number(text.casefold().removesuffix("m"))
            except ValueError:
                self._refuse(f"“{text}” is no length in metres. Nothing was changed.")
                return
            self._keep(f"{title.lower()} {metres:g} m", **{field: metres})

        self.type(title, "In metres, such as 12 or 7.5.", state)

    def type_target(self) -> None:
        """Ask for another target; it needs a source."""

        def volts(text: str) -> None:
            try:
                value = _number(text.casefold().removesuffix("v"))
            except ValueError:
                self._refuse(f"“{text}” is no target in volts. Nothing was changed.")
                return
            if value == 0:
                self._refuse("A target of 0 V cannot be met by any meter. Nothing was changed.")
                return
            self._show(
                Prompt(
                    f"Who says {value:g} V?",
                    "A target other than the usual one stands in the report with its source.",
                    on_text=lambda source: self._keep(
                        f"target {value:g} V ({source})", target_volts=value, target_source=source
                    ),
                )
            )

        self.type("Target in volts", "Such as 0.05.", volts)

    def ask_household(self, caution: str) -> None:
        """Ask whose home it is."""
        self.type(
            "Which household?",
            caution,
            lambda text: self._keep(text, household=text),
            self._controller.setup.stated.household,
        )

    def ask_target(self) -> None:
        """Ask which target readings are compared with."""
        usual = Choice(
            "1",
            f"{TARGET_VOLTS:g} V ({TARGET_SOURCE})",
            lambda: self._keep(
                f"target {TARGET_VOLTS:g} V", target_volts=TARGET_VOLTS, target_source=TARGET_SOURCE
            ),
        )
        self._show(
            Prompt(
                "Which target?",
                "Readings are held against it, with their uncertainty.",
                (usual, Choice("2", "another, with its source", self.type_target)),
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

        answers = [Choice(str(n), name, use(name)) for n, name in enumerate(names[:MAX_METERS], 1)]
        if recorded is not None:
            answers.insert(0, Choice("Return", f"{recorded.name}: recorded with it now", take_over))
        answers.append(
            Choice(
                "0",
                "not described: assume a plain multimeter",
                lambda: self._keep("meter assumed", meter=ASSUMED),
            )
        )
        text = f"Assumed would be: {_meter_assumptions(UNKNOWN_METER)}"
        if not names:
            text += "\nI on the sheet Connect identifies a meter and keeps its description."
        self._show(Prompt("Which meter?", text, (*answers, self._later())))

    def _later(self) -> Choice:
        return Choice("Down", "leave it open, ask the next", self._ask_next)

    def _refuse(self, why: str) -> None:
        self._controller.message = Message(why, refused=True)


def _number(text: str) -> float:
    """Read a number that was typed, with a point or a comma; raises ValueError for one that makes no sense."""
    value = float(text.strip().replace(",", "."))
    if not 0.0 <= value < 1e6:
        raise ValueError(text)
    return value


def _meter_assumptions(meter: MeterFacts) -> str:
    accuracy = meter.accuracy[-1]
    return (
        f"±({accuracy.percent_of_reading:g} % + {accuracy.counts:g} counts of {accuracy.resolution_volts:g} V), "
        f"{meter.input_resistance_ohm / 1e6:g} Mohm, {meter.input_capacitance_farad * 1e12:.0f} pF."
    )
