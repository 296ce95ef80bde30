"""An empty form for the day on which no laptop is at hand: the planned spots, on and off, to be filled in by pen.

In: a visit log. Out: one HTML page that needs nothing else, to be printed.
"""

from __future__ import annotations

import base64
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

from logger import cautions
from logger.errors import StillvoltError
from logger.metrology.check_words import check_name_alone
from logger.metrology.checks import CAUTIONS as CHECK_CAUTIONS
from logger.metrology.checks import STEPS, CheckKind
from logger.metrology.lengths import length_text
from logger.metrology.rounding import plain
from logger.metrology.setup import REFERENCES, UNKNOWN_METER, Setup
from logger.metrology.target import target_source_text
from logger.output_file import refuse_another_visits, refuse_outputs, write_whole
from logger.report.document.html_templates import rendered
from logger.report.document.wording import SUPPLIES
from logger.translation import marked, tr, tr_all, tr_kept
from logger.visit import VisitLog
from logger.visit.records.home_details import SpotDetails
from logger.visit.results.detail_words import short_spot_text
from logger.visit.storage.read_only import checked_log

USUAL_SPOTS = (marked("centre of the room"), marked("seat"), marked("desk"), marked("bed, lying down"))
"""On the form of a visit for which nothing is planned yet."""

FORM_OF = "form of {visit}"
"""What a form keeps of the visit that it is of."""

EMPTY_ROWS = 2
"""For spots that are found on the day."""

CAUTIONS = (
    (cautions.THUNDERSTORM, cautions.DIGGING),
    (cautions.LIVE_CONDUCTOR, cautions.PANEL, cautions.WIRING),
    (cautions.ESSENTIAL_CIRCUITS, marked("That holds for the round with everything off, too.")),
)
"""The sentences of each line."""


@dataclass(frozen=True, slots=True)
class FormCheck:
    """A check with a field for the value of each of its steps."""

    name: str
    caution: str
    steps: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class FormSpot:
    """A spot with fields for its values; name and reminder are empty in a row to be filled in."""

    name: str = ""
    reminder: str = ""
    how: str = ""
    """Posture, height and place, as far as they are recorded."""
    photo: str = ""
    """Its first photo as base64; empty where there is none that can be shown."""


def form_html(log: VisitLog) -> str:
    """Return the form as one HTML page."""
    setup = log.setup.current()
    details = log.spot_details.all()
    planned = [
        FormSpot(spot.name, spot.reminder, _how(details.get(spot.id, SpotDetails())), _photo(log, spot.id))
        for spot in log.spots.all()
    ]
    spots = planned or [FormSpot(tr(name)) for name in USUAL_SPOTS]
    return rendered(
        "blank_form.html.jinja",
        fields=_fields(setup),
        cautions=[tr_all(sentences) for sentences in CAUTIONS],
        checks=_check_rows(),
        most_steps=max(len(steps) for steps in STEPS.values()),
        spots=[*spots, *[FormSpot()] * EMPTY_ROWS],
        target=tr("Target {volts} V ({source})").format(
            volts=plain(setup.target_volts),
            source=target_source_text(setup.target_source, setup.target_volts),
        ),
    )


def _how(details: SpotDetails) -> str:
    """How somebody is at a spot, in one line: what still holds on the day on which the form is filled in."""
    return short_spot_text(details.of_spot(), length_text)


def _photo(log: VisitLog, spot_id: int) -> str:
    """The first photo of a spot as base64; empty where there is none, or it is damaged."""
    for photo in log.photos.of_spot(spot_id):
        with suppress(StillvoltError):
            return base64.b64encode(log.photos.picture(photo.id)).decode("ascii")
    return ""


def _fields(setup: Setup) -> list[tuple[str, str]]:
    """Names with what was stated of them; an empty one is written by pen."""
    meter = "" if setup.meter == UNKNOWN_METER else setup.meter.name
    ohms = tr("{megohms} Mohm").format(megohms=plain(setup.meter.input_resistance_ohm / 1e6)) if meter else ""
    mains = tr("{hertz} Hz").format(hertz=plain(setup.mains_hz)) if setup.mains_hz else ""
    lengths = [
        length_text(metres) for metres in (setup.panel_distance_m, setup.wire_length_m) if metres is not None
    ]
    return [
        (tr("Household"), setup.household),
        (tr("Date, time"), ""),
        (tr("Meter, range"), meter),
        (tr("Input of the meter"), ohms),
        (
            tr("Reference: earth rod or building earth"),
            tr(REFERENCES[setup.reference]) if setup.reference else "",
        ),
        (tr("Soil, moisture"), _listed(tr_kept(setup.soil), tr_kept(setup.moisture))),
        (tr("Rod to main panel, length of wire"), _listed(*lengths)),
        (
            tr("Supply: split, single or three-phase; Hz"),
            _listed(tr(SUPPLIES[setup.supply]) if setup.supply else "", mains),
        ),
        (tr("Laptop, if any: on battery? link isolated?"), ""),
        (tr("Who reads the meter"), ""),
        (tr("Rod: length, depth, place; wire to each floor"), ""),
        (tr("Air indoors, by day and at night"), ""),
        (tr("Poles of breakers; plug and switch of cords"), ""),
        (tr("What ran by itself at low readings"), ""),
    ]


def _listed(*texts: str) -> str:
    return ", ".join(filter(None, texts))


def _check_rows() -> list[FormCheck]:
    return [
        FormCheck(
            check_name_alone(kind),
            tr_all(CHECK_CAUTIONS[kind]),
            tuple(tr_kept(step.name) for step in STEPS[kind]),
        )
        for kind in CheckKind
    ]


def write_form(visit: Path, out: Path, *, replace: bool = False) -> None:
    """Write the empty form of a visit's planned spots.

    Args:
        visit: the visit log.
        out: the HTML file.
        replace: whether the user has asked to replace a file that somebody else has written.

    Raises:
        StillvoltError: the log cannot be read, or the form cannot be written or would overwrite something.
    """
    refuse_outputs([out], [visit], replace=replace)
    with checked_log(visit) as log:
        of = FORM_OF.format(visit=visit.resolve())  # it is written before anything else names the visit
        if not replace:
            refuse_another_visits([out], of)
        html = form_html(log)
    write_whole(out, html.encode("utf-8"), tr("The visit is unchanged."), of)
