"""`stillvolt`: opens the window."""

from __future__ import annotations

import argparse

from logger.errors import StillvoltError
from logger.translation import tr


def run(arguments: argparse.Namespace) -> int:
    """Open the window and wait until it is closed.

    Raises:
        StillvoltError: the packages of the window are not installed.
    """
    try:
        from gui.app import open_window  # noqa: PLC0415 - Qt is an extra: without it the message below is shown
    except ImportError as error:
        raise StillvoltError(
            tr("The window needs packages that are not installed ({package}).").format(package=error.name),
            tr("Recording, replay and export work without them."),
            tr("Install them with: {command}").format(command="pip install 'stillvolt[gui]'"),
        ) from error
    return open_window(visit=arguments.visit, port=arguments.port, start=arguments.start)
