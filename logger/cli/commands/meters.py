"""`stillvolt meters`: lists the kept meter descriptions."""

from __future__ import annotations

import argparse
import sys

from logger.cli.calibration import print_calibration_doubt
from logger.errors import StillvoltError
from logger.meter.description_folder import folder, list_descriptions, load
from logger.translation import tr


def run(_: argparse.Namespace) -> None:
    """Print the name and the port settings of each description; what is wrong with one that cannot be read."""
    for name in list_descriptions():
        try:
            meter = load(name)
            port = meter.port
            asked = tr("{settings}, asked {query}").format(settings=port.framing(), query=repr(port.query))
            print(f"{name}\t{asked if port.query else port.framing()}")
            print_calibration_doubt(meter)
        except StillvoltError as error:  # one that is wrong must not hide the others
            print(f"{name}\t{error}")
    print(tr("in {folder}").format(folder=folder()), file=sys.stderr)
