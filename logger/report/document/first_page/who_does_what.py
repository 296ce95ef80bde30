"""Who does what: the household itself, a licensed electrician, whoever measured."""

from __future__ import annotations

from dataclasses import dataclass

from logger.cautions import PANEL
from logger.metrology.rounding import fixed
from logger.metrology.uncertainty import compare_with
from logger.name_list import joined
from logger.report.document.first_page.amounts import highest_amounts
from logger.report.document.first_page.in_short import MANY_SPOTS, above_without_a_list, verdict_of
from logger.report.document.first_page.still_to_read import (
    left_with_everything_off,
    load_periods,
    still_to_read,
)
from logger.report.document.first_page.tonight import MAX_NAMED
from logger.report.document.report_data import ReportData
from logger.report.document.wording import NBSP, some_of
from logger.sweep.advice import Advice, AdviceKind
from logger.sweep.plan_text import to_be_certain_text
from logger.translation import tr
from logger.visit.records.essential_circuits import SWITCHES_BY_ITSELF


@dataclass(frozen=True, slots=True)
class Task:
    """Something that can be done.

    Args:
        about: circuits and cords with what they give; empty where it is about none.
        what: what can be done, in a sentence.
    """

    about: str
    what: str


@dataclass(frozen=True, slots=True)
class Tasks:
    """What somebody can do; nothing where there is nothing.

    Args:
        who: who that is.
        tasks: what there is to do.
    """

    who: str
    tasks: tuple[Task, ...]


def for_the_household(data: ReportData) -> Tasks | None:
    """Write what the household can do itself beside tonight's list; None where that is nothing."""
    tasks = tuple(_for_the_household(data))
    return Tasks(tr("You yourself:"), tasks) if tasks else None


def for_others(data: ReportData, *, name_every: bool = False) -> tuple[Tasks, ...]:
    """Write whom to call for what; whoever has nothing to do is left out.

    Args:
        data: of the report.
        name_every: each reading that is wanted once more is named, as where it stands on a page of its own.
    """
    found = (
        Tasks(tr("A licensed electrician:"), tuple(_for_an_electrician(data))),
        Tasks(_practitioner(data), tuple(_for_the_practitioner(data, name_every))),
    )
    return tuple(tasks for tasks in found if tasks.tasks)


def on_the_next_page(data: ReportData) -> Tasks:
    """Write, for a page that has no room for it, in short what whoever measured has to do and where that stands."""
    wanted = joined(_still_to_measure(data))
    text = (
        tr("Still to be measured: {what}. Details stand after the first page.")
        if wanted
        else tr("What is still to be measured stands after the first page.")
    )
    return Tasks(_practitioner(data), (Task("", text.format(what=wanted)),))


def _still_to_measure(data: ReportData) -> list[str]:
    """What is left to whoever measured, in a few words each."""
    found = []
    if data.tonight is not None and to_be_certain_text(data.tonight):
        found.append(tr("some values once more"))
    if above_without_a_list(data):
        found.append(tr("what to switch off for the other spots"))
    if left := left_with_everything_off(data):
        found.append(tr("where that comes from that is left at {spots}").format(spots=joined(left)))
    if periods := load_periods(data):
        found.append(tr("what starts by itself every {periods}").format(periods=periods))
    return found


def _pieces(data: ReportData) -> list[Advice]:
    kinds = (AdviceKind.CIRCUIT, AdviceKind.CORD)
    return [piece for piece in data.advice if piece.kind in kinds]


def _for_the_household(data: ReportData) -> list[Task]:
    """What the household can do, but for what is on tonight's list anyway."""
    plan = data.tonight
    listed = {source.name for source in (*plan.off, *plan.unplug)} if plan is not None else set()
    chosen = [remedy for remedy in data.plan.remedies if remedy.is_chosen]
    planned = {source.name for remedy in chosen for source in remedy.sources}
    tasks = [
        Task(
            _with_amount(piece, data),
            " ".join(filter(None, (_by_household(piece, listed), _left_without(piece, data)))),
        )
        for piece in _pieces(data)
        if piece.about not in listed and piece.about not in planned and piece.for_the_household
    ]
    if planned:
        tasks.append(Task("", tr("The next page is your list to tick: “The plan: what to do”.")))
    return tasks + _look_for_loads(data)


def _by_household(piece: Advice, listed: set[str]) -> str:
    """What to do about a circuit or cord; of a cord without power tonight, that it needs nothing then."""
    if not piece.circuit or piece.circuit not in listed:
        return piece.for_the_household
    tonight = tr("Tonight {circuit} switches it off anyway.").format(circuit=piece.circuit)
    return f"{piece.for_the_household} {tonight}"


def _left_without(piece: Advice, data: ReportData) -> str:
    """What was still read with only that cord unplugged, where that is not below the target; empty otherwise."""
    amount = highest_amounts(data).get(piece.about)
    cord = next((source for source in data.sources if source.name == piece.about), None)
    if amount is None or cord is None or cord.kind != "cord" or len(data.spots) > MANY_SPOTS:
        return ""
    without = [
        reading
        for reading in data.valid_readings
        if reading.spot_name == amount.spot
        and reading.live is not None
        and reading.listed - reading.live == {cord.id}
    ]
    if not without or verdict_of(without[-1], data, compare_with) in ("below", None):
        return ""
    text = tr("Unplugging it alone is not enough: at “{spot}” {volts} V was still measured without it.")
    return text.format(spot=amount.spot, volts=fixed(without[-1].volts, 2))


def _look_for_loads(data: ReportData) -> list[Task]:
    """What the household can look for that switches by itself, first at what stays on and does so."""
    periods = load_periods(data)
    if not periods:
        return []
    first = [source.name for source in data.sources if source.stays in SWITCHES_BY_ITSELF]
    text = (
        tr(
            "Watch which device switches itself on every {periods}: first {names}, which must stay on. Tell whoever "
            "measured which one it is."
        )
        if first
        else tr(
            "Watch which device switches itself on every {periods}, such as a heater, a fridge or a pump. Tell whoever "
            "measured which one it is."
        )
    )
    return [Task("", text.format(periods=periods, names=joined(first)))]


def _for_an_electrician(data: ReportData) -> list[Task]:
    """What an electrician can do; what holds for several stands once.

    Where something is above the target and its cause is not known, only what is left to an electrician is said.
    """
    alike: dict[str, list[str]] = {}
    for piece in _pieces(data):
        if piece.for_an_electrician:
            alike.setdefault(piece.for_an_electrician, []).append(_with_amount(piece, data))
    tasks = [Task(some_of(names, MAX_NAMED), what) for what, names in alike.items()]
    if tasks:
        tasks.insert(
            0, Task("", tr("Not needed tonight. Call one if you want it to last without switching."))
        )
    elif above_without_a_list(data) or left_with_everything_off(data):
        return [Task("", _first_finish(data))]
    licence = [] if len(data.spots) > MANY_SPOTS else _licence(data)  # the head of the page has it anyway
    return [*tasks, *licence, Task("", tr(PANEL))] if tasks else []


def _first_finish(data: ReportData) -> str:
    """That an electrician is not called yet, since the causes are not known."""
    name = data.practitioner.name or data.practitioner.firm
    if not name:
        return tr("Do not call one yet: the causes are not known. First whoever measured has to finish.")
    return tr("Do not call one yet: the causes are not known. First let {name} finish.").format(name=name)


def _licence(data: ReportData) -> list[Task]:
    """That whoever measured may be the electrician as well: a household asks whether that is one person or two."""
    name, licence = data.practitioner.name or data.practitioner.firm, data.practitioner.licence
    if not name or not licence:
        return []
    text = tr(
        "{name} stated this licence: “{licence}”. Ask whether {name} may do this work; if not, call another."
    )
    return [Task("", text.format(name=name, licence=licence))]


def _with_amount(piece: Advice, data: ReportData) -> str:
    amount = highest_amounts(data).get(piece.about)
    if amount is None:
        return piece.about
    return tr("{source} ({amount})").format(source=piece.about, amount=amount.at_spot)


def _practitioner(data: ReportData) -> str:
    """Whoever measured, with the telephone number where it was stated."""
    name = data.practitioner.name or data.practitioner.firm
    if not name:
        return tr("Ask whoever measured (not named here) to do this:")
    if not data.practitioner.telephone:
        return tr("Ask {name} to do this:").format(name=name)
    return tr("Ask {name}, {telephone}, to do this:").format(
        name=name, telephone=data.practitioner.telephone.replace(" ", NBSP)
    )


def _for_the_practitioner(data: ReportData, name_every: bool) -> list[Task]:
    return [Task("", text) for text in still_to_read(data, every=name_every)]
