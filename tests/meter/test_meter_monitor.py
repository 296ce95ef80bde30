"""What a meter does in mid-session: recognised once, told in one sentence, over when it is over."""

from __future__ import annotations

import random

import pytest

from logger.meter.lines import CUT, TEACH_AGAIN_NOTE, LineReading, LineStatus, read_line
from logger.meter.meter_monitor import MeterMonitor
from logger.meter.stream_check import DAMAGED_NOTE


class Session:
    """A meter that sends 2.5 lines/s."""

    def __init__(self, noise_volts: float = 0.002, seed: int = 1) -> None:
        self.watch = MeterMonitor()
        self.t_s = 0.0
        self.noise_volts = noise_volts
        self.random = random.Random(seed)
        self.told: list[tuple[str, str]] = []

    def send(self, form: str, lines: int, level_volts: float = 0.273, every_s: float = 0.4) -> None:
        for _ in range(lines):
            self.t_s += every_s
            raw = form.format(abs(level_volts + self.random.gauss(0.0, self.noise_volts))).encode()
            for change in self.watch.on_line(self.t_s, raw, read_line(raw)):
                self.told.append((change.kind, change.message))

    def kinds(self) -> list[str]:
        return [kind for kind, _ in self.told]


@pytest.fixture
def session() -> Session:
    session = Session()
    session.send("{:.3f} VAC", 400)
    assert session.told == [] and session.watch.problem == ""
    return session


@pytest.mark.parametrize(
    ("form", "kind", "says"),
    [
        ("{:.3f} VDC", "function", "DC volts"),
        ("{:.3f} kOhm", "function", "hm"),
        ("{:.3f} VAC LOW BAT", "low battery", "battery is low"),
        ("{:.3f} VAC HOLD", "hold", "release HOLD"),
        ("{:.3f} VAC MAX", "hold", "minimum, maximum"),
    ],
)
def test_a_turned_knob_or_a_flag_is_told_once_and_again_when_it_is_over(session, form, kind, says):
    session.send(form, 20)
    assert session.kinds() == [kind]
    assert says in session.told[0][1] and says in session.watch.problem
    session.send("{:.3f} VAC", 20)
    assert session.kinds() == [kind, kind]
    assert session.watch.problem == ""


def test_one_damaged_line_is_no_turned_knob(session):
    session.send("{:.3f} VDC", 1)
    session.send("{:.3f} VAC", 5)
    session.send("#?!", 3)
    session.send("{:.3f} VAC", 5)
    assert session.told == []


@pytest.mark.parametrize(
    ("form", "now", "kinds"),
    [
        ("{:.4f} VAC", "0.1 mV", ["range"]),
        ("{:.2f} VAC", "10 mV", ["range"]),
        ("{:.5e} VAC", "0.001 mV", ["range", "line form"]),
    ],
)
def test_another_range_is_told_with_what_a_digit_is_worth(session, form, now, kinds):
    session.send(form, 5)
    assert session.kinds() == kinds
    assert f"now {now}, before 1 mV" in session.told[0][1]


def test_a_meter_between_two_ranges_gives_one_notice_a_minute(session):
    for _ in range(300):
        session.send("{:.3f} VAC", 1)
        session.send("{:.2f} VAC", 1)
    assert set(session.kinds()) == {"range"} and len(session.told) == 4
    assert "changed 150 times" in session.told[1][1]


def test_another_line_form_is_told_once_and_shown_for_a_while(session):
    session.send("AUTO {:.3f} VAC", 50)
    session.send("{:.1f} mVAC", 50, 273.0)
    assert "line form" not in session.kinds(), "states and ranges of the same meter"
    session.send("ACV;{:.3f}", 50)
    assert "another meter" in session.watch.problem
    session.send("{:.3f} VAC", 50)
    assert session.watch.problem == "", "the form before has returned"
    session.send("ACV;{:.3f}", 50)
    forms = [message for kind, message in session.told if kind == "line form"]
    assert len(forms) == 1 and '"ACV;0.2' in forms[0] and "mVAC" in forms[0]
    session.send("ACV;{:.3f}", 800)
    assert session.watch.problem == ""


def test_a_display_that_stands_still_although_it_always_moved_is_called_frozen(session):
    session.send("0.274 VAC", 145)
    assert session.told == [], "not before a minute"
    session.send("0.274 VAC", 100)
    assert session.kinds() == ["frozen"] and session.watch.frozen and "HOLD" in session.watch.problem
    session.send("{:.3f} VAC", 5)
    assert session.kinds() == ["frozen", "frozen"] and not session.watch.frozen


@pytest.mark.parametrize("level_volts", [0.2700, 0.2730, 0.2749, 0.2755])
def test_a_quiet_meter_is_never_called_frozen_at_whatever_level(level_volts):
    """Noise of a fifth of a count: at one level it flickers, at the next one it does not show at all."""
    session = Session(noise_volts=0.002)
    session.send("{:.2f} VAC", 3000, 0.275)
    session.send("{:.2f} VAC", 5000, level_volts)
    assert session.told == []


def test_a_night_of_noise_has_no_frozen_display():
    session = Session(noise_volts=0.0008)
    session.send("{:.3f} VAC", 100_000, every_s=0.1)
    assert session.told == []


def test_silence_is_told_once_and_so_is_the_return(session):
    assert session.watch.on_silence(session.t_s + 4) == []
    (change,) = session.watch.on_silence(session.t_s + 6)
    assert change.kind == "meter silent" and "switched off" in change.message
    assert session.watch.on_silence(session.t_s + 60) == []
    session.t_s += 90
    session.send("{:.3f} VAC", 5)
    assert session.told[0][0] == "meter back" and "after 90 s" in session.told[0][1]
    assert session.watch.problem == ""


def test_silence_a_round_number_of_minutes_after_the_start_is_the_automatic_power_off():
    session = Session()
    session.send("{:.3f} VAC", 15 * 150)
    (change,) = session.watch.on_silence(session.t_s + 6)
    assert "15 minutes" in change.message and "automatic power-off" in change.message


def test_a_second_power_off_after_as_long_a_time_is_recognised_whatever_its_length():
    session = Session()
    session.send("{:.3f} VAC", round(12.3 * 150))
    (change,) = session.watch.on_silence(session.t_s + 6)
    assert "perhaps by its automatic power-off" in change.message and "holding a key" in change.message
    session.t_s += 90
    session.send("{:.3f} VAC", round(12.3 * 150))
    (change,) = session.watch.on_silence(session.t_s + 6)
    assert "as the last time: its automatic power-off" in change.message


def test_a_meter_that_is_silent_from_the_start_is_told_once():
    watch = MeterMonitor()
    assert watch.on_silence(1.0) == watch.on_silence(10.0) == []
    (notice,) = watch.on_silence(11.5)
    assert notice.kind == "meter silent" and "since the start" in notice.message
    assert watch.problem == notice.message and watch.on_silence(500.0) == []
    (back,) = watch.on_line(501.0, b"0.273 VAC", read_line(b"0.273 VAC"))
    assert back.kind == "meter back" and watch.problem == ""


def test_noise_is_noise_and_no_silence(session):
    for _ in range(40):
        session.t_s += 0.5
        session.watch.on_bytes(session.t_s)
        raw = bytes(range(128, 170))
        assert session.watch.on_line(session.t_s, raw, read_line(raw)) == []
        session.told += [(n.kind, n.message) for n in session.watch.on_silence(session.t_s)]
    assert session.kinds() == ["noise"] and "Noise comes" in session.watch.problem
    session.send("{:.3f} VAC", 5)
    assert session.kinds() == ["noise", "meter back"] and session.watch.problem == ""


def test_damaged_lines_are_told_once_when_they_begin_and_when_they_are_over(session):
    for _ in range(20):
        session.send("{:.3f} VAC", 15)
        session.send("{:.3f}? VAC", 1)
    assert session.kinds() == ["damaged lines"]
    assert session.told[0][1] == (
        "Lines arrive damaged: 4 of the last 200 were refused. Check the plug and the cable."
    )
    assert "plug" in session.watch.problem
    session.send("{:.3f} VAC", 200)
    assert session.kinds() == ["damaged lines"] * 2 and session.watch.problem == ""


def test_lines_that_are_never_read_are_not_called_damaged():
    session = Session()
    session.send("{:.3f} 0.412", 300)
    assert session.told == []


def test_a_scale_taught_in_another_range_is_asked_for_again_and_no_damage(session):
    again = LineReading(LineStatus.UNREADABLE, note=TEACH_AGAIN_NOTE)
    for _ in range(40):
        session.t_s += 0.4
        session.told += [(n.kind, n.message) for n in session.watch.on_line(session.t_s, b"0.601", again)]
    assert session.kinds() == ["teach again"] and "teach it again" in session.watch.problem


def test_a_display_that_never_moved_at_a_fine_count_is_called_frozen_once():
    fresh = Session(noise_volts=0.0)
    fresh.send("{:.3f} V AC", 3000, 1.234)
    ((kind, message),) = fresh.told
    assert kind == "frozen" and "exactly 1.234 V for 60 s" in message and "HOLD" in message
    assert fresh.watch.frozen and fresh.watch.problem == message
    fresh.send("{:.3f} V AC", 1, 1.236)
    assert fresh.kinds() == ["frozen", "frozen"] and not fresh.watch.frozen


@pytest.mark.parametrize(("noise_s", "flat_s", "every_s"), [(20.0, 70.0, 0.1), (60.0, 100.0, 0.4)])
def test_a_display_that_stops_after_a_while_of_noise_is_called_frozen(noise_s, flat_s, every_s):
    fresh = Session()
    fresh.send("{:.3f} V AC", round(noise_s / every_s), 0.4, every_s)
    fresh.send("0.401 V AC", round(flat_s / every_s), every_s=every_s)
    assert fresh.kinds() == ["frozen"]


@pytest.mark.parametrize(
    ("form", "volts"), [("{:.2f} V AC", 0.27), ("{:.2f} V AC", 3.9), ("{:.1f} V AC", 3.9)]
)
def test_a_count_that_hides_what_a_body_does_may_stay_on_one_value_and_is_doubted_after_many_minutes(
    form, volts
):
    fresh = Session(noise_volts=0.0)
    fresh.send(form, 1400, volts)
    assert fresh.told == []
    fresh.send(form, 1600, volts)
    ((kind, message),) = fresh.told
    assert kind == "constant value" and "HOLD" in message and not fresh.watch.frozen
    assert fresh.watch.problem == "", "the value counts: it may be right"
    fresh.send(form, 1, 2 * volts)
    assert fresh.kinds() == ["constant value"] * 2 and "moves again" in fresh.told[-1][1]


def test_the_coarser_the_digit_the_longer_it_may_stay():
    fresh = Session(noise_volts=0.0)
    fresh.send("{:.3f} V AC", 2200, 0.005, 1.0)
    assert fresh.told == []
    fresh.send("{:.3f} V AC", 300, 0.005, 1.0)
    assert fresh.kinds() == ["constant value"]


def test_a_constant_zero_is_noted_once_and_is_no_frozen_display():
    fresh = Session(noise_volts=0.0)
    fresh.send("{:.3f} V AC", 1000, 0.0)
    ((kind, message),) = fresh.told
    assert kind == "constant zero" and "0.000 V" in message and "zero check" in message
    assert not fresh.watch.frozen and fresh.watch.problem == ""


def test_a_function_that_goes_to_and_fro_is_stated_once_and_not_each_time():
    fresh = Session()
    for _ in range(100):
        fresh.send("{:.3f} V AC", 5, every_s=0.2)
        fresh.send("{:.3f} V DC", 5, every_s=0.2)
    notices = [message for kind, message in fresh.told if kind == "function"]
    assert len(notices) <= 4
    assert sum("AC volts and DC volts in turn" in message for message in notices) == 1


def test_a_display_with_two_functions_is_stated_once_a_night():
    fresh = Session()
    for _ in range(2000):
        fresh.send("{:.3f} V AC", 1)
        fresh.send("{:.3f} V DC", 1)
    assert fresh.kinds() == ["function"]
    fresh.send("{:.3f} V AC", 500)
    for _ in range(10):
        fresh.send("{:.3f} V AC", 1)
        fresh.send("{:.3f} V DC", 1)
    assert fresh.kinds() == ["function", "function"], "it had stopped for minutes"


def test_negative_values_are_named_and_are_no_damage(session):
    session.send("-{:.3f} V", 40)
    assert session.kinds() == ["function"] and "negative" in session.watch.problem
    session.send("{:.3f} VAC", 10)
    assert session.watch.problem == ""


def test_two_other_functions_in_turn_are_one_notice(session):
    for _ in range(20):
        session.send("{:.3f} VDC", 1)
        session.send("{:.1f} Hz", 1, level_volts=50.0)
    assert session.kinds() == ["function"] and session.watch.problem


def test_whole_lines_that_are_refused_name_the_probes_contact_beside_the_cable(session):
    contradicting = LineReading(LineStatus.UNREADABLE, note=DAMAGED_NOTE)
    for _ in range(20):
        session.send("{:.3f} VAC", 15)
        session.t_s += 0.4
        for change in session.watch.on_line(session.t_s, b"0.000 VAC", contradicting):
            session.told.append((change.kind, change.message))
    ((_, message),) = session.told
    assert message.startswith("Lines contradict those beside them: 4 of the last 200 were refused.")
    assert "contact" in message and "cable" in message and "damaged" not in message


def test_a_word_that_is_not_known_is_named_with_what_to_do(session):
    session.send("{:.4f} V AC NULL", 30, 0.02)
    (notice,) = session.told
    assert notice[0] == "unknown word" and "'NULL'" in notice[1] and "teach the meter" in notice[1]
    assert session.watch.problem == notice[1]
    session.send("{:.3f} VAC", 20)
    assert session.kinds() == ["unknown word", "unknown word"] and session.watch.problem == ""


def test_an_open_comma_is_named(session):
    session.send("1,{:03.0f} V", 5, 200.0)
    (notice,) = session.told
    assert notice[0] == "comma" and "thousands" in notice[1]


def test_mv_in_capitals_is_named_once(session):
    session.send("{:.1f} MV AC", 30, 273.0)
    (notice,) = session.told
    assert notice[0] == "prefix" and "megavolts" in notice[1] and session.watch.problem == notice[1]
    session.send("{:.3f} VAC", 20)
    assert session.kinds() == ["prefix", "prefix"] and session.watch.problem == ""


def test_the_first_bytes_after_a_silence_are_no_noise(session):
    (silent,) = session.watch.on_silence(session.t_s + 6)
    session.t_s += 35
    session.watch.on_bytes(session.t_s)
    assert session.watch.on_silence(session.t_s) == []
    session.watch.on_received(session.t_s, b"0.273 VAC")
    assert session.watch.on_silence(session.t_s + 9) == []
    session.send("{:.3f} VAC", 5)
    assert silent.kind == "meter silent"
    assert session.told == [("meter back", "Lines come again, after 35 s of silence.")]


def test_lines_of_a_burst_that_wait_to_be_judged_are_no_silence(session):
    session.watch.on_received(session.t_s + 4, b"0.273 VAC")
    assert session.watch.on_silence(session.t_s + 6) == []
    (silent,) = session.watch.on_silence(session.t_s + 9)
    assert silent.kind == "meter silent"


def test_a_low_battery_is_told_from_the_second_mark_on_a_line_of_its_own_or_flashing_too(session):
    for _ in range(10):
        session.send("LO BAT", 1)
        session.send("{:.3f} VAC", 3)
    assert session.kinds() == ["low battery"] and "until it is changed" in session.watch.problem
    session.send("{:.3f} VAC BATT OK", 30)
    assert session.kinds() == ["low battery"] * 2 and session.watch.problem == ""


def test_a_first_line_that_is_cut_hides_no_state_of_those_like_it():
    watch = MeterMonitor()
    raw = b"0.273 V HOLD"
    assert watch.on_line(0.0, raw, CUT) == []
    news = [one.kind for t_s in range(1, 6) for one in watch.on_line(t_s, raw, read_line(raw))]
    assert news == ["hold"]


def test_dashes_are_told_once_they_stay_and_are_no_damage(session):
    for _ in range(20):
        session.send("---- V", 3)
        session.send("{:.3f} VAC", 5)
    assert session.told == [], "a meter that looks for its range"
    session.send("---- V", 20)
    assert session.kinds() == ["no value"] and "dashes" in session.watch.problem
