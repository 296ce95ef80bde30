"""Listening: one setting after the other, until the bytes that come are lines of text.

A setting is right when what comes is text with line ends whose lines are read. At a wrong rate or framing bytes come
as well, but they are no text; that shows after the first burst, so most wrong settings cost no more than the time to
the meter's next line. Seven data bits with parity are recognised from what they look like to eight: the parity
stands in the eighth.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Iterable
from dataclasses import replace

from logger.clock import NS_PER_S
from logger.errors import StillvoltError
from logger.meter.coupling_check import reading_of_cut
from logger.meter.identification.candidate_settings import (
    WIRE_LEVELS,
    has_wires,
    other_settings,
    rate_and_framing,
)
from logger.meter.identification.capture import Capture, Verdict, judge, seven_bit_framing
from logger.meter.identification.session import BURST_NS, IdentifySession, PortGone, close, read_waiting
from logger.meter.lines import CUT
from logger.meter.port import PortSettings
from logger.meter.reader import MID_LINE_NS
from logger.meter.received_line import ReceivedLine, receive_line
from logger.meter.splitter import LineSplitter
from logger.translation import tr

SILENT_S = 2.5
"""A meter that sends by itself sends within this time: the slowest send every two seconds."""
LEVEL_SILENT_S = 0.8
SETTING_SILENT_S = 2.5
"""How long a further setting waits for the meter's next line."""
BURST_BYTES = 200
"""What never pauses is judged after so many bytes."""
SAMPLE_BYTES = 80


def listen(session: IdentifySession) -> Capture | None:
    """Try settings until one is right; None where none is.

    Raises:
        StillvoltError: the port does not open.
        Stopped: the search is to stop.
        TimeUp: it takes too long.
        PortGone: the port failed.
    """
    first = session.first
    capture = _capture(session, first, SILENT_S, tr("Listening"))
    if capture.verdict is Verdict.SILENT and has_wires(first):
        for dtr, rts in WIRE_LEVELS:
            doing = (
                tr("Listening with DTR on and RTS off") if dtr else tr("Listening with DTR off and RTS on")
            )
            capture = _capture(session, replace(first, dtr=dtr, rts=rts), LEVEL_SILENT_S, doing)
            if capture.verdict is not Verdict.SILENT:
                break
    if capture.verdict is Verdict.WRONG:
        capture = _scan(session, capture)
    return capture if capture.verdict is Verdict.RIGHT else None


def _scan(session: IdentifySession, capture: Capture) -> Capture:
    """Try the other rates and framings, after one under which bytes came that are no text."""
    base = capture.settings
    tried = {rate_and_framing(base)}
    waiting = deque(other_settings(base))
    while True:
        guess = seven_bit_framing(capture)
        if guess is not None:
            waiting.appendleft(guess)
        while waiting and rate_and_framing(waiting[0]) in tried:
            waiting.popleft()
        if not waiting:
            return capture
        settings = waiting.popleft()
        tried.add(rate_and_framing(settings))
        try:
            doing = tr("Listening at {settings}").format(settings=settings.framing())
            capture = _capture(session, settings, SETTING_SILENT_S, doing)
        except StillvoltError:
            _check_port(session, base)
            continue  # this port cannot be set so
        if capture.verdict is Verdict.RIGHT:
            return capture


def _check_port(session: IdentifySession, base: PortSettings) -> None:
    """Open the port as it was opened before.

    Raises:
        PortGone: it does not open any more.
    """
    try:
        close(session.open(base))
    except StillvoltError as error:
        raise PortGone(error.what) from error


def _capture(session: IdentifySession, settings: PortSettings, patience_s: float, doing: str) -> Capture:
    """Listen under one setting until it is clear whether it is right.

    Args:
        session: the search.
        settings: under which to listen.
        patience_s: how long to wait for the first byte.
        doing: for the user.
    """
    session.check_stop()
    clock = session.clock
    capture = Capture(settings)
    splitter = LineSplitter()
    opened_ns = clock.steady_ns()
    port = session.open(settings)
    reported = (-1, -1)
    try:
        first_ns = last_ns = None
        while True:
            session.check_stop()
            data = read_waiting(port)
            now_ns = clock.steady_ns()
            if data:
                is_soon = now_ns - opened_ns < MID_LINE_NS
                mid_line = first_ns is None and (is_soon or settings.is_network)
                first_ns, last_ns = first_ns or now_ns, now_ns
                capture.add(data, _lines(splitter.feed(data, mid_line)), now_ns)
            elif first_ns is None and now_ns - opened_ns > patience_s * NS_PER_S:
                return capture
            if reported != (reported := (len(capture.data), session.period(now_ns))):
                session.report(doing, capture)
            if first_ns is None or last_ns is None:
                continue
            is_burst = now_ns - last_ns > BURST_NS or len(capture.data) >= BURST_BYTES
            verdict = judge(capture, (now_ns - first_ns) / NS_PER_S, is_burst)
            if verdict is not None:
                capture.verdict = verdict
                if verdict is Verdict.WRONG:
                    session.sample = session.sample or bytes(capture.data[:SAMPLE_BYTES])
                return capture
    finally:
        close(port)


def _lines(pieces: Iterable[tuple[bytes, bool]]) -> list[ReceivedLine]:
    """The whole lines, and of others what says that the voltage is not AC: a meter may say so once, as it is opened.

    Args:
        pieces: each with whether it is a whole line.
    """
    lines = []
    for raw, is_whole in pieces:
        if is_whole:
            lines.append(receive_line(raw))
        elif reading_of_cut(raw) is not CUT:
            lines.append(receive_line(raw, reading_of_cut))
    return lines
