"""The recorder's work without a loop: what the port gives, in; rows of the visit log, out."""

from __future__ import annotations

import random
import sqlite3

import pytest

from logger.clock import NS_PER_S, ManualClock
from logger.errors import StillvoltError
from logger.meter.date_watch import STORED_NOTICE
from logger.meter.reader import Arrival, PortBack, PortLost
from logger.recording.recorder import ComputerWatch, Recorder
from logger.recording.watch.power import Power
from logger.settling.events import Motion, State
from logger.visit import VisitLog
from logger.visit.results.span_review import STORED_DOUBT, SpanReview
from logger.visit.storage.run_writer import RunWriter
from logger.visit.storage.unfinished_run import heartbeat_problems


class Bench:
    """A recorder on a fresh log, fed by hand."""

    def __init__(self, folder) -> None:
        self.clock = ManualClock()
        self.log = VisitLog.create(folder / "house.visit", self.clock)
        self.writer = RunWriter(
            self.log.path, utc_ns=self.clock.utc_ns(), zone="UTC", utc_offset_s=0, port="test",
            settings="{}", software="test", pid=1,
        )  # fmt: skip
        self.told: list[str] = []
        self.recorder = Recorder(self.writer, self.clock, self.clock.steady_ns(), self.told.append)

    def send(self, data: bytes) -> None:
        self.recorder.handle(Arrival(self.clock.utc_ns(), self.clock.steady_ns(), data))

    def lines(self, values, every_s: float = 0.4, form: str = "{:.3f} VAC\r\n") -> None:
        for value in values:
            self.clock.advance_ns(round(every_s * NS_PER_S))
            self.send(form.format(value).encode())
            self.recorder.write()

    def wait(self, seconds: float, every_s: float = 0.2) -> None:
        for _ in range(round(seconds / every_s)):
            self.clock.advance_ns(round(every_s * NS_PER_S))
            self.recorder.tick()
            if self.recorder.due_in_ns() <= 0:
                self.recorder.write()


@pytest.fixture
def bench(tmp_path):
    bench = Bench(tmp_path)
    yield bench
    bench.writer.close()
    bench.log.close()


def test_a_line_becomes_a_sample_and_a_still_trace_a_reading(bench):
    bed = bench.log.spots.add("Bed, lying down")
    bench.lines([0.27, 0.271, 0.27, 0.269, 0.27] * 6)
    live = bench.log.recorder.live()
    assert live.state is State.SETTLED and live.count_volts == 30
    reading = bench.log.readings.take(bed.id, "everything on")
    assert reading.volts == pytest.approx(0.27, abs=0.001)
    assert bench.log.samples.after().volts[:2].tolist() == [0.27, 0.271]


SILENCE_S = 4.0
"""After so long without a further line, the first line of a stream waits no more for others that agree with it."""


def test_a_line_may_come_in_pieces(bench):
    for piece in (b"0.2", b"7", b"3 V", b"AC\r", b"\n0.3"):
        bench.clock.advance_ns(NS_PER_S // 10)
        bench.send(piece)
    bench.wait(SILENCE_S)
    bench.recorder.write()
    assert bench.log.samples.after().volts.tolist() == [0.273]


def test_what_is_no_sample_is_counted_told_and_kept(bench):
    bench.send(b"0.273 VAC\r\n0.5 V DC\r\n#\xff\x00?\r\nOL VAC\r\n")
    bench.wait(SILENCE_S)
    bench.recorder.write()
    live = bench.log.recorder.live()
    assert (live.count_volts, live.count_not_ac_volts, live.count_unreadable, live.count_overload) == (
        1,
        1,
        1,
        1,
    )
    kept = bench.log.samples.refused_lines()[::-1]
    assert [line.status for line in kept] == ["not_ac_volts", "unreadable", "overload"]
    assert kept[0].raw == b"0.5 V DC" and kept[1].raw == b"#\xff\x00?"
    assert live.last_refused


def test_a_held_display_is_kept_and_is_never_a_sample(bench):
    bench.lines([0.27] * 20, form="{:.3f} VAC HOLD\r\n")
    live = bench.log.recorder.live()
    assert (live.count_volts, live.count_not_ac_volts, live.state) == (0, 20, State.WAITING)
    assert {line.status for line in bench.log.samples.refused_lines()} == {"held"}
    assert "hold" in live.last_refused.lower()


def test_a_display_that_froze_cannot_be_taken_for_a_settled_value(bench):
    bed = bench.log.spots.add("Bed")
    noise = [0.27, 0.272, 0.269, 0.271, 0.273, 0.268]
    bench.lines(noise * 60)
    bench.log.readings.take(bed.id)
    bench.lines([0.271] * 200)
    assert bench.log.recorder.live().state is State.SETTLED and bench.log.recorder.live().frozen
    with pytest.raises(StillvoltError, match="HOLD"):
        bench.log.readings.take(bed.id)
    bench.lines([3.0] * 10 + noise * 10)
    bench.log.readings.take(bed.id)
    assert [n.kind for n in bench.log.notices.after()] == ["frozen", "frozen"]


def test_a_line_without_end_is_kept_whole_and_is_never_a_sample(bench):
    sent = b"7" * 1_000_000 + b".5\r\n0.25\r\n"
    for at in range(0, len(sent), 4096):
        bench.send(sent[at : at + 4096])
    bench.wait(SILENCE_S)
    bench.recorder.write()
    assert bench.log.samples.after().volts.tolist() == [0.25]
    assert b"".join(line.raw for line in bench.log.samples.refused_lines()[::-1]) == sent[: 1_000_000 + 2]


def test_a_pulled_cable_is_told_and_is_a_gap(bench):
    bench.lines([0.3] * 30)
    bench.send(b"0.3")
    bench.recorder.handle(PortLost(bench.clock.utc_ns(), bench.clock.steady_ns(), "The cable is out."))
    bench.wait(10)
    live = bench.log.recorder.live()
    assert (live.port_state, live.port_message, live.state) == ("lost", "The cable is out.", State.LOST)
    assert bench.log.current_value.why_not_settled() == "The cable is out."
    bench.recorder.handle(PortBack(bench.clock.utc_ns(), bench.clock.steady_ns(), "test"))
    bench.lines([0.3] * 30)
    (gap,) = [e.event for e in bench.log.events.after() if e.event.kind == "gap"]
    assert gap.start_s == pytest.approx(12.0, abs=0.41) and gap.end_s == pytest.approx(22.4, abs=0.41)
    assert bench.log.recorder.live().port_state == "open"
    assert [n.kind for n in bench.log.notices.after()] == ["port lost", "port back"]
    assert [line.raw for line in bench.log.samples.refused_lines()] == [b"0.3"], "half a line is not a value"
    assert len(bench.log.samples.after().volts) == 60


def test_a_port_that_is_back_before_a_gap_would_be_one_has_ended_the_span(bench):
    bench.lines([0.3, 0.301] * 20)
    bench.recorder.handle(PortLost(bench.clock.utc_ns(), bench.clock.steady_ns(), "The cable is out."))
    bench.wait(1)
    bench.recorder.handle(PortBack(bench.clock.utc_ns(), bench.clock.steady_ns(), "test"))
    bench.lines([0.3, 0.301] * 20)
    bench.recorder.end("stopped")
    kinds = [stored.event.kind for stored in bench.log.events.after()]
    assert sorted(kinds) == ["gap", "settled", "settled"]


def test_silence_still_beats_so_that_the_window_knows_the_recorder_lives(bench):
    bench.wait(60)
    live = bench.log.recorder.live()
    assert live.state in (State.WAITING, State.LOST)
    assert bench.clock.utc_ns() - live.beat_utc_ns <= 1.2 * NS_PER_S


@pytest.mark.parametrize("jump_s", [-3600, 3600])
def test_a_clock_set_in_mid_recording_is_noted_and_the_trace_goes_on(bench, jump_s):
    bench.lines([0.3] * 30)
    bench.clock.set_utc_ns(bench.clock.utc_ns() + jump_s * NS_PER_S)
    bench.lines([0.3] * 30)
    (notice,) = bench.log.notices.after()
    assert notice.kind == "clock set" and "3600.0 s" in notice.message
    assert ("back" in notice.message) == (jump_s < 0)
    events = [e.event.kind for e in bench.log.events.after()]
    assert events == [], "neither a gap nor a step"
    assert bench.log.recorder.live().state is State.SETTLED


def test_a_full_disk_loses_nothing_and_is_told_once(bench):
    bench.lines([0.3] * 5)
    bench.writer._db.execute("PRAGMA max_page_count = 1")
    bench.lines([float(i) for i in range(1, 400)], form="{:.3f} VAC" + " " * 200 + "\n")
    assert sum("cannot be written" in sentence for sentence in bench.told) == 1
    before = len(bench.log.samples.after().volts)
    assert before < 400
    bench.writer._db.execute("PRAGMA max_page_count = 1000000")
    bench.lines([0.5, 0.5])
    assert bench.log.samples.after().volts[5:].tolist() == [float(i) for i in range(1, 400)] + [0.5, 0.5]
    bench.recorder.write()
    assert [n.kind for n in bench.log.notices.after()] == ["disk refuses", "disk back"]


def test_memory_at_its_bound_keeps_what_waits_drops_what_comes_and_says_both(bench, monkeypatch):
    monkeypatch.setattr("logger.recording.recorder.MAX_PENDING_LINES", 50)
    bench.lines([0.1] * 5)
    bench.writer._db.execute("PRAGMA max_page_count = 1")
    values = [float(i) for i in range(1, 401)]
    bench.lines(values, form="{:.3f} VAC" + " " * 500 + "\n")
    waiting = bench.recorder.waiting
    assert waiting.lines == 50 and waiting.dropped > 0 and waiting.is_full
    bench.writer._db.execute("PRAGMA max_page_count = 1000000")
    bench.lines([0.5])
    assert bench.recorder.waiting is None
    bench.lines([0.5])
    kept = bench.log.samples.after().volts[5:].tolist()
    waited = kept[: kept.index(0.5)]
    missing = 400 - len(waited)
    assert waited == values[: len(waited)] and set(kept[len(waited) :]) == {0.5}, "one hole, at the end"
    back = bench.log.notices.after()[-1]
    assert back.kind == "disk back" and f"50 lines that waited are kept; {missing} lines" in back.message
    assert [n.kind for n in bench.log.notices.after()] == ["disk refuses", "memory full", "disk back"]


def test_the_end_closes_what_is_open(bench):
    bench.lines([0.3] * 30)
    bench.recorder.end("stopped")
    (settled,) = [e.event for e in bench.log.events.after()]
    assert settled.kind == "settled" and settled.end_s == pytest.approx(12.0)
    assert bench.log.runs.all()[0].end_reason == "stopped"
    assert bench.log.recorder.live().ended


def test_a_recorder_killed_in_a_still_span_leaves_it_to_the_next(bench):
    bench.lines([0.3] * 30)
    open_span = bench.log.recorder.live().open_events
    bench.writer.close()
    bench.writer = RunWriter(
        bench.log.path, utc_ns=bench.clock.utc_ns(), zone="UTC", utc_offset_s=0, port="test",
        settings="{}", software="test", pid=1,
    )  # fmt: skip
    assert tuple(e.event for e in bench.log.events.after()) == open_span
    with sqlite3.connect(bench.log.path) as db:
        assert db.execute("PRAGMA integrity_check").fetchone()[0] == "ok"


def test_a_sleep_in_mid_recording_is_told_with_its_length_and_is_a_gap(bench):
    bench.lines([0.3] * 30)
    bench.clock.sleep_ns(4800 * NS_PER_S)
    bench.lines([0.3] * 30)
    (notice,) = bench.log.notices.after()
    assert notice.kind == "sleep" and "1 h 20 min" in notice.message
    (gap,) = [e.event for e in bench.log.events.after() if e.event.kind == "gap"]
    assert gap.end_s - gap.start_s == pytest.approx(4800, abs=1)


def test_what_is_watched_of_the_computer_stands_in_the_log(bench):
    now = [Power(False, 91.0, 7200.0)]
    free = [10**9]
    bench.recorder = Recorder(
        bench.writer, bench.clock, bench.clock.steady_ns(), bench.told.append,
        computer=ComputerWatch(lambda: free[0], lambda: now[0]),
    )  # fmt: skip
    bench.wait(20)
    now[0] = Power(True, 91.0)
    free[0] = 10**7
    bench.wait(20)
    kinds = [n.kind for n in bench.log.notices.after()]
    assert sorted(kinds) == ["battery", "charger", "disk short", "meter silent"]
    assert any("The charger was plugged in" in told for told in bench.told)


def test_a_port_that_is_back_under_another_name_is_asked_about(bench):
    bench.recorder.handle(PortLost(bench.clock.utc_ns(), bench.clock.steady_ns(), "The cable is out."))
    back = PortBack(bench.clock.utc_ns(), bench.clock.steady_ns(), "/dev/ttyUSB1", "/dev/ttyUSB0")
    bench.recorder.handle(back)
    assert "as /dev/ttyUSB1 (before: /dev/ttyUSB0)" in bench.told[-1]


def test_another_device_at_the_port_that_was_lost_gives_no_samples(bench):
    bench.lines([0.3] * 30, form="{:.3f} V\n")
    bench.recorder.handle(PortLost(bench.clock.utc_ns(), bench.clock.steady_ns(), "The cable is out."))
    bench.wait(2)
    bench.recorder.handle(PortBack(bench.clock.utc_ns(), bench.clock.steady_ns(), "test"))
    bench.lines([2.0] * 30, form="DMM {:.3f} V\n")
    assert set(bench.log.samples.after().volts) == {0.3}
    assert any("another device" in text for text in bench.told)
    bench.lines([0.3] * 30, form="{:.3f} V\n")
    assert len(bench.log.samples.after().volts) == 60


def test_a_run_over_the_end_of_daylight_saving_has_no_gap_and_no_step(bench):
    # 2025-10-26 00:59 UTC: a minute before the clocks of central Europe go back by an hour.
    bench.clock.set_utc_ns(1_761_440_340 * NS_PER_S)
    bench.recorder = Recorder(bench.writer, bench.clock, bench.clock.steady_ns(), bench.told.append)
    bench.lines([0.3] * 300)
    assert bench.log.events.after() == [] and bench.log.notices.after() == []
    assert len(bench.log.samples.after().volts) == 300


def test_an_end_on_a_full_disk_says_what_is_missing_and_keeps_the_rest(bench):
    bench.lines([0.3] * 30)
    bench.writer._db.execute("PRAGMA max_page_count = 1")
    bench.lines([0.4] * 200, form="{:.3f}" + " " * 300 + "\n")
    with pytest.raises(StillvoltError, match=r"does not take the last \d+ lines") as refused:
        bench.recorder.end("stopped")
    assert "is kept" in str(refused.value) and "Make room" in str(refused.value)
    kept = bench.log.samples.after().volts.tolist()
    assert kept == ([0.3] * 30 + [0.4] * 200)[: len(kept)] and 30 <= len(kept) < 230
    with sqlite3.connect(bench.log.path) as db:
        assert db.execute("PRAGMA integrity_check").fetchone()[0] == "ok"


def test_a_recorder_that_got_no_time_says_so(bench):
    bench.recorder = Recorder(
        bench.writer, bench.clock, bench.clock.steady_ns(), bench.told.append,
        computer=ComputerWatch(lambda: 10**12, lambda: None),
    )  # fmt: skip
    bench.wait(8)
    bench.clock.advance_ns(9 * NS_PER_S)
    bench.wait(20)
    (notice,) = (one for one in bench.log.notices.after() if one.kind != "meter silent")
    assert notice.kind == "busy" and "9 s" in notice.message


def test_a_damaged_line_is_kept_and_no_sample_and_a_new_range_keeps_its_times(bench):
    bench.lines([0.27, 0.271, 0.272, 0.273, 0.274] * 2)
    bench.lines([0.71], form="{:.2f} VAC\r\n")
    bench.lines([0.27, 0.271])
    bench.lines([12.1, 12.2, 12.3], form="{:.2f} VAC\r\n")
    samples = bench.log.samples.after()
    assert samples.volts.tolist()[-5:] == [0.27, 0.271, 12.1, 12.2, 12.3]
    live = bench.log.recorder.live()
    assert (live.count_volts, live.count_unreadable) == (15, 1)
    seconds = (samples.steady_utc_ns - samples.steady_utc_ns[0]) / NS_PER_S
    assert seconds[-3:] - seconds[-4] == pytest.approx([0.4, 0.8, 1.2])


def test_a_line_that_waits_is_kept_when_the_port_is_lost_and_at_the_end(bench):
    bench.lines([0.27, 0.271, 0.272, 0.273, 0.274] * 2)
    bench.lines([12.1], form="{:.2f} VAC\r\n")
    bench.recorder.handle(PortLost(bench.clock.utc_ns(), bench.clock.steady_ns(), "gone"))
    bench.lines([12.2], form="{:.2f} VAC\r\n")
    bench.recorder.end("stopped")
    kept = bench.log.samples.after().volts.tolist()
    assert bench.log.recorder.live().count_unreadable + len(kept) == 12


def test_damage_noise_and_a_silent_start_are_told_once(bench):
    bench.wait(20)
    assert [n.kind for n in bench.log.notices.after()] == ["meter silent"]
    assert bench.log.recorder.live().warning
    bench.lines([0.27, 0.271] * 50)
    for _ in range(12):
        bench.lines([0.27, 0.271, 0.272, 0.273, 0.274] * 3)
        bench.lines([0.27], form="{:.1f}?# VAC\r\n")
    damaged = [n for n in bench.log.notices.after() if n.kind == "damaged lines"]
    assert len(damaged) == 1 and "were refused. Check the plug and the cable." in damaged[0].message
    assert "damaged" in bench.log.recorder.live().warning
    for _ in range(100):
        bench.clock.advance_ns(NS_PER_S // 5)
        bench.send(bytes(range(130, 170)))
        bench.recorder.tick()
        bench.recorder.write()
    last = bench.log.notices.after()[-1]
    assert last.kind == "noise" and "Noise comes from the port" in last.message
    assert "Noise" in bench.log.recorder.live().warning


def test_a_heartbeat_after_refused_values_is_what_the_lines_show(bench):
    noise = random.Random(1)

    def send(volts: float, form: str) -> None:
        bench.lines([volts * (1.0 + noise.gauss(0.0, 0.004)) * 1e3 for _ in range(52)], 0.25, form)

    for volts, form in ((1.1, "{:.0f} mV\r\n"), (2.5, "{:.0f}\r\n"), (0.1, "{:.0f} mV\r\n")):
        send(volts, form)
        assert list(heartbeat_problems(bench.log._connection.db)) == [], form
    assert bench.log.recorder.live().state is State.SETTLED
    assert [n.kind for n in bench.log.notices.after()][-1] == "lines refused"


def test_two_meters_at_one_port_give_no_reading_and_a_sentence(bench):
    bed = bench.log.spots.add("Bed")
    bench.lines([1.234, 5.678, 1.235, 5.677, 1.233, 5.679] * 40, every_s=0.1)
    live = bench.log.recorder.live()
    assert live.state is State.ALTERNATING
    assert "Two values alternate, 1.234 V and 5.678 V" in live.warning
    with pytest.raises(StillvoltError, match="Two values alternate"):
        bench.log.readings.take(bed.id)
    assert [n.kind for n in bench.log.notices.after() if n.kind != "range"] == ["lines alternating"]


@pytest.mark.parametrize("seed", range(4))
def test_lines_that_lost_their_first_digit_in_half_of_the_cases_are_never_settled(bench, seed):
    rng = random.Random(seed)
    for _ in range(400):
        line = f"{12.34 + rng.gauss(0.0, 0.003):.2f} V AC\r\n"
        bench.clock.advance_ns(NS_PER_S // 10)
        bench.send((line[1:] if rng.random() < 0.5 else line).encode())
        bench.recorder.write()
        assert bench.log.recorder.live().state is not State.SETTLED
    kinds = {n.kind for n in bench.log.notices.after()}
    assert kinds & {"lines refused", "lines alternating"}


def test_lines_that_come_late_are_kept_and_are_no_samples(bench):
    bench.lines([1.0, 1.001, 0.999, 1.0] * 10, every_s=0.1)
    bench.clock.advance_ns(19 * NS_PER_S)
    bench.send(b"3.000 VAC\r\n" * 100 + b"1.000 VAC\r\n" * 90)
    bench.lines([1.0, 1.001, 0.999, 1.0] * 30, every_s=0.1)
    bench.recorder.end("stopped")
    assert max(bench.log.samples.after().volts) < 2 and len(bench.log.samples.after().volts) == 160
    events = [logged.event for logged in bench.log.events.after()]
    assert not [event for event in events if event.kind == "step"]
    assert [event.end_s - event.start_s for event in events if event.kind == "gap"] == [
        pytest.approx(19.1, abs=0.01)
    ]
    assert [text for text in bench.told if text.startswith("190 lines came late, all at once")]


def test_a_link_that_gives_its_backlog_slowly_makes_no_level_and_no_step(bench):
    bench.lines([1.0, 1.001, 0.999, 1.0] * 15, every_s=0.2)
    bench.clock.advance_ns(40 * NS_PER_S)
    bench.lines([3.0, 3.001, 2.999, 3.0] * 100, every_s=0.1)
    bench.lines([1.0, 1.001, 0.999, 1.0] * 15, every_s=0.2)
    bench.recorder.end("stopped")
    assert max(bench.log.samples.after().volts) < 2
    assert not [logged for logged in bench.log.events.after() if logged.event.kind == "step"]
    (told,) = [text for text in bench.told if "came late" in text]
    assert "after a silence of 40 s" in told and "faster than the meter sends" in told


def test_a_recorder_that_was_held_up_does_not_blame_the_meter(bench):
    recorder = Recorder(
        bench.writer, bench.clock, bench.clock.steady_ns(), bench.told.append,
        computer=ComputerWatch(lambda: 10**12, lambda: None),
    )  # fmt: skip
    bench.recorder = recorder
    bench.lines([1.0, 1.001, 0.999, 1.0] * 10, every_s=0.1)
    bench.wait(1.0)
    bench.clock.advance_ns(18 * NS_PER_S)
    bench.wait(1.0)
    assert any("held up for 18 s" in text for text in bench.told)
    assert not any("the meter is switched off" in text for text in bench.told)
    bench.wait(10.0)
    assert any("the meter is switched off" in text for text in bench.told), (
        "it is silent while somebody listens"
    )


def test_a_meter_that_comes_back_after_a_silence_was_silent(bench):
    level = [0.273, 0.274, 0.272, 0.273, 0.275]
    bench.lines(level * 10, every_s=0.2)
    bench.wait(35.0)
    for value in level * 10:
        bench.lines([value], every_s=0.2)
        bench.recorder.tick()
    silent, back = bench.log.notices.after()
    assert (silent.kind, back.kind) == ("meter silent", "meter back")
    assert "s of silence" in back.message


def test_a_decimal_comma_is_learned_from_other_lines(bench):
    for value in [0.98, 0.985, 0.99, 0.995, 1.002, 1.007, 1.012] + [1.015, 1.016, 1.014] * 20:
        bench.lines([0.0], form=f"{value:.3f} V\r\n".replace(".", ","))
    assert bench.log.recorder.live().count_unreadable == 0
    assert bench.log.samples.after().volts[-1] == 1.014


def test_null_from_the_start_settles_nothing(bench):
    bench.lines([0.0200, 0.0199, 0.0201] * 30, every_s=0.2, form="{:.4f} V AC NULL\r\n")
    live = bench.log.recorder.live()
    assert live.state is not State.SETTLED and live.count_volts == 0 and "'NULL'" in live.warning
    assert [one.kind for one in bench.log.notices.after()] == ["unknown word"]


def test_lines_that_waited_for_the_first_opening_are_no_samples(bench):
    waited = b"".join(b"0.%03d VAC\r\n" % (500 + i) for i in range(40))
    bench.recorder.handle(
        Arrival(bench.clock.utc_ns(), bench.clock.steady_ns(), waited, starts_mid_line=True)
    )
    bench.lines([0.271, 0.27, 0.272] * 10, every_s=0.2)
    assert bench.log.samples.after().volts.max() == 0.272
    (notice,) = bench.log.notices.after()
    assert notice.kind == "late lines" and "as the port was opened" in notice.message


def test_one_other_digit_in_one_line_of_a_fast_meter_is_no_motion_and_a_short_touch_is_one(bench):
    level = [0.273, 0.274, 0.272, 0.273, 0.275, 0.272]
    bench.lines(level * 20, every_s=0.1)
    bench.lines([0.375, *level * 10], every_s=0.1)
    assert bench.log.samples.after().volts.max() == 0.275
    assert not [one for one in bench.log.events.after() if isinstance(one.event, Motion)]
    bench.lines([0.375, 0.391, 0.384, *level * 10], every_s=0.1)
    assert bench.log.samples.after().volts.max() == 0.391


def test_lines_of_another_date_give_one_notice_and_a_remark_beside_what_is_read_of_them(bench):
    for second in range(30):
        bench.lines([0.27], form=f"2001-02-03 22:00:{second:02d},{{:.3f}},V\r\n")
    (notice,) = [notice for notice in bench.log.notices.after(0) if notice.kind == STORED_NOTICE]
    assert "2001-02-03" in notice.message and bench.log.recorder.live().count_volts == 30
    reading = bench.log.readings.take(bench.log.spots.add("Bed").id, "everything on")
    review = SpanReview.of_log(bench.log.events.after(), [notice], bench.log.recorder.live())
    assert review.of_reading(reading).endswith(STORED_DOUBT)
