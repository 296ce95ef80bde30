"""The search for a meter at a port: listening first, then asking."""

from __future__ import annotations

import threading
from collections.abc import Callable, Sequence

from logger.clock import Clock
from logger.diagnostics import log_exception
from logger.meter.identification.asking import ask
from logger.meter.identification.known_queries import IDENTITY_QUERY
from logger.meter.identification.listening import listen
from logger.meter.identification.results import (
    FailureReason,
    IdentifiedMeter,
    IdentifyProgress,
    NotIdentified,
)
from logger.meter.identification.session import (
    IdentifyPort,
    IdentifySession,
    PortGone,
    Stopped,
    TimeUp,
)
from logger.meter.identification.summary import summarise
from logger.meter.port import PortSettings, open_port


def identify(
    first: PortSettings,
    clock: Clock,
    *,
    queries: Sequence[str] = (),
    stop: threading.Event | None = None,
    on_progress: Callable[[IdentifyProgress], None] = lambda progress: None,
    open_: Callable[[PortSettings], IdentifyPort] = open_port,
) -> IdentifiedMeter | NotIdentified:
    """Find a meter's settings and the form of its lines.

    Args:
        first: the port, with the settings to try first.
        clock: injected time.
        queries: lines to ask a silent meter with, in order; none: only listen. A query without a line end is
            tried with each of `LINE_ENDS`. With `KNOWN_QUERIES`, `*IDN?` is asked before them.
        stop: set it to stop; the port is closed and `NotIdentified` returned within a fraction of a second.
        on_progress: is given what is going on, several times a second.
        open_: opens a port.

    Raises:
        StillvoltError: the port does not open.
    """
    session = IdentifySession(first, clock, stop or threading.Event(), on_progress, open_)
    identity = ""
    try:
        capture = listen(session)
        if capture is None and queries:
            asked = ask(session, queries)
            # A meter that was switched on meanwhile is listened to: what it sends is no answer.
            capture = listen(session) if asked.sends_unasked else asked.capture
            identity = asked.identity
    except Stopped:
        return NotIdentified(FailureReason.STOPPED, "Stopped before the meter was found.", session.sample)
    except PortGone as gone:
        log_exception(f"identifying at {first.url}")
        return NotIdentified(
            FailureReason.LOST,
            f"The port {first.url} was lost ({gone}). Was the cable pulled, or the other end switched off?",
            session.sample,
        )
    except TimeUp:
        capture = None
    if capture is not None:
        return summarise(capture, identity)
    return _not_identified(session.sample, identity, bool(queries))


def _not_identified(sample: bytes, identity: str, was_asked: bool) -> NotIdentified:
    """Why nothing was found, and what to do.

    Args:
        sample: of bytes that came and are no text; empty for none.
        identity: what the meter calls itself; empty where it does not answer.
        was_asked: whether it was asked.
    """
    if sample:
        return NotIdentified(
            FailureReason.GARBLED,
            "Noise comes from the port: under no setting that is tried does it make lines of text. Is the plug tight, "
            "and in the right socket? Else look up rate and framing in the meter's manual.",
            sample,
        )
    if identity:
        return NotIdentified(
            FailureReason.SILENT,
            f"The meter answers {IDENTITY_QUERY} ({identity}), but none of the questions for a value. Look up "
            "its query in the manual.",
            identity=identity,
        )
    if was_asked:
        why = "Nothing comes, not even when asked. Is the meter on, its data output switched on, the cable right?"
    else:
        why = "Nothing comes from the port. Switch the meter's data output on, or let Stillvolt ask it."
    return NotIdentified(FailureReason.SILENT, why)
