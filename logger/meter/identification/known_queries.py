"""The standard questions that a silent meter is asked."""

from __future__ import annotations

IDENTITY_QUERY = "*IDN?"
"""IEEE 488.2 section 10.14: every instrument of that standard answers it."""
KNOWN_QUERIES = ("MEAS:VOLT:AC?", "READ?", "FETC?")
"""SCPI-1999 volume 2, measurement instructions."""
