"""`stillvolt ports`: lists the ports of this computer."""

from __future__ import annotations

import argparse

from logger.meter.port import list_ports
from logger.simulation import register_simulated_port
from logger.translation import tr


def run(_: argparse.Namespace) -> None:
    """Print the address and the description of each port."""
    register_simulated_port()
    for port in list_ports():
        print(f"{port.url}\t{tr(port.description)}")
