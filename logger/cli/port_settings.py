"""The settings of a port as given on the command line."""

from __future__ import annotations

import argparse
from dataclasses import replace

from logger.errors import StillvoltError
from logger.meter.port import PortSettings
from logger.translation import tr

WIRE_LEVELS = {"on": True, "off": False, "system": None}
"""Of DTR and RTS; None leaves the wire as the system has it."""


def port_settings(arguments: argparse.Namespace, base: PortSettings) -> PortSettings:
    """Put what was given on the command line in the place of the settings of `base`."""
    given = {
        name: value
        for name in ("baud", "data_bits", "parity", "stop_bits")
        if (value := getattr(arguments, name)) is not None
    }
    given |= {wire: WIRE_LEVELS[level] for wire in ("dtr", "rts") if (level := getattr(arguments, wire))}
    return replace(base, **given)


def unescaped(text: str) -> str:
    r"""Return a query with \r, \n, \x1b and the like turned into what they stand for.

    Raises:
        StillvoltError: it ends in the middle of such a sign.
    """
    try:
        return text.encode("latin-1").decode("unicode_escape")
    except UnicodeError as error:
        raise StillvoltError(
            tr("The query {query} is not understood ({error}).").format(query=repr(text), error=error)
        ) from error
