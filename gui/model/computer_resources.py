"""Disk and battery: for how long both last, and what must be known of them during a night."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from logger.clock import NS_PER_S, Clock, format_duration
from logger.metrology.rounding import fixed
from logger.recording.watch.disk_space import USUAL_BYTES_PER_S, free_bytes, lasts_s
from logger.recording.watch.disk_space import warning as disk_warning
from logger.recording.watch.power import LOW_PERCENT, Power, power
from logger.translation import tr, tr_kept, tr_n

POLL_NS = 2 * NS_PER_S
"""How often disk and battery are read."""

MAX_DAYS = 30
"""Longer is not counted."""

LOW_DISK_S = 3600.0
"""The night screen warns from here on; the stage and the log warn long before."""


class ComputerResources:
    """Disk room and battery of the computer.

    Args:
        folder: on the disk that is recorded to.
        clock: injected time.
        read_power: what the system reports of battery and charger; None where it reports nothing.
        read_free_bytes: room on the disk of a folder, in bytes.
    """

    def __init__(
        self,
        folder: Path,
        clock: Clock,
        read_power: Callable[[], Power | None] = power,
        read_free_bytes: Callable[[Path], int] = free_bytes,
    ) -> None:
        self._folder = folder
        self._clock = clock
        self._read_power = read_power
        self._read_free_bytes = read_free_bytes
        self._read_ns: int | None = None
        self.power: Power | None = None
        """Battery and charger as last reported."""
        self.disk_s = 0.0
        """For how long the disk has room, in seconds of recording."""

    def poll(self) -> bool:
        """Read disk and battery, at most every `POLL_NS`; True when something differs."""
        now_ns = self._clock.steady_ns()
        if self._read_ns is not None and now_ns - self._read_ns < POLL_NS:
            return False
        self._read_ns = now_ns
        before = self.power, self.disk_s
        self.power = self._read_power()
        try:
            free = self._read_free_bytes(self._folder)
        except OSError:  # the recorder reports a disk that went away
            free = 0
        self.disk_s = lasts_s(free, USUAL_BYTES_PER_S)
        return before != (self.power, self.disk_s)

    def disk_text(self) -> str:
        """Disk room in a few words."""
        return tr("disk {duration}").format(duration=self.disk_room_text())

    def disk_room_text(self) -> str:
        """For how long the disk has room, in a few words."""
        return _days_text(self.disk_s)

    def charge_text(self) -> str:
        """The charge of the battery, and for how long it lasts where that is known; empty without a battery."""
        now = self.power
        if now is None:
            return ""
        if now.left_s is None:
            return f"{fixed(now.percent, 0)} %"
        return tr("{percent} %, {duration}").format(
            percent=fixed(now.percent, 0), duration=format_duration(now.left_s)
        )

    def battery_text(self) -> str:
        """Battery and charger in a few words; empty where the system reports nothing."""
        now = self.power
        if now is None:
            return ""
        if now.plugged_in:
            return tr("on charger, {percent} %").format(percent=fixed(now.percent, 0))
        return tr("battery {charge}").format(charge=self.charge_text())

    def disk_warning(self) -> str:
        """A warning of a disk without room for the night; empty when there is enough."""
        return tr_kept(disk_warning(self.disk_s))

    def problems(self) -> list[str]:
        """What must be known at the bedside, each in two or three words."""
        found = []
        if self.disk_s < LOW_DISK_S:
            found.append(
                tr("DISK FULL")
                if self.disk_s <= 0
                else tr("DISK ONLY {duration}").format(duration=format_duration(self.disk_s))
            )
        if self.power is not None and not self.power.plugged_in and self.power.percent <= LOW_PERCENT:
            found.append(tr("BATTERY {percent} %").format(percent=fixed(self.power.percent, 0)))
        return found


def _days_text(seconds: float) -> str:
    days = seconds / 86400
    if days > MAX_DAYS:
        return tr_n("over {n} day", "over {n} days", MAX_DAYS).format(n=MAX_DAYS)
    if days < 3:
        return format_duration(seconds)
    whole = round(days)
    return tr_n("{n} day", "{n} days", whole).format(n=whole)
