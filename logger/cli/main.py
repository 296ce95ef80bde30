"""The command line: reads the words, runs one command, and turns an error into a message and an exit status.

The words are declared in `logger.cli.parser`; each command is the module of its name in `logger.cli.commands`.
"""

from __future__ import annotations

import sys
from collections.abc import Sequence
from importlib import import_module
from keyword import iskeyword

from logger import __version__
from logger.cli.parser import argument_parser
from logger.diagnostics import log_path, log_uncaught_exceptions
from logger.errors import StillvoltError

WINDOW = "window"
"""The command that runs when none is named."""


def module_name(command: str) -> str:
    """The module of a command: its own name, with an underscore after a name that Python keeps for itself."""
    return f"{command}_" if iskeyword(command) else command


def main(argv: Sequence[str] | None = None) -> int:
    """Run one command; without one, open the window. Returns the exit status: 0 done, 1 refused, 2 wrong usage."""
    words = list(sys.argv[1:] if argv is None else argv)
    if argv is None:  # the program itself, not a test that calls it
        log_uncaught_exceptions()
    arguments = argument_parser().parse_args(words)
    if arguments.version:
        print(f"Stillvolt {__version__}")
        if arguments.verbose:
            print(f"Diagnostic log: {log_path()}")
        return 0
    # The one import that waits: a command's module imports what it needs (pandas, Qt, the serial port) at its top, and
    # `stillvolt --help`, or any other command, must not pay for it.
    command = import_module(f"logger.cli.commands.{module_name(arguments.command or WINDOW)}")
    try:
        status: int | None = command.run(arguments)
    except StillvoltError as error:
        print(f"stillvolt: {error}", file=sys.stderr)
        return 1
    except BrokenPipeError:  # `stillvolt lines FILE | head`
        sys.stderr.close()
        return 1
    return status or 0
