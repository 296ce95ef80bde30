"""Advice rests on the numbers that were found."""

from __future__ import annotations

import re

from logger.cautions import PANEL_CAUTIONS
from logger.metrology.setup import Setup
from logger.metrology.uncertainty import Budget, ReferenceState
from logger.sweep.advice import AdviceKind, SourceFinding, advise


def background(volts: float) -> Budget:
    return Budget.of_u("scatter", volts, 0.01)


def test_a_cord_a_circuit_and_the_outside() -> None:
    found = [
        SourceFinding("circuit", "Bedroom", 0.90, 0.01, off_tonight=True),
        SourceFinding("cord", "Lamp", 1.40, 0.02, circuit="Hall"),
        SourceFinding("circuit", "Attic", 0.05, 0.01),
    ]
    pieces = advise(found, background(0.25))
    assert [(p.kind, p.about) for p in pieces] == [
        (AdviceKind.CORD, "Lamp"), (AdviceKind.CIRCUIT, "Bedroom"), (AdviceKind.OUTSIDE, "")
    ]  # fmt: skip
    lamp, bedroom, outside = (p.text for p in pieces)
    assert "1.40 V" in lamp and "Unplug" in lamp and "shielded and earthed" in lamp and "electrician" in lamp
    assert (
        "0.90 V" in bedroom
        and "breaker off at night" in bedroom
        and "An electrician can fit a device" in bedroom
    )
    assert "0.25 V" in outside and "neighbouring flat" in outside and "power line" in outside


def test_what_stayed_on_is_named_beside_the_outside() -> None:
    (alone,) = advise([], background(0.25))
    (beside,) = advise([], background(0.25), ["Refrigerator", "Router"])
    assert "from outside the home's own wiring." in alone.text
    assert "or from what stayed on: Refrigerator, Router." in beside.text


def test_a_background_that_is_not_surely_above_or_was_not_read_points_nowhere() -> None:
    assert (
        advise([], background(0.11)) == []
        and advise([], None, reference=ReferenceState(building_earth=True)) == []
    )


def test_what_gives_little_or_is_not_distinguishable_from_zero_gets_no_advice() -> None:
    found = [SourceFinding("circuit", "A", 0.09, 0.01), SourceFinding("cord", "B", 0.30, 0.20)]
    assert advise(found, background(0.05)) == []
    assert [
        p.about
        for p in advise([SourceFinding("circuit", "A", 0.09, 0.01, off_tonight=True)], background(0.05))
    ] == ["A"]


def test_no_advice_switches_off_what_must_stay_on() -> None:
    found = [
        SourceFinding("circuit", "Kitchen", 0.5, 0.01, stays="keeps food cold"),
        SourceFinding("cord", "Monitor", 0.4, 0.01, stays="may be a medical device"),
    ]
    for piece in advise(found, background(0.0)):
        assert "stays" in piece.text and not re.search("switch .* off|unplug", piece.text, re.IGNORECASE)


def test_cords_that_explain_a_circuit_are_unplugged_instead() -> None:
    found = [
        SourceFinding("circuit", "Bedroom", 1.0, 0.01, off_tonight=True),
        SourceFinding("cord", "Lamp", 0.95, 0.01, circuit="Bedroom"),
    ]
    bedroom = next(p for p in advise(found, background(0.0)) if p.about == "Bedroom")
    assert "Lamp" in bedroom.text and "0.95 V" in bedroom.text and "instead" in bedroom.text


def test_cords_replace_no_breaker_where_what_is_left_is_above_the_target_or_their_share_is_not_known() -> (
    None
):
    circuit = SourceFinding("circuit", "Bedroom", 1.9, 0.05, off_tonight=True)
    for lamp in (
        SourceFinding("cord", "Lamp", 1.6, 0.05, circuit="Bedroom"),
        SourceFinding("cord", "Lamp", 1.85, 1.2, circuit="Bedroom"),
    ):
        bedroom = next(p for p in advise([circuit, lamp], background(0.0)) if p.about == "Bedroom")
        assert not bedroom.cords and "fit a device in the panel" in bedroom.for_an_electrician


def test_building_earth_and_cautions() -> None:
    (piece,) = advise([], background(0.08), reference=ReferenceState(building_earth=True))
    assert piece.kind is AdviceKind.REFERENCE and "0.3 V" in piece.text and "earth rod" in piece.text
    assert piece.text.startswith("The readings were taken against the building's protective earth, ")
    (assumed,) = advise([], background(0.08), reference=Setup().reference_state())
    assert (
        "not stated; it is counted as the building's" in assumed.text
        and "were taken against the" not in assumed.text
    )
    words = " ".join(PANEL_CAUTIONS)
    assert all(
        w in words for w in ("medical devices", "alarms", "pumps", "refrigerators", "electrician", "codes")
    )
    text = words + " ".join(
        p.text for p in advise([SourceFinding("circuit", "A", 1.0, 0.01)], background(0.5))
    )
    assert not re.search("health|harm|sleep better|safe|symptom", text, re.IGNORECASE)
