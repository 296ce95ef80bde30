"""What makes a reading repeatable and a circuit findable: details of spots, and of circuits and cords at the panel.

Everything is optional: an empty text and None are "not recorded".
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import Any, Literal

from logger.catalogue import languages
from logger.translation import in_language, marked, tr
from logger.visit.records.home_records import Source
from logger.visit.records.kept_line import is_recorded, kept_line, kept_metres

MAX_HEIGHT_M = 20.0
"""Highest place above the floor, metres: a gallery in a barn; more is a mistake of the unit."""


@dataclass(frozen=True, slots=True)
class SpotField:
    """How one of the details of a spot is named, and what of it is taken over.

    Args:
        label: what it is called; translated where it is shown.
        stays: it still holds on another day, so a later visit of the home begins with it.
        same_at: at which spots it is usually the same, so that the next description begins with it.
        is_further: kept in a fact beside the row of the details.
        of_visit: a field of the circumstances of the visit has the same name: it holds where the spot has nothing.
    """

    label: str
    stays: bool = False
    same_at: Literal["", "kind", "all"] = ""
    is_further: bool = False
    of_visit: bool = False


SPOT_FIELDS = {
    "posture": SpotField(marked("Posture"), stays=True, same_at="kind"),
    "height_m": SpotField(marked("Height above the floor"), stays=True),
    "height_of": SpotField(
        marked("Height of what"),
        stays=True,
        same_at="kind",
        is_further=True,
    ),
    "place": SpotField(marked("Where exactly"), stays=True),
    "distances": SpotField(marked("Distances"), stays=True, is_further=True),
    "carried_by": SpotField(marked("Bed, seat and floor"), stays=True, same_at="kind", is_further=True),
    "cover": SpotField(marked("Cover"), stays=True, same_at="kind", is_further=True),
    "slept_in": SpotField(marked("Slept in by"), stays=True, is_further=True),
    "probe_held": SpotField(
        marked("How the probe is held"), stays=True, same_at="kind", is_further=True, of_visit=True
    ),
    "meter_place": SpotField(
        marked("Place of meter and laptop"), stays=True, same_at="all", is_further=True, of_visit=True
    ),
    "plugged": SpotField(marked("What was plugged in")),
    "plug_side": SpotField(
        marked("Plugs and lamps"),
        is_further=True,
    ),
    "person": SpotField(marked("Person measured"), same_at="all", of_visit=True),
    "others": SpotField(marked("Other people"), same_at="all"),
}
"""Each field of `SpotDetails`, in the order in which they are asked for."""

NOTHING_PLUGGED = (
    marked("nothing"),
    marked("nothing plugged in"),
    marked("nothing within 2 m"),
    marked("nothing plugged in within 2 m"),
)
"""What states, as the whole answer to what was plugged in, that nothing was."""

FURTHER_FIELDS = tuple(name for name, field in SPOT_FIELDS.items() if field.is_further)
"""Those that are kept in a fact beside the row of the details."""


def _nothing_plugged_in(language: str) -> set[str]:
    """The answers of `NOTHING_PLUGGED` in a language, as they are compared."""
    with in_language(language):
        return {tr(answer).casefold() for answer in NOTHING_PLUGGED}


@dataclass(frozen=True, slots=True)
class SpotDetails:
    """How somebody is at a spot when it is read; `SPOT_FIELDS` says what is taken over.

    Args:
        posture: lying on the back, sitting, bare feet on the floor ...
        height_m: of the body's measured place above the floor, metres.
        place: where exactly: "left side, head 40 cm from the wall".
        plugged: what was plugged in and on there.
        person: who was measured.
        others: who stood where.
        entered_by: the practitioner's name; empty where it was not stated.
        utc_ns: when it was entered, UTC ns; 0 before it is.
        height_of: which place of the body has the height: the chest, the hand with the probe.
        distances: to two walls, and to the nearest lamp or cord.
        plug_side: which way round the plugs sat, and whether a lamp was lit or only plugged in.
        carried_by: on what one sits, lies or stands, and what covers the body: bed frame, mattress, chair, floor
            covering, and of what they are.
        probe_held: in which hand, and where the other one lies.
        meter_place: where meter and laptop stood.
        cover: what lay on the body, and whether the arm with the probe was below it.
        slept_in: who sleeps there at night, or that nobody does.
    """

    posture: str = ""
    height_m: float | None = None
    place: str = ""
    plugged: str = ""
    person: str = ""
    others: str = ""
    entered_by: str = field(default="", compare=False)
    utc_ns: int = field(default=0, compare=False)
    height_of: str = ""
    distances: str = ""
    plug_side: str = ""
    carried_by: str = ""
    probe_held: str = ""
    meter_place: str = ""
    cover: str = ""
    slept_in: str = ""

    @property
    def is_recorded(self) -> bool:
        """Whether anything is."""
        return is_recorded(self)

    @property
    def has_no_plugs(self) -> bool:
        """Whether it was stated, in any language, that nothing was plugged in: then no plug has a side."""
        stated = self.plugged.strip().rstrip(".").casefold()
        return bool(stated) and any(stated in _nothing_plugged_in(language) for language in languages())

    def of_spot(self) -> SpotDetails:
        """What still holds on another day: how and where one is there, without who was and what was plugged in."""
        gone: dict[str, Any] = {name: "" for name, of_field in SPOT_FIELDS.items() if not of_field.stays}
        return replace(self, **gone)

    def kept(self) -> SpotDetails:
        """The same as it is kept; raises StillvoltError for a text or a height that cannot be."""
        kept: dict[str, Any] = {
            name: kept_line(getattr(self, name), tr(of_field.label))
            for name, of_field in SPOT_FIELDS.items()
            if name != "height_m"
        }
        return replace(
            self,
            **kept,
            height_m=kept_metres(self.height_m, tr(SPOT_FIELDS["height_m"].label), MAX_HEIGHT_M),
            entered_by=kept_line(self.entered_by, tr("Entered by")),
        )


FURTHER_OF_SOURCES = ("poles", "plug", "shown_off")
"""Fields of `SourceDetails` that are kept in a fact beside the row."""


@dataclass(frozen=True, slots=True)
class SourceDetails:
    """A circuit at its panel, or a cord at its outlet, as an electrician finds it.

    Args:
        panel: as marked: "A", "cellar".
        number: as printed at the panel: "7", "F12/14".
        rating: "16 A", "B16".
        leg: the leg or phase as marked at the panel: "L1".
        residual_current_device: "30 mA, with 3 and 4".
        feeds: what it feeds.
        outlet: of a cord: which outlet.
        entered_by: the practitioner's name; empty where it was not stated.
        utc_ns: when it was entered, UTC ns; 0 before it is.
        poles: of a breaker: what it switches: "phase", "phase and neutral".
        plug: of a cord: its plug, and where its switch is: "with earth contact; switch in the cord".
        shown_off: of a breaker: how it was shown that it takes the voltage off: "lamp at the outlet went out".
    """

    panel: str = ""
    number: str = ""
    rating: str = ""
    leg: str = ""
    residual_current_device: str = ""
    feeds: str = ""
    outlet: str = ""
    entered_by: str = field(default="", compare=False)
    utc_ns: int = field(default=0, compare=False)
    poles: str = ""
    plug: str = ""
    shown_off: str = ""

    @property
    def is_recorded(self) -> bool:
        """Whether anything is."""
        return is_recorded(self)

    def kept(self) -> SourceDetails:
        """The same as it is kept; raises StillvoltError for a text that cannot be."""
        return replace(
            self,
            panel=kept_line(self.panel, tr("Panel")),
            number=kept_line(self.number, tr("Number at the panel")),
            rating=kept_line(self.rating, tr("Rating")),
            leg=kept_line(self.leg, tr("Leg as marked")),
            residual_current_device=kept_line(self.residual_current_device, tr("Residual-current device")),
            feeds=kept_line(self.feeds, tr("Feeds")),
            outlet=kept_line(self.outlet, tr("Outlet")),
            poles=kept_line(self.poles, tr("Poles")),
            plug=kept_line(self.plug, tr("Plug and switch")),
            shown_off=kept_line(self.shown_off, tr("How shown off")),
            entered_by=kept_line(self.entered_by, tr("Entered by")),
        )


def circuit_label(source: Source, details: SourceDetails | None) -> str:
    """A circuit or cord as everybody shows it: with panel and number, as far as they are recorded, before its name.

    Args:
        source: the circuit or cord.
        details: what holds of it; None where nothing is recorded.
    """
    panel, number = (details.panel, details.number) if details else ("", "")
    if panel and number:
        text = tr("panel {panel}, {number} ({name})")
    elif panel:
        text = tr("panel {panel} ({name})")
    elif number:
        text = tr("{number} ({name})")
    else:
        return source.name
    return text.format(panel=panel, number=number, name=source.name)
