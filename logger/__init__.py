"""Stillvolt without a screen: meter, detector, visit log, simulated house, recorder. Imports no Qt."""

from __future__ import annotations

__version__ = "0.2.0"
