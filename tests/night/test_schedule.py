"""Planned switchings: read as typed, placed on the night's time line."""

from __future__ import annotations

from datetime import UTC, datetime
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from logger.clock import NS_PER_S
from logger.errors import StillvoltError
from logger.night.analysis.night_record import NightRecord
from logger.night.recorded_nights import Night
from logger.night.schedule import parse_schedule, planned_in

VIENNA = ZoneInfo("Europe/Vienna")


def night(start: datetime, hours: float) -> Night:
    record = NightRecord(np.zeros(0), np.zeros(0), (), hours * 3600)
    return Night(1, (), round(start.timestamp()) * NS_PER_S, VIENNA, "Europe/Vienna", record)


def test_entries_are_read_as_typed():
    assert parse_schedule("23:00 breakers off;  6.30 breakers on\n\n0:05: timer") == [
        (23, 0, "breakers off"), (6, 30, "breakers on"), (0, 5, "timer"),
    ]  # fmt: skip
    for wrong in ("breakers off", "25:00 off", "23:60 off", "23:00"):
        with pytest.raises(StillvoltError, match="23:00 breakers off"):
            parse_schedule(wrong)


def test_they_fall_on_the_clock_on_the_wall_also_over_a_daylight_saving_change():
    began = datetime(2026, 10, 24, 22, 0, tzinfo=VIENNA)  # clocks go back at 03:00
    found = planned_in(night(began, 10), "23:00 off; 06:30 on; 21:58 just before; 12:00 too late")
    assert [(p.what, p.time_s) for p in found] == [
        ("just before", -120), ("off", 3600), ("on", 9.5 * 3600),
    ]  # fmt: skip
    assert datetime.fromtimestamp(began.timestamp() + found[-1].time_s, UTC).hour == 5
