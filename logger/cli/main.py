"""The command line: parses, calls the library, prints. There is no logic here."""

from __future__ import annotations

import argparse
import json
import sys
from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

from logger import __version__
from logger.diagnostics import log_path, log_uncaught_exceptions
from logger.errors import StillvoltError

if TYPE_CHECKING:
    from logger.meter.port import PortSettings


def main(argv: Sequence[str] | None = None) -> int:
    """Run one command; without one, open the window. Returns the exit code: 0, 1 refused, 2 wrong usage."""
    words = list(sys.argv[1:] if argv is None else argv)
    if argv is None:  # the program itself, not a test that calls it
        log_uncaught_exceptions()
    parser = _parser()
    arguments = parser.parse_args(words)
    if arguments.version:
        print(f"Stillvolt {__version__}")
        if arguments.verbose:
            print(f"Diagnostic log: {log_path()}")
        return 0
    try:
        result: int = arguments.run(arguments) or 0
    except StillvoltError as error:
        print(f"stillvolt: {error}", file=sys.stderr)
        return 1
    except BrokenPipeError:  # `stillvolt lines FILE | head`
        sys.stderr.close()
        return 1
    return result


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="stillvolt",
        description="Measures body voltage around a home. Without a command it opens the window.",
    )
    parser.add_argument("--version", action="store_true", help="print the version and exit")
    parser.add_argument(
        "-v", "--verbose", action="store_true", help="with --version: also where the diagnostic log is"
    )
    parser.add_argument("--visit", type=Path, help="the visit log that the window opens (made if missing)")
    parser.add_argument("--port", help="the port that the window offers first")
    parser.add_argument("--start", action="store_true", help="the window starts to record at once")
    parser.set_defaults(run=_window)
    commands = parser.add_subparsers(title="commands", metavar="COMMAND")

    ports = commands.add_parser("ports", help="list the ports of this computer")
    ports.set_defaults(run=_ports)

    lines = commands.add_parser("lines", help="show how each line of a meter's stream is read, as JSON")
    lines.add_argument("file", type=Path, help="the stream as the meter sent it")
    lines.set_defaults(run=_lines)

    record = commands.add_parser("record", help="record from a port into a visit log, in the foreground")
    record.add_argument("--port", required=True, help="a device name or a URL such as socket://host:port")
    into = record.add_mutually_exclusive_group(required=True)
    into.add_argument("--visit", type=Path, help="the visit log (made if missing)")
    into.add_argument(
        "--nightly", type=Path, metavar="FOLDER", help="a visit log there, named by the date of the evening"
    )
    record.add_argument(
        "--detach", action="store_true", help="go on in the background when the terminal is closed"
    )
    record.add_argument(
        "--for", dest="for_s", type=float, metavar="SECONDS", help="stop by itself after that"
    )
    record.add_argument("--meter", metavar="NAME", help="a kept meter description (`stillvolt meters`)")
    _add_port_options(record)
    record.add_argument(
        "--query", metavar="TEXT", help="what the meter has to be sent for each value (READ?)"
    )
    record.add_argument("--query-every", type=float, metavar="SECONDS", help="0.5 if not given")
    record.set_defaults(run=_record)

    running = commands.add_parser("running", help="list the recorders at work on this computer")
    running.add_argument("--json", action="store_true", help="as a JSON list")
    running.set_defaults(run=_running)

    stop = commands.add_parser(
        "stop", help="end the recorder of a visit in order, and wait until it has ended"
    )
    stop.add_argument("visit", type=Path)
    stop.set_defaults(run=_stop)

    identify = commands.add_parser("identify", help="find a meter's port settings and the form of its lines")
    identify.add_argument("--port", required=True, help="a device name or a URL")
    _add_port_options(identify)
    identify.add_argument("--query", metavar="TEXT", help="ask a silent meter with this line only")
    identify.add_argument("--listen-only", action="store_true", help="send nothing to a silent meter")
    identify.add_argument(
        "--shown", action="append", default=[], metavar="VALUE", help='what the display shows now: "273 mV"'
    )
    identify.add_argument("--keep", metavar="NAME", help="keep what was found as a meter description")
    identify.set_defaults(run=_identify)

    meters = commands.add_parser("meters", help="list the kept meter descriptions")
    meters.set_defaults(run=_meters)

    replay = commands.add_parser("replay", help="run the detector over a trace (CSV: time_s,volts)")
    replay.add_argument("trace", type=Path)
    replay.add_argument("--events", type=Path, required=True, help="the JSON lines file to write")
    replay.set_defaults(run=_replay)

    sources = commands.add_parser(
        "sources", help="which circuit gives how much, and what to switch off tonight"
    )
    sources.add_argument("readings", type=Path, help="the sweep as CSV: on,volts,u_volts")
    sources.add_argument("--json", action="store_true", help="the whole answer as JSON")
    sources.add_argument("--supply", choices=("split", "single", "three"), default="split")
    sources.add_argument("--circuits", default="", help="all names on the panel, joined by commas")
    sources.add_argument("--keep", default="", help="names that must stay on, joined by commas")
    sources.add_argument("--target", type=float, default=0.1, metavar="VOLTS", help="default 0.1 V")
    sources.set_defaults(run=_sources)

    night = commands.add_parser("night", help="sum up a night: levels, steps, repeating loads, motion")
    night.add_argument("visit", type=Path)
    night.add_argument("--json", action="store_true", help="the whole summary as JSON")
    night.add_argument(
        "--night", type=int, metavar="N", help="which one, counted from 1; the longest if not given"
    )
    night.add_argument("--against", type=Path, metavar="VISIT", help="another visit's night to compare with")
    night.set_defaults(run=_night)

    export = commands.add_parser("export", help="write a visit as CSV, spreadsheet or Parquet files")
    export.add_argument("visit", type=Path)
    export.add_argument("--out", type=Path, required=True, help="the folder (made if missing)")
    export.add_argument(
        "--format", default="csv,xlsx", metavar="LIST", help="of csv, xlsx, parquet; csv,xlsx if not given"
    )
    export.set_defaults(run=_export)

    compare = commands.add_parser("compare", help="what has changed from one visit to another, spot by spot")
    compare.add_argument("before", type=Path, help="the earlier visit")
    compare.add_argument("after", type=Path, help="the later visit")
    compare.add_argument("--json", action="store_true", help="the whole comparison as JSON")
    compare.add_argument(
        "--match", action="append", default=[], metavar="OLD=NEW",
        help="a spot's name before and after; OLD= for one that has no partner. Kept in the later visit",
    )  # fmt: skip
    compare.set_defaults(run=_compare)

    archive = commands.add_parser("archive", help="search a folder of visits")
    archive.add_argument("folder", type=Path)
    archive.add_argument("--household", default="", help="a part of its name")
    archive.add_argument("--room", default="", help="a part of a room's name")
    archive.add_argument("--spot", default="", help="a part of a spot's name")
    archive.add_argument("--text", default="", help="a part of anything that was typed")
    archive.add_argument("--from", dest="first_day", default="", metavar="DATE", help="first local date")
    archive.add_argument("--to", dest="last_day", default="", metavar="DATE", help="last local date")
    archive.add_argument("--json", action="store_true", help="what was found as JSON")
    archive.set_defaults(run=_archive)

    report = commands.add_parser("report", help="write the report of a visit: one HTML file, and a PDF")
    report.add_argument("visit", type=Path)
    report.add_argument("--out", type=Path, required=True, help="the HTML file to write")
    report.add_argument("--pdf", type=Path, help="a PDF file as well (needs the extra 'report')")
    report.set_defaults(run=_report)

    form = commands.add_parser("form", help="write an empty form for a visit's planned spots, to be printed")
    form.add_argument("visit", type=Path)
    form.add_argument("--out", type=Path, required=True, help="the HTML file to write")
    form.set_defaults(run=_form)
    return parser


def _add_port_options(parser: argparse.ArgumentParser) -> None:
    """Those of the port's settings; what is not given stays as the meter's description or the default has it."""
    parser.add_argument("--baud", type=int, help="9600 if not given")
    parser.add_argument("--data-bits", type=int, choices=(5, 6, 7, 8))
    parser.add_argument("--parity", choices=("N", "E", "O", "M", "S"))
    parser.add_argument("--stop-bits", type=float, choices=(1.0, 1.5, 2.0))
    for wire in ("--dtr", "--rts"):
        parser.add_argument(
            wire, choices=("on", "off", "system"), help="level of this wire; some cables live on it"
        )


def _port_settings(arguments: argparse.Namespace, base: PortSettings) -> PortSettings:
    """The settings of `base`, with what was said on the command line."""
    said = {
        name: value
        for name in ("baud", "data_bits", "parity", "stop_bits")
        if (value := getattr(arguments, name)) is not None
    }
    levels = {"on": True, "off": False, "system": None}
    said |= {wire: levels[level] for wire in ("dtr", "rts") if (level := getattr(arguments, wire))}
    return replace(base, **said)


def _unescaped(text: str) -> str:
    """A query as typed, with \\r, \\n and \\x1b for what cannot be typed."""
    try:
        return text.encode("latin-1").decode("unicode_escape")
    except UnicodeError as error:
        raise StillvoltError(f"The query {text!r} is not understood ({error}).") from error


def _window(arguments: argparse.Namespace) -> int:
    try:
        from gui.app import open_window
    except ImportError as error:
        raise StillvoltError(
            f"The window needs packages that are not installed ({error.name}).",
            "Recording, replay and export work without them.",
            "Install them with: pip install 'stillvolt[gui]'",
        ) from error
    return open_window(visit=arguments.visit, port=arguments.port, start=arguments.start)


def _ports(_: argparse.Namespace) -> None:
    from logger.meter.port import list_ports
    from logger.simulation import register_simulated_port

    register_simulated_port()
    for port in list_ports():
        print(f"{port.url}\t{port.description}")


def _lines(arguments: argparse.Namespace) -> None:
    from logger.meter.lines import read_stream

    try:
        stream = arguments.file.open("rb")
    except OSError as error:
        raise StillvoltError(f"{arguments.file} cannot be read ({error.strerror}).") from error
    with stream:
        for reading in read_stream(stream):
            print(json.dumps({"status": reading.status.value, "volts": reading.volts}))


def _record(arguments: argparse.Namespace) -> None:
    from logger.meter.description_folder import load
    from logger.meter.port import PortSettings
    from logger.recording.recorder import detach, record_in_foreground
    from logger.simulation import register_simulated_port
    from logger.visit.storage.visit_folder import visit_of_tonight

    register_simulated_port()
    meter = load(arguments.meter) if arguments.meter else None
    base = meter.settings(arguments.port) if meter else PortSettings(url=arguments.port)
    settings = _port_settings(arguments, base)
    if arguments.query is not None:
        settings = replace(settings, query=_unescaped(arguments.query))
    if arguments.query_every is not None:
        settings = replace(settings, query_every_s=arguments.query_every)
    visit = arguments.visit or visit_of_tonight(arguments.nightly, datetime.now())
    if arguments.detach:
        print(detach(visit, settings, arguments.for_s))
    else:
        record_in_foreground(visit, settings, arguments.for_s, meter)


def _running(arguments: argparse.Namespace) -> None:
    from logger.clock import SystemClock
    from logger.recording.registry import in_words, running

    found = running()
    if arguments.json:
        print(json.dumps([one.to_json() for one in found]))
        return
    now_utc_ns = SystemClock().utc_ns()
    for one in found:
        print(in_words(one, now_utc_ns))
    if not found:
        print("No recorder is at work on this computer.")


def _stop(arguments: argparse.Namespace) -> None:
    from logger.recording.registry import stop

    print(stop(arguments.visit))


def _identify(arguments: argparse.Namespace) -> int:
    from logger.cli.identify_text import identify_and_tell
    from logger.meter.port import PortSettings
    from logger.simulation import register_simulated_port

    register_simulated_port()
    return identify_and_tell(
        _port_settings(arguments, PortSettings(url=arguments.port)),
        query=None if arguments.query is None else _unescaped(arguments.query),
        listen_only=arguments.listen_only,
        shown=arguments.shown,
        keep=arguments.keep,
    )


def _meters(_: argparse.Namespace) -> None:
    from logger.meter.description_folder import folder, list_descriptions, load

    for name in list_descriptions():
        try:
            port = load(name).port
            print(f"{name}\t{port.framing()}" + (f", asked {port.query!r}" if port.query else ""))
        except StillvoltError as error:  # one that is wrong must not hide the others
            print(f"{name}\t{error}")
    print(f"in {folder()}", file=sys.stderr)


def _replay(arguments: argparse.Namespace) -> None:
    from logger.settling.events import as_json
    from logger.settling.replay import read_trace, replay

    events = replay(*read_trace(arguments.trace))
    try:
        with arguments.events.open("w", encoding="utf-8") as out:
            out.writelines(json.dumps(as_json(event)) + "\n" for event in events)
    except OSError as error:
        raise StillvoltError(f"{arguments.events} cannot be written ({error.strerror}).") from error


def _sources(arguments: argparse.Namespace) -> None:
    from logger.sweep.solver.answer import solve_sweep
    from logger.sweep.solver.answer_text import answer_text
    from logger.sweep.solver.readings import read_sweep

    def names(text: str) -> list[str]:
        return [name.strip() for name in text.split(",") if name.strip()]

    sweep = read_sweep(arguments.readings, names(arguments.circuits))
    keep = frozenset(names(arguments.keep))
    found = solve_sweep(sweep, arguments.supply, keep, arguments.target)
    print(
        json.dumps(found.as_json()) if arguments.json else answer_text(found, sweep, keep, arguments.target)
    )


def _night(arguments: argparse.Namespace) -> None:
    from logger.night.night_text import tell_night

    print(tell_night(arguments.visit, arguments.night, arguments.against, as_json=arguments.json))


def _export(arguments: argparse.Namespace) -> None:
    from logger.report.export.export import export

    formats = [name.strip() for name in arguments.format.split(",") if name.strip()]
    for path in export(arguments.visit, arguments.out, formats):
        print(path)


def _compare(arguments: argparse.Namespace) -> None:
    from logger.report.compare.comparison import as_json, compare_visits, in_words
    from logger.report.compare.spot_matching import read_matches

    found = compare_visits(arguments.before, arguments.after, read_matches(arguments.match))
    print(json.dumps(as_json(found)) if arguments.json else in_words(found))


def _archive(arguments: argparse.Namespace) -> None:
    from logger.report.archive import Search, as_json, day_of, in_words, search

    first_day = day_of(arguments.first_day) if arguments.first_day else None
    last_day = day_of(arguments.last_day) if arguments.last_day else None
    names = arguments.household, arguments.room, arguments.spot, arguments.text
    found = search(arguments.folder, Search(*names, first_day, last_day))
    print(json.dumps(as_json(found)) if arguments.json else in_words(found))


def _report(arguments: argparse.Namespace) -> None:
    from logger.report.document.write_report import write_report

    write_report(
        arguments.visit, arguments.out, arguments.pdf, lambda done: print(f"{done} …", file=sys.stderr)
    )
    print(*filter(None, (arguments.out, arguments.pdf)), sep="\n")


def _form(arguments: argparse.Namespace) -> None:
    from logger.report.blank_form import write_form

    write_form(arguments.visit, arguments.out)
    print(arguments.out)
