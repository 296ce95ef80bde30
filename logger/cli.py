"""The command line: parses, calls the library, prints. There is no logic here."""

from __future__ import annotations

import argparse
import json
import sys
from collections.abc import Sequence
from pathlib import Path

from logger import __version__
from logger.errors import StillvoltError


def main(argv: Sequence[str] | None = None) -> int:
    """Run one command; without one, open the window. Returns the exit code: 0, 1 refused, 2 wrong usage."""
    words = list(sys.argv[1:] if argv is None else argv)
    parser = _parser()
    arguments = parser.parse_args(words)
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
    parser.add_argument("--version", action="version", version=f"Stillvolt {__version__}")
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
    record.add_argument("--visit", type=Path, required=True, help="the visit log (made if missing)")
    record.add_argument(
        "--for", dest="for_s", type=float, metavar="SECONDS", help="stop by itself after that"
    )
    record.add_argument("--baud", type=int, default=9600)
    record.add_argument("--data-bits", type=int, choices=(5, 6, 7, 8), default=8)
    record.add_argument("--parity", choices=("N", "E", "O", "M", "S"), default="N")
    record.add_argument("--stop-bits", type=float, choices=(1.0, 1.5, 2.0), default=1.0)
    record.add_argument("--dtr", choices=("on", "off"), help="level of the DTR wire; some cables live on it")
    record.add_argument("--rts", choices=("on", "off"), help="level of the RTS wire; some cables live on it")
    record.set_defaults(run=_record)

    replay = commands.add_parser("replay", help="run the detector over a trace (CSV: time_s,volts)")
    replay.add_argument("trace", type=Path)
    replay.add_argument("--events", type=Path, required=True, help="the JSON lines file to write")
    replay.set_defaults(run=_replay)

    export = commands.add_parser("export", help="write a visit as CSV files")
    export.add_argument("visit", type=Path)
    export.add_argument("--out", type=Path, required=True, help="the folder (made if missing)")
    export.set_defaults(run=_export)
    return parser


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
    from logger.meter.port import PortSettings
    from logger.recorder import record_in_foreground

    settings = PortSettings(
        url=arguments.port,
        baud=arguments.baud,
        data_bits=arguments.data_bits,
        parity=arguments.parity,
        stop_bits=arguments.stop_bits,
        dtr=None if arguments.dtr is None else arguments.dtr == "on",
        rts=None if arguments.rts is None else arguments.rts == "on",
    )
    record_in_foreground(arguments.visit, settings, arguments.for_s)


def _replay(arguments: argparse.Namespace) -> None:
    from logger.still.events import as_json
    from logger.still.replay import read_trace, replay

    events = replay(*read_trace(arguments.trace))
    try:
        with arguments.events.open("w", encoding="utf-8") as out:
            out.writelines(json.dumps(as_json(event)) + "\n" for event in events)
    except OSError as error:
        raise StillvoltError(f"{arguments.events} cannot be written ({error.strerror}).") from error


def _export(arguments: argparse.Namespace) -> None:
    from logger.report.export import export

    for path in export(arguments.visit, arguments.out):
        print(path)
