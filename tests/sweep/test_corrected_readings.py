"""A reading of a sweep with the wrong condition or spot, corrected: the answer is that of the right sweep."""

from __future__ import annotations

from itertools import permutations

from logger.sweep.sweep_progress import Combination, combination_of, sweep_at, sweep_progress
from logger.sweep.sweep_rows import sweep_rows
from logger.sweep.switch_off_plan import PlanState
from logger.visit import VisitLog
from tests.support.swept_home import LEGS, Home

BED = {"Bedroom": 2.0, "Light": 0.3, "Study": 0.9, "Hall": 0.1, "Kitchen": 0.5}
"""pF at the bed: every circuit alone gives another value than every other."""

PAIRS = list(permutations(LEGS, 2))
"""Every circuit that may have been stated, and another that was on in truth."""


def alone(home: Home, name: str) -> Combination:
    return combination_of([home.ids[name]], home.log.circuits.all())


def values(home: Home) -> dict[frozenset[str], list[tuple[float, float]]]:
    """What the solver is given of the bed: the values of each combination."""
    found = sweep_at(home.log.readings.all(), home.spots["bed"].id, home.log.circuits.all())
    assert found is not None
    given: dict[frozenset[str], list[tuple[float, float]]] = {}
    for reading in found.readings:
        assert reading.live is not None
        given.setdefault(frozenset(map(str, reading.live)), []).append((reading.volts, reading.u_volts))
    return given


def read_with_another_on(home: Home, stated: str, on: str) -> None:
    """Take a reading of one circuit alone while another one is on."""
    shift = home.volts(alone(home, on).live, "bed") - home.volts(alone(home, stated).live, "bed")
    home.read(alone(home, stated), "bed", shift)


def test_the_solver_is_given_a_corrected_reading_as_the_right_one_for_every_pair_of_circuits(
    log: VisitLog,
) -> None:
    home = Home(log, {"bed": BED}, LEGS)
    home.sweep()
    right = values(home)
    same = 0
    for stated, on in PAIRS:
        read_with_another_on(home, stated, on)
        reading, combination = log.readings.all()[-1], alone(home, on)
        corrected = log.readings.corrections.set_condition(
            reading, combination.label, combination.live, "another breaker was on"
        )
        live = frozenset(map(str, combination.live))
        expected = {**right, live: [*right[live], (reading.volts, reading.u_volts)]}
        same += values(home) == expected
        log.readings.corrections.void(corrected, "the next pair")
    assert same == len(PAIRS)


def contradicting(home: Home) -> list[str]:
    """The rows of the sweep whose readings contradict each other."""
    sources = home.log.circuits.all()
    found = sweep_progress(home.log.readings.all(), home.spots["bed"].id, sources)
    return [row.name for row in sweep_rows(found, sources) if row.repeats_contradict]


def test_a_contradiction_is_resolved_by_the_correction_of_what_caused_it(log: VisitLog) -> None:
    home = Home(log, {"bed": BED}, LEGS)
    home.sweep()
    read_with_another_on(home, "Study", "Bedroom")
    assert contradicting(home) == ["Study"]
    bedroom = alone(home, "Bedroom")
    log.readings.corrections.set_condition(
        log.readings.all()[-1], bedroom.label, bedroom.live, "another breaker was on"
    )
    assert contradicting(home) == []


def test_a_reading_at_the_wrong_spot_is_moved_out_of_the_sweep(log: VisitLog) -> None:
    home = Home(log, {"bed": BED, "desk": {"Study": 0.2}}, LEGS)
    home.sweep("bed")
    right = values(home)
    at_desk = home.volts(alone(home, "Bedroom").live, "desk")
    home.read(alone(home, "Bedroom"), "bed", at_desk - home.volts(alone(home, "Bedroom").live, "bed"))
    assert values(home) != right
    log.readings.corrections.move(log.readings.all()[-1], home.spots["desk"].id, "it was the desk")
    assert values(home) == right


def test_what_was_on_by_word_confirms_nothing(log: VisitLog) -> None:
    home = Home(log, {"bed": {"Bedroom": 1.0, "Light": 0.1}}, LEGS)
    home.sweep()
    found, _ = home.settle()
    confirming = found.spots[0].confirming_reading
    assert found.state is PlanState.CONFIRMED and confirming is not None
    for reading in log.readings.all():
        if reading.live == confirming.live and reading.void_reason is None:
            log.readings.void(reading.id, "only for this test")
    assert home.answer().state is not PlanState.CONFIRMED
    goal = Combination(confirming.live or frozenset(), confirming.condition)
    home.read(alone(home, "Hall"), "bed", confirming.volts - home.volts(alone(home, "Hall").live, "bed"))
    log.readings.corrections.set_condition(log.readings.all()[-1], goal.label, goal.live, "that was on")
    found = home.answer()
    assert found.state is not PlanState.CONFIRMED and found.spots[0].confirming_reading is None
