"""What the stage Sources asks about circuits, cords and the supply of the home."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import partial

from gui.model.source_list_controller import ESSENTIAL_REASONS
from gui.model.sweep_controller import SweepController
from gui.shell.question import Choice, Question
from logger.errors import StillvoltError
from logger.metrology.supply import SUPPLY_WORDS, Supply
from logger.name_list import QUOTE, names_in
from logger.sweep.sweep_progress import circuits_of
from logger.translation import marked, tr, tr_kept
from logger.visit.records.home_records import Source, SourceKind, Spot

USUAL_CIRCUITS = (
    marked("Bedroom outlets"), marked("Bedroom light"), marked("Second bedroom"), marked("Living room"),
    marked("Study"), marked("Hall"), marked("Kitchen outlets"), marked("Refrigerator"), marked("Range"),
    marked("Bathroom"), marked("Washing machine"), marked("Water heater"),
)  # fmt: skip
"""A home's usual circuits, to begin with; common practice, no source."""


def supply_prompt(sweep_controller: SweepController, then: Callable[[], None] | None = None) -> Question:
    """Ask how the home is supplied: which legs there are depends on it.

    Args:
        sweep_controller: keeps the answer.
        then: done after the answer.
    """

    def state(supply: Supply) -> None:
        sweep_controller.source_list.state_supply(supply)
        if then is not None:
            then()

    text = tr(
        "Which circuits can cancel each other depends on it. The electricity meter or the papers of the panel show "
        "it."
    )
    entered = sweep_controller.controller.setup.stated.supply
    if entered is not None:
        text += " " + tr("Entered so far: {supply}.").format(supply=tr(entered))
    return Question(
        tr("What supply has the home?"),
        text,
        tuple(
            Choice(f"{tr(supply)}: {tr(meaning)}", partial(state, supply))
            for n, (supply, meaning) in enumerate(SUPPLY_WORDS.items(), 1)
        ),
        escape_text=tr("Not now"),
    )


def sweep_spot_prompt(
    sweep_controller: SweepController, spots: Sequence[Spot], then: Callable[[], None]
) -> Question:
    """Ask at which spot the sweep is made: all of its readings are of one.

    Args:
        sweep_controller: keeps the answer.
        spots: where it may be, the likeliest first; where it was begun, if it was.
        then: done after the answer.
    """
    begun = sweep_controller.begun_spot()

    def sweep_at(spot: Spot) -> None:
        sweep_controller.sweep_at(spot)
        then()

    def text_of(spot: Spot) -> str:
        if begun is None:
            return spot.name
        text = tr("Go on at “{spot}”") if spot.id == begun.id else tr("Sweep “{spot}” as well")
        return text.format(spot=spot.name)

    return Question(
        tr("At which spot is the sweep made?"),
        tr("Whoever lies there stays there for all of its readings.")
        if begun is None
        else tr("It was begun at “{spot}” and is not whole there yet.").format(spot=begun.name),
        tuple(Choice(text_of(spot), partial(sweep_at, spot), is_name=begun is None) for spot in spots),
    )


def circuits_prompt(sweep_controller: SweepController, ask: Callable[[Question], None]) -> Question:
    """Ask for the circuits of the panel, several in one line; a home's usual ones are offered while none is listed.

    Args:
        sweep_controller: keeps the answer.
        ask: shows the question where cords are plugged in that were listed before.
    """

    def add(text: str) -> str | None:
        try:
            names = names_in(text if QUOTE in text else text.replace(";", ","))
        except StillvoltError as error:
            return str(error)
        added = sweep_controller.source_list.add("circuit", *names)
        if not added:
            return sweep_controller.controller.message.text
        ask_where_plugged_in(sweep_controller, ask)
        return None

    listed = {source.name.casefold() for source in sweep_controller.sources}
    usual = [name for name in map(tr, USUAL_CIRCUITS) if name.casefold() not in listed]
    choices: tuple[Choice, ...] = ()
    if usual and not circuits_of(sweep_controller.sources):
        text = tr("The usual ones: {names}").format(names=", ".join(usual))
        choices = (Choice(text, lambda: add(",".join(usual))),)
    return Question(
        tr("Which circuits?"),
        tr(
            "As they stand on the panel, in its order, several separated by commas. A name that "
            'has a comma goes in quotes: "Kitchen, left".'
        ),
        choices,
        on_text=add,
        enter_text=tr("Add them"),
    )


def essential_prompt(
    sweep_controller: SweepController, source: Source, ask: Callable[[Question], None]
) -> Question:
    """Ask whether and why a circuit or cord must stay on; a circuit may be skipped instead.

    Args:
        sweep_controller: keeps the answer.
        source: the circuit or cord.
        ask: shows the prompt for a reason in one's own words.
    """
    titled = sweep_controller.controller.snapshot.title_of(source)

    def by_words() -> None:
        ask(
            Question(
                tr("Why must “{source}” stay on?").format(source=titled),
                on_text=lambda text: sweep_controller.source_list.toggle_essential(source, text),
            )
        )

    skip = Choice(
        tr("Skip it: no reading of its own; switched off with the others"),
        lambda: sweep_controller.toggle_skipped(source),
    )
    return Question(
        tr("Must “{source}” stay on?").format(source=titled),
        tr(
            "It then stays on: tonight's list never asks to switch it off. Press the same button again to undo this."
        ),
        (
            *(
                Choice(
                    tr_kept(reason), partial(sweep_controller.source_list.toggle_essential, source, reason)
                )
                for n, reason in enumerate(ESSENTIAL_REASONS, 1)
            ),
            Choice(tr("Another reason: type it"), by_words),
            *((skip,) if source.kind == "circuit" else ()),
        ),
    )


def rename_prompt(sweep_controller: SweepController, source: Source, text: str = "") -> Question:
    """Ask for another name of a circuit or cord.

    Args:
        sweep_controller: keeps the answer.
        source: the circuit or cord.
        text: what the user has to know, below the question.
    """

    def rename(name: str) -> str | None:
        sweep_controller.source_list.rename(source, name)
        message = sweep_controller.controller.message
        return message.text if message.refused else None

    return Question(
        tr("Rename “{source}”").format(source=sweep_controller.controller.snapshot.title_of(source)),
        text,
        on_text=rename,
        prefilled=source.name,
        enter_text=tr("Rename it"),
    )


def kind_prompt(then: Callable[[SourceKind], None]) -> Question:
    """Ask what is added: a cord or a circuit."""
    return Question(
        tr("Add what?"),
        tr("Names as on the panel, or as the household calls them."),
        (
            Choice(tr("A cord"), partial(then, "cord"), default=True),
            Choice(
                tr("A circuit (a breaker)"),
                partial(then, "circuit"),
            ),
        ),
        escape_text=tr("Cancel"),
    )


def kind_of_new_prompt(name: str, then: Callable[[SourceKind], None]) -> Question:
    """Ask what a name is that is not on the list yet."""
    return Question(
        tr("What is “{name}”?").format(name=name),
        tr("It is not on the list yet."),
        (
            Choice(tr("A cord"), partial(then, "cord")),
            Choice(tr("A circuit (a breaker)"), partial(then, "circuit")),
        ),
        escape_text=tr("Do not add it"),
    )


def names_prompt(
    sweep_controller: SweepController, kind: SourceKind, ask: Callable[[Question], None]
) -> Question:
    """Ask for the names of circuits or cords, one after the other.

    Args:
        sweep_controller: keeps the answers.
        kind: what is added.
        ask: shows the prompt for the next one.
    """

    def add(name: str) -> str | None:
        if not sweep_controller.source_list.add(kind, name):
            return sweep_controller.controller.message.text
        ask(names_prompt(sweep_controller, kind, ask))  # a panel has many
        return None

    return Question(
        tr("Name of the circuit") if kind == "circuit" else tr("Name of the cord"),
        tr("The next one follows."),
        on_text=add,
        enter_text=tr("Add it"),
        escape_text=tr("That is all"),
    )


def circuit_of_cord_prompt(
    sweep_controller: SweepController,
    cord: Source,
    circuits: Sequence[Source],
    then: Callable[[], None] = lambda: None,
) -> Question:
    """Ask which circuit a cord is plugged into.

    Args:
        sweep_controller: keeps the answer.
        cord: the cord.
        circuits: all circuits that are listed.
        then: what follows once it is answered.
    """
    snapshot = sweep_controller.controller.snapshot

    def plug_into(circuit: Source | None) -> None:
        sweep_controller.source_list.plug_into(cord, circuit)
        then()

    return Question(
        tr("Where is “{cord}” plugged in?").format(cord=cord.name),
        tr("Switching that circuit off switches this cord off too. Not known: the report says so."),
        (
            Choice(tr("Not known"), partial(plug_into, None)),
            *(Choice(snapshot.title_of(c), partial(plug_into, c)) for c in circuits),
        ),
    )


def ask_where_plugged_in(sweep_controller: SweepController, ask: Callable[[Question], None]) -> None:
    """Ask, one after the other and each once, on which circuit the cords are of which that is not known.

    Args:
        sweep_controller: keeps the answers.
        ask: shows the question.
    """
    cords = sweep_controller.source_list.take_cords_to_place()
    circuits = circuits_of(sweep_controller.controller.log.circuits.all())

    def ask_from(place: int) -> None:
        if place < len(cords):
            prompt = circuit_of_cord_prompt(
                sweep_controller, cords[place], circuits, lambda: ask_from(place + 1)
            )
            ask(prompt)

    ask_from(0)
