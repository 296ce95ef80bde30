"""What the stage Sources asks about circuits, cords and the supply of the home."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import partial

from gui.model.sweep_controller import SweepController
from gui.model.visit_access import Message
from gui.shell.prompt import Choice, Prompt
from logger.errors import StillvoltError
from logger.metrology.supply import SUPPLY_WORDS, Supply
from logger.name_list import QUOTE, names_in
from logger.sweep.sweep_progress import circuits_of
from logger.visit.records.home_records import Source, SourceKind

USUAL_CIRCUITS = (
    "Bedroom outlets", "Bedroom light", "Second bedroom", "Living room", "Study", "Hall", "Kitchen outlets",
    "Refrigerator", "Range", "Bathroom", "Washing machine", "Water heater",
)  # fmt: skip
"""A home's usual circuits, to begin with; common practice, no source."""

ESSENTIAL_REASONS = (
    "as the household decided",
    "keeps food cold",
    "may be a medical device",
    "is an alarm or a pump",
    "may carry emergency calls",
)
"""Why a circuit must stay on."""


def supply_prompt(sweep_controller: SweepController, then: Callable[[], None] | None = None) -> Prompt:
    """Ask how the home is supplied: which legs there are depends on it.

    Args:
        sweep_controller: keeps the answer.
        then: done after the answer.
    """

    def state(supply: Supply) -> None:
        sweep_controller.source_list.state_supply(supply)
        if then is not None:
            then()

    return Prompt(
        "What supply has the home?",
        "Which circuits can cancel each other hangs on it. It stands on the meter or in the panel's papers.",
        tuple(
            Choice(str(n), f"{supply}: {meaning}", partial(state, supply))
            for n, (supply, meaning) in enumerate(SUPPLY_WORDS.items(), 1)
        ),
        escape_text="not now",
    )


def circuits_prompt(
    sweep_controller: SweepController, ask: Callable[[Prompt], None], typed: str = ""
) -> Prompt:
    """Ask for the circuits of the panel, several in one line; a home's usual ones are offered while none is listed.

    Args:
        sweep_controller: keeps the answer.
        ask: shows the prompt again where what was typed is not understood.
        typed: what was typed and not understood.
    """

    def add(text: str) -> None:
        try:
            names = names_in(text if QUOTE in text else text.replace(";", ","))
        except StillvoltError as error:
            sweep_controller.controller.message = Message(str(error), refused=True)
            ask(circuits_prompt(sweep_controller, ask, text))
            return
        sweep_controller.source_list.add("circuit", *names)

    listed = {source.name.casefold() for source in sweep_controller.sources}
    usual = [name for name in USUAL_CIRCUITS if name.casefold() not in listed]
    choices: tuple[Choice, ...] = ()
    if usual and not circuits_of(sweep_controller.sources):
        choices = (Choice("Tab", f"the usual ones: {', '.join(usual)}", lambda: add(",".join(usual))),)
    return Prompt(
        "Which circuits?",
        "As they stand on the panel, in its order, several separated by commas. A name that has a comma goes in "
        'quotes: "Kitchen, left".',
        choices,
        on_text=add,
        prefilled=typed,
        enter_text="add them",
    )


def essential_prompt(
    sweep_controller: SweepController, source: Source, ask: Callable[[Prompt], None]
) -> Prompt:
    """Ask whether and why a circuit or cord must stay on; a circuit may be skipped instead.

    Args:
        sweep_controller: keeps the answer.
        source: the circuit or cord.
        ask: shows the prompt for a reason in one's own words.
    """

    def by_words() -> None:
        ask(
            Prompt(
                f"Why must “{source.name}” stay on?",
                on_text=lambda text: sweep_controller.source_list.toggle_essential(source, text),
            )
        )

    skip = Choice(
        "K", "skip it: not read alone, but switched off", lambda: sweep_controller.toggle_skipped(source)
    )
    return Prompt(
        f"Must “{source.name}” stay on?",
        "It is then live in every reading and on no list. K once more takes it back.",
        (
            *(
                Choice(str(n), reason, partial(sweep_controller.source_list.toggle_essential, source, reason))
                for n, reason in enumerate(ESSENTIAL_REASONS, 1)
            ),
            Choice("T", "another reason: type it", by_words),
            *((skip,) if source.kind == "circuit" else ()),
        ),
    )


def rename_prompt(sweep_controller: SweepController, source: Source, text: str = "") -> Prompt:
    """Ask for another name of a circuit or cord.

    Args:
        sweep_controller: keeps the answer.
        source: the circuit or cord.
        text: what the user has to know, below the question.
    """
    return Prompt(
        f"Rename “{source.name}”",
        text,
        on_text=partial(sweep_controller.source_list.rename, source),
        prefilled=source.name,
        enter_text="rename it",
    )


def kind_prompt(then: Callable[[SourceKind], None]) -> Prompt:
    """Ask what is added: a cord or a circuit."""
    return Prompt(
        "Add what?",
        "Names as on the panel, or as the household calls them.",
        (
            Choice("Return", "a cord", partial(then, "cord"), ("K", "1")),
            Choice("C", "a circuit (a breaker)", partial(then, "circuit"), ("2",)),
        ),
        escape_text="nothing",
    )


def kind_of_new_prompt(name: str, then: Callable[[SourceKind], None]) -> Prompt:
    """Ask what a name is that is not on the list yet."""
    return Prompt(
        f"What is “{name}”?",
        "It is not on the list yet.",
        (
            Choice("Return", "a cord", partial(then, "cord")),
            Choice("C", "a circuit (a breaker)", partial(then, "circuit")),
        ),
        escape_text="nothing: do not add it",
    )


def names_prompt(
    sweep_controller: SweepController, kind: SourceKind, ask: Callable[[Prompt], None]
) -> Prompt:
    """Ask for the names of circuits or cords, one after the other.

    Args:
        sweep_controller: keeps the answers.
        kind: what is added.
        ask: shows the prompt for the next one.
    """

    def add(name: str) -> None:
        if sweep_controller.source_list.add(kind, name):
            ask(names_prompt(sweep_controller, kind, ask))  # a panel has many

    return Prompt(
        f"Name of the {kind}",
        "The next one follows.",
        on_text=add,
        enter_text="add it",
        escape_text="that is all",
    )


def circuit_of_cord_prompt(
    sweep_controller: SweepController,
    cord: Source,
    circuits: Sequence[Source],
    max_choices: int,
    refuse: Callable[[str], None],
) -> Prompt:
    """Ask which circuit a cord is plugged into.

    Args:
        sweep_controller: keeps the answer.
        cord: the cord.
        circuits: all circuits that are listed.
        max_choices: so many of them can be chosen by a digit.
        refuse: takes the reason why a typed name is not kept.
    """

    def by_name(text: str) -> None:
        circuit = next((c for c in circuits if c.name.casefold() == text.casefold()), None)
        if circuit is None:
            refuse(f"There is no circuit “{text}”. Nothing was changed.")
        else:
            sweep_controller.source_list.plug_into(cord, circuit)

    return Prompt(
        f"Which circuit is “{cord.name}” plugged into?",
        "A number, or the first letters of its name.",
        (
            Choice("0", "not known", partial(sweep_controller.source_list.plug_into, cord, None)),
            *(
                Choice(str(n), c.name, partial(sweep_controller.source_list.plug_into, cord, c))
                for n, c in enumerate(circuits[:max_choices], 1)
            ),
        ),
        on_text=by_name,
        enter_text="that one",
        suggest=lambda typed: [c.name for c in circuits if typed.casefold() in c.name.casefold()],
    )
