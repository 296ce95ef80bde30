"""What somebody must know before a night with a probe in the hand."""

from __future__ import annotations

CAUTIONS = (
    "No outdoor earth wire in or before a thunderstorm: none tonight if one is forecast.",
    "Lay wires where nobody stumbles over them. Not for small children, nor for sensitive people against their will.",
    "Medical devices, alarms, pumps and refrigerators stay on. Panels and cords are for a licensed electrician.",
)

CHARGER = (
    "A charger changes the body's voltage: leave it all night as it is in the evening, else there is a step."
)

RUNS_ON = "It runs on when this window is closed or the screen is locked. Leave the lid open."

PANEL_CAUTIONS = (
    "Circuits that feed medical devices, alarms, pumps, refrigerators, or internet and telephone for emergency calls "
    "stay on unless you decide otherwise.",
    "The inside of the panel is for a licensed electrician; local codes come first.",
)
"""What goes with every advice on switching circuits off."""
