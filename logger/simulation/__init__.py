"""The simulated house as a port, and what makes it a place to practise. Nothing that measures depends on it."""

from __future__ import annotations

from logger.meter.port import PortInfo, register_ports
from logger.translation import marked

SIMULATED_URL = "sim://house"


def register_simulated_port() -> None:
    """Make `sim://` one more kind of port, and offer the simulated house in the list of ports."""
    register_ports(
        __name__,
        PortInfo(
            SIMULATED_URL, marked("Simulated house (things happen in it by themselves; no meter needed)")
        ),
    )
