"""An empty form on one page, for the day on which no laptop is at hand: the planned spots, on and off, by pen."""

from __future__ import annotations

from html import escape
from pathlib import Path

from logger.errors import StillvoltError
from logger.visit import VisitLog
from logger.visit.checks import CAUTIONS, CheckKind

_STYLE = """
@page { size: A4; margin: 14mm }
body { font: 11pt sans-serif; color: #000 }
h1 { font-size: 15pt; margin: 0 0 3mm }
table { border-collapse: collapse; width: 100%; margin-top: 3mm }
th, td { border: 1px solid #000; padding: 1.6mm 2mm; text-align: left }
td.empty { width: 16% }
p { margin: 1.5mm 0 }
"""

_HEAD = (
    "Household", "Date, time", "Meter", "Reference (rod or building earth)", "Soil, moisture", "Laptop, link",
)  # fmt: skip


def form_html(log: VisitLog) -> str:
    """The form as one HTML page that needs nothing else."""
    setup = log.setup()
    filled = {"Household": setup.household, "Reference (rod or building earth)": setup.reference or ""}
    head = "".join(
        f"<tr><th>{escape(name)}</th><td>{escape(filled.get(name, ''))}</td></tr>" for name in _HEAD
    )
    empty = '<td class="empty"></td>'
    checks = "".join(
        f"<tr><th>{escape(kind.capitalize())}</th>{empty * 3}<td>{escape(CAUTIONS[kind])}</td></tr>"
        for kind in CheckKind
    )
    spots = "".join(
        f"<tr><td>{number}</td><td>{escape(spot.name)}</td><td>{escape(spot.reminder)}</td>{empty * 2}"
        "<td></td></tr>"
        for number, spot in enumerate(log.spots(), 1)
    )
    return (
        f'<!doctype html>\n<html lang="en"><head><meta charset="utf-8"><title>Body voltage form</title>'
        f"<style>{_STYLE}</style></head><body><h1>Body voltage, AC volts against the reference</h1>"
        f"<table>{head}</table><table><tr><th>Check</th><th>1</th><th>2</th><th>3</th><th>Caution</th></tr>"
        f"{checks}</table><table><tr><th></th><th>Spot</th><th>What has to be on</th><th>On, V</th>"
        f"<th>(Off), V</th><th>Remarks</th></tr>{spots}</table>"
        f"<p>Target: {setup.target_volts:g} V ({escape(setup.target_source)}). Hold still until the display rests; "
        "write how far it wanders beside the value. K in the window enters a value read by hand.</p>"
        "</body></html>\n"
    )


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
