"""How the page Prepare asks for what is stated once for a visit."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any, Protocol

from gui.model.quantity_entry import (
    MAX_METRES,
    VOLTS,
    is_typed_in_feet,
    mistake_in,
    read_length,
    read_quantity,
)
from gui.model.visit_access import Message
from gui.model.visit_controller import VisitController
from gui.shell.question import Choice, Question
from logger.cautions import LAPTOP_ON_BATTERY
from logger.errors import StillvoltError
from logger.meter.description_folder import list_descriptions, load
from logger.metrology.lengths import LengthUnit, length_text
from logger.metrology.rounding import fixed, plain
from logger.metrology.setup import ASSUMED_METER, UNKNOWN_METER, MeterFacts
from logger.metrology.target import (
    MAX_TARGET_VOLTS,
    MIN_TARGET_VOLTS,
    TARGET_SOURCE,
    TARGET_VOLTS,
    target_source_text,
)
from logger.translation import tr, tr_kept
from logger.visit.records.practitioner import why_not_a_line


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
                tr("{what} (as your laptop reports)").format(what=what) if n == known else what,
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
            True: "\n" + tr("Your laptop reports that it is plugged in. Unplug it first if you can."),
            False: "\n" + tr("Your laptop reports that it runs on battery."),
            None: "",
        }[plugged_in]
        self.choose(
            tr("How is the laptop powered?"),
            f"{tr(LAPTOP_ON_BATTERY)}{known_text}",
            (tr("On battery"), {"on_battery": True}),
            (tr("On its charger: spoils the reference, adds uncertainty"), {"on_battery": False}),
            known={True: 2, False: 1, None: None}[plugged_in],
        )

    def choose_or_type(self, title: str, text: str, field: str, *choices: str) -> None:
        """Ask for one of a few words, or others.

        Args:
            title: the question.
            text: what the user has to know, below the question.
            field: the field of the set-up that keeps the word.
            choices: the usual words, in English as the log keeps them.
        """

        def state(word: str) -> Callable[[], None]:
            return lambda: self._keep(tr_kept(word), **{field: word})

        def by_words() -> None:
            self.type(title, "", lambda typed: self._keep(typed, **{field: typed}))

        answers = [Choice(tr_kept(word), state(word)) for word in choices]
        answers.append(Choice(tr("Something else: type it"), by_words))
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
                enter_text=tr("Save"),
                why_invalid=why_invalid,
            )
        )

    def type_optional(self, title: str, text: str, field: str) -> None:
        """Ask for one of the circumstances: a line that may be left out, and taken out again.

        Args:
            title: the question.
            text: what is meant, below the question.
            field: the field of `Circumstances` that keeps the line.
        """
        prefilled: str = getattr(self._controller.setup.circumstances, field)

        def keep(typed: str) -> None:
            self._keep(tr("{what}: {text}").format(what=title, text=typed), **{field: typed})

        not_recorded = tr("{what}: {text}").format(what=title, text=tr("not recorded"))
        leave_out = Choice(tr("Not recorded"), lambda: self._keep(not_recorded, **{field: ""}))
        self._show(
            Question(
                title,
                text,
                (*((leave_out,) if prefilled else ()), self._later()),
                keep,
                prefilled,
                enter_text=tr("Save"),
                why_invalid=lambda typed: why_not_a_line(" ".join(typed.split())),
            )
        )

    def type_certificate(self) -> None:
        """Ask for the calibration certificate of the stated meter."""
        meter = self._controller.setup.stated.meter

        def keep(typed: str) -> None:
            words = tr("{what}: {text}").format(what=tr("Certificate"), text=typed)
            self._keep(words, meter=replace(meter, certificate=" ".join(typed.split())))

        self.type(
            tr("Calibration certificate of the meter"),
            tr("Number of the calibration certificate, and who issued it."),
            keep,
            meter.certificate,
            why_invalid=lambda typed: why_not_a_line(" ".join(typed.split())),
        )

    def type_metres(self, title: str, question: str, field: str, most: float = MAX_METRES) -> None:
        """Ask for a length.

        Args:
            title: what has it.
            question: how long it is, as a question.
            field: what keeps it.
            most: the longest that can be meant, metres.
        """
        unit = self._controller.length_unit

        def state(text: str) -> None:
            metres = read_length(text, unit, most)
            in_feet = self._controller.typed_in_feet
            if is_typed_in_feet(text):
                in_feet.add(metres)
            else:
                in_feet.discard(metres)
            shown_in = LengthUnit.FEET if metres in in_feet else unit
            stated = tr("{what}: {length}").format(what=title, length=length_text(metres, shown_in))
            self._keep(stated, **{field: metres})

        self.type(
            question,
            tr("In feet, such as 40 or 25.5; or with its unit, such as 12 m, 40 ft or 18 in.")
            if unit is LengthUnit.FEET
            else tr("In metres, such as 12 or 7.5; or with its unit, such as 12 m, 40 ft or 18 in."),
            state,
            why_invalid=lambda text: mistake_in(lambda: read_length(text, unit, most)),
        )

    def type_target(self) -> None:
        """Ask for another target; it needs a source."""

        def read(text: str) -> float:
            return read_quantity(text, VOLTS, "V", MIN_TARGET_VOLTS, MAX_TARGET_VOLTS)

        def volts(text: str) -> None:
            value = read(text)
            self._show(
                Question(
                    tr("Who says {volts} V?").format(volts=plain(value)),
                    tr("A target other than the usual one stands in the report with its source."),
                    on_text=lambda source: self._keep(
                        tr("target {volts} V ({source})").format(volts=plain(value), source=source),
                        target_volts=value,
                        target_source=source,
                    ),
                )
            )

        self.type(
            tr("Target in volts"),
            tr("Such as 0.05 or 50 mV."),
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
            f"{plain(TARGET_VOLTS)} V ({target_source_text(TARGET_SOURCE)})",
            lambda: self._keep(
                tr("target {volts} V").format(volts=plain(TARGET_VOLTS)),
                target_volts=TARGET_VOLTS,
                target_source=TARGET_SOURCE,
            ),
            default=self._controller.setup.stated.target_volts == TARGET_VOLTS,
        )
        self._show(
            Question(
                tr("Which target?"),
                tr("Readings are compared with it, with their uncertainty."),
                (usual, Choice(tr("Another, with its source"), self.type_target)),
            )
        )

    def ask_meter(self) -> None:
        """Ask which of the kept meters took part."""
        names = list_descriptions()

        def use(name: str) -> Callable[[], None]:
            def state() -> None:
                try:
                    self._keep(tr("meter {meter}").format(meter=name), meter=MeterFacts.of(load(name)))
                except StillvoltError as error:
                    self._controller.message = Message(str(error), refused=True)

            return state

        recorded = self._controller.setup.recorded_meter

        def take_over() -> None:
            assert recorded is not None
            self._keep(tr("meter {meter}").format(meter=recorded.name), meter=recorded)

        answers = [Choice(name, use(name), is_name=True) for name in names]
        if recorded is not None:
            answers.insert(
                0,
                Choice(
                    tr("{meter}: recorded with it now").format(meter=recorded.name), take_over, default=True
                ),
            )
        answers.append(
            Choice(
                tr("Not described: assume a plain multimeter"),
                lambda: self._keep(tr("meter assumed"), meter=ASSUMED_METER),
            )
        )
        text = tr("Without a description, these are assumed: {assumptions}").format(
            assumptions=_meter_assumptions(UNKNOWN_METER)
        )
        if not names:
            text += "\n" + tr(
                "“Identify the meter” on the stage Connect finds out what a meter sends, and keeps it."
            )
        self._show(Question(tr("Which meter?"), text, (*answers, self._later())))

    def _later(self) -> Choice:
        return Choice(tr("Skip for now"), self._ask_next)


def _meter_assumptions(meter: MeterFacts) -> str:
    accuracy = meter.accuracy[-1]
    return tr(
        "accurate to {percent} % of the value plus {volts} V, input {megohms} megohms and {picofarads} pF."
    ).format(
        percent=plain(accuracy.percent_of_reading),
        volts=plain(accuracy.counts * accuracy.resolution_volts),
        megohms=plain(meter.input_resistance_ohm / 1e6),
        picofarads=fixed(meter.input_capacitance_farad * 1e12, 0),
    )
