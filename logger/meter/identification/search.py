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
from logger.translation import tr


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
        return NotIdentified(FailureReason.STOPPED, tr("Stopped before the meter was found."), session.sample)
    except PortGone as gone:
        log_exception(f"identifying at {first.url}")
        return NotIdentified(
            FailureReason.LOST,
            tr(
                "The port {port} was lost ({reason}). Was the cable pulled, or the other end switched off?"
            ).format(port=first.url, reason=gone),
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
            tr(
                "Noise comes from the port: under no setting that is tried does it make lines of text. Is the plug "
                "tight, and in the right socket? Else look up rate and framing in the meter's manual."
            ),
            sample,
        )
    if identity:
        return NotIdentified(
            FailureReason.SILENT,
            tr(
                "The meter answers {query} ({answer}), but none of the questions for a value. Look up its query in the "
                "manual."
            ).format(query=IDENTITY_QUERY, answer=identity),
            identity=identity,
        )
    if was_asked:
        why = tr(
            "Nothing comes, not even when asked. Is the meter on, its data output switched on, the cable right?"
        )
    else:
        why = tr("Nothing comes from the port. Switch the meter's data output on, or let Stillvolt ask it.")
    return NotIdentified(FailureReason.SILENT, why)
