"""The command line: reads the words, runs one command, and turns an error into a message and an exit status.

The words are declared in `logger.cli.parser`; each command is the module of its name in `logger.cli.commands`.
"""

from __future__ import annotations

import argparse
import os
import signal
import sys
import threading
import time
from collections.abc import Sequence
from contextlib import nullcontext
from importlib import import_module
from keyword import iskeyword
from types import ModuleType

from logger import __version__
from logger.catalogue import SOURCE_LANGUAGE
from logger.cli.parser import argument_parser
from logger.diagnostics import log_exception, log_path, log_uncaught_exceptions
from logger.errors import StillvoltError
from logger.plain_text import ClosedStream, VisibleTextStream, make_output_visible, one_line
from logger.recording.restart import RecordingProcess, restarted_after_faults
from logger.translation import SYSTEM_LANGUAGE, in_language, set_language, tr

S_PER_DAY = 86_400
"""From here on an offset from UTC is none that a date and time can have."""

WINDOW = "window"
"""The command that runs when none is named."""

RECORD = "record"
"""The command that is started again after a fault of its process."""

OTHERS_GET_NOTHING = 0o077
"""Rights that no file or folder gives which is made: measurements are of the owner until shared on purpose."""


def module_name(command: str) -> str:
    """The module of a command: its own name, with an underscore after a name that Python keeps for itself."""
    return f"{command}_" if iskeyword(command) else command


def main(argv: Sequence[str] | None = None) -> int:
    """Run one command; without one, open the window. Returns the exit status: 0 done, 1 refused, 2 wrong usage."""
    words = list(sys.argv[1:] if argv is None else argv)
    if argv is None:  # the program itself, not a test that calls it
        os.umask(OTHERS_GET_NOTHING)
        log_uncaught_exceptions()
        make_output_visible()
        set_language(SYSTEM_LANGUAGE)  # until it is known whether another one is asked for
        return _run_to_a_sentence(words)
    return _run(words)


def _run_to_a_sentence(words: Sequence[str]) -> int:
    """Run one command; whatever goes wrong is one sentence, and its traceback is in the diagnostic log."""
    try:
        _refuse_impossible_zone()
        status = _run(words, is_program=True)
    except StillvoltError as error:
        print(f"stillvolt: {one_line(str(error))}", file=sys.stderr)
        status = 1
    except SystemExit as end:  # the help, or what argparse refuses
        status = end.code if isinstance(end.code, int) else 1
    except KeyboardInterrupt:
        print("stillvolt:", tr("Stopped by the keyboard. What was written before is kept."), file=sys.stderr)
        status = 128 + signal.SIGINT
    except Exception as error:
        if isinstance(error, OSError) and (broken := _broken_output()):
            return _status_of_broken_output(broken)
        log_exception("running a command")
        text = tr(
            "Something unexpected happened ({kind}: {error}). What was recorded is kept. The details are in {file}."
        )
        text = text.format(kind=type(error).__name__, error=one_line(str(error)), file=log_path())
        print("stillvolt:", text, file=sys.stderr)
        status = 1
    if broken := _broken_output():
        return _status_of_broken_output(broken)
    return status


def _refuse_impossible_zone() -> None:
    """Refuse a time zone that no clock time can be given in; raises StillvoltError."""
    if abs(time.localtime().tm_gmtoff) >= S_PER_DAY:
        raise StillvoltError(
            tr("The time zone of this computer, TZ={zone}, is a day or more away from UTC.").format(
                zone=os.environ.get("TZ", "")
            ),
            next_step=tr("Set another one."),
        )


def _broken_output() -> OSError | None:
    """Why standard output takes nothing more; None where it does. Nothing is written to a broken one any more."""
    if isinstance(sys.stdout, ClosedStream):
        failure, sys.stdout.failure = sys.stdout.failure, None
        return failure
    failure = sys.stdout.failure if isinstance(sys.stdout, VisibleTextStream) else None
    try:
        sys.stdout.flush()
    except OSError as error:
        failure = error
    if failure:
        # What is still held would fail again when the program ends.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        if isinstance(sys.stdout, VisibleTextStream):
            sys.stdout.failure = None
    return failure


def _status_of_broken_output(error: OSError) -> int:
    """Report an output that takes nothing more, but for a reader who has gone (`stillvolt lines FILE | head`)."""
    if not isinstance(error, BrokenPipeError):
        text = tr("The output cannot be written ({error}).").format(error=error.strerror)
        print("stillvolt:", text, file=sys.stderr)
    return 1


def _imported(name: str) -> ModuleType:
    """Import a module; Ctrl+C counts afterwards, for Python drops what is raised while it tidies up an import."""
    is_main = threading.current_thread() is threading.main_thread()
    if not is_main or signal.getsignal(signal.SIGINT) is signal.SIG_IGN:  # as a shell's background job has it
        return import_module(name)
    pressed: list[int] = []
    before = signal.signal(signal.SIGINT, lambda number, _: pressed.append(number))
    try:
        module = import_module(name)
    finally:
        signal.signal(signal.SIGINT, before)
    if pressed:
        raise KeyboardInterrupt
    return module


def _run(words: Sequence[str], *, is_program: bool = False) -> int:
    arguments = argument_parser().parse_args(words)
    if arguments.version:
        print(f"Stillvolt {__version__}")
        if arguments.verbose:
            print(tr("Diagnostic log: {file}").format(file=log_path()))
        return 0
    if is_program:
        set_language(_language_of(arguments))  # also for what is said once the command has been left
    if is_program and arguments.command == RECORD and not arguments.detach:
        return restarted_after_faults(lambda process: _run_command(arguments, process))
    return _run_command(arguments)


def _language_of(arguments: argparse.Namespace) -> str:
    """The language of what a command says; what other programs read, and what a recorder keeps, is English."""
    if arguments.command in (None, WINDOW, RECORD):  # the window chooses its own
        return SOURCE_LANGUAGE
    asked: str = getattr(arguments, "language", "")
    return asked or (SOURCE_LANGUAGE if getattr(arguments, "json", False) else SYSTEM_LANGUAGE)


def _run_command(arguments: argparse.Namespace, process: RecordingProcess | None = None) -> int:
    """Run a command.

    Args:
        arguments: its words, parsed.
        process: of a recorder that is started again after a fault of its process; None for all others.
    """
    # The one import that waits: a command's module imports what it needs (pandas, Qt, the serial port) at its top, and
    # `stillvolt --help`, or any other command, must not pay for it.
    command = _imported(f"logger.cli.commands.{module_name(arguments.command or WINDOW)}")
    language = getattr(arguments, "language", "")
    try:
        with in_language(language) if language else nullcontext():
            status: int | None = command.run(arguments, process) if process else command.run(arguments)
    except StillvoltError as error:
        print(f"stillvolt: {one_line(str(error))}", file=sys.stderr)
        return 1
    if getattr(command, "PRINTS_MESSAGES_ONLY", False):
        _broken_output()
    return status or 0
