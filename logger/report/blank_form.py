"""An empty form for the day on which no laptop is at hand: the planned spots, on and off, to be filled in by pen."""

from __future__ import annotations

from html import escape
from pathlib import Path

from logger.errors import StillvoltError
from logger.metrology.checks import CAUTIONS, STEPS, CheckKind
from logger.metrology.setup import UNKNOWN_METER, Setup
from logger.visit import VisitLog
from logger.visit.records.records import Spot

USUAL_SPOTS = ("centre of the room", "seat", "desk", "bed, lying down")
"""Stand on the form of a visit for which nothing is planned yet."""

_EMPTY_ROWS = 2
"""For spots that are found on the day."""

# The page has no fixed size: A4 and Letter differ by 18 mm in height, and the browser asks for the paper anyway.
_STYLE = """
@page { margin: 12mm }
* { box-sizing: border-box }
body { font: 10pt/1.2 sans-serif; color: #000; margin: 0 0.3mm }
h1 { font-size: 15pt; margin: 0 0 1.5mm }
h2 { font-size: 11pt; margin: 3mm 0 1mm }
table { border-collapse: collapse; width: 100% }
thead { display: table-header-group }
tr { break-inside: avoid }
th, td { border: 0.3mm solid #000; padding: 0.5mm 2mm; text-align: left; vertical-align: middle }
th { font-weight: bold }
.head td, .head th, .spots td { height: 9mm }
.checks td { height: 13mm }
.checks .value { vertical-align: top }
.head th { width: 24% }
.head td { width: 26% }
.value { width: 14% }
.remarks { width: 20% }
.number { width: 7mm; text-align: right }
.small { font-size: 8.5pt }
ul { margin: 0; padding-left: 5mm }
p { margin: 1mm 0 }
"""

_CAUTIONS = (
    "No outdoor earth wire and no rod in or before a thunderstorm. Ask what is in the ground before driving a rod in.",
    "Never touch a live conductor. Panels and fixed cords are for a licensed electrician; local codes come first.",
    "What feeds medical devices, alarms, pumps or refrigerators stays on, also for the round with everything off.",
)


def form_html(log: VisitLog) -> str:
    """The form as one HTML page that needs nothing else."""
    setup = log.setup.current()
    spots = log.spots.all()
    planned = spots or [Spot(0, name) for name in USUAL_SPOTS]
    return (
        '<!doctype html>\n<html lang="en"><head><meta charset="utf-8"><title>Body voltage form</title>'
        f"<style>{_STYLE}</style></head><body><h1>Body voltage: AC volts, skin against the reference</h1>"
        f'<table class="head">{_head(setup)}</table>'
        f"<h2>Before you begin</h2><ul>{''.join(f'<li>{escape(text)}</li>' for text in _CAUTIONS)}</ul>"
        f'<h2>Checks</h2><table class="checks">{_checks()}</table>'
        f'<h2>Spots</h2><table class="spots">{_spots(planned)}</table>'
        f"<p>Target: {setup.target_volts:g} V ({escape(setup.target_source)}). Hold still until the display rests, "
        "then write what it shows; if it wanders, how far: 0.27 ± 0.02. Read every spot with everything on first, "
        "then every spot with everything off.</p>"
        "<p>Afterwards, on the sheet of the spots: K, then each line as 0.9 (0.05) and Enter; the next one follows.</p>"
        "</body></html>\n"
    )


def _head(setup: Setup) -> str:
    """Fields in pairs; what was stated is filled in, the rest is written by pen."""
    meter = "" if setup.meter == UNKNOWN_METER else setup.meter.name
    mains = f"{setup.mains_hz:g} Hz" if setup.mains_hz else ""
    fields = (
        ("Household", setup.household),
        ("Date, time", ""),
        ("Meter, range", meter),
        ("Input of the meter", "" if not meter else f"{setup.meter.input_resistance_ohm / 1e6:g} Mohm"),
        ("Reference: earth rod or building earth", setup.reference or ""),
        ("Soil, moisture", ", ".join(filter(None, (setup.soil, setup.moisture)))),
        ("Rod to main panel, length of wire", _metres(setup)),
        ("Supply: split, single or three-phase; Hz", ", ".join(filter(None, (setup.supply or "", mains)))),
        ("Laptop, if any: on battery? link isolated?", ""),
        ("Who reads the meter", ""),
    )
    pairs = zip(fields[::2], fields[1::2], strict=True)
    return "".join(
        "<tr>" + "".join(f"<th>{escape(name)}</th><td>{escape(value)}</td>" for name, value in pair) + "</tr>"
        for pair in pairs
    )


def _metres(setup: Setup) -> str:
    return ", ".join(f"{m:g} m" for m in (setup.panel_distance_m, setup.wire_length_m) if m is not None)


def _checks() -> str:
    """A row for each check, with a field for the value of each step."""
    widest = max(len(steps) for steps in STEPS.values())
    rows = []
    for kind in CheckKind:
        fields = [f'<td class="value small">{escape(step.name)}</td>' for step in STEPS[kind]]
        fields += ["<td></td>"] * (widest - len(fields))
        rows.append(
            f'<tr><td><b>{escape(kind.capitalize())}</b><br/><span class="small">{escape(CAUTIONS[kind])}</span></td>'
            f"{''.join(fields)}</tr>"
        )
    return "".join(rows)


def _spots(spots: list[Spot]) -> str:
    head = (
        '<thead><tr><th class="number"></th><th>Spot</th><th>What has to be on</th><th class="value">On, V</th>'
        '<th class="value">(Off), V</th><th class="remarks">Remarks</th></tr></thead>'
    )
    rows = [
        f'<tr><td class="number">{number}</td><td>{escape(spot.name)}</td><td>{escape(spot.reminder)}</td>'
        f"{'<td></td>' * 3}</tr>"
        for number, spot in enumerate(spots, 1)
    ]
    empty = [
        f'<tr><td class="number">{number}</td>{"<td></td>" * 5}</tr>'
        for number in range(len(spots) + 1, len(spots) + 1 + _EMPTY_ROWS)
    ]
    return f"{head}<tbody>{''.join(rows + empty)}</tbody>"


def form_path(visit: Path) -> Path:
    """Where the form of a visit goes that was given no other place: beside it."""
    return visit.with_name(f"{visit.stem} form.html")


def write_form(visit: Path, out: Path) -> None:
    """Write the empty form of a visit's planned spots; raises StillvoltError."""
    log = VisitLog.open(visit)
    try:
        text = form_html(log)
    finally:
        log.close()
    try:
        out.write_text(text, encoding="utf-8")
    except OSError as error:
        raise StillvoltError(
            f"{out} cannot be written ({error.strerror}).", "The visit is unchanged."
        ) from error
