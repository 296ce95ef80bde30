"""What a command says of the calibration of a kept meter that it uses."""

from __future__ import annotations

import sys
from datetime import date

from logger.meter.description import MeterDescription, calibration_doubt


def print_calibration_doubt(meter: MeterDescription) -> None:
    """Print to stderr why the day of a meter's calibration cannot be right; nothing where it can."""
    if doubt := calibration_doubt(meter.calibrated_on, date.today()):
        print(f"stillvolt: {doubt}", file=sys.stderr)
