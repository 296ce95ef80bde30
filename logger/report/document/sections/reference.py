"""What the meter calls zero."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from math import ceil, isclose
from typing import Any

from logger.metrology.checks import NO_CHANGE_PROVES_LITTLE, CheckKind, seen_of_rod
from logger.metrology.lengths import length_text
from logger.metrology.reference_error import ROD_PAIR_FACTOR, SHARED_BY_BOTH_RODS_VOLTS, by_pair_of_rods
from logger.metrology.rounding import fixed, plain
from logger.metrology.setup import REFERENCES
from logger.metrology.uncertainty import ReferenceState
from logger.name_list import joined
from logger.report.document.blocks import Block, HeadingBlock, Pairs, Section, Text
from logger.report.document.held_text import held_text
from logger.report.document.report_data import ReportData
from logger.report.document.sections.circumstance_pairs import read_with_pairs
from logger.report.document.wording import NOT_STATED
from logger.report.stated_answers import numbers_text
from logger.translation import marked, tr, tr_kept, tr_n


def reference(data: ReportData) -> Section:
    """Build the section."""

    def held(name: str, shown: Callable[[Any], str]) -> str:
        return held_text(data.answers(name), shown) or tr(NOT_STATED)

    blocks: list[Block] = [
        Pairs(
            (
                (tr("Reference"), held("reference", lambda one: tr(REFERENCES[one]) if one else "")),
                (tr("Soil"), held("soil", tr_kept)),
                (tr("Moisture"), held("moisture", tr_kept)),
                (tr("Rod to main panel"), held("panel_distance_m", length_text)),
                (tr("Reference wire"), _wire(data) or tr(NOT_STATED)),
                *read_with_pairs(data, "rod"),
                (
                    tr("Laptop"),
                    held("on_battery", lambda one: _stated(one, tr("on battery"), tr("on its charger"))),
                ),
                (
                    tr("Link to the meter"),
                    held("link_isolated", lambda one: _stated(one, tr("isolated"), tr("not isolated"))),
                ),
            )
        )
    ]
    if later := _later_text(data):
        blocks.append(Text(later))
    blocks += [Text(text) for text in _of_rod(data)]
    blocks += [HeadingBlock(tr("Person, probe and home")), Pairs(read_with_pairs(data, "day", "home"))]
    return Section("reference", tr("Reference"), tuple(blocks))


def _of_rod(data: ReportData) -> list[str]:
    """Write how far the rod may be off, and how that follows from its checks; nothing where none was read against."""
    contexts = [(r.id, r.context) for r in data.valid_readings]
    of_nights = [(-number, one.night.context) for number, one in enumerate(data.nights, 1)]
    states = {
        number: context.reference_state()
        for number, context in (*contexts, *of_nights)
        if context is not None and context.setup_as_known.reference == "earth rod"
    }
    is_taken = bool(contexts or of_nights)
    if (is_taken and not states) or (not is_taken and data.setup.reference != "earth rod"):
        return []
    proved = [state for state in states.values() if state.rod_proved]
    if not proved:
        newest = next(reversed(states.values())) if states else data.setup.reference_state()
        text = tr(
            "No second rod proved the rod: it is counted as off by up to {volts} V (ours, no source; more where a "
            "check showed more)."
        )
        return [text.format(volts=_bound(newest)), tr_kept(NO_CHANGE_PROVES_LITTLE)]
    state = proved[-1]
    out = [tr("By the two-rod check the rod may be off by up to {volts} V.").format(volts=_bound(state))]
    if unproved := {number: one for number, one in states.items() if not one.rod_proved}:
        text = tr(
            "That check does not hold for {what}, so there the rod is counted as off by up to {volts} V (ours, no "
            "source)."
        )
        worst = max(unproved.values(), key=lambda one: one.rod_volts)
        out.append(text.format(what=_named(list(unproved)), volts=_bound(worst)))
    seen_volts = _between_rods(data)
    if seen_volts is not None and isclose(by_pair_of_rods(seen_volts), state.rod_volts, rel_tol=1e-3):
        text = tr(
            "{exact} V = √(({factor} × {between} V)² + ({shared} V)²): {between} V is the larger voltage between the "
            "rods with its U, {shared} V is counted for what both rods share. The factor and the share are ours, no "
            "source. The two-rod check compares the voltage between the rods alone with its limit, so it passes by a "
            "smaller figure than what is counted here."
        )
        out.append(
            text.format(
                exact=fixed(by_pair_of_rods(seen_volts), 5),
                factor=plain(ROD_PAIR_FACTOR),
                between=fixed(seen_volts, 5),
                shared=plain(SHARED_BY_BOTH_RODS_VOLTS),
            )
        )
    return [" ".join(out)]


def _bound(state: ReferenceState) -> str:
    """How far the rod may be off, V; a bound that is rounded down is none."""
    return plain(ceil(round(1e3 * state.rod_volts, 6)) / 1e3)


def _named(numbers: Sequence[int]) -> str:
    """Readings by their numbers, and nights, which are negative here: 'readings 3–7 and night 2'."""
    readings = sorted(number for number in numbers if number > 0)
    names = []
    if readings:
        text = tr_n("reading {numbers}", "readings {numbers}", len(readings))
        names.append(text.format(numbers=numbers_text(readings)))
    names += [
        tr("night {number}").format(number=-number) for number in sorted(numbers, reverse=True) if number < 0
    ]
    return joined(names)


def _between_rods(data: ReportData) -> float | None:
    """The largest voltage that may lie between the rods by the newest two-rod check; None where there is none."""
    check = next((c for c in reversed(data.checks) if c.kind is CheckKind.TWO_RODS and c.steps), None)
    if check is None or check.setup is None:
        return None
    values = {check.kind: [(step.span.volts, step.span.u_volts) for step in check.steps]}
    return seen_of_rod(values, check.setup.meter).between_rods_volts


_LATER_NAMES = {
    "reference": marked("the reference"),
    "on_battery": marked("whether the laptop is on battery"),
    "link_isolated": marked("whether the link is isolated"),
}
"""The answers that the uncertainty depends on, by the field of the set-up."""


def _later_text(data: ReportData) -> str:
    """Write which answers were given only after readings were taken; empty where none was."""
    out = []
    for name, words in _LATER_NAMES.items():
        ids = sorted(i for answer in data.answers(name) if answer.answered_later for i in answer.reading_ids)
        if ids:
            text = tr_n(
                "Entered only after reading {numbers} was taken: {what}. The first answer stands for it, and its ± "
                "still counts the worse of both.",
                "Entered only after readings {numbers} were taken: {what}. The first answer stands for them, and "
                "their ± still counts the worse of both.",
                len(ids),
            )
            out.append(text.format(numbers=numbers_text(ids), what=tr(words)))
    return " ".join(out)


def _wire(data: ReportData) -> str:
    """The reference wire: its length, and what else was written down of the lead; one length stands once."""
    length = held_text(data.answers("wire_length_m"), length_text)
    lead = held_text(data.circumstance_answers("lead"), str)
    if length and lead.startswith(length) and not lead[len(length) : len(length) + 1].isalnum():
        return lead
    return ", ".join(part for part in (length, lead) if part)


def _stated(value: bool | None, yes: str, no: str) -> str:
    return "" if value is None else yes if value else no
