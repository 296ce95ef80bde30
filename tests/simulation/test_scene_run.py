"""The simulation: deterministic, and true to what a practitioner sees."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise
from math import pi

import numpy as np
import pytest

from logger.body_circuit import Impedance
from logger.errors import StillvoltError
from logger.meter.decimal_comma import DecimalComma
from logger.meter.lines import LineStatus, read_line
from logger.simulation.house.body import BodyHabits
from logger.simulation.house.meter_model import FORMATS, LineFormatName, MeterModel
from logger.simulation.house.scene import Scene, built_in_scene, read_scene
from logger.simulation.house.scene_run import SimulatedLine, Simulation

NIGHT = BodyHabits(motions_per_hour=60, shift=0.05)


def practice(**changes: object) -> Scene:
    return replace(built_in_scene("practice"), **changes)  # type: ignore[arg-type]


def scripted(*script: str, repeat_s: int = 0) -> Scene:
    lines = "\n".join(script)
    return read_scene(f'repeat_s = {repeat_s}\nscript = """\n{lines}\n"""\n', "a test", None)


def volts(lines: Sequence[SimulatedLine]) -> list[float]:
    found = [read_line(line.data.strip()).volts for line in lines]
    assert None not in found
    return [value for value in found if value is not None]


def test_the_same_seed_gives_the_same_lines_and_another_seed_others() -> None:
    runs = [list(Simulation(practice(habits=NIGHT), seed).run(300)) for seed in (5, 5, 6)]
    assert runs[0] == runs[1]
    assert [line.data for line in runs[0]] != [line.data for line in runs[2]]


def test_it_does_not_matter_in_which_pieces_time_is_advanced() -> None:
    script = ("at 3.3 s: walk", "at 17.7 s: lie still", "at 31 s: lamp on", "at 50 s: go to desk")
    whole = Simulation(replace(scripted(*script), habits=NIGHT), 1).advance(120)
    pieces = Simulation(replace(scripted(*script), habits=NIGHT), 1)
    ends = np.cumsum(np.random.default_rng(0).uniform(0.001, 0.4, 700))
    cut = [line for end in (*ends[ends < 120], 120.0) for line in pieces.advance(end)]
    assert [line.data for line in cut] == [line.data for line in whole]
    assert [line.time_s for line in cut] == pytest.approx([line.time_s for line in whole])


def test_motion_reads_falsely_high_and_comes_back_to_the_still_level() -> None:
    simulation = Simulation(scripted("at 10 s: walk", "at 22 s: lie still"), 3)
    lines = list(simulation.run(40))
    still = simulation.still_volts()
    assert all(line.true_volts >= 0.99 * line.still_volts for line in lines)
    moving = [line.true_volts for line in lines if line.moving]
    assert np.mean(moving) > 1.3 * still
    assert 10 <= min(line.time_s for line in lines if line.moving) < 11
    assert volts(lines[-50:]) == pytest.approx([still] * 50, abs=0.02)


def test_a_motion_dies_away_exponentially() -> None:
    simulation = Simulation(scripted("at 5 s: walk", "at 15 s: lie still"), 2)
    excess = np.array([line.true_volts - line.still_volts for line in simulation.run(20) if line.time_s > 15])
    # Straight in logarithms while it is above the breath's ripple.
    logs = np.log(excess[2:12])
    slope, intercept = np.polyfit(np.arange(10), logs, 1)
    assert slope < 0
    assert np.abs(np.polyval([slope, intercept], np.arange(10)) - logs).max() < 0.25


def test_switching_is_in_the_truth_with_time_and_levels() -> None:
    simulation = Simulation(scripted("at 8 s: lamp on", "at 16 s: lamp off"), 0)
    lines = list(simulation.run(24))
    assert [s.time_s for s in simulation.switchings] == [8.0, 16.0]
    rise, fall = simulation.switchings
    assert 1.0 < rise.after_volts - rise.before_volts < 3.0
    assert fall.after_volts == rise.before_volts
    assert np.mean(volts([line for line in lines if 12 < line.time_s < 16])) == pytest.approx(
        rise.after_volts, abs=0.01
    )


def test_turning_over_comes_to_rest_at_another_level() -> None:
    simulation = Simulation(scripted("at 5 s: turn over"), 4)
    before = simulation.still_volts()
    lines = list(simulation.run(30))
    assert simulation.still_volts() != pytest.approx(before, rel=0.01)
    assert lines[-1].still_volts == simulation.still_volts()
    assert len(simulation.body.turns) == 1


def test_a_plugged_lamp_switched_off_in_the_neutral_couples_more_than_a_lit_one() -> None:
    simulation = Simulation(scripted("at 0 s: go to Sofa, left"), 0)
    simulation.advance(10)
    levels = {}
    for command in ("reading light unplug", "reading light plug", "reading light on"):
        simulation.command(command)
        levels[command] = simulation.still_volts()
    assert levels["reading light plug"] > levels["reading light on"] > levels["reading light unplug"]


def test_a_lamp_switched_off_in_the_live_wire_couples_less_than_a_lit_one() -> None:
    simulation = Simulation(practice(), 0)
    levels = []
    for command in ("lamp unplug", "lamp plug", "lamp on"):
        simulation.command(command)
        levels.append(simulation.still_volts())
    assert levels == sorted(levels)
    assert levels[1] > levels[0]


def test_switching_one_breaker_off_can_raise_the_reading() -> None:
    simulation = Simulation(practice(), 0)
    before = simulation.still_volts()
    simulation.command("breaker 2 off")
    assert simulation.still_volts() > before + 0.05


def test_everything_off_and_on() -> None:
    simulation = Simulation(practice(), 0)
    before = simulation.still_volts()
    simulation.command("everything off")
    assert simulation.still_volts() < 0.1
    simulation.command("everything on")
    assert simulation.still_volts() == before


def test_the_zero_check_reads_near_zero() -> None:
    simulation = Simulation(scripted("at 5 s: probe on reference wire", "at 15 s: probe in hand"), 0)
    lines = list(simulation.run(25))
    assert max(volts([line for line in lines if 8 < line.time_s < 15])) < 0.01
    assert min(volts(lines[-20:])) > 0.3


def test_between_two_good_rods_there_is_next_to_nothing_whatever_the_body_feels() -> None:
    simulation = Simulation(
        scripted("at 5 s: probe on second rod", "at 12 s: walk", "at 25 s: probe in hand"), 0
    )
    lines = list(simulation.run(40))
    assert max(volts([line for line in lines if 8 < line.time_s < 25])) < 0.01
    assert min(volts(lines[-20:])) > 0.3


def test_the_voltage_to_a_second_rod_shows_what_the_wire_picks_up_on_dry_soil() -> None:
    """By Ohm's law: 300 pF to 120 V at 60 Hz drive 13.6 uA through 5 kohm."""
    scene = read_scene("[reference]\nrod_ohms = 5000\nlead_pf = 300", "a test", None)
    meter = replace(scene.meter, input=Impedance(10e6, 100e-12))
    simulation = Simulation(replace(scene, meter=meter), 0)
    levels = {}
    for command in ("probe on second rod", "move the wire", "lay the wire back", "everything off"):
        simulation.command(command)
        levels[command] = simulation.still_volts()
    alone = 2 * pi * 60 * 300e-12 * 120 * 5000
    assert levels["probe on second rod"] == pytest.approx(0.9 * alone, rel=0.02)
    assert levels["move the wire"] == levels["everything off"] < 0.003
    assert levels["lay the wire back"] == levels["probe on second rod"]


def test_a_second_rod_shows_what_the_building_earth_carries() -> None:
    simulation = Simulation(practice(), 0)
    simulation.command("reference building earth")
    simulation.command("probe on second rod")
    assert simulation.still_volts() == pytest.approx(abs(simulation.house.building_volts), rel=0.01)


def test_wet_soil_and_an_extra_rod_matter_for_a_bad_rod_only() -> None:
    for ohms, changes in ((300, False), (200_000, True)):
        scene = read_scene(f'start = "Study, window"\n[reference]\nrod_ohms = {ohms}', "a test", None)
        simulation = Simulation(scene, 0)
        levels = [simulation.still_volts()]
        for command in ("wet the soil", "extra rod"):
            simulation.command(command)
            levels.append(simulation.still_volts())
        assert (abs(levels[1] - levels[0]) > 0.01) is changes
        assert (abs(levels[2] - levels[1]) > 0.01) is changes


def test_charger_and_building_earth_spoil_a_low_value() -> None:
    simulation = Simulation(practice(), 0)
    simulation.command("everything off")
    good = simulation.still_volts()
    simulation.command("charger on")
    assert simulation.still_volts() > good + 0.15
    simulation.command("charger off")
    simulation.command("reference building earth")
    assert simulation.still_volts() > good + 0.15
    simulation.command("reference earth rod")
    assert simulation.still_volts() == good


def test_a_pulled_cable_and_a_meter_switched_off_are_silence() -> None:
    script = ("at 5 s: pull cable", "at 8 s: plug cable", "at 12 s: meter off", "at 14 s: meter on")
    times = [line.time_s for line in Simulation(scripted(*script), 0).run(20)]
    gaps = [(round(a), round(b)) for a, b in pairwise(times) if b - a > 0.5]
    assert gaps == [(5, 8), (12, 14)]


def test_a_silence_does_not_change_what_comes_after() -> None:
    with_gap = list(Simulation(scripted("at 5 s: pull cable", "at 8 s: plug cable"), 0).run(12))
    without = list(Simulation(scripted("at 5 s: meter on"), 0).run(12))
    assert with_gap[-30:] == without[-30:]


def test_auto_power_off_ends_the_lines_until_the_meter_is_switched_on() -> None:
    scene = scripted("at 20 s: meter on")
    simulation = Simulation(replace(scene, meter=replace(scene.meter, auto_power_off_s=10.0)), 0)
    times = [line.time_s for line in simulation.run(40)]
    assert [(round(a), round(b)) for a, b in pairwise(times) if b - a > 0.5] == [(10, 20)]
    assert times[-1] < 30.1


def test_overload_and_direct_voltage_are_no_samples() -> None:
    lines = list(Simulation(scripted("at 2 s: overload", "at 8 s: meter DC", "at 10 s: meter AC"), 0).run(12))
    status = [read_line(line.data.strip()).status for line in lines]
    assert status.count(LineStatus.OVERLOAD) == 30
    assert status.count(LineStatus.NOT_AC_VOLTS) == 20
    assert status.count(LineStatus.VOLTS) == len(lines) - 50


def test_entries_repeat_with_their_period_and_spread() -> None:
    script = "every 20 s +- 2 s from 5 s: lamp on", "every 20 s from 15 s: lamp off"
    simulation = Simulation(scripted(*script), 0)
    simulation.advance(100)
    ons = [s.time_s for s in simulation.switchings if s.text == "lamp on"]
    assert [abs(at_s - due_s) <= 2 for at_s, due_s in zip(ons, (5, 25, 45, 65, 85), strict=True)] == [
        True
    ] * 5
    assert len({at_s % 20 for at_s in ons}) > 1
    assert [s.time_s for s in simulation.switchings if s.text == "lamp off"] == [15, 35, 55, 75, 95]


def test_a_scene_repeats() -> None:
    simulation = Simulation(scripted("at 1 s: lamp on", "at 5 s: lamp off", repeat_s=10), 0)
    simulation.advance(29)
    assert [s.time_s for s in simulation.switchings] == [1, 5, 11, 15, 21, 25]


def test_a_sleeper_moves_as_often_as_the_habits_say() -> None:
    simulation = Simulation(practice(habits=BodyHabits(motions_per_hour=30)), 1)
    simulation.advance(4 * 3600)
    assert 80 <= len(simulation.body.motions) <= 140  # 120 an hour apart, less their own length and a pause


def test_the_built_in_scene_settles_within_seconds() -> None:
    lines = list(Simulation(built_in_scene("lively"), 0).run(22))
    assert np.ptp(volts([line for line in lines if line.time_s > 12])) < 0.02


@pytest.mark.parametrize("line_format", FORMATS)
@pytest.mark.parametrize("count_volts", [0.0001, 0.001, 0.01])
def test_every_form_of_line_is_read_back(line_format: LineFormatName, count_volts: float) -> None:
    meter = MeterModel(line_format=line_format, count_volts=count_volts)
    stream = DecimalComma(read_line)  # "1,500" alone may be fifteen hundred; behind "0,070" it is not
    for shown in (0.0, 0.07, 0.27341, 1.5, 12.345):
        reading = stream.take(meter.line(shown).strip())
        assert reading.status is LineStatus.VOLTS
        assert reading.volts == pytest.approx(shown, abs=count_volts / 2 + 1e-9)
    assert read_line(meter.overload_line().strip()).status is LineStatus.OVERLOAD


def test_an_auto_ranging_meter_coarsens_its_last_digit() -> None:
    meter = MeterModel(count_volts=0.0001, auto_range=True, line_format="plain")
    assert [meter.line(v).strip() for v in (0.12344, 1.23444, 12.3444)] == [b"0.1234", b"1.234", b"12.34"]


def test_lines_come_at_the_meters_rate() -> None:
    for rate_hz in (1.0, 2.5, 10.0, 60.0, 100.0):
        scene = practice(meter=MeterModel(rate_hz=rate_hz))
        times = [line.time_s for line in Simulation(scene, 0).run(20)]
        assert len(times) == round(20 * rate_hz)
        assert np.diff(times).mean() == pytest.approx(1 / rate_hz, rel=0.01)


def test_a_wrong_command_changes_nothing() -> None:
    simulation = Simulation(practice(), 0)
    before = simulation.still_volts()
    for text in ("chandelier on", "breaker 77 off", "go to the moon", "", "sing", "lamp", "x" * 1000):
        with pytest.raises(StillvoltError):
            simulation.command(text)
    assert simulation.still_volts() == before
