"""Which circuits and cords must stay on unless the user decides otherwise, suggested by their names.

What a home cannot do without for a night: medical devices, alarms, pumps, refrigerators, and internet or telephone
where emergency calls run over them (the usual cautions of the work; common practice, no source). Words are matched at
their beginning, so that 'fridge' finds 'fridges' and 'alarm' 'alarms'.
"""

from __future__ import annotations

import re

from logger.translation import kept_text

_WORDS: dict[str, tuple[str, ...]] = {
    kept_text("keeps food cold"): (
        "refrigerator", "fridge", "freezer", "icebox", "wine cooler",
        "kühlschrank", "kühltruhe", "kühlgerät", "gefrier", "tiefkühl", "eisschrank", "weinkühl",
        "nevera", "frigorífico", "refrigerador", "congelador", "réfrigérateur", "frigo", "congélateur",
    ),
    kept_text("may be a medical device"): (
        "medic", "oxygen", "ventilator", "respirator", "dialysis", "infusion", "nebuli", "cpap", "apnea", "apnoea",
        "hospital bed", "stair lift", "stairlift", "patient", "insulin",
        "medizin", "sauerstoff", "beatmung", "dialyse", "inhalator", "schlafapnoe", "pflegebett", "treppenlift",
        "médic", "oxígeno", "respirador", "diálisis", "oxygène", "respirateur",
    ),
    kept_text("is an alarm"): (
        "alarm", "smoke", "detector", "sprinkler", "security", "carbon monoxide", "gas sensor",
        "rauchmelder", "rauchwarn", "brandmelde", "gasmelder", "gaswarn", "einbruchmelde", "detecteur", "détecteur",
    ),
    kept_text("is a pump"): (
        "pump", "sump", "sewage", "septic", "boiler", "furnace", "heating control", "frost",
        "umwälzpumpe", "heizungspumpe", "tauchpumpe", "hebeanlage", "heizkessel", "heizungssteuerung", "wärmepumpe",
        "bomba", "caldera", "pompe", "chaudière",
    ),
    kept_text("may carry emergency calls"): (
        "router", "modem", "internet", "telephone", "phone", "intercom", "fibre", "fiber", "network", "emergency call",
        "telefon", "notruf", "hausnotruf", "glasfaser", "netzwerk", "sprechanlage", "módem", "teléfono", "téléphone",
    ),
    kept_text("keeps animals alive"): (
        "aquarium", "terrarium", "incubator", "brutkasten", "acuario", "terrario",
    ),
}  # fmt: skip
"""In several languages, whichever the window has: a name is typed in the practitioner's own. From memory."""

SWITCHES_BY_ITSELF = frozenset(("keeps food cold", "is a pump", "keeps animals alive"))
"""Why a circuit or cord must stay on whose device comes and goes by itself: coolers, pumps, heaters. Common practice,
no source."""

_REASONS = {
    re.compile(rf"\b(?:{'|'.join(map(re.escape, words))})", re.IGNORECASE): reason
    for reason, words in _WORDS.items()
}
_NOT_THESE = re.compile(r"\b(?:phone charger|heat pump dryer|wärmepumpentrockner|telefonlade)", re.IGNORECASE)
"""Begin like one of the words and are none."""


def why_it_stays(name: str) -> str:
    """Why a circuit or cord of that name must stay on, as the log keeps it; empty where the name suggests nothing."""
    left = _NOT_THESE.sub(" ", name)
    return next((reason for pattern, reason in _REASONS.items() if pattern.search(left)), "")
