"""Two nights are compared as two readings are: refused alike, with meter, count and reference in u."""

from __future__ import annotations

import json
from dataclasses import replace

import numpy as np
import pytest

from logger.cli.main import main
from logger.clock import NS_PER_S
from logger.meter.description import Accuracy
from logger.metrology.context import Context
from logger.metrology.reference_error import UNPROVEN_ROD_VOLTS
from logger.metrology.setup import UNKNOWN_METER, Setup
from logger.night.analysis.night_comparison import NightVerdict
from logger.night.analysis.night_record import NightRecord
from logger.night.night_difference import (
    AT_ONE_TIME,
    OTHER_METER,
    OTHER_RANGE,
    OTHER_SPOT,
    REMARK_SENTENCES,
    SAME_NIGHT,
    SOME_OVERLOAD,
    TOO_LITTLE_STILL,
    UNDESCRIBED_METER,
    compare_nights,
    in_order,
)
from logger.night.night_json import comparison_json
from logger.night.night_level import learned_count_volts
from logger.night.night_spots import NOWHERE_KNOWN, NightSpot
from logger.night.night_text import TURNED, comparison_text
from logger.night.recorded_nights import longest_night, nights
from logger.settling.events import Now, Overload, Settled, State
from logger.visit import VisitLog
from logger.visit.storage.run_writer import Batch
from tests.support.visit_fixtures import Recording

GOOD_METER = replace(
    UNKNOWN_METER, name="bench meter", accuracy=(Accuracy(6.0, 0.5, 3.0, 0.0001),), true_rms=True
)
PERFECT = replace(UNKNOWN_METER, name="perfect", accuracy=(Accuracy(6.0, 0.0, 0.0, 0.0),), true_rms=True)
ROD = Setup(reference="earth rod", on_battery=True, link_isolated=True, meter=GOOD_METER)


@pytest.fixture
def night(log, recording):
    """A night that is told what it holds by `at`."""
    recording.samples([0.3] * 10)
    return longest_night(log)


def at(night, volts, setup, count_volts=0.001, seconds=7200, noise_volts=0.0, rod_volts=0.0):
    """The night with a steady level as the display shows it."""
    noise = noise_volts * np.random.default_rng(round(volts * 1e6)).standard_normal(seconds)
    shown = np.round((volts + noise) / count_volts) * count_volts if count_volts else volts + noise
    span = Settled(0.0, seconds - 1.0, volts, 0.001, 5.0, seconds)
    record = NightRecord(np.arange(seconds, dtype=float), shown, (span,), float(seconds))
    return replace(night, record=record, context=Context(setup, {}, rod_volts))


def a_day_later(night):
    """The same night as if its one run had been recorded a day later."""
    day_ns = 24 * 3600 * NS_PER_S
    runs = tuple(replace(run, started_utc_ns=run.started_utc_ns + day_ns) for run in night.runs)
    return replace(night, runs=runs, start_utc_ns=night.start_utc_ns + day_ns)


def compare(before, after, same_visit=False):
    return compare_nights(before, a_day_later(after), same_visit=same_visit)


def test_the_earlier_night_by_date_is_before_whichever_is_named_first(night):
    earlier, later = at(night, 0.4, ROD, rod_volts=0.01), a_day_later(at(night, 0.2, ROD, rod_volts=0.01))
    found, turned = (compare_nights(*pair, same_visit=True) for pair in ((earlier, later), (later, earlier)))
    assert turned == replace(found, turned=True) and turned.verdict is NightVerdict.LOWER
    assert turned.difference.volts == pytest.approx(-0.2)
    told = comparison_text(turned)
    assert told.startswith(TURNED) and TURNED not in comparison_text(found)
    assert f"before ({earlier.began_text}) 0.40 V" in told and f"after ({later.began_text}) 0.20 V" in told
    values = comparison_json(turned)
    assert values["named_before_is_later"] and values["difference_volts"] < 0
    assert values["before_began"] == earlier.rfc3339(0.0)


def test_of_practice_nights_of_one_visit_the_one_recorded_first_is_before(night):
    first, second = a_day_later(at(night, 0.5, ROD)), at(night, 0.3, ROD)
    run = replace(first.runs[0], port="sim://house")
    first, second = replace(first, runs=(run,)), replace(second, runs=(replace(run, id=run.id + 1),))
    assert (
        in_order(second, first, same_visit=True)
        == in_order(first, second, same_visit=True)
        == (first, second)
    )
    assert in_order(first, second, same_visit=False) == (second, first), "of two visits the dates count"


def test_a_night_and_its_copy_are_not_compared_and_nights_at_one_time_are_told(night):
    one = at(night, 0.4, ROD)
    assert compare_nights(one, at(night, 0.2, ROD), same_visit=False).why_not == SAME_NIGHT
    runs = tuple(replace(run, port="another") for run in one.runs)
    beside = replace(at(night, 0.2, ROD), runs=runs)
    assert AT_ONE_TIME in compare_nights(one, beside, same_visit=False).remarks


@pytest.mark.parametrize(
    ("setup", "why"),
    [
        (replace(ROD, reference="building earth"), "building earth"),
        (replace(ROD, meter=replace(GOOD_METER, input_resistance_ohm=1e6)), "inputs differ"),
    ],
)
def test_another_reference_or_input_is_refused_as_two_spots_are(night, setup, why):
    found = compare(at(night, 0.3, ROD), at(night, 0.1, setup))
    assert why in found.why_not and found.verdict is NightVerdict.NOT_COMPARABLE
    assert found.difference is None and comparison_text(found).startswith(found.why_not)


def test_an_unstated_reference_is_the_same_one_within_a_visit_only(night):
    before, after = (at(night, volts, replace(ROD, reference=None)) for volts in (0.3, 0.1))
    assert "not stated in either visit" in compare(before, after).why_not
    assert compare(before, after, same_visit=True).why_not == ""


@pytest.mark.parametrize(
    ("household", "why"), [("Mill lane 4", "two households"), ("", ""), ("mill lane 2 ", "")]
)
def test_nights_of_two_households_are_not_compared(night, household, why):
    before, after = (at(night, 0.3, replace(ROD, household=name)) for name in ("Mill Lane 2", household))
    assert why in compare(before, after).why_not and bool(why) == bool(compare(before, after).why_not)
    assert compare(before, after, same_visit=True).why_not == ""


def test_three_tenths_of_a_millivolt_on_a_millivolt_display_are_no_difference(night):
    """Alone, the two constant displays differ with p = 0."""
    setup = replace(ROD, meter=PERFECT)
    found = compare(
        at(night, 0.3003, setup, noise_volts=0.0003), at(night, 0.3006, setup, noise_volts=0.0003)
    )
    assert found.verdict is NightVerdict.NOT_DISTINGUISHABLE
    # half a count, rectangular, in each of the two: 0.5 mV/sqrt(3)*sqrt(2)
    assert found.difference.u_volts == pytest.approx(0.001 / 2 * (2 / 3) ** 0.5, rel=0.1)


def test_the_count_is_learned_from_the_display(night):
    assert learned_count_volts(at(night, 0.3, ROD, 0.001, noise_volts=0.01).record) == pytest.approx(0.001)
    assert learned_count_volts(at(night, 0.3, ROD, 0.01, noise_volts=0.03).record) == pytest.approx(0.01)


def test_meter_and_reference_are_in_u_as_in_a_difference_of_two_readings(night):
    """By hand: gain on the difference and both nights' counts, half a count and the rod's limits for each night."""
    found = compare(at(night, 0.4, ROD, rod_volts=0.01), at(night, 0.2, ROD, rod_volts=0.01))
    gain_and_counts = 0.005 * 0.2 + 2**0.5 * 3 * 0.0001
    half_count = 0.0001 / 2
    expected = ((gain_and_counts**2 + 2 * half_count**2 + 2 * 0.01**2) / 3) ** 0.5
    assert found.difference.volts == pytest.approx(-0.2)
    assert found.difference.u_volts == pytest.approx(expected, rel=1e-6)
    assert found.verdict is NightVerdict.LOWER and found.remarks == ()
    assert "these two nights only" in comparison_text(found)
    one = ((0.005 * 0.4 + 3 * 0.0001) ** 2 + half_count**2 + 0.01**2) / 3
    assert found.before.u_volts == pytest.approx(one**0.5, rel=1e-6)


def test_a_rod_that_nobody_checked_hides_a_difference_of_its_size(night):
    before, after = (
        replace(night, record=at(night, volts, ROD).record, context=Context(ROD, {})) for volts in (0.3, 0.28)
    )
    assert UNPROVEN_ROD_VOLTS > 0.02
    assert compare(before, after).verdict is NightVerdict.NOT_DISTINGUISHABLE


@pytest.mark.parametrize(
    ("before_setup", "after_setup", "after_volts", "remark"),
    [
        (ROD, replace(ROD, meter=replace(GOOD_METER, name="another")), 0.2, OTHER_METER),
        (replace(ROD, meter=UNKNOWN_METER), replace(ROD, meter=UNKNOWN_METER), 0.2, UNDESCRIBED_METER),
    ],
)
def test_gain_cancels_only_within_the_same_meter(night, before_setup, after_setup, after_volts, remark):
    found = compare(at(night, 0.4, before_setup), at(night, after_volts, after_setup))
    assert found.remarks == (remark,) and REMARK_SENTENCES[remark] in comparison_text(found)


def test_gain_cancels_only_within_the_same_range(night):
    ranges = (Accuracy(0.25, 0.5, 3.0, 0.0001), Accuracy(6.0, 0.5, 3.0, 0.001))
    setup = replace(ROD, meter=replace(GOOD_METER, accuracy=ranges))
    found = compare(at(night, 0.4, setup), at(night, 0.2, setup))
    assert found.remarks == (OTHER_RANGE,)
    gains = (0.005 * 0.4 + 3 * 0.001) ** 2 + (0.005 * 0.2 + 3 * 0.0001) ** 2
    half_counts = (0.001 / 2) ** 2 + (0.0001 / 2) ** 2
    assert found.difference.u_volts == pytest.approx(((gains + half_counts) / 3) ** 0.5, rel=1e-6)


def test_too_little_still_time_is_a_reason(night):
    assert compare(at(night, 0.3, ROD), at(night, 0.3, ROD, seconds=120)).why_not == TOO_LITTLE_STILL


def test_a_night_has_the_set_up_that_held_when_it_ended(log, recording, clock):
    log.setup.set(Setup(reference="building earth"))
    recording.samples([0.3] * 10)
    log.setup.set(Setup(reference="earth rod"))
    recording.samples([0.3] * 10)
    clock.advance_ns(NS_PER_S)
    log.setup.set(Setup(reference="building earth", soil="stated the next day"))
    (night,) = nights(log)
    assert night.context.setup.reference == "earth rod"


def test_a_set_up_that_was_stated_only_after_the_night_is_that_of_the_night(log, recording, clock):
    recording.samples([0.3] * 10)
    clock.advance_ns(NS_PER_S)
    log.setup.set(Setup(household="ours"))
    log.setup.set(Setup(household="ours", reference="earth rod"))
    log.setup.set(Setup(household="ours", reference="building earth", on_battery=True))
    setup = nights(log)[0].context.setup
    assert (setup.household, setup.reference, setup.on_battery) == ("ours", "earth rod", True)


def make_visit(path, clock, volts, setup):
    """Write a visit of 20 min at one level; returns its path."""
    log = VisitLog.create(path, clock)
    log.setup.set(setup)
    run = Recording(path, clock)
    lines = []
    for _ in range(1200):
        clock.advance_ns(NS_PER_S)
        lines.append((clock.utc_ns(), clock.steady_ns() - run.started_ns, "volts", volts, b"x"))
    span = Settled(1.0, 1199.0, volts, 0.001, 5.0, 1199)
    run.beat(Batch(lines=lines, events=[span]), Now(State.SETTLED, 0.0, volts, 0.001, 1200))
    run.writer.end(clock.utc_ns(), clock.steady_ns() - run.started_ns, "stopped")
    run.writer.close()
    log.close()
    return str(path)


def test_the_command_gives_the_contract(tmp_path, clock, capsys):
    before = make_visit(tmp_path / "before.visit", clock, 0.4, ROD)
    after = make_visit(tmp_path / "after.visit", clock, 0.2, ROD)
    other = make_visit(tmp_path / "other.visit", clock, 0.2, replace(ROD, reference="building earth"))

    def against(path):
        assert main(["night", after, "--against", path, "--json"]) == 0
        return json.loads(capsys.readouterr().out)

    found = against(before)
    assert (found["comparable"], found["why_not"], found["verdict"]) == (True, "", "lower")
    assert found["difference_volts"] == pytest.approx(-0.2) == found["compared"]["change_volts"]
    assert found["u_volts"] == found["compared"]["u_change_volts"] > 0
    refused = against(other)
    assert (refused["comparable"], refused["verdict"]) == (False, "not comparable")
    assert "building earth" in refused["why_not"]
    assert refused["difference_volts"] is refused["u_volts"] is refused["compared"] is None
    assert main(["night", after, "--against", before]) == 0
    printed = capsys.readouterr().out
    assert (
        "these two nights only" in printed and "on in the earlier night: not entered. In the later" in printed
    )


def test_nights_at_two_spots_are_said_to_be_so(night):
    before, after = at(night, 0.3, ROD, noise_volts=0.01), at(night, 0.1, ROD, noise_volts=0.01)
    left, right = NightSpot(1, "Bed, left"), NightSpot(2, "Bed, right")
    for one, other, same_visit, is_told in (
        (left, right, True, True),
        (left, NightSpot(1, "Cot"), True, False),
        (left, NightSpot(1, "Cot"), False, True),
        (left, NightSpot(9, "bed,  LEFT"), False, False),
        (left, NOWHERE_KNOWN, True, False),
    ):
        found = compare(replace(before, spot=one), replace(after, spot=other), same_visit)
        assert (OTHER_SPOT in found.remarks) is is_told and not found.why_not
        assert f"in the earlier night: Bed, left. In the later night: {other.text}." in comparison_text(found)


def test_a_night_beyond_the_range_is_not_compared_and_a_touch_of_it_is_told(night):
    before, after = at(night, 0.3, ROD, noise_volts=0.01), at(night, 0.1, ROD, noise_volts=0.01)
    for length_s, why in ((1800.0, "30 min"), (4.0, "")):
        overload = Overload(3000.0, 3000.0 + length_s, 3000.0)
        record = replace(after.record, events=(*after.record.events, overload))
        found = compare(before, replace(after, record=record))
        assert why in found.why_not and bool(why) is bool(found.why_not)
        assert SOME_OVERLOAD in found.remarks
