"""Every caution of the work, once. Window, blank form and report put theirs together from these sentences.

They are translated where they are shown.
"""

from __future__ import annotations

from logger.translation import marked

LIVE_CONDUCTOR = marked("Never touch a live conductor or hold the probe to one.")

DIGGING = marked(
    "Ask before digging or driving a rod into the ground: pipes, cables and roots may lie there."
)

THUNDERSTORM = marked("No outdoor earth wire and no rod in or before a thunderstorm.")

EARTHING_CODES = marked("Follow local earthing rules.")

ESSENTIAL_CIRCUITS = marked(
    "Circuits of medical devices, alarms, pumps and refrigerators stay on, unless you decide otherwise. So do those of "
    "internet and telephone for emergency calls."
)

ESSENTIAL_TONIGHT = marked(
    "Circuits of medical devices, alarms, pumps and refrigerators stay on. So do those of internet and telephone for "
    "emergency calls."
)
"""The same beside a list for a household, which is no place for an exception."""

PANEL = marked("The inside of the panel is for a licensed electrician; local electrical codes come first.")

WIRING = marked("The inside of cords, lamps and fixed wiring is for a licensed electrician.")

ELECTRICIAN_DECIDES = marked(
    "What is done at wiring, outlets and panels, local codes and a licensed electrician decide."
)

BREAKERS_ONLY = marked("Whoever is at the panel switches breakers only.")

SENSITIVE_PERSON = marked(
    "A person sensitive to the field of a cord does not do this: skip it or let somebody else."
)

LAPTOP_ON_BATTERY = marked(
    "On battery and nothing plugged in: a charger connects the laptop to the building's wiring."
)

ISOLATED_LINK = marked("Optical or radio isolates. A plain cable ties the meter's zero to the laptop.")

SENSITIVE_PEOPLE_AND_CORDS = marked("Sensitive people hold no cord near them.")

LAPTOP_TIES = marked("A laptop on its charger, or a link that is not isolated, spoils the reference.")

PANEL_CAUTIONS = (ESSENTIAL_CIRCUITS, PANEL)
"""What goes with every advice on switching circuits off."""

NIGHT_CAUTIONS = (
    THUNDERSTORM,
    marked("Where a thunderstorm is forecast for tonight: no outdoor earth wire and no rod tonight."),
    marked(
        "Lay wires where nobody stumbles over them. Not for small children, nor for sensitive people against their "
        "will."
    ),
    marked(
        "Medical devices, alarms, pumps and refrigerators stay on. Panels and cords are for a licensed electrician."
    ),
)
"""What somebody must know before a night with a probe in the hand; short, for the page that starts it."""

CHARGER_TONIGHT = marked(
    "A charger changes the body's voltage: leave it all night as it is in the evening, else there is a step."
)

OUTSIDE_WALK_CAUTION = marked(
    "Stay on public or own ground, away from live parts, and not in or before a thunderstorm."
)
