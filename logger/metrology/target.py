"""What values are held against until somebody states another target, and where that comes from."""

from __future__ import annotations

TARGET_VOLTS = 0.1
TARGET_SOURCE = "common practice, no source"
