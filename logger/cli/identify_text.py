"""What was found at a port, as text for a terminal. Looking and teaching are done by `identify` and `taught`."""

from __future__ import annotations

import shlex
import sys
from collections.abc import Sequence
from dataclasses import replace

from logger.clock import SystemClock
from logger.errors import StillvoltError
from logger.meter.description import Description
from logger.meter.description_folder import save
from logger.meter.identify import (
    KNOWN_QUERIES,
    IdentifiedMeter,
    IdentifyProgress,
    NotIdentified,
    SeenLine,
    identify,
)
from logger.meter.line_format import Candidate, teach, what_decides
from logger.meter.lines import LineStatus
from logger.meter.port import PortSettings
from logger.recording.recorder import options

SHOWN_LINES = 5


def identify_and_tell(
    settings: PortSettings,
    *,
    query: str | None = None,
    listen_only: bool = False,
    shown: Sequence[str] = (),
    keep: str | None = None,
) -> int:
    """Identify the meter at a port and print what was found; returns the exit code.

    Args:
        settings: the port, with the settings to try first.
        query: ask a silent meter with this line only; None: with the known ones.
        listen_only: send nothing.
        shown: what the display shows, for lines that do not say which number is the value.
        keep: name under which to keep the description.

    Raises:
        StillvoltError: the port does not open; what was typed fits nothing; the description cannot be kept.
    """
    queries = () if listen_only else (KNOWN_QUERIES if query is None else (query,))
    said: set[str] = set()

    def tell(progress: IdentifyProgress) -> None:
        if progress.doing not in said:
            said.add(progress.doing)
            print(f"{progress.elapsed_s:5.1f} s  {progress.doing} …", file=sys.stderr, flush=True)

    found = identify(settings, SystemClock(), queries=queries, tell=tell)
    if isinstance(found, NotIdentified):
        print(f"stillvolt: {found.why}", file=sys.stderr)
        if found.sample:
            print(f"It begins with {found.sample[:40]!r}.", file=sys.stderr)
        return 1
    print("\n".join(describe(found)))
    candidate = _taught(found, shown)
    url = found.settings.url
    if keep is not None:
        line = candidate.form if candidate else None
        path = save(Description(keep, replace(found.settings, url="", meter=None), line))
        words = shlex.join(["--port", url, "--meter", keep])
        print(f"Kept as {path}\nRecord with:\n  stillvolt record {words} --visit FILE")
    elif candidate is not None and candidate.form is not None:
        print("Keep this with --keep NAME, then record with --meter NAME.")
    elif not found.needs_teaching:
        print(
            f"Record with:\n  stillvolt record {shlex.join(options(found.settings, every=False))} --visit FILE"
        )
    return 0


def describe(found: IdentifiedMeter) -> list[str]:
    """What was found, line by line."""
    rate = f", {found.rate_hz:.1f} lines/s" if found.rate_hz else ""
    settings = found.settings
    out = [f"Found a meter at {settings.url}: {settings.framing()}{rate}"]
    for wire, level in (("DTR", settings.dtr), ("RTS", settings.rts)):
        if level is not None:
            out.append(f"  {wire} {'on' if level else 'off'}")
    if found.identity:
        out.append(f"  it calls itself {found.identity}")
    if settings.query is not None:
        out.append(f"  asked with {settings.query!r} every {settings.query_every_s:g} s")
    out.append("The newest lines, with the value marked:")
    for line in found.lines[-SHOWN_LINES:]:
        out += marked(line)
    out.append(found.form_says())
    out.append(f"{found.certainty.value.capitalize()}: {found.why}")
    return out


def marked(line: SeenLine) -> list[str]:
    """A line with its number underlined, and how it is read."""
    text = "".join(char if char.isprintable() else "·" for char in line.text)
    reading = line.reading
    read = line.read_as()
    if reading.status is not LineStatus.VOLTS and reading.note:
        read += f" ({reading.note})"
    out = [f"  {text}   → {read}"]
    if reading.number_span is not None:
        start, end = reading.number_span
        out.append("  " + " " * start + "^" * (end - start))
    return out


def _taught(found: IdentifiedMeter, shown: Sequence[str]) -> Candidate | None:
    """The form that fits what the display shows; None when nothing was typed and nothing needs teaching."""
    lines = [line.raw for line in found.lines]
    candidates: list[Candidate] = []
    for value in shown:
        candidates = teach(lines, value, candidates)
        if not candidates:
            raise StillvoltError(
                f"No number of the lines is {value}.",
                next_step="Type what the display shows just now, with its unit.",
            )
    if not shown:
        if found.needs_teaching:
            print("Say what the display shows just now with --shown VALUE (0.273, or '273 mV').")
        return None
    if len(candidates) > 1:
        print("More than one number fits:")
        print("".join(f"  {candidate.says()}: {candidate.volts:g} V\n" for candidate in candidates), end="")
        print(what_decides(candidates, lines))
        raise StillvoltError(
            "It is not decided which number the display shows.", next_step="Give --shown again."
        )
    print(f"The display shows {candidates[0].says()}.")
    return candidates[0]
