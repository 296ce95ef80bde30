"""Asking: a meter that sends nothing by itself may be waiting for a question.

Only lines that ask for something are sent, and none that changes a setting but MEAS:VOLT:AC?, which is asked before
READ? because its answer is AC volts whatever the meter was set to.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

from logger.clock import NS_PER_S
from logger.diagnostics import logged
from logger.errors import StillvoltError
from logger.meter.identification.candidate_settings import ways_to_ask
from logger.meter.identification.capture import READ_SHARE, Capture, Verdict, has_digit
from logger.meter.identification.known_queries import IDENTITY_QUERY, KNOWN_QUERIES
from logger.meter.identification.session import (
    BURST_NS,
    IdentifyPort,
    IdentifySession,
    close,
    read_waiting,
)
from logger.meter.lines import LineStatus
from logger.meter.port import PortSettings
from logger.meter.received_line import ReceivedLine, receive_line
from logger.meter.splitter import LineSplitter
from logger.translation import tr

ANSWER_S = 0.8
"""How long an unknown meter has for an answer, while it is being found out whether it understands the question."""
SLOW_ANSWER_S = 3.0
"""How long a meter has that is known to understand."""
LATE_S = 1.5
MAX_LATE_S = 10.0
"""What goes on for longer after the last question is no answer to it."""
UNASKED_S = 2.5
"""For so long nothing is asked after the last answer: lines that come then are no answers. The slowest meters send
every two seconds."""
MIN_QUERY_EVERY_S = 0.2
ASKED_LINES = 3
"""So many answers are taken before a query is called right."""
MAX_IDENTITY = 100


@dataclass(frozen=True, slots=True)
class AskResult:
    """What asking came to.

    Args:
        capture: the answers to the right query; None where none is answered with values.
        identity: what the meter answered to `IDENTITY_QUERY`.
        sends_unasked: lines come without a question: the meter was switched on late, and has to be listened to.
    """

    capture: Capture | None
    identity: str
    sends_unasked: bool = False


def ask(session: IdentifySession, queries: Sequence[str]) -> AskResult:
    """Try the queries.

    Raises:
        StillvoltError: the port does not open.
        Stopped: the search is to stop.
        TimeUp: it takes too long.
        PortGone: the port failed.
    """
    for settings, end in ways_to_ask(session.first):
        session.check_stop()
        try:
            port = session.open(settings)
        except StillvoltError:
            if settings == session.first:
                raise
            continue
        try:
            result = _Asker(session, port, settings, end).try_queries(queries)
        except _SendsUnasked:
            return AskResult(None, "", sends_unasked=True)
        finally:
            close(port)
        if result.capture is not None or result.identity:  # one that has a name understands this setting
            return result
    return AskResult(None, "")


class _SendsUnasked(Exception):
    """Lines come although nothing was asked."""


class _Asker:
    """Asks under one setting, at an open port.

    Args:
        session: the search.
        port: open with these settings.
        settings: of the port.
        end: the line end of a query that has none.
    """

    def __init__(
        self, session: IdentifySession, port: IdentifyPort, settings: PortSettings, end: str
    ) -> None:
        self._session = session
        self._port = port
        self._settings = settings
        self._end = end

    def try_queries(self, queries: Sequence[str]) -> AskResult:
        """Ask the meter's name if the queries are the known ones, then each query."""
        identity = ""
        patience_s = ANSWER_S if len(queries) > 1 else SLOW_ANSWER_S
        if set(queries) & set(KNOWN_QUERIES):
            answers = self._answers(Capture(self._settings), IDENTITY_QUERY, ANSWER_S)
            if answers and any(map(str.isalpha, answers[0].text)):
                identity = answers[0].text.strip("\x00 ")[:MAX_IDENTITY]
                patience_s = SLOW_ANSWER_S
        capture = self._first_answered(queries, patience_s)
        if capture is None and patience_s < SLOW_ANSWER_S and self._answers_late():
            capture = self._first_answered(queries, SLOW_ANSWER_S)
        return AskResult(capture, identity)

    def _first_answered(self, queries: Sequence[str], patience_s: float) -> Capture | None:
        """The answers to the first query that is answered with values."""
        for place, query in enumerate(queries):
            if not self._answers(Capture(self._settings), query, patience_s):
                continue
            # The answer may be a late one to the question before.
            for candidate in (query, *queries[max(place - 1, 0) : place]):
                capture = self._ask_again(candidate)
                if capture is not None:
                    return capture
        return None

    def _answers_late(self) -> bool:
        """Whether a meter that works through one question after the other is still at it.

        Under the first way to ask only: it is the likeliest, and this costs as much time as two questions.
        """
        if (self._settings, self._end) != next(ways_to_ask(self._session.first)):
            return False
        clock = self._session.clock
        came = False
        started_ns = last_ns = clock.steady_ns()
        while (now_ns := clock.steady_ns()) - last_ns < LATE_S * NS_PER_S:
            self._session.check_stop()
            if now_ns - started_ns > MAX_LATE_S * NS_PER_S:
                raise _SendsUnasked
            if read_waiting(self._port):
                came = True
                last_ns = now_ns
        return came

    def _check_unasked(self) -> None:
        """Ask nothing for a while.

        Raises:
            _SendsUnasked: something comes all the same.
        """
        clock = self._session.clock
        started_ns = clock.steady_ns()
        while clock.steady_ns() - started_ns < UNASKED_S * NS_PER_S:
            self._session.check_stop()
            if read_waiting(self._port).strip(b"\x00\r\n> "):
                raise _SendsUnasked

    def _ask_again(self, query: str) -> Capture | None:
        """Ask often enough to be sure; None when this query gives no values.

        Raises:
            _SendsUnasked: the lines are no answers.
        """
        capture = Capture(self._settings)
        clock = self._session.clock
        slowest_ns = 0
        read_waiting(self._port)  # what is left of an answer before
        for _ in range(ASKED_LINES):
            asked_ns = clock.steady_ns()
            if not self._answers(capture, query, SLOW_ANSWER_S):
                return None
            slowest_ns = max(slowest_ns, clock.steady_ns() - asked_ns)
        readings = [line.reading for line in capture.lines]
        are_values = sum(reading.status is not LineStatus.UNREADABLE for reading in readings)
        if are_values < READ_SHARE * len(readings) and not all(has_digit(line) for line in capture.lines):
            return None  # an error message
        self._check_unasked()
        capture.verdict = Verdict.RIGHT
        every_s = max(math.ceil(slowest_ns / NS_PER_S * 15) / 10, MIN_QUERY_EVERY_S)
        own_end = "" if self._end == "\n" or query[-1:] in ("\r", "\n") else self._end
        capture.settings = replace(self._settings, query=query + own_end, query_every_s=every_s)
        return capture

    def _answers(self, capture: Capture, query: str, patience_s: float) -> list[ReceivedLine]:
        """Send a query, and return the lines of its answer.

        Args:
            capture: takes the lines as well.
            query: what is sent.
            patience_s: how long to wait for an answer.
        """
        session, settings = self._session, self._settings
        clock = session.clock
        splitter = LineSplitter()
        end = self._end if query[-1:] not in "\r\n" else ""
        with logged(f"sending {query!r}"):  # a port that takes nothing is silent, and reading finds out more
            self._port.write(replace(settings, query=query + end).query_bytes())
        started_ns = last_ns = clock.steady_ns()
        answers: list[ReceivedLine] = []
        reported = -1
        while True:
            session.check_stop()
            data = read_waiting(self._port)
            now_ns = clock.steady_ns()
            if data:
                last_ns = now_ns
                lines = [receive_line(raw) for raw, whole in splitter.feed(data) if whole]
                lines = [line for line in lines if not _is_echo(line, query) and line.text.strip("\x00 >")]
                answers += lines
                capture.add(b"", lines, now_ns)
            if reported != (reported := session.period(now_ns)) or answers:
                session.report(
                    tr("Asking {query} at {settings}").format(query=query, settings=settings.framing()),
                    capture,
                )
            if answers and now_ns - last_ns >= BURST_NS:
                return answers
            if now_ns - started_ns > patience_s * NS_PER_S:
                return answers


def _is_echo(line: ReceivedLine, query: str) -> bool:
    return line.text.strip("\x00 >") == query.strip()
