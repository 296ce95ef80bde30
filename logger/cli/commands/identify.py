"""`stillvolt identify`: finds the settings of a meter's port and the form of its lines."""

from __future__ import annotations

import argparse
import shlex
import sys
from collections.abc import Callable, Sequence
from dataclasses import replace

from logger.cli.port_settings import port_settings, unescaped
from logger.clock import SystemClock
from logger.errors import StillvoltError
from logger.meter.description import MeterDescription
from logger.meter.description_folder import save
from logger.meter.identification import (
    KNOWN_QUERIES,
    Certainty,
    IdentifiedMeter,
    IdentifyProgress,
    NotIdentified,
    identify,
)
from logger.meter.line_format_reader import reader_of
from logger.meter.line_format_search import Candidate, how_to_decide, matching_formats
from logger.meter.lines import LineStatus
from logger.meter.port import PortSettings
from logger.meter.received_line import ReceivedLine, receive_line
from logger.metrology.rounding import fixed, plain
from logger.recording.detached import options
from logger.simulation import register_simulated_port
from logger.translation import marked, tr, tr_kept

SHOWN_LINES = 5
"""Of the newest lines so many are printed."""

HOW_SURE = {
    Certainty.SURE: marked("Sure: {why}"),
    Certainty.LIKELY: marked("Likely: {why}"),
    Certainty.DOUBTFUL: marked("Doubtful: {why}"),
}


def run(arguments: argparse.Namespace) -> int:
    """Identify the meter at a port, print what was found, and keep it where that is asked for.

    Returns:
        The exit status: 1 where no meter was found.

    Raises:
        StillvoltError: the port does not open; what was typed fits nothing; the description cannot be kept.
    """
    register_simulated_port()
    settings = port_settings(arguments, PortSettings(url=arguments.port))
    query = None if arguments.query is None else unescaped(arguments.query)
    queries = () if arguments.listen_only else (KNOWN_QUERIES if query is None else (query,))
    found = identify(settings, SystemClock(), queries=queries, on_progress=_progress_printer())
    if isinstance(found, NotIdentified):
        print(f"stillvolt: {found.why}", file=sys.stderr)
        if found.sample:
            print(tr("It begins with {text}.").format(text=repr(found.sample[:40])), file=sys.stderr)
        return 1
    print("\n".join(describe(found)))
    candidate = _shown_candidate(found, arguments.shown)
    if candidate is not None and candidate.line_format is not None:
        read = reader_of(candidate.line_format)
        print(tr("Read by it, the newest lines are:"))
        for received in found.lines[-SHOWN_LINES:]:
            print("\n".join(underlined(receive_line(received.raw, read))))
    if arguments.keep is not None:
        line = candidate.line_format if candidate else None
        description = MeterDescription(arguments.keep, replace(found.settings, url="", meter=None), line)
        path = save(description, replaces=arguments.replace)
        words = shlex.join(["--port", found.settings.url, "--meter", arguments.keep])
        print(tr("Kept as {file}").format(file=path))
        _print_how_to_record(words)
    elif candidate is not None and candidate.line_format is not None:
        print(tr("Keep this with --keep NAME, then record with --meter NAME."))
    elif not found.needs_teaching:
        _print_how_to_record(shlex.join(options(found.settings, every=False)))
    return 0


def _print_how_to_record(words: str) -> None:
    print(tr("Record with:"))
    print(f"  stillvolt record {words} --visit FILE")


def _progress_printer() -> Callable[[IdentifyProgress], None]:
    """Print each thing that is being done once, with the time when it began."""
    printed: set[str] = set()

    def print_progress(progress: IdentifyProgress) -> None:
        if progress.doing not in printed:
            printed.add(progress.doing)
            print(f"{fixed(progress.elapsed_s, 1):>5} s  {progress.doing} …", file=sys.stderr, flush=True)

    return print_progress


def describe(found: IdentifiedMeter) -> list[str]:
    """Return what was found, as lines of text."""
    settings = found.settings
    if found.rate_hz:
        text = tr("Found a meter at {port}: {settings}, {rate} lines/s")
        rate = fixed(found.rate_hz, 1)
        out = [text.format(port=settings.url, settings=settings.framing(), rate=rate)]
    else:
        text = tr("Found a meter at {port}: {settings}")
        out = [text.format(port=settings.url, settings=settings.framing())]
    for wire, level in (("DTR", settings.dtr), ("RTS", settings.rts)):
        if level is not None:
            text = tr("{wire} on") if level else tr("{wire} off")
            out.append(f"  {text.format(wire=wire)}")
    if found.identity:
        text = tr("it calls itself {name}").format(name=found.identity)
        out.append(f"  {text}")
    if settings.query is not None:
        text = tr("asked with {query} every {seconds} s")
        out.append(f"  {text.format(query=repr(settings.query), seconds=plain(settings.query_every_s))}")
    out.append(tr("The newest lines, with the value marked:"))
    for line in found.lines[-SHOWN_LINES:]:
        out += underlined(line)
    out.append(found.describe_marks())
    out.append(tr(HOW_SURE[found.certainty]).format(why=found.why))
    return out


def underlined(line: ReceivedLine) -> list[str]:
    """Return a line with how it is read, and a second one that underlines its number."""
    text = "".join(char if char.isprintable() else "·" for char in line.text)
    reading = line.reading
    read = line.describe_value()
    if reading.status is not LineStatus.VOLTS and reading.note:
        read += f" ({tr_kept(reading.note)})"
    out = [f"  {text}   → {read}"]
    if reading.number_span is not None:
        start, end = reading.number_span
        out.append("  " + " " * start + "^" * (end - start))
    return out


def _shown_candidate(found: IdentifiedMeter, shown: Sequence[str]) -> Candidate | None:
    """Return the form that fits what the display shows; None where nothing was typed.

    Raises:
        StillvoltError: no number of the lines fits, or more than one does.
    """
    lines = [line.raw for line in found.lines]
    candidates: list[Candidate] = []
    for value in shown:
        candidates = matching_formats(lines, value, candidates)
        if not candidates:
            raise StillvoltError(
                tr("No number of the lines is {value}.").format(value=value),
                next_step=tr("Type what the display shows just now, with its unit."),
            )
    if not shown:
        if found.needs_teaching:
            print(tr("Say what the display shows just now with --shown VALUE (0.273, or '273 mV')."))
        return None
    if len(candidates) > 1:
        print(tr("More than one number fits:"))
        for candidate in candidates:
            print(f"  {candidate.describe()}: {plain(candidate.volts)} V")
        print(how_to_decide(candidates, lines))
        raise StillvoltError(
            tr("It is not decided which number the display shows."), next_step=tr("Give --shown again.")
        )
    print(tr("The display shows {number}.").format(number=candidates[0].describe()))
    return candidates[0]
