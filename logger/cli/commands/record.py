"""`stillvolt record`: records from a port into a visit log."""

from __future__ import annotations

import argparse
import os
from collections.abc import Callable
from contextlib import ExitStack
from dataclasses import replace
from datetime import datetime

from logger.cli.calibration import print_calibration_doubt
from logger.cli.port_settings import port_settings, unescaped
from logger.meter.description_folder import load
from logger.meter.port import PortSettings
from logger.recording.detached import LANGUAGE, UNTIL_BEGUN, close_output, detach
from logger.recording.messages import print_message
from logger.recording.restart import RecordingProcess
from logger.recording.session import record_in_foreground
from logger.simulation import register_simulated_port
from logger.translation import SYSTEM_LANGUAGE, in_language, tr_kept
from logger.visit.storage.visit_folder import visit_of_tonight

PRINTS_MESSAGES_ONLY = True
"""What it makes is the visit log: an output that takes nothing more is no failure of the recording."""


def run(arguments: argparse.Namespace, process: RecordingProcess | None = None) -> None:
    """Record in the foreground, or start a recorder in the background and print what became of it.

    Args:
        arguments: the words of the command.
        process: this one, where it is started again after a fault.
    """
    language = os.environ.get(LANGUAGE, SYSTEM_LANGUAGE)

    def tell(message: str) -> None:
        with in_language(language):
            print_message(tr_kept(message))

    with ExitStack() as until_begun:
        until_begun.enter_context(in_language(language))
        _run(arguments, process, until_begun.close, tell)


def _run(
    arguments: argparse.Namespace,
    process: RecordingProcess | None,
    speak_english: Callable[[], None],
    tell: Callable[[str], None],
) -> None:
    """Record in the foreground, or start a recorder in the background.

    Args:
        arguments: the words of the command.
        process: this one, where it is started again after a fault.
        speak_english: is called once a run has begun here: a refusal is for who starts it, the rest for the log.
        tell: prints what the log keeps in English, in the language of who started it.
    """
    register_simulated_port()
    meter = load(arguments.meter) if arguments.meter else None
    if meter is not None and not os.environ.get(UNTIL_BEGUN):
        print_calibration_doubt(meter)
    base = meter.settings(arguments.port) if meter else PortSettings(url=arguments.port)
    settings = port_settings(arguments, base)
    if arguments.query is not None:
        settings = replace(settings, query=unescaped(arguments.query))
    if arguments.query_every is not None:
        settings = replace(settings, query_every_s=arguments.query_every)
    visit = arguments.visit or visit_of_tonight(arguments.nightly, datetime.now())
    if arguments.detach:
        print(detach(visit, settings, arguments.for_s))
    else:

        def begin() -> None:
            speak_english()
            if os.environ.get(UNTIL_BEGUN):
                close_output()

        record_in_foreground(visit, settings, arguments.for_s, meter, begin, process, tell)
