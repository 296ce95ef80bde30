"""Circuits with their number before the name, for instructions, lists and tonight's answer, as at the panel.

What the log keeps of readings has the plain names; these are for showing alone.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from logger.sweep.switch_off_plan import SwitchOffPlan
from logger.translation import tr
from logger.visit.records.home_details import SourceDetails
from logger.visit.records.home_records import Source


def with_numbers(sources: Sequence[Source], details: Mapping[int, SourceDetails]) -> dict[int, Source]:
    """Circuits and cords by id, the number before the name: "7 (Study)"; with the panel where the home has several.

    Args:
        sources: those of the home.
        details: what is entered of them, by id.
    """
    panels = {
        kept.panel for source in sources if (kept := details.get(source.id)) is not None and kept.number
    }
    shown = {}
    for source in sources:
        kept = details.get(source.id, SourceDetails())
        text = "{name}"
        if kept.number:
            text = (
                tr("{panel}/{number} ({name})") if kept.panel and len(panels) > 1 else tr("{number} ({name})")
            )
        text = text.replace(
            " ({name}", "\N{NO-BREAK SPACE}({name}"
        )  # no line ends between a number and its name
        name = text.format(panel=kept.panel, number=kept.number, name=source.name)
        shown[source.id] = replace(source, name=name)
    return shown


def plan_with_numbers(plan: SwitchOffPlan, shown: Mapping[int, Source]) -> SwitchOffPlan:
    """What to switch off, with circuits and cords as they are shown; conditions and readings stay as they are kept.

    Args:
        plan: as worked out.
        shown: circuits and cords by id, as `with_numbers` gives them.
    """

    def one(source: Source) -> Source:
        return replace(source, name=shown[source.id].name) if source.id in shown else source

    def each(sources: Sequence[Source]) -> tuple[Source, ...]:
        return tuple(one(source) for source in sources)

    return replace(
        plan,
        proposed=each(plan.proposed),
        off=each(plan.off),
        unplug=each(plan.unplug),
        instead=tuple((one(circuit), each(cords)) for circuit, cords in plan.instead),
        essential=each(plan.essential),
        off_robust=each(plan.off_robust),
        plain_rule_off=each(plan.plain_rule_off),
        spots=tuple(
            replace(
                spot,
                contributions=tuple(replace(given, source=one(given.source)) for given in spot.contributions),
            )
            for spot in plan.spots
        ),
    )
