"""The words of the command line, all of them, without what the commands need: `stillvolt --help` starts at once."""

from __future__ import annotations

import argparse
from math import inf, nan
from pathlib import Path
from typing import TYPE_CHECKING, get_args

from logger.catalogue import languages
from logger.cli.translated_parser import TranslatedParser
from logger.metrology.supply import SupplyKey
from logger.report.paper import PAPERS, SYSTEM_PAPER
from logger.translation import SYSTEM_LANGUAGE, tr

MAX_BAUD = 12_000_000
"""The fastest that usual adapters offer; common practice, no source."""

if TYPE_CHECKING:
    Commands = argparse._SubParsersAction[TranslatedParser]


def argument_parser() -> TranslatedParser:
    """Every word of the command line; `command` names the module of `logger.cli.commands`, None opens the window."""
    parser = TranslatedParser(
        prog="stillvolt",
        description=tr("Measures body voltage around a home. Without a command it opens the window."),
    )
    parser.add_argument("--version", action="store_true", help=tr("print the version and exit"))
    parser.add_argument(
        "-v", "--verbose", action="store_true", help=tr("with --version: also where the diagnostic log is")
    )
    parser.add_argument(
        "--visit", type=Path, help=tr("the visit log that the window opens (made if missing)")
    )
    parser.add_argument("--port", help=tr("the port that the window offers first"))
    parser.add_argument("--start", action="store_true", help=tr("the window starts to record at once"))
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
        raise argparse.ArgumentTypeError(
            tr("{text} is not a number of seconds above 0.").format(text=repr(text))
        )
    return seconds


def _volts(text: str) -> float:
    """A voltage from 0 on; raises ArgumentTypeError, which argparse shows with the option's name."""
    try:
        volts = float(text)
    except ValueError:
        volts = nan
    if not 0 <= volts < inf:
        raise argparse.ArgumentTypeError(tr("{text} is not a number of volts.").format(text=repr(text)))
    return volts


def _baud(text: str) -> int:
    """A number of bauds; raises ArgumentTypeError, which argparse shows with the option's name."""
    if not (text.isascii() and text.isdecimal() and 0 < int(text) <= MAX_BAUD):
        raise argparse.ArgumentTypeError(
            tr("{text} is not a baud rate from 1 to {most}.").format(text=repr(text), most=MAX_BAUD)
        )
    return int(text)


def _add_recording(commands: Commands) -> None:
    """What listens to a port, now or kept in a file."""
    commands.add_parser("ports", help=tr("list the ports of this computer"))

    lines = commands.add_parser("lines", help=tr("show how each line from a meter is read, as JSON"))
    lines.add_argument("file", type=Path, help=tr("a file of what the meter sent"))

    record = commands.add_parser("record", help=tr("record from a port into a visit log, in the foreground"))
    record.add_argument(
        "--port",
        required=True,
        help=tr("the meter's port: a device name, or an address such as socket://host:port"),
    )
    into = record.add_mutually_exclusive_group(required=True)
    into.add_argument("--visit", type=Path, help=tr("the visit log (made if missing)"))
    into.add_argument(
        "--nightly",
        type=Path,
        metavar="FOLDER",
        help=tr("the folder for a visit log that is named after this evening's date"),
    )
    record.add_argument(
        "--detach",
        action="store_true",
        help=tr("record in the background, also when this terminal is closed"),
    )
    record.add_argument(
        "--for", dest="for_s", type=_seconds, metavar="SECONDS", help=tr("stop after so many seconds")
    )
    record.add_argument(
        "--meter", metavar="NAME", help=tr("the name of a meter that was kept; `stillvolt meters` lists them")
    )
    _add_port_options(record)
    record.add_argument(
        "--query",
        metavar="TEXT",
        help=tr("what the meter is sent each time to make it send a value, such as READ?"),
    )
    record.add_argument(
        "--query-every",
        type=_seconds,
        metavar="SECONDS",
        help=tr("how often it is sent; every 0.5 s if not given"),
    )

    _add_import(commands)

    running = commands.add_parser("running", help=tr("list the recorders at work on this computer"))
    running.add_argument("--json", action="store_true", help=tr("as a JSON list"))

    stop = commands.add_parser("stop", help=tr("stop the recording of a visit, and wait until it has ended"))
    stop.add_argument("visit", type=Path, help=tr("the visit log"))


def _add_import(commands: Commands) -> None:
    """A trace that was logged elsewhere."""
    bring_in = commands.add_parser(
        "import", help=tr("add a trace that was logged elsewhere (CSV: time_s,volts) to a visit log")
    )
    bring_in.add_argument("trace", type=Path, help=tr("the trace as CSV"))
    bring_in.add_argument("--visit", type=Path, required=True, help=tr("the visit log (made if missing)"))
    bring_in.add_argument(
        "--began", required=True, metavar="RFC3339",
        help=tr("when the trace began (time_s = 0), with the time zone: 2026-11-25T21:30:00+01:00"),
    )  # fmt: skip
    bring_in.add_argument(
        "--meter", metavar="NAME", help=tr("the name of the saved meter that it was logged with")
    )
    bring_in.add_argument(
        "--reference", choices=("rod", "building"), help=tr(
            "what the meter measured against: an earth rod, or the building's protective earth; "
            "the same for the whole visit"
        ),
    )  # fmt: skip

    unit = bring_in.add_mutually_exclusive_group()
    _add_unit(unit)
    unit.add_argument(
        "--volts", dest="unit", action="store_const", const="V", help=tr("the same as --unit V")
    )
    bring_in.add_argument(
        "--future", action="store_true", help=tr("the trace ends later than this computer's clock shows")
    )


def _add_meters(commands: Commands) -> None:
    """What is known of a meter."""
    identify = commands.add_parser(
        "identify", help=tr("find a meter's port settings and the form of its lines")
    )
    identify.add_argument(
        "--port",
        required=True,
        help=tr("the meter's port: a device name, or an address such as socket://host:port"),
    )
    _add_port_options(identify)
    identify.add_argument("--query", metavar="TEXT", help=tr("if the meter is silent, send only this"))
    identify.add_argument(
        "--listen-only", action="store_true", help=tr("send nothing, even if the meter is silent")
    )
    identify.add_argument(
        "--shown",
        action="append",
        default=[],
        metavar="VALUE",
        help=tr('what the display shows now: "273 mV"'),
    )
    identify.add_argument("--keep", metavar="NAME", help=tr("keep what was found under this name"))
    identify.add_argument(
        "--replace", action="store_true", help=tr("replace the meter that is kept under that name")
    )

    commands.add_parser("meters", help=tr("list the meters that were kept"))


def _add_analysis(commands: Commands) -> None:
    """What works numbers out."""
    replay = commands.add_parser("replay", help=tr("run the detector over a trace (CSV: time_s,volts)"))
    replay.add_argument("trace", type=Path, help=tr("the trace as CSV"))
    replay.add_argument("--events", type=Path, required=True, help=tr("the JSON lines file to write"))
    _add_unit(replay)
    _add_replace(replay)

    sources = commands.add_parser(
        "sources", help=tr("show how much each circuit adds, and what to switch off tonight")
    )
    sources.add_argument(
        "readings", type=Path, help=tr(r"the readings as CSV: on,volts,u_volts (write \+ for a + in a name)")
    )
    sources.add_argument("--json", action="store_true", help=tr("the whole answer as JSON"))
    sources.add_argument(
        "--supply",
        choices=get_args(SupplyKey),
        default="split",
        help=tr("the kind of supply; split if not given"),
    )
    sources.add_argument(
        "--circuits", default="", metavar="NAMES", help=tr(
            "all circuits of the panel, with commas between them; put a name that has a comma in double quotes"
        ),
    )  # fmt: skip
    sources.add_argument(
        "--keep", default="", metavar="NAMES", help=tr("circuits that must stay on, written in the same way")
    )
    sources.add_argument(
        "--target", type=_volts, metavar="VOLTS", help=tr("the voltage to get below; 0.1 V if not given")
    )

    _add_night(commands)
    _add_plan(commands)


def _add_night(commands: Commands) -> None:
    """A night, summed up."""
    night = commands.add_parser("night", help=tr("sum up a night: levels, steps, repeating loads, motion"))
    night.add_argument("visit", type=Path, help=tr("the visit log"))
    _add_language(night)
    night.add_argument("--json", action="store_true", help=tr("the whole summary as JSON"))
    night.add_argument(
        "--night",
        type=int,
        metavar="N",
        help=tr("which night of the visit, counted from 1; the longest if not given"),
    )
    night.add_argument(
        "--against",
        type=Path,
        metavar="VISIT",
        help=tr("another visit whose night is compared with this one; the earlier date counts as before"),
    )
    night.add_argument(
        "--from",
        dest="begins",
        default="",
        metavar="TIME",
        help=tr("where the night begins: a local time like 23:10, or RFC 3339; kept in the visit log"),
    )
    night.add_argument(
        "--until", default="", metavar="TIME", help=tr("where the night ends; kept in the visit log")
    )
    night.add_argument(
        "--found-edges", action="store_true", help=tr(
            "take the beginning and end that Stillvolt found, not those that were set by hand"
        ),
    )  # fmt: skip


def _add_plan(commands: Commands) -> None:
    """Remedies."""
    plan = commands.add_parser(
        "plan", help=tr("show remedies: what fits, what it would bring, what was done and proven")
    )
    plan.add_argument("visit", type=Path, help=tr("the visit log"))
    _add_language(plan)
    plan.add_argument("--json", action="store_true", help=tr("the whole plan as JSON"))
    # Each is named by its id, which stands in brackets behind it in the plan.
    decision = plan.add_mutually_exclusive_group()
    decision.add_argument(
        "--plan", metavar="ID", help=tr("enter that a remedy is planned, by its id in the plan")
    )
    decision.add_argument("--done", metavar="ID", help=tr("enter that it is done"))
    decision.add_argument("--undone", metavar="ID", help=tr("enter that it is no longer planned or done"))
    decision.add_argument("--not-wanted", metavar="ID", help=tr("enter that it is not wanted"))
    plan.add_argument(
        "--on", metavar="DATE", help=tr("the day on which it was done or undone; without it: now")
    )
    plan.add_argument("--by", metavar="WHO", help=tr("who does it, or has done it"))
    plan.add_argument("--note", metavar="TEXT", help=tr("a note that is kept with it"))


def _add_language(command: TranslatedParser) -> None:
    command.add_argument(
        "--language",
        choices=(SYSTEM_LANGUAGE, *languages()),
        default=SYSTEM_LANGUAGE,
        help=tr("the language of the text; the system's if not given. JSON is always the same."),
    )


def _add_unit(command: argparse._ActionsContainer) -> None:
    command.add_argument(
        "--unit",
        choices=("V", "mV", "uV"),
        help=tr("the unit of the values; volts are assumed if not given"),
    )


def _add_replace(command: TranslatedParser) -> None:
    command.add_argument(
        "--replace",
        action="store_true",
        help=tr("also replace a file that Stillvolt has not written, or that was changed since"),
    )


def _add_documents(commands: Commands) -> None:
    """What is written and looked up of visits."""
    export = commands.add_parser("export", help=tr("write a visit as CSV, spreadsheet or Parquet files"))
    export.add_argument("visit", type=Path, help=tr("the visit log"))
    export.add_argument("--out", type=Path, required=True, help=tr("the folder (made if missing)"))
    _add_replace(export)
    export.add_argument(
        "--format",
        metavar="LIST",
        help=tr("one or more of csv, xlsx, parquet with commas between; csv,xlsx if not given"),
    )

    _add_compare(commands)

    _add_archive(commands)

    report = commands.add_parser("report", help=tr("write the report of a visit: one HTML file, and a PDF"))
    report.add_argument("visit", type=Path, help=tr("the visit log"))
    report.add_argument("--out", type=Path, required=True, help=tr("the HTML file to write"))
    _add_replace(report)
    _add_language(report)
    report.add_argument("--pdf", type=Path, help=tr("a PDF file as well (needs the extra 'report')"))
    report.add_argument(
        "--paper",
        choices=(SYSTEM_PAPER, *PAPERS),
        default=SYSTEM_PAPER,
        help=tr("the paper of the PDF; that of the system's country if not given"),
    )

    verify = commands.add_parser("verify", help=tr("check that a visit log is complete and undamaged"))
    verify.add_argument("visit", type=Path, help=tr("the visit log"))
    verify.add_argument("--json", action="store_true", help=tr("what was found as JSON"))

    salvage = commands.add_parser(
        "salvage", help=tr("copy what can still be read of a damaged visit log into a new one")
    )
    salvage.add_argument("visit", type=Path, help=tr("the visit log"))
    salvage.add_argument("--out", type=Path, required=True, metavar="NEW", help=tr("the visit log to make"))

    form = commands.add_parser(
        "form", help=tr("write an empty form for a visit's planned spots, to be printed")
    )
    form.add_argument("visit", type=Path, help=tr("the visit log"))
    _add_language(form)
    form.add_argument("--out", type=Path, required=True, help=tr("the HTML file to write"))
    _add_replace(form)


def _add_archive(commands: Commands) -> None:
    """A folder of visits."""
    archive = commands.add_parser("archive", help=tr("search a folder of visits"))
    archive.add_argument("folder", type=Path, help=tr("the folder of the visits"))
    archive.add_argument("--household", default="", help=tr("part of the household's name"))
    archive.add_argument("--room", default="", help=tr("part of the room's name"))
    archive.add_argument("--spot", default="", help=tr("part of the spot's name"))
    archive.add_argument("--text", default="", help=tr("part of any text that was typed"))
    archive.add_argument(
        "--from", dest="first_day", default="", metavar="DATE", help=tr("the first date, such as 2026-11-25")
    )
    archive.add_argument(
        "--to", dest="last_day", default="", metavar="DATE", help=tr("the last date, such as 2026-11-25")
    )
    archive.add_argument(
        "--open-remedies",
        action="store_true",
        help=tr("only homes with remedies that are planned or not yet proven"),
    )
    archive.add_argument("--json", action="store_true", help=tr("what was found as JSON"))


def _add_compare(commands: Commands) -> None:
    """Two visits."""
    compare = commands.add_parser(
        "compare", help=tr("show what has changed from one visit to another, spot by spot")
    )
    compare.add_argument("before", type=Path, help=tr("the earlier visit"))
    compare.add_argument("after", type=Path, help=tr("the later visit"))
    _add_language(compare)
    compare.add_argument("--json", action="store_true", help=tr("the whole comparison as JSON"))
    compare.add_argument(
        "--same-home", action="store_true",
        help=tr("both visits are in the same home, though the household's name differs or is not entered"),
    )  # fmt: skip
    compare.add_argument(
        "--match", action="append", default=[], metavar="OLD=NEW",
        help=tr("a spot's name before and after; OLD= if it was not read again. This is kept in the later visit"),
    )  # fmt: skip


def _add_port_options(parser: TranslatedParser) -> None:
    """The settings of the port; one that is not given stays as the meter's description or the default has it."""
    parser.add_argument("--baud", type=_baud, help=tr("9600 if not given"))
    parser.add_argument("--data-bits", type=int, choices=(5, 6, 7, 8), help=tr("8 if not given"))
    parser.add_argument(
        "--parity", choices=("N", "E", "O", "M", "S"), help=tr("none, even, odd, mark, space; N if not given")
    )
    parser.add_argument("--stop-bits", type=float, choices=(1.0, 1.5, 2.0), help=tr("1 if not given"))
    for wire in ("--dtr", "--rts"):
        parser.add_argument(
            wire,
            choices=("on", "off", "system"),
            help=tr("level of this line of the port; some cables take their power from it"),
        )
