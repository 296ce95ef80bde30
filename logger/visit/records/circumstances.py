"""What of person, bed, rod and lead makes the readings of a visit repeatable. Kept as one fact, `circumstances`.

Soil and moisture are in the set-up. Everything is optional: an empty text and None are "not recorded".
"""

from __future__ import annotations

import json
from dataclasses import asdict, dataclass, replace
from typing import Any

from logger.translation import marked, tr
from logger.visit.records.kept_line import is_length, is_recorded, kept_line, kept_metres
from logger.visit.records.kept_object import kept_object
from logger.visit.records.practitioner import why_not_a_line

MAX_ROD_M = 10.0
"""Longest earth rod, metres: those that are carried have one or two."""


CIRCUMSTANCE_FIELDS = {
    "weather": marked("Weather"),
    "footwear": marked("Footwear"),
    "bedding": marked("Bedding"),
    "person": marked("Person measured"),
    "rod_length_m": marked("Length of the rod"),
    "rod_depth_m": marked("Depth of the rod"),
    "rod_place": marked("Place of the rod"),
    "lead": marked("Lead and its length"),
    "probe": marked("Probe"),
}
"""What each field of `Circumstances` is called, in the order in which they are asked for; translated where shown."""

ROD_FIELDS = ("rod_length_m", "rod_depth_m", "rod_place", "lead")
"""Those that are only there with an earth rod as the reference."""


@dataclass(frozen=True, slots=True)
class Circumstances:
    """The circumstances of a visit.

    Args:
        footwear, bedding, person: of who was measured: what was worn, what was lain on, who it was.
        rod_length_m, rod_depth_m: of the earth rod, and how much of it is in the ground, metres.
        rod_place: where it is.
        lead: the lead from the rod and its length.
        probe: what the person touched.
        weather: during the readings, and of the days before where the ground is wet of it.
    """

    footwear: str = ""
    bedding: str = ""
    person: str = ""
    rod_length_m: float | None = None
    rod_depth_m: float | None = None
    rod_place: str = ""
    lead: str = ""
    probe: str = ""
    weather: str = ""

    @property
    def is_recorded(self) -> bool:
        """Whether anything is."""
        return is_recorded(self)

    def kept(self) -> Circumstances:
        """The same as it is kept; raises StillvoltError for a text or a length that cannot be."""
        return replace(
            self,
            footwear=kept_line(self.footwear, tr(CIRCUMSTANCE_FIELDS["footwear"])),
            bedding=kept_line(self.bedding, tr(CIRCUMSTANCE_FIELDS["bedding"])),
            person=kept_line(self.person, tr(CIRCUMSTANCE_FIELDS["person"])),
            rod_length_m=kept_metres(self.rod_length_m, tr(CIRCUMSTANCE_FIELDS["rod_length_m"]), MAX_ROD_M),
            rod_depth_m=kept_metres(self.rod_depth_m, tr(CIRCUMSTANCE_FIELDS["rod_depth_m"]), MAX_ROD_M),
            rod_place=kept_line(self.rod_place, tr(CIRCUMSTANCE_FIELDS["rod_place"])),
            lead=kept_line(self.lead, tr(CIRCUMSTANCE_FIELDS["lead"])),
            probe=kept_line(self.probe, tr(CIRCUMSTANCE_FIELDS["probe"])),
            weather=kept_line(self.weather, tr(CIRCUMSTANCE_FIELDS["weather"])),
        )

    def of_home_and_equipment(self) -> Circumstances:
        """What still holds on another day: without person, footwear and weather."""
        return replace(self, footwear="", person="", weather="")

    def to_json(self) -> str:
        """As JSON text; `from_json` is the way back."""
        return json.dumps(asdict(self))

    @classmethod
    def from_json(cls, text: str) -> Circumstances:
        """From what `to_json` gave; a part that no window would have written is left out."""
        data = kept_object(text)
        known: dict[str, Any] = {
            name: float(data[name])
            for name in ("rod_length_m", "rod_depth_m")
            if is_length(data.get(name), MAX_ROD_M)
        }
        known |= {
            name: value
            for name in ("footwear", "bedding", "person", "rod_place", "lead", "probe", "weather")
            if isinstance(value := data.get(name), str) and not why_not_a_line(value)
        }
        return cls(**known)
