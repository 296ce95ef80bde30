"""Where a value that is left with everything off may come from."""

from __future__ import annotations

from dataclasses import replace

import pytest

from logger.visit.records.condition import EVERYTHING_OFF, EVERYTHING_ON
from logger.visit.records.home_records import Source
from logger.visit.results.off_value_origin import (
    NOT_LISTED,
    REMOVED_SOURCE,
    LeftOn,
    left_on,
    left_on_anywhere,
    possible_origin,
)
from logger.visit.results.on_off_result import SpotResult

KITCHEN = Source(1, "circuit", "Kitchen")
REFRIGERATOR = Source(2, "circuit", "Refrigerator", stays="keeps food cold")
ROUTER = Source(3, "cord", "Router", circuit_id=1, stays="may carry emergency calls")


def test_nothing_stayed_on_and_it_is_outside():
    assert possible_origin(left_on(None, [KITCHEN])) == "its source is likely outside the home's own wiring"


def test_what_stayed_on_is_named():
    found = left_on(None, [KITCHEN, REFRIGERATOR, ROUTER])
    assert found.names == ("Refrigerator",), "a cord is dead with its circuit"
    assert possible_origin(found) == "it comes from outside, or from what stayed on: Refrigerator"


def test_without_a_list_of_circuits_nobody_knows_what_was_switched_off():
    assert "was not written down" in possible_origin(left_on(None, []))


def test_over_several_spots_each_name_stands_once():
    found = left_on_anywhere([LeftOn(("A", "B"), True), LeftOn(("B", "C"), True)])
    assert found == LeftOn(("A", "B", "C"), True)
    assert not left_on_anywhere([LeftOn((), True), LeftOn()]).listed


@pytest.mark.parametrize("forgotten", [False, True])
def test_what_was_live_in_the_reading_itself_counts(log, forgotten):
    bed = log.spots.add("Bed")
    ids = [log.circuits.add("circuit", name).id for name in ("Kitchen", "Hall")]
    log.readings.enter(bed.id, EVERYTHING_ON, 0.9, 0.001, frozenset(ids))
    log.readings.enter(bed.id, EVERYTHING_OFF, 0.6, 0.001, frozenset(ids[1:] if forgotten else []))
    result = SpotResult.of(log.readings.all(), bed.id, log.circuits.all())
    assert result.left_on == LeftOn(("Hall",) if forgotten else (), True)


def test_what_was_off_and_must_stay_on_since_is_no_part_of_everything_off(log):
    bed = log.spots.add("Bed")
    alpha, beta = (log.circuits.add("circuit", name).id for name in ("Alpha", "Beta"))
    log.readings.enter(bed.id, EVERYTHING_OFF, 0.05, 0.001, frozenset())
    log.readings.enter(bed.id, EVERYTHING_ON, 0.7, 0.001, frozenset((alpha, beta)))
    log.circuits.set_essential(beta, "an alarm")
    found = SpotResult.of(log.readings.all(), bed.id, log.circuits.all())
    assert found.off is None and found.difference() is None
    assert (
        found.meaning(0.1)
        == found.why_no_off()
        == ("Everything off was read here with Beta off, which must stay on: read it again with Beta on.")
    )
    log.readings.enter(bed.id, "only Beta on", 0.6, 0.001, frozenset((beta,)))
    log.readings.enter(bed.id, "only Alpha on", 0.2, 0.001, frozenset((alpha,)))
    found = SpotResult.of(log.readings.all(), bed.id, log.circuits.all())
    assert found.off.volts == 0.6 and found.left_on.names == ("Beta",) and not found.why_no_off()
    log.circuits.set_essential(beta, "")
    assert SpotResult.of(log.readings.all(), bed.id, log.circuits.all()).off.volts == 0.05


def test_a_list_that_was_made_after_the_reading_does_not_strengthen_it(log):
    bed = log.spots.add("Bed")
    log.readings.enter(bed.id, EVERYTHING_OFF, 0.9, 0.001, None)
    before = SpotResult.of(log.readings.all(), bed.id, log.circuits.all())
    for name in ("A", "B", "Refrigerator"):
        log.circuits.add("circuit", name)
    after = SpotResult.of(log.readings.all(), bed.id, log.circuits.all())
    assert before.left_on == NOT_LISTED == replace(after.left_on, must_stay=())
    assert possible_origin(before.left_on).endswith("(which breakers were off then was not written down)")
    assert possible_origin(left_on_anywhere([after.left_on])).endswith("These must stay on: Refrigerator")


def test_what_is_listed_after_the_reading_is_not_said_to_have_stayed_on(log):
    bed = log.spots.add("Bed")
    fridge = log.circuits.add("circuit", "Fridge")
    log.readings.enter(bed.id, EVERYTHING_OFF, 0.6, 0.001, frozenset({fridge.id}))
    log.circuits.add("circuit", "Garage")
    found = SpotResult.of(log.readings.all(), bed.id, log.circuits.all()).left_on
    assert possible_origin(found) == (
        "it comes from outside, or from what stayed on: Fridge, or from Garage, which was listed after that and may "
        "have been on"
    )


def test_edits_of_the_list_after_the_reading_do_not_strengthen_it(log):
    """A circuit that stayed on is taken off the list, and a cord that stayed plugged in is called essential no more."""
    bed = log.spots.add("Bed")
    hall = log.circuits.add("circuit", "Hall")
    router = log.circuits.add("cord", "Router")
    log.readings.enter(bed.id, EVERYTHING_OFF, 0.6, 0.001, frozenset({hall.id, router.id}))
    log.circuits.remove(hall.id)
    log.circuits.set_essential(router.id, "")
    found = SpotResult.of(log.readings.all(), bed.id, log.circuits.all()).left_on
    assert found == LeftOn(("Router (not known on which circuit)", REMOVED_SOURCE), True)
