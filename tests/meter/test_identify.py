"""Finding a meter's settings and the form of its lines: at a wire simulated level by level, and at a terminal."""

from __future__ import annotations

import contextlib
import itertools
import os
import random
import threading
from collections.abc import Callable
from dataclasses import replace

import pytest

from logger.clock import NS_PER_S, SystemClock
from logger.errors import StillvoltError
from logger.meter.identification import (
    BAUDS,
    FRAMINGS,
    KNOWN_QUERIES,
    Certainty,
    FailureReason,
    IdentifiedMeter,
    IdentifyProgress,
    NotIdentified,
    identify,
)
from logger.meter.port import PortSettings
from logger.meter.received_line import receive_line
from tests.support.serial_wire import Wire, levels_of, received

AT = PortSettings("wire")


def numbered(form: str) -> Callable[[], bytes]:
    values = itertools.count()
    return lambda: form.format(0.27 + next(values) % 10 / 1000).encode()


def find(wire: Wire, **more: object) -> IdentifiedMeter | NotIdentified:
    return identify(AT, wire.clock, open_=wire.open, **more)  # type: ignore[arg-type]


def found(wire: Wire, **more: object) -> IdentifiedMeter:
    outcome = find(wire, **more)
    assert isinstance(outcome, IdentifiedMeter), outcome
    return outcome


def test_the_wire_itself() -> None:
    for baud, (bits, parity, stop) in itertools.product((1200, 9600), FRAMINGS):
        settings = PortSettings("", baud, bits, parity, stop)
        assert received(levels_of(b"0.273 V\r\n", settings), baud, settings) == b"0.273 V\r\n"
    other = received(levels_of(b"0.273 V\r\n", AT), 9600, replace(AT, baud=19200))
    assert other and other != b"0.273 V\r\n"


def test_the_commonest_settings_take_seconds() -> None:
    wire = Wire(AT, numbered("{:.3f} V AC\r\n"))
    meter = found(wire)
    assert meter.settings == AT
    assert wire.clock.steady_ns() < 5 * NS_PER_S
    assert (meter.unit, meter.function_mark, meter.certainty) == ("V", "AC", Certainty.SURE)
    assert meter.rate_hz == pytest.approx(2.5)
    line = meter.lines[-1]
    assert line.reading.number_span is not None
    assert line.text[slice(*line.reading.number_span)] == f"{line.reading.volts:.3f}"


@pytest.mark.parametrize("framing", FRAMINGS, ids=str)
@pytest.mark.parametrize("baud", BAUDS)
def test_every_rate_and_framing_is_found(baud: int, framing: tuple[int, str, float]) -> None:
    bits, parity, stop = framing
    sent = PortSettings("wire", baud, bits, parity, stop)
    rate_hz = 2.5 if baud >= 1200 else 0.8  # a line takes up to half a second
    meter = found(Wire(sent, numbered("{:+.4f} V AC\r\n"), rate_hz=rate_hz))
    # What decides is that every line is received as it was sent.
    assert meter.settings.baud == baud
    assert all(line.reading.volts is not None for line in meter.lines)
    assert received(levels_of(b"0.273 V AC\r\n", sent), baud, meter.settings) == b"0.273 V AC\r\n"
    if bits == 7 and parity != "N":
        # Of eight bits a receiver does not see which parity it is; nor does it matter.
        assert (meter.settings.data_bits, meter.settings.parity) == (7, parity)


def test_a_cable_that_needs_its_power_the_other_way_round() -> None:
    wire = Wire(AT, numbered("{:.3f}\n"), power=(True, False))
    meter = found(wire)
    assert (meter.settings.dtr, meter.settings.rts) == (True, False)


def test_lines_that_do_not_say_which_number_need_teaching() -> None:
    meter = found(Wire(AT, numbered("{:.3f} 0.412\r\n")))
    assert meter.needs_teaching
    assert meter.certainty is Certainty.DOUBTFUL


def test_a_meter_on_another_function_is_named() -> None:
    meter = found(Wire(AT, numbered("{:.3f} V DC\r\n")))
    assert "the meter sends DC volts; switch it to AC volts" in meter.why


@pytest.mark.parametrize("lines", [("DCV", "8.911"), ("8.911", "VDC"), ("DCV", "8.911 V")])
def test_a_line_of_its_own_that_says_dc_is_named(lines: tuple[str, ...]) -> None:
    meter = found(Wire(AT, itertools.cycle([f"{line}\r\n".encode() for line in lines]).__next__))
    assert meter.certainty is Certainty.DOUBTFUL and not meter.needs_teaching
    assert "says that the meter sends DC volts" in meter.why


@pytest.mark.parametrize("line", ["MODE: DCV", "DE: DCV", "VDC 600mV"])
@pytest.mark.parametrize("url", ["wire", "socket://127.0.0.1:9"])
def test_a_line_that_says_dc_once_as_the_port_is_opened_is_named(line: str, url: str) -> None:
    came = itertools.chain([f"{line}\r\n".encode()], itertools.repeat(b"8.911 V\r\n"))
    settings = replace(AT, url=url)
    wire = Wire(settings, came.__next__)
    meter = identify(settings, wire.clock, open_=wire.open)
    assert isinstance(meter, IdentifiedMeter)
    assert meter.certainty is Certainty.DOUBTFUL and not meter.needs_teaching
    assert "the meter sends DC volts" in meter.why


@pytest.mark.parametrize(
    ("line", "why"), [("0.273 VAC LoZ", "low input impedance on"), ("0.273 VAC HOLD", "release HOLD")]
)
def test_a_value_that_is_none_of_a_body_of_this_moment_is_never_sure(line: str, why: str) -> None:
    meter = found(Wire(AT, lambda: f"{line}\r\n".encode()))
    assert meter.certainty is Certainty.DOUBTFUL and why in meter.why


def test_an_overload_mark_is_shown_when_it_comes() -> None:
    lines = itertools.cycle([b"0.273 V\r\n", b"O.L V\r\n"])
    assert found(Wire(AT, lambda: next(lines))).overload_mark == "O.L"


def test_noise_is_no_meter() -> None:
    noise = itertools.cycle([bytes(range(130, 170)), bytes(range(200, 255))])
    outcome = find(Wire(AT, lambda: next(noise)))
    assert isinstance(outcome, NotIdentified)
    assert outcome.reason is FailureReason.GARBLED
    assert outcome.sample


def test_a_silent_port_is_only_asked_on_request() -> None:
    wire = Wire(AT, answers={b"READ?\n": b"+2.73E-01\n"})
    outcome = find(wire)
    assert isinstance(outcome, NotIdentified)
    assert outcome.reason is FailureReason.SILENT
    assert wire.written == b""


@pytest.mark.parametrize("query", KNOWN_QUERIES)
@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
def test_a_meter_that_has_to_be_asked(query: str, end: str) -> None:
    wire = Wire(AT, answers={(query + end).encode(): b"+2.73000E-01\r\n"})
    meter = found(wire, queries=KNOWN_QUERIES)
    assert meter.settings.query is not None
    # LF is what is added without saying, and CR LF serves a meter that looks for CR.
    assert meter.settings.query_bytes().decode().startswith(query)
    assert (query + end).encode() in meter.settings.query_bytes()
    assert wire.clock.steady_ns() < 18 * NS_PER_S


def test_a_slow_answer_is_not_taken_for_that_to_the_next_question() -> None:
    wire = Wire(AT, answers={b"READ?\n": b"0.273\n"}, delay_s=1.0)
    meter = found(wire, queries=KNOWN_QUERIES)
    assert meter.settings.query == "READ?"
    assert meter.settings.query_every_s > 1.0


def test_an_instrument_of_the_standard_says_who_it_is_and_is_given_time() -> None:
    wire = Wire(
        AT, answers={b"*IDN?\n": b"Maker,Meter,1,2\n", b"MEAS:VOLT:AC?\n": b"+2.73E-01\n"}, delay_s=0.7
    )
    meter = found(wire, queries=KNOWN_QUERIES)
    assert meter.identity == "Maker,Meter,1,2"
    assert meter.settings.query == "MEAS:VOLT:AC?"
    assert meter.certainty is Certainty.SURE


class Late(Wire):
    """A meter that is switched on after some seconds, and sends by itself then."""

    on_after_s = 9.0

    def _wait(self) -> None:
        line = self._line
        if self.clock.steady_ns() < self.on_after_s * NS_PER_S:
            self._line = None
            self._due_ns = max(self._due_ns, self.clock.steady_ns())
        super()._wait()
        self._line = line


@pytest.mark.parametrize("form", ["{:.3f}\r\n", "{:.3f} V AC\r\n", "+{:.4e}\n"])
@pytest.mark.parametrize("on_after_s", [5.5, 7.0, 9.0, 12.0])
@pytest.mark.parametrize("rate_hz", [0.5, 2.5, 10.0])
def test_a_meter_switched_on_late_is_listened_to_and_not_taken_for_an_answer(
    form: str, on_after_s: float, rate_hz: float
) -> None:
    wire = Late(AT, numbered(form), rate_hz=rate_hz)
    wire.on_after_s = on_after_s
    outcome = find(wire, queries=KNOWN_QUERIES)
    assert wire._at is None, "the port is given back"
    if isinstance(outcome, IdentifiedMeter):
        assert outcome.settings.query is None
        assert outcome.certainty is not Certainty.SURE or "V AC" in form
    else:
        assert outcome.reason is FailureReason.SILENT


class Babble(Wire):
    """Bytes that never pause."""

    def __init__(self, alphabet: bytes) -> None:
        super().__init__(AT)
        self._source = random.Random(1)
        self._alphabet = alphabet

    @property
    def in_waiting(self) -> int:
        return 0

    def read(self, size: int = 1) -> bytes:
        self.clock.advance_ns(NS_PER_S // 100)
        return bytes(self._source.choices(self._alphabet, k=10))


@pytest.mark.parametrize(
    "alphabet",
    [
        bytes(range(256)),
        b"\x00",
        b"\xff",
        b"0123456789. V\r\n",
        pytest.param(b"\r\n", marks=pytest.mark.long),
    ],
    ids=["any", "NUL", "FF", "values", "ends"],
)
def test_noise_that_never_pauses_ends_as_noise(alphabet: bytes) -> None:
    wire = Babble(alphabet)
    outcome = find(wire, queries=KNOWN_QUERIES)
    assert wire._at is None and wire.clock.steady_ns() <= 400 * NS_PER_S
    if isinstance(outcome, IdentifiedMeter):
        assert outcome.certainty is not Certainty.SURE
    else:
        assert outcome.reason in (FailureReason.GARBLED, FailureReason.SILENT)


class Pulled(Wire):
    """A cable that is pulled after some seconds."""

    pulled_after_s = 1.0

    def _is_pulled(self) -> bool:
        return self.clock.steady_ns() > self.pulled_after_s * NS_PER_S

    def open(self, settings: PortSettings) -> Wire:
        if self._is_pulled():
            raise StillvoltError("There is no port wire.")
        return super().open(settings)

    def read(self, size: int = 1) -> bytes:
        if self._is_pulled():
            raise OSError(5, "Input/output error")
        return super().read(size)


@pytest.mark.parametrize("pulled_after_s", [0.5, 2.0, 5.0, 8.0])
@pytest.mark.parametrize("line", [None, bytes(range(130, 170))], ids=["silent", "garbled"])
def test_a_cable_that_is_pulled_ends_the_search(pulled_after_s: float, line: bytes | None) -> None:
    wire = Pulled(AT, None if line is None else lambda: line)
    wire.pulled_after_s = pulled_after_s
    outcome = find(wire, queries=KNOWN_QUERIES)
    assert isinstance(outcome, NotIdentified) and outcome.reason is FailureReason.LOST
    assert "was lost" in outcome.why and wire._at is None


def test_any_query_of_the_users_own() -> None:
    wire = Wire(AT, answers={b"D\n": b"  0.273 V\r\n"})
    assert found(wire, queries=["D"]).settings.query == "D"
    assert b"READ?" not in wire.written


def test_an_error_message_is_no_value() -> None:
    wire = Wire(AT, answers={(query + "\n").encode(): b"ERROR\n" for query in KNOWN_QUERIES})
    assert isinstance(find(wire, queries=KNOWN_QUERIES), NotIdentified)


def test_stopped_at_any_time_and_progress_reported() -> None:
    wire = Wire(AT)
    stop = threading.Event()
    reports: list[IdentifyProgress] = []

    def tell(progress: IdentifyProgress) -> None:
        reports.append(progress)
        if progress.elapsed_s > 1.0:
            stop.set()

    outcome = find(wire, stop=stop, on_progress=tell)
    assert isinstance(outcome, NotIdentified)
    assert outcome.reason is FailureReason.STOPPED
    assert wire.clock.steady_ns() < 1.5 * NS_PER_S
    assert reports[0].doing == "Listening"


def test_a_port_that_does_not_open_is_refused(tmp_path) -> None:
    with pytest.raises(StillvoltError, match="There is no port"):
        identify(PortSettings(str(tmp_path / "none")), SystemClock())


def test_at_a_terminal_the_first_setting_that_reads_right_wins(cable) -> None:
    ended = threading.Event()

    def meter() -> None:
        for line in itertools.count():
            if ended.wait(0.05):
                return
            cable.send(b"0.%03d V AC\r\n" % (270 + line % 10))

    sender = threading.Thread(target=meter)
    sender.start()
    try:
        outcome = identify(PortSettings(cable.url), SystemClock())
    finally:
        ended.set()
        sender.join()
    assert isinstance(outcome, IdentifiedMeter)
    assert outcome.settings == PortSettings(cable.url)


def test_a_silent_terminal_is_asked(cable) -> None:
    def meter() -> None:
        heard = b""
        while not ended.wait(0.01):
            with contextlib.suppress(OSError):  # while nobody has the port open
                heard += os.read(cable._meter, 100)
            if heard.endswith(b"READ?\n"):
                heard = b""
                cable.send(b"+2.73000E-01\n")

    ended = threading.Event()
    threading.Thread(target=meter, daemon=True).start()
    outcome = identify(PortSettings(cable.url), SystemClock(), queries=["READ?"])
    ended.set()
    assert isinstance(outcome, IdentifiedMeter)
    assert outcome.settings.query == "READ?"


@pytest.mark.parametrize(
    ("line", "described"),
    [
        (b"0.270 V", "0.270 V"),
        (b"270.0 mV", "0.2700 V"),
        (b"12 V", "12 V"),
        (b"0.000", "0.000 V"),
        (b"+2.70000E-01", "0.270000 V"),
        (b"0,270 V", "0.270 V"),
        (b"OL V", "overload"),
        (b"1.2 V DC", "not AC volts"),
        (b"0.2?0 V", "cannot be read"),
    ],
)
def test_a_value_is_shown_to_the_digit_of_the_display(line: bytes, described: str) -> None:
    assert receive_line(line).describe_value() == described
