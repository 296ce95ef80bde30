"""What the page Breakers shows of a sweep: a bar for each row, and what is switched, read and awaited. No widget."""

from __future__ import annotations

import math
from collections.abc import Collection, Sequence

from gui.model.source_list_controller import stays_text
from gui.model.sweep_controller import SweepController
from gui.model.wording import condition_title, counted, named_all, reading_volts_text, value_text
from gui.stages.sources.tonight_content import why_no_list
from gui.widgets.badge import BAD, GOOD, LEFT_OUT, OPEN
from gui.widgets.bar_painter import Bar
from logger.metrology.uncertainty import COVERAGE_FACTOR
from logger.name_list import in_turn, listed
from logger.sweep.plan_text import extra_reading_text
from logger.sweep.sweep_progress import switchable_ids
from logger.sweep.sweep_rows import SweepRow
from logger.sweep.switch_off_plan import PlanState
from logger.translation import marked, tr
from logger.visit.records.condition import EVERYTHING_OFF
from logger.visit.records.simulated_run import SIMULATED, SIMULATED_WORDS
from logger.visit.results.used_stretch import has_changed

ONLY_CIRCUIT = marked("the other circuits were switched too: list them as well")
"""Beside a circuit that alone is listed to switch off: what is not listed is switched with it."""


def sweep_bar(row: SweepRow, skipped: frozenset[int], suspects: Collection[int] = ()) -> Bar:
    """Show a row of the sweep: its reading, or why it has none.

    Args:
        row: everything off, a circuit or a cord.
        skipped: ids of the circuits that are not read alone.
        suspects: ids of the readings that contradict others.
    """
    source = row.source
    notes = [tr("two-pole")] if source is not None and source.two_pole else []
    if len(row.readings) > 1 and not row.repeats_contradict:
        notes.append(_repeats_note(row))
    if row.value is not None:
        if source is not None and source.kind == "cord":
            notes.insert(0, tr("everything on without it"))
        value = value_text(row.value.volts, row.value.u_volts)
        u_volts = COVERAGE_FACTOR * row.value.u_volts
        if row.repeats_contradict:
            apart = named_all([reading_volts_text(reading) for reading in row.readings])
            notes.insert(0, tr("its readings contradict each other: {volts} V").format(volts=apart))
            return Bar(row.name, tr("contradictory"), row.value.volts, u_volts, listed(notes), BAD)
        if any(reading.condition_corrected for reading in row.readings):
            notes.append(tr("what was on was corrected afterwards"))
        contexts = [reading.context for reading in row.readings if reading.context is not None]
        # Several readings may have been confirmed for the same: it is said once.
        notes += dict.fromkeys(filter(None, (context.confirmed_remark() for context in contexts)))
        if any(reading.id in suspects for reading in row.readings):
            notes.insert(0, tr("contradicts other readings"))
            return Bar(row.name, value, row.value.volts, u_volts, listed(notes), BAD)
        return Bar(row.name, value, row.value.volts, u_volts, listed(notes), GOOD)
    if source is not None and source.stays:
        note = listed([stays_text(source), *notes])
        return Bar(row.name, tr("stays on"), note=note, badge=LEFT_OUT, has_bar=False)
    if row.combination is None and source is not None and source.kind == "circuit":
        notes.insert(0, tr(ONLY_CIRCUIT))
        return Bar(row.name, tr("not read alone"), note=listed(notes), badge=OPEN, quiet=True, has_bar=False)
    if row.combination is None:
        notes.append(tr("on which circuit? The page Steps states it"))
        return Bar(row.name, tr("cord"), note=listed(notes), badge=OPEN, quiet=True, has_bar=False)
    if source is not None and source.id in skipped:
        return Bar(row.name, tr("skipped"), note=listed(notes), badge=LEFT_OUT, quiet=True, has_bar=False)
    return Bar(row.name, tr("not read yet"), note=listed(notes), badge=OPEN, quiet=True)


def _repeats_note(row: SweepRow) -> str:
    """How often a row was read; where the values differ, which they are: that is why the ± of their mean is wide."""
    count, first = len(row.readings), row.readings[0]
    if not any(has_changed(first, other) for other in row.readings[1:]):
        return counted(count, "reading")
    volts = named_all([reading_volts_text(reading) for reading in row.readings])
    if count == 2:
        return tr("read twice: {volts} V, they differ (right click voids one)").format(volts=volts)
    return tr("read {n} times: {volts} V, they differ (right click voids one)").format(n=count, volts=volts)


def progress_text(sweep_controller: SweepController, rows: Sequence[SweepRow]) -> str:
    """Where the sweep is done, and how much of it is read."""
    route = sweep_controller.controller.route
    if route.chosen is None:
        return tr("There is no spot to read. The stage Spots adds one.")
    switched = [row for row in rows if row.combination is not None]
    if rows and not switched:
        return tr("There is nothing to switch off and read: everything listed must stay on.")
    read = sum(bool(row.readings) for row in switched)
    is_simulated = any(reading.simulated for row in switched for reading in row.readings)
    state = sweep_controller.controller.sweep_state
    if read < len(switched) or state is None:
        staying = sum(row.source is not None and bool(row.source.stays) for row in rows)
        taken = tr("{read} of {all} readings taken").format(read=read, all=len(switched))
        if read == 1:  # its row may be below those in sight, which all say that they are not read yet
            only = next(row.name for row in switched if row.readings)
            taken = tr("{read} of {all} readings taken: {name}").format(
                read=read, all=len(switched), name=only
            )
        facts = [listed([taken, tr(SIMULATED_WORDS[SIMULATED])]) if is_simulated else taken]
        if staying:
            facts.append(tr("{count} must stay on").format(count=staying))
        return in_turn(facts)
    is_read = tr("The circuits are read, simulated.") if is_simulated else tr("The circuits are read.")
    if state is PlanState.CONFIRMED:
        return " ".join((is_read, tr("Tonight's list is confirmed.")))
    if state is PlanState.CONTRADICTORY:
        return is_read
    place = extra_reading_text(sweep_controller.extra_readings())
    return " ".join((is_read, tr("For tonight's list: {place}.").format(place=place)))


def what_to_switch_text(sweep_controller: SweepController) -> str:
    """What the person at the panel switches next, or what is awaited."""
    if sweep_controller.controller.route.chosen is None:
        return tr("Nothing is read yet. Choose or add a spot on the stage Spots first.")
    switchable = switchable_ids(sweep_controller.sources)
    if sweep_controller.sources and not switchable:
        return tr("No circuit that may be switched off is listed. List the other circuits of the panel.")
    found = sweep_controller.next_reading()
    state = sweep_controller.controller.sweep_state
    if sweep_controller.waiting is not None:
        awaited = condition_title(sweep_controller.waiting.combination.label)
        return tr("{awaited}: hold still").format(awaited=awaited)
    if found is None:
        if sweep_controller.tonight() is not None:
            return tr("Every circuit is read. Go on to the page Tonight.")
        if sweep_controller.is_computing:
            return tr("Every circuit is read; tonight's list is being worked out.")
        if len(switchable) == 1:
            return why_no_list(sweep_controller)
        if sweep_controller.controller.setup.stated.supply is None:
            return tr("Every circuit is read. The page Tonight asks what supply the home has.")
        return why_no_list(sweep_controller)
    spot, combination = found
    left = sweep_controller.progress().left
    if not left and sweep_controller.chosen is None and state is PlanState.CONTRADICTORY:
        return tr("Read again: {reading}. {to_switch}").format(
            reading=combination.shown, to_switch=sweep_controller.to_switch_for(combination)
        )
    to_switch = sweep_controller.to_switch_for(combination)
    if spot.id == sweep_controller.controller.route.chosen_id:
        return to_switch
    return " ".join((tr("Lie at “{spot}”.").format(spot=spot.name), to_switch))


def doubt_line(sweep_controller: SweepController) -> str:
    """That readings contradict each other or do not count, or that all rests on one; empty while nothing does."""
    if sweep_controller.controller.sweep_state is PlanState.CONTRADICTORY:
        return tr("Readings contradict each other. The page Tonight shows which.")
    if why := sweep_controller.not_counted():
        return why
    plan = sweep_controller.tonight()
    here = sweep_controller.controller.route.chosen_id
    spot = next((spot for spot in plan.spots if spot.spot_id == here), None) if plan is not None else None
    if spot is None or not spot.background_doubt or sweep_controller.progress().left:
        return ""
    wanted = sweep_controller.next_combination()
    if wanted is not None and wanted.label == EVERYTHING_OFF:
        return tr("Everything off was read once, and every value here is a difference to it.")
    # The large letters and the big button give one order; this is none beside it.
    return tr(
        "Everything off was read once, and every value here is a difference to it. It can be read once more at the "
        "end, to be sure: choose it in the list."
    )


def awaited_text(sweep_controller: SweepController) -> str:
    """When the awaited reading is taken; empty while none is awaited."""
    waiting = sweep_controller.waiting
    if waiting is None:
        return ""
    left_s = sweep_controller.left_s()
    if left_s is None:
        return tr("Waiting at “{spot}” until the value has settled. Esc cancels.").format(
            spot=waiting.spot.name
        )
    return tr("Settled at “{spot}”: taken in {seconds} s.").format(
        spot=waiting.spot.name, seconds=math.ceil(left_s)
    )
