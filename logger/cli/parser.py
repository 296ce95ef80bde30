"""The words of the command line, all of them, without what the commands need: `stillvolt --help` starts at once."""

from __future__ import annotations

import argparse
from math import inf, nan
from pathlib import Path
from typing import TYPE_CHECKING, get_args

from logger.catalogue import languages
from logger.metrology.supply import SupplyKey
from logger.translation import SYSTEM_LANGUAGE

MAX_BAUD = 12_000_000
"""The fastest that usual adapters offer; common practice, no source."""

if TYPE_CHECKING:
    Commands = argparse._SubParsersAction[argparse.ArgumentParser]


def argument_parser() -> argparse.ArgumentParser:
    """Every word of the command line; `command` names the module of `logger.cli.commands`, None opens the window."""
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
    commands = parser.add_subparsers(title="commands", metavar="COMMAND", dest="command")

    _add_recording(commands)
    _add_meters(commands)
    _add_analysis(commands)
    _add_documents(commands)
    return parser


def _seconds(text: str) -> float:
    """A length of time; raises ArgumentTypeError, which argparse shows with the option's name."""
    try:
        seconds = float(text)
    except ValueError:
        seconds = nan
    if not 0 < seconds < inf:
        raise argparse.ArgumentTypeError(f"{text!r} is not a number of seconds above 0")
    return seconds


def _volts(text: str) -> float:
    """A voltage from 0 on; raises ArgumentTypeError, which argparse shows with the option's name."""
    try:
        volts = float(text)
    except ValueError:
        volts = nan
    if not 0 <= volts < inf:
        raise argparse.ArgumentTypeError(f"{text!r} is not a number of volts")
    return volts


def _baud(text: str) -> int:
    """A number of bauds; raises ArgumentTypeError, which argparse shows with the option's name."""
    if not (text.isascii() and text.isdecimal() and 0 < int(text) <= MAX_BAUD):
        raise argparse.ArgumentTypeError(f"{text!r} is not a number of bauds from 1 to {MAX_BAUD}")
    return int(text)


def _add_recording(commands: Commands) -> None:
    """What listens to a port, now or kept in a file."""
    commands.add_parser("ports", help="list the ports of this computer")

    lines = commands.add_parser("lines", help="show how each line of a meter's stream is read, as JSON")
    lines.add_argument("file", type=Path, help="the stream as the meter sent it")

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
        "--for", dest="for_s", type=_seconds, metavar="SECONDS", help="stop by itself after that"
    )
    record.add_argument("--meter", metavar="NAME", help="a kept meter description (`stillvolt meters`)")
    _add_port_options(record)
    record.add_argument(
        "--query", metavar="TEXT", help="what the meter has to be sent for each value (READ?)"
    )
    record.add_argument("--query-every", type=_seconds, metavar="SECONDS", help="0.5 if not given")

    bring_in = commands.add_parser(
        "import", help="add a trace logged elsewhere (CSV: time_s,volts) to a visit log as a run"
    )
    bring_in.add_argument("trace", type=Path)
    bring_in.add_argument("--visit", type=Path, required=True, help="the visit log (made if missing)")
    bring_in.add_argument(
        "--began", required=True, metavar="RFC3339",
        help="the moment of time_s = 0, with its offset: 2026-11-25T21:30:00+01:00",
    )  # fmt: skip
    bring_in.add_argument("--meter", metavar="NAME", help="the kept meter that it was logged with")
    bring_in.add_argument(
        "--reference", choices=("rod", "building"), help="what the meter called zero; the same for a whole visit"
    )  # fmt: skip

    unit = bring_in.add_mutually_exclusive_group()
    unit.add_argument(
        "--unit",
        choices=("V", "mV", "uV"),
        help="the unit of the values; else volts are assumed",
    )
    unit.add_argument("--volts", dest="unit", action="store_const", const="V", help="the same as --unit V")
    bring_in.add_argument(
        "--future", action="store_true", help="the trace ends later than this computer's clock shows"
    )

    running = commands.add_parser("running", help="list the recorders at work on this computer")
    running.add_argument("--json", action="store_true", help="as a JSON list")

    stop = commands.add_parser(
        "stop", help="end the recorder of a visit in order, and wait until it has ended"
    )
    stop.add_argument("visit", type=Path)


def _add_meters(commands: Commands) -> None:
    """What is known of a meter."""
    identify = commands.add_parser("identify", help="find a meter's port settings and the form of its lines")
    identify.add_argument("--port", required=True, help="a device name or a URL")
    _add_port_options(identify)
    identify.add_argument("--query", metavar="TEXT", help="ask a silent meter with this line only")
    identify.add_argument("--listen-only", action="store_true", help="send nothing to a silent meter")
    identify.add_argument(
        "--shown", action="append", default=[], metavar="VALUE", help='what the display shows now: "273 mV"'
    )
    identify.add_argument("--keep", metavar="NAME", help="keep what was found as a meter description")
    identify.add_argument(
        "--replace", action="store_true", help="replace a description that is kept by that name"
    )

    commands.add_parser("meters", help="list the kept meter descriptions")


def _add_analysis(commands: Commands) -> None:
    """What works numbers out."""
    replay = commands.add_parser("replay", help="run the detector over a trace (CSV: time_s,volts)")
    replay.add_argument("trace", type=Path)
    replay.add_argument("--events", type=Path, required=True, help="the JSON lines file to write")
    _add_replace(replay)

    sources = commands.add_parser(
        "sources", help="which circuit gives how much, and what to switch off tonight"
    )
    sources.add_argument(
        "readings", type=Path, help=r"the sweep as CSV: on,volts,u_volts (a + in a name: \+)"
    )
    sources.add_argument("--json", action="store_true", help="the whole answer as JSON")
    sources.add_argument("--supply", choices=get_args(SupplyKey), default="split")
    names = "joined by commas; a name that has a comma is in double quotes"
    sources.add_argument("--circuits", default="", help=f"all names on the panel, {names}")
    sources.add_argument("--keep", default="", help=f"names that must stay on, {names}")
    sources.add_argument("--target", type=_volts, metavar="VOLTS", help="default 0.1 V")

    night = commands.add_parser("night", help="sum up a night: levels, steps, repeating loads, motion")
    night.add_argument("visit", type=Path)
    _add_language(night)
    night.add_argument("--json", action="store_true", help="the whole summary as JSON")
    night.add_argument(
        "--night", type=int, metavar="N", help="which one, counted from 1; the longest if not given"
    )
    night.add_argument(
        "--against",
        type=Path,
        metavar="VISIT",
        help="another visit's night to compare with; the earlier one by date counts as before",
    )
    night.add_argument(
        "--from",
        dest="begins",
        default="",
        metavar="TIME",
        help="where the night begins: a local time like 23:10, or RFC 3339; kept in the visit log",
    )
    night.add_argument(
        "--until", default="", metavar="TIME", help="where the night ends; kept in the visit log"
    )
    night.add_argument(
        "--found-edges", action="store_true", help="the night begins and ends where it was found to, not as moved"
    )  # fmt: skip


def _add_language(command: argparse.ArgumentParser) -> None:
    command.add_argument(
        "--language",
        choices=(SYSTEM_LANGUAGE, *languages()),
        default=SYSTEM_LANGUAGE,
        help="of what people read; the system's if not given. JSON is the same in each.",
    )


def _add_replace(command: argparse.ArgumentParser) -> None:
    command.add_argument(
        "--replace",
        action="store_true",
        help="replace a file that this program has not written itself, or that was changed since",
    )


def _add_documents(commands: Commands) -> None:
    """What is written and looked up of visits."""
    export = commands.add_parser("export", help="write a visit as CSV, spreadsheet or Parquet files")
    export.add_argument("visit", type=Path)
    export.add_argument("--out", type=Path, required=True, help="the folder (made if missing)")
    _add_replace(export)
    export.add_argument("--format", metavar="LIST", help="of csv, xlsx, parquet; csv,xlsx if not given")

    compare = commands.add_parser("compare", help="what has changed from one visit to another, spot by spot")
    compare.add_argument("before", type=Path, help="the earlier visit")
    compare.add_argument("after", type=Path, help="the later visit")
    _add_language(compare)
    compare.add_argument("--json", action="store_true", help="the whole comparison as JSON")
    compare.add_argument(
        "--same-home", action="store_true",
        help="both are of the same home, though the household is called differently or is not entered",
    )  # fmt: skip
    compare.add_argument(
        "--match", action="append", default=[], metavar="OLD=NEW",
        help="a spot's name before and after; OLD= for one that has no partner. Kept in the later visit",
    )  # fmt: skip

    archive = commands.add_parser("archive", help="search a folder of visits")
    archive.add_argument("folder", type=Path)
    archive.add_argument("--household", default="", help="a part of its name")
    archive.add_argument("--room", default="", help="a part of a room's name")
    archive.add_argument("--spot", default="", help="a part of a spot's name")
    archive.add_argument("--text", default="", help="a part of anything that was typed")
    archive.add_argument("--from", dest="first_day", default="", metavar="DATE", help="first local date")
    archive.add_argument("--to", dest="last_day", default="", metavar="DATE", help="last local date")
    archive.add_argument("--json", action="store_true", help="what was found as JSON")

    report = commands.add_parser("report", help="write the report of a visit: one HTML file, and a PDF")
    report.add_argument("visit", type=Path)
    report.add_argument("--out", type=Path, required=True, help="the HTML file to write")
    _add_replace(report)
    _add_language(report)
    report.add_argument("--pdf", type=Path, help="a PDF file as well (needs the extra 'report')")

    verify = commands.add_parser("verify", help="see whether a visit log is whole")
    verify.add_argument("visit", type=Path)
    verify.add_argument("--json", action="store_true", help="what was found as JSON")

    salvage = commands.add_parser(
        "salvage", help="bring what can be read of a damaged visit log into a new one"
    )
    salvage.add_argument("visit", type=Path)
    salvage.add_argument("--out", type=Path, required=True, metavar="NEW", help="the visit log to make")

    form = commands.add_parser("form", help="write an empty form for a visit's planned spots, to be printed")
    form.add_argument("visit", type=Path)
    _add_language(form)
    form.add_argument("--out", type=Path, required=True, help="the HTML file to write")
    _add_replace(form)


def _add_port_options(parser: argparse.ArgumentParser) -> None:
    """The settings of the port; one that is not given stays as the meter's description or the default has it."""
    parser.add_argument("--baud", type=_baud, help="9600 if not given")
    parser.add_argument("--data-bits", type=int, choices=(5, 6, 7, 8))
    parser.add_argument("--parity", choices=("N", "E", "O", "M", "S"))
    parser.add_argument("--stop-bits", type=float, choices=(1.0, 1.5, 2.0))
    for wire in ("--dtr", "--rts"):
        parser.add_argument(
            wire, choices=("on", "off", "system"), help="level of this wire; some cables live on it"
        )
