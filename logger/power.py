"""How the computer is powered: a laptop on its charger is tied to the building's wiring, which spoils the reference."""

from __future__ import annotations


def charger_plugged_in() -> bool | None:
    """Whether the charger is plugged in now; None where the system does not tell (or there is no battery)."""
    import psutil  # 20 ms, not needed to record

    battery = psutil.sensors_battery() if hasattr(psutil, "sensors_battery") else None
    return None if battery is None else battery.power_plugged
