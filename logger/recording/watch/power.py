"""How the computer is powered: a laptop on its charger is tied to the building's wiring, which spoils the reference.

In: the state of battery and charger, polled every few seconds. Out: drafts of notices for the log.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from math import ceil, floor

from logger.clock import format_duration
from logger.meter.notice_draft import NoticeDraft
from logger.translation import in_language, kept_text

POLL_EVERY_S = 5.0
"""A charger plugged in is in the log within this time; asking costs some tenths of a millisecond."""

NOTICE_EVERY_PERCENT = 10

LOW_PERCENT = 20.0
"""From here on each notice is a warning: on most laptops an hour or less, and the system may suspend below 5 %."""

MIN_SPAN_S = 600.0
"""How long the battery lasts is worked out from its fall once that has been watched for so long, where the system
gives no estimate of its own."""


@dataclass(frozen=True, slots=True)
class Power:
    """State of battery and charger; None where the system does not know."""

    plugged_in: bool | None
    percent: float
    left_s: float | None = None
    """How long the battery will last, by the system's own estimate."""


def power() -> Power | None:
    """Battery and charger now; None where there is no battery, or the system does not know."""
    import psutil  # noqa: PLC0415  start-up time: 20 ms, not needed by every command

    battery = psutil.sensors_battery() if hasattr(psutil, "sensors_battery") else None
    if battery is None:
        return None
    left_s = float(battery.secsleft) if battery.secsleft and battery.secsleft > 0 else None
    return Power(battery.power_plugged, battery.percent, None if battery.power_plugged else left_s)


def charger_plugged_in() -> bool | None:
    """Whether the charger is plugged in now; None where the system does not know (or there is no battery)."""
    now = power()
    return None if now is None else now.plugged_in


class PowerWatch:
    """Follows battery and charger through a recording.

    Args:
        ask: gives the present state; a test gives its own.
    """

    def __init__(self, ask: Callable[[], Power | None] = power) -> None:
        self._query = ask
        self._polled_s: float | None = None
        self._before: Power | None = None
        self._next_below = self._next_above = 0.0
        """The percentages at which the next notice is due."""
        self._unplugged = (0.0, 0.0)
        """Time and percentage from which the battery's fall is watched."""

    def poll(self, time_s: float) -> list[NoticeDraft]:
        """Notices that are due at `time_s` (s, on the recording's clock), mostly none; may be called at any rate."""
        if self._polled_s is not None and time_s - self._polled_s < POLL_EVERY_S:
            return []
        self._polled_s = time_s
        now = self._query()
        if now is None:
            return []
        before, self._before = self._before, now
        if before is None or now.plugged_in != before.plugged_in:
            self._unplugged = (time_s, now.percent)
        if before is None:
            self._set_next_notices(
                ceil(now.percent / NOTICE_EVERY_PERCENT), floor(now.percent / NOTICE_EVERY_PERCENT)
            )
            return [self._at_the_start(now, time_s)]
        out = []
        if now.plugged_in != before.plugged_in and now.plugged_in is not None:
            out.append(_charger(now.plugged_in))
        if now.percent <= self._next_below:
            tens = ceil(now.percent / NOTICE_EVERY_PERCENT)
            self._set_next_notices(tens, tens)
            out.append(self._percent(now, time_s))
        elif now.percent >= self._next_above:
            tens = floor(now.percent / NOTICE_EVERY_PERCENT)
            self._set_next_notices(tens, tens)
            out.append(self._percent(now, time_s))
        return out

    def _set_next_notices(self, tens_down: int, tens_up: int) -> None:
        # One step in either direction from the last notice: a value that flickers about a ten gives one notice.
        self._next_below = NOTICE_EVERY_PERCENT * (tens_down - 1)
        self._next_above = NOTICE_EVERY_PERCENT * (tens_up + 1)

    def _at_the_start(self, now: Power, time_s: float) -> NoticeDraft:
        if now.plugged_in:
            return NoticeDraft(
                "charger",
                kept_text(
                    "The laptop is on its charger (battery {percent} %), which ties it to the building's wiring: "
                    "unplug it if the battery lasts."
                ).format(percent=f"{now.percent:.0f}"),
            )
        return self._percent(now, time_s)

    @in_language("en")
    def _percent(self, now: Power, time_s: float) -> NoticeDraft:
        left_s = self._left_s(now, time_s)
        percent, lasts = f"{now.percent:.0f}", "" if left_s is None else format_duration(left_s)
        if now.plugged_in or now.percent > LOW_PERCENT:
            text = (
                kept_text("The laptop's battery is at {percent} %; it will last for about {duration}.")
                if lasts
                else kept_text("The laptop's battery is at {percent} %.")
            )
            return NoticeDraft("battery", text.format(percent=percent, duration=lasts))
        text = (
            kept_text(
                "The laptop's battery is low: {percent} %; it will last for about {duration}. What is recorded is kept "
                "when it runs out. A charger would tie the laptop to the building's wiring."
            )
            if lasts
            else kept_text(
                "The laptop's battery is low: {percent} %. What is recorded is kept when it runs out. A charger would "
                "tie the laptop to the building's wiring."
            )
        )
        return NoticeDraft("laptop battery low", text.format(percent=percent, duration=lasts))

    def _left_s(self, now: Power, time_s: float) -> float | None:
        if now.plugged_in:
            return None
        if now.left_s is not None:
            return now.left_s
        since_s, percent_then = self._unplugged
        fall = percent_then - now.percent
        if time_s - since_s < MIN_SPAN_S or fall <= 0:
            return None
        return now.percent * (time_s - since_s) / fall


def _charger(plugged_in: bool) -> NoticeDraft:
    if plugged_in:
        return NoticeDraft(
            "charger",
            kept_text(
                "The charger was plugged in: it ties the laptop to the building's wiring, and the body's voltage may "
                "change."
            ),
        )
    return NoticeDraft(
        "charger",
        kept_text(
            "The charger was unplugged: the laptop is no longer tied to the building's wiring, and the body's voltage "
            "may change."
        ),
    )
