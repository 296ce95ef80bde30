"""The sheet of the stage Prepare: what is stated once for a visit. Space asks one thing after the other."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any

from gui.model.visit_access import Message
from gui.model.visit_controller import VisitController
from gui.shell.prompt import Choice, Prompt
from gui.widgets.appearance import Appearance, label, separator
from gui.widgets.badge import GOOD, OPEN, UNCLEAR
from gui.widgets.page import Page
from gui.widgets.row_list import RowList
from gui.widgets.row_painter import ListRow
from logger.errors import StillvoltError
from logger.meter.description_folder import list_descriptions, load
from logger.metrology.setup import TARGET_SOURCE, TARGET_VOLTS, UNKNOWN_METER, MeterFacts, Setup

ROD_CAUTION = (
    "Ask before digging: pipes and cables lie in the ground. No outdoor earth wire in or before a thunderstorm; "
    "local codes on earthing hold."
)
LAPTOP_CAUTION = "On battery and nothing plugged in: a charger connects the laptop to the building's wiring."
LINK_CAUTION = "Optical or radio isolates. A plain cable ties the meter's zero to the laptop."
HOUSEHOLD_CAUTION = "No names are needed. Never hold the probe to a live conductor."

LAPTOP, METER = "Laptop", "Meter"
"""Names of what the system may know otherwise."""

TAKE_OVER = "T"
"""The key that takes over the meter that is recorded with."""

GENERAL_CAUTION = (
    "Never hold the probe to a live conductor. "
    "Before a thunderstorm take the outdoor earth wire away. Local codes hold."
)


@dataclass(frozen=True, slots=True)
class SetupItem:
    """One thing that is stated."""

    name: str
    says: Callable[[Setup], str]
    """As stated; empty when it is not."""
    ask: Callable[[PreparePage], None]
    needed: bool = False
    """Widens the uncertainty while it is not stated."""
    applies: Callable[[Setup], bool] = lambda _: True


class PreparePage(Page):
    """Rows of what is stated and what is not, with the consequence of leaving it open."""

    title = "Prepare the visit"

    def __init__(self, controller: VisitController, appearance: Appearance) -> None:
        super().__init__(controller, appearance)
        self.at = 0
        self.list = RowList(appearance)
        self.list.itemClicked.connect(lambda item: self._clicked(self.list.row(item)))
        self.against = label("", "question")
        """What the system knows otherwise than it was stated."""
        self.against.setMargin(8)
        self.missing = label("", "small")
        self._caution = label(GENERAL_CAUTION, "quiet")
        self._hints = self.make_shortcuts(("Space", "what is open"), ("Enter", "change"))
        self.column.addWidget(self.against)
        self.column.addWidget(self.missing)
        self.column.addWidget(self.list, 1)
        self.column.addWidget(self._hints)
        self.column.addWidget(separator())
        self.column.addWidget(self._caution)
        self.at = self._first_open() or 0
        self.restyles(self.list)
        self.refresh()

    def items(self) -> list[SetupItem]:
        """What is to be stated, given what is stated already."""
        return [item for item in ITEMS if item.applies(self.controller.setup.stated)]

    def refresh(self) -> None:
        """See `StyledWidget`."""
        setup, items = self.controller.setup.stated, self.items()
        self.at = min(self.at, len(items) - 1)
        self.list.show_rows([self._row(item) for item in items], self.at)
        self.missing.setText(_consequence(setup))
        against = self._contradictions()
        self.against.setText("\n".join(against))
        self.against.setVisible(bool(against))

    def handle(self, name: str) -> bool:
        """See `Page`."""
        if name == "Return":
            self.items()[self.at].ask(self)
        elif name == "Space":
            first = self._first_open()
            if first is None:
                self.controller.message = Message(
                    "Everything is stated. Enter changes one; 3 goes on to the checks."
                )
            else:
                self._ask_at(first)
        elif name == TAKE_OVER and self.controller.setup.meter_difference():
            self.controller.setup.take_over_meter()
        elif name in ("Up", "Down", "PgUp", "PgDown"):
            step = 1 if name in ("Down", "PgDown") else -1
            self.at = min(max(self.at + step, 0), len(self.items()) - 1)
        else:
            return False
        return True

    def primary_action(self) -> Message | None:
        """See `Page`."""
        first = self._first_open()
        if first is None:
            return Message("nothing is open; 3 goes on to the checks")
        return Message(f"state what is open: {self.items()[first].name}")

    def _contradictions(self) -> list[str]:
        """What the system knows otherwise than it was stated, each with what to do."""
        out = []
        if power := self.controller.setup.power_contradiction():
            out.append(f"Laptop: {power}. Unplug it, or state it anew.")
        if differs := self.controller.setup.meter_difference():
            out.append(f"{differs} {TAKE_OVER} takes it over.")
        return out

    def _row(self, item: SetupItem) -> ListRow:
        row = _row(item, self.controller.setup.stated)
        against = ""
        if item.name == LAPTOP:
            against = self.controller.setup.power_contradiction()
        elif item.name == METER and self.controller.setup.meter_difference():
            recorded = self.controller.setup.recorded_meter
            assert recorded is not None
            against = f"recorded with “{recorded.name}”; {TAKE_OVER} takes it over"
        return replace(row, small=against, badge=UNCLEAR) if against else row

    # --- asking ------------------------------------------------------------------------------------------

    def choose(
        self, title: str, text: str, *choices: tuple[str, dict[str, Any]], known: int | None = None
    ) -> None:
        """Ask for one of a few, each by its number; Enter takes the one that the system knows of.

        Args:
            title: the question.
            text: what explains it.
            *choices: what each is called, with the fields of the set-up that it states.
            known: index of the choice that the system knows of; None if it does not.
        """

        def state(says: str, changes: dict[str, Any]) -> Callable[[], None]:
            return lambda: self._stated(says, **changes)

        answers = tuple(
            Choice(
                str(n),
                f"{says} (as the system says; Enter)" if n == known else says,
                state(says, changes),
                ("Return",) if n == known else (),
            )
            for n, (says, changes) in enumerate(choices, 1)
        )
        self.prompt_requested.emit(Prompt(title, text, (*answers, self._later())))

    def ask_power(self) -> None:
        """Ask how the laptop is powered, with what the system knows of it."""
        plugged_in = self.controller.setup.charger_plugged_in
        told = {
            True: "\nThe charger is plugged in now, says the system. Unplug it first if you can.",
            False: "\nIt runs on battery now, says the system.",
            None: "",
        }[plugged_in]
        self.choose(
            "How is the laptop powered?",
            f"{LAPTOP_CAUTION}{told}",
            ("on battery", {"on_battery": True}),
            ("on its charger: spoils the reference, widens the uncertainty", {"on_battery": False}),
            known={True: 2, False: 1, None: None}[plugged_in],
        )

    def choose_or_type(self, title: str, text: str, field: str, *choices: str) -> None:
        """Ask for one of a few words, or others.

        Args:
            title: the question.
            text: what explains it.
            field: the field of the set-up that is answered.
            *choices: the words.
        """

        def state(word: str) -> Callable[[], None]:
            return lambda: self._stated(word, **{field: word})

        def by_words() -> None:
            self.type(title, "", lambda typed: self._stated(typed, **{field: typed}))

        answers = [Choice(str(n), word, state(word)) for n, word in enumerate(choices, 1)]
        answers.append(Choice("T", "something else: type it", by_words))
        self.prompt_requested.emit(Prompt(title, text, (*answers, self._later())))

    def type(self, title: str, text: str, on_text: Callable[[str], None], prefilled: str = "") -> None:
        """Ask for a line of text.

        Args:
            title: the question.
            text: what explains it.
            on_text: gets the line that was typed.
            prefilled: what the line holds at first.
        """
        self.prompt_requested.emit(
            Prompt(title, text, (self._later(),), on_text, prefilled, enter_text="keep it")
        )

    def type_metres(self, title: str, field: str) -> None:
        """Ask for a length."""

        def state(text: str) -> None:
            try:
                metres = _number(text.casefold().removesuffix("m"))
            except ValueError:
                self._again(f"“{text}” is no length in metres. Nothing was changed.")
                return
            self._stated(f"{title.lower()} {metres:g} m", **{field: metres})

        self.type(title, "In metres, such as 12 or 7.5.", state)

    def type_target(self) -> None:
        """Ask for another target; it needs a source."""

        def volts(text: str) -> None:
            try:
                value = _number(text.casefold().removesuffix("v"))
            except ValueError:
                self._again(f"“{text}” is no target in volts. Nothing was changed.")
                return
            if value == 0:
                self._again("A target of 0 V cannot be met by any meter. Nothing was changed.")
                return
            self.prompt_requested.emit(
                Prompt(
                    f"Who says {value:g} V?",
                    "A target other than the usual one stands in the report with its source.",
                    on_text=lambda source: self._stated(
                        f"target {value:g} V ({source})", target_volts=value, target_source=source
                    ),
                )
            )

        self.type("Target in volts", "Such as 0.05.", volts)

    def ask_meter(self) -> None:
        """Ask which of the kept meters took part."""
        names = list_descriptions()

        def use(name: str) -> Callable[[], None]:
            def state() -> None:
                try:
                    self._stated(f"meter {name}", meter=MeterFacts.of(load(name)))
                except StillvoltError as error:
                    self.controller.message = Message(str(error), refused=True)

            return state

        recorded = self.controller.setup.recorded_meter

        def take_over() -> None:
            self._stated(f"meter {recorded.name if recorded else ''}", meter=recorded)

        answers = [Choice(str(n), name, use(name)) for n, name in enumerate(names[:9], 1)]
        if recorded is not None:
            answers.insert(0, Choice("Return", f"{recorded.name}: recorded with it now", take_over))
        answers.append(
            Choice(
                "0",
                "not described: assume a plain multimeter",
                lambda: self._stated("meter assumed", meter=ASSUMED),
            )
        )
        text = f"Assumed would be: {_meter_assumptions(UNKNOWN_METER)}"
        if not names:
            text += "\nI on the sheet Connect identifies a meter and keeps its description."
        self.prompt_requested.emit(Prompt("Which meter?", text, (*answers, self._later())))

    def _later(self) -> Choice:
        return Choice("Down", "leave it open, ask the next", self._ask_next)

    def _again(self, why: str) -> None:
        self.controller.message = Message(why, refused=True)

    def _stated(self, says: str, **changes: Any) -> None:
        """Keep it, and ask the next thing that is open."""
        at = next((i for i, item in enumerate(ITEMS) if item is self.items()[self.at]), 0)
        self.controller.setup.state(says, **changes)
        self._ask_next(at)

    def _ask_next(self, after: int | None = None) -> None:
        """Ask what is open further down; back at the top stays quiet, so that nobody goes round in circles."""
        if after is None:
            after = ITEMS.index(self.items()[self.at])
        setup = self.controller.setup.stated
        for index, item in enumerate(self.items()):
            if ITEMS.index(item) > after and not item.says(setup):
                self._ask_at(index)
                return
        self.refresh()

    def _ask_at(self, index: int) -> None:
        self.at = index
        self.items()[index].ask(self)

    def _first_open(self) -> int | None:
        setup = self.controller.setup.stated
        return next((i for i, item in enumerate(self.items()) if not item.says(setup)), None)

    def _clicked(self, row: int) -> None:
        self.at = row
        self.refresh()
        self.key_clicked.emit("Return")


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


def _consequence(setup: Setup) -> str:
    """What widens the uncertainty: because it is not stated, or because it is so."""
    missing = setup.missing()
    named = [
        text
        for text, applies in (
            ("building earth as reference", setup.reference == "building earth"),
            ("laptop on its charger", setup.on_battery is False),
            ("link not isolated", setup.link_isolated is False),
        )
        if applies
    ]
    message = []
    if named:
        message.append(f"Widens the uncertainty, and is named on every reading: {', '.join(named)}.")
    if missing:
        message.append(
            f"Not stated, which widens it as well: {', '.join(missing)}."
            if named
            else f"Not stated, which widens the uncertainty: {', '.join(missing)}."
        )
    return "\n".join(message) or "Nothing stated here widens the uncertainty."


def _is_rod(setup: Setup) -> bool:
    return setup.reference == "earth rod"


def _metres(value: float | None) -> str:
    return "" if value is None else f"{value:g} m"


def _yes_no(value: bool | None, yes: str, no: str) -> str:
    return "" if value is None else (yes if value else no)


def _number(text: str) -> float:
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


def _in_words(field: str) -> str:
    """The name of a meter's field without its unit."""
    return field.removesuffix("_farad").removesuffix("_ohm").replace("_", " ")


def _meter_says(setup: Setup) -> str:
    return "" if setup.meter.name == UNKNOWN_METER.name else setup.meter.name


ITEMS: tuple[SetupItem, ...] = (
    SetupItem(
        "Household",
        lambda s: s.household,
        lambda page: page.type(
            "Which household?",
            HOUSEHOLD_CAUTION,
            lambda text: page._stated(text, household=text),
            page.controller.setup.stated.household,
        ),
    ),
    SetupItem(
        "Reference",
        lambda s: s.reference or "",
        lambda page: page.choose(
            "What is the reference?",
            ROD_CAUTION,
            ("earth rod", {"reference": "earth rod"}),
            ("building earth: second best, widens the uncertainty", {"reference": "building earth"}),
        ),
        needed=True,
    ),
    SetupItem(
        "Soil",
        lambda s: s.soil,
        lambda page: page.choose_or_type(
            "What soil is the rod in?", "", "soil", "loam or clay", "sand", "gravel"
        ),
        applies=_is_rod,
    ),
    SetupItem(
        "Moisture",
        lambda s: s.moisture,
        lambda page: page.choose_or_type("How moist is it?", "", "moisture", "wet", "damp", "dry"),
        applies=_is_rod,
    ),
    SetupItem(
        "Rod to main panel",
        lambda s: _metres(s.panel_distance_m),
        lambda page: page.type_metres("Rod to main panel", "panel_distance_m"),
        applies=_is_rod,
    ),
    SetupItem(
        "Reference wire",
        lambda s: _metres(s.wire_length_m),
        lambda page: page.type_metres("Reference wire", "wire_length_m"),
        applies=_is_rod,
    ),
    SetupItem(
        "Supply",
        lambda s: s.supply or "",
        lambda page: page.choose(
            "What supply has the home?",
            "",
            ("split phase", {"supply": "split phase"}),
            ("single phase", {"supply": "single phase"}),
            ("three-phase", {"supply": "three-phase"}),
        ),
    ),
    SetupItem(
        "Mains",
        lambda s: f"{s.mains_hz:g} Hz" if s.mains_hz else "",
        lambda page: page.choose(
            "Mains frequency?", "", ("50 Hz", {"mains_hz": 50.0}), ("60 Hz", {"mains_hz": 60.0})
        ),
    ),
    SetupItem(
        LAPTOP,
        lambda s: _yes_no(s.on_battery, "on battery", "on its charger"),
        PreparePage.ask_power,
        needed=True,
    ),
    SetupItem(
        "Link to the meter",
        lambda s: _yes_no(s.link_isolated, "isolated", "not isolated"),
        lambda page: page.choose(
            "Is the link between meter and laptop isolated?",
            LINK_CAUTION,
            ("isolated: optical or radio", {"link_isolated": True}),
            ("not isolated: spoils the reference, widens the uncertainty", {"link_isolated": False}),
        ),
        needed=True,
    ),
    SetupItem(METER, _meter_says, PreparePage.ask_meter),
    SetupItem(
        "Target",
        lambda s: f"{s.target_volts:g} V",
        lambda page: page.prompt_requested.emit(
            Prompt(
                "Which target?",
                "Readings are held against it, with their uncertainty.",
                (
                    Choice(
                        "1",
                        f"{TARGET_VOLTS:g} V ({TARGET_SOURCE})",
                        lambda: page._stated(
                            f"target {TARGET_VOLTS:g} V",
                            target_volts=TARGET_VOLTS,
                            target_source=TARGET_SOURCE,
                        ),
                    ),
                    Choice("2", "another, with its source", page.type_target),
                ),
            )
        ),
    ),
)


def _row(item: SetupItem, setup: Setup) -> ListRow:
    says = item.says(setup)
    small = ""
    if item.name == "Target":
        small = setup.target_source
    elif item.name == METER:
        names = ", ".join(_in_words(name) for name in setup.meter.assumed)
        small = f"assumed: {names}" if names else "nothing assumed"
    if says:
        widens = (item.name, says) in (
            ("Reference", "building earth"), (LAPTOP, "on its charger"), ("Link to the meter", "not isolated"),
        )  # fmt: skip
        small = "widens the uncertainty" if widens else small
        badge = UNCLEAR if widens else GOOD
        if item.name == METER and setup.meter.assumed:
            badge = UNCLEAR
        return ListRow(item.name, says, small, badge=badge)
    if item.needed:
        return ListRow(item.name, "not stated", "widens the uncertainty", badge=UNCLEAR)
    return ListRow(item.name, "not stated", small, quiet=True, badge=OPEN)
