"""The report of a large visit: how long it takes, how large it is, and whether browser, validator and printer take it.

python scripts/bench/report.py build VISIT [HOURS]   a visit with 9 spots on and off, a sweep of 14 circuits, a night
python scripts/bench/report.py time VISIT            how long the report and its PDF take, and how large they are
python scripts/bench/report.py check VISIT FOLDER    strict parsing, v.Nu, axe-core in Chromium, both papers, the PDF's
                                                     pages; FOLDER gets the report and a picture of every page

The checks need Chromium, poppler-utils and, for v.Nu, Java with npm; what is missing is said and left out.
"""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import sys
import tempfile
import time
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from importlib.resources import files
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))  # so that the tree itself can be imported

from logger.clock import NS_PER_S
from logger.meter.description import Accuracy, MeterDescription
from logger.metrology.checks import CheckKind
from logger.metrology.setup import MeterFacts, Setup
from logger.report.document.write_report import write_report
from logger.settling.events import Step
from logger.simulation.fast_forward import FastForward
from logger.simulation.house.scene import Scene, read_scene
from logger.visit import VisitLog
from logger.visit.records.condition import EVERYTHING_OFF, EVERYTHING_ON
from logger.visit.records.fact_names import SCHEDULE
from logger.visit.records.home_records import Meaning
from tests.support.browser import CHROMIUM, NO_CHROMIUM, browser, opened, parse_errors, told
from tests.support.practitioner import Practitioner

WIDTHS = (360, 768, 1100)
"""Of a telephone, a tablet, a window, in pixels."""

SCREEN_HEIGHT = 740
"""Of a telephone, in pixels."""

MARGIN_POINTS = 34.0
"""The smallest right margin of a page of the report, 13 mm, less what rounding takes."""

NOT_A_FINDING = r".*Content Security Policy.*image .data:image/.*blocked by .img-src.*"
"""v.Nu 26.9.27 says so of every image in a page whose policy is "img-src data:", also of a page of five lines. By the
standard this policy allows them (CSP level 3, "Does url match expression in origin"), and Chromium draws them:
`_in_browser` counts."""

ZONE = "America/New_York"
AFTERNOON = datetime(2026, 10, 14, 19, 5, tzinfo=UTC)
EVENING = AFTERNOON + timedelta(hours=7, minutes=25)

METER = MeterDescription(
    "Bench meter",
    accuracy=(Accuracy(0.6, 0.8, 3.0, 0.0001), Accuracy(6.0, 0.8, 3.0, 0.001)),
    input_resistance_ohm=10e6,
    input_capacitance_farad=30e-12,
    true_rms=True,
    isolated_link=True,
    calibrated_on=date(2026, 3, 2),
    assumed=frozenset({"input_capacitance_farad"}),
)

SETUP = Setup(
    household="Upper flat",
    reference="earth rod",
    soil="loam, under the hedge",
    moisture="moist",
    panel_distance_m=9.0,
    wire_length_m=14.0,
    supply="split phase",
    mains_hz=60.0,
    on_battery=True,
    link_isolated=True,
    meter=MeterFacts.of(METER),
)

MORE_CIRCUITS = """
[[circuit]]
number = 13
name = "Dishwasher"
leg = 1

[[circuit]]
number = 14
name = "Garage and garden"
leg = 2
"""


def scene_of(script: str, rate_hz: float, motions_per_hour: float, start: str = "Bed, left") -> Scene:
    """The practice house with two circuits more."""
    house = (files("logger.simulation.house") / "practice_house.toml").read_text(encoding="utf-8")
    house = house.replace("[[cord]]", f"{MORE_CIRCUITS}\n[[cord]]", 1)
    scripted = f'script = """\n{script}\n"""\n' if script else ""
    text = (
        f'title = "bench"\nstart = "{start}"\n{scripted}{house}\n'
        f"[body]\nmotions_per_hour = {motions_per_hour}\nshift = 0.03\nstrength = 0.8\nbreaths_per_minute = 13\n"
    )
    scene = read_scene(text, "bench", None)
    return replace(scene, meter=replace(scene.meter, rate_hz=rate_hz))


def build(visit: Path, hours: float = 10.0, rate_hz: float = 10.0) -> None:
    """Do a whole visit: checks, spots, sweep, steps with names, a night."""
    log = VisitLog.create(visit)
    log.setup.set(SETUP)
    scene = scene_of("", rate_hz, 0.0)
    spots = [log.spots.add(spot.name, spot.room) for spot in scene.house.spots.values()]
    for circuit in scene.house.circuits.values():
        log.circuits.add("circuit", circuit.name, two_pole=len(circuit.legs) > 1)
    computer = log.circuits.add("cord", "computer", log.circuits.all()[2].id)
    log.close()
    afternoon = Practitioner(visit, scene, round(AFTERNOON.timestamp()) * NS_PER_S, ZONE, 4)
    log = afternoon.log
    bed, desk = spots[0], next(spot for spot in spots if spot.name == "Desk")
    afternoon.wait(20.0)
    afternoon.check(CheckKind.ZERO, ("probe on reference wire",))
    afternoon.check(CheckKind.REFERENCE, ("probe in hand",), ("wet the soil",))
    afternoon.send_commands("lamp unplug")
    afternoon.check(CheckKind.FUNCTION, (), ("lamp plug", "lamp on"), ("lamp unplug",))
    afternoon.send_commands("lamp plug", "lamp off")
    afternoon.round_of(spots, EVERYTHING_ON)
    mistaken = log.readings.take(spots[-1].id, EVERYTHING_ON)
    log.readings.void(mistaken.id, "somebody stood beside the chair")
    afternoon.round_of(spots, EVERYTHING_OFF)
    afternoon.send_commands("pull cable")
    afternoon.wait(9.0)
    afternoon.send_commands("plug cable")
    afternoon.wait(5.0)
    afternoon.sweep(bed)
    afternoon.send_commands(
        *(f"breaker {circuit.name} on" for circuit in log.circuits.all() if circuit.kind == "circuit")
    )
    afternoon.send_commands(f"go to {desk.name}")
    afternoon.wait(30.0)
    switched_s = []
    for word in ("unplug", "plug", "unplug", "plug"):
        switched_s.append(afternoon.run.simulation.now_s)
        afternoon.send_commands(f"computer {word}")
        afternoon.wait(20.0)
    afternoon.wait(40.0)
    log.marks.add("the computer at the desk was unplugged and plugged in twice")
    meanings: tuple[Meaning, ...] = ("off", "on", "off", "on")
    for logged in log.events.after():
        for at_s, meaning in zip(switched_s, meanings, strict=True):
            if isinstance(logged.event, Step) and abs(logged.event.time_s - at_s) < 5.0:
                log.step_labels.add(logged.run_id, logged.event, desk.id, meaning, computer.id)
    log.facts.set(SCHEDULE, "00:30 Bedroom light off; 06:30 Bedroom light on")
    afternoon.end()
    night = (
        "every 41 min +- 1 min from 12 min: aquarium heater on\n"
        "every 41 min +- 1 min from 26 min: aquarium heater off\n"
        "at 120 min: breaker 2 off\nat 480 min: breaker 2 on\n"
        "at 200 min: pull cable\nat 202 min: plug cable"
    )
    run = FastForward(visit, scene_of(night, rate_hz, 5.0), round(EVENING.timestamp()) * NS_PER_S, ZONE, 5)
    run.run(hours * 3600.0)
    run.end()


def time_it(visit: Path) -> None:
    """The measures: 5 s, 3 MB."""
    with tempfile.TemporaryDirectory() as folder:
        out, pdf = Path(folder) / "report.html", Path(folder) / "report.pdf"
        for what, to_pdf in (("page alone", None), ("page and PDF", pdf)):
            command = [sys.executable, "-m", "logger", "report", str(visit), "--out", str(out)]
            command += ["--pdf", str(to_pdf)] if to_pdf else []
            started, used = time.perf_counter(), os.times()
            subprocess.run(command, check=True, capture_output=True)
            wall_s = time.perf_counter() - started
            now = os.times()
            cpu_s = now.children_user - used.children_user + now.children_system - used.children_system
            print(f"{what}: {wall_s:.1f} s, of which {cpu_s:.1f} s of one core (asked of the page: 5 s)")
        print(f"HTML {out.stat().st_size / 1e6:.2f} MB (asked: 3 MB), PDF {pdf.stat().st_size / 1e6:.2f} MB")
        print(f"load of the machine: {os.getloadavg()[0]:.1f} on {os.cpu_count()} cores")


def check(visit: Path, folder: Path) -> None:
    """Everything that others say of the report."""
    folder.mkdir(parents=True, exist_ok=True)
    out, pdf = folder / "report.html", folder / "report.pdf"
    write_report(visit, out, pdf)
    errors = parse_errors(out.read_text(encoding="utf-8"))
    print(f"html5lib: {len(errors)} parse errors", *errors, sep="\n  ")
    print(f"v.Nu: {_nu(out)}")
    if CHROMIUM is None:
        print(NO_CHROMIUM)
    else:
        _in_browser(out, folder)
    pages = folder / "pages"
    pages.mkdir(exist_ok=True)
    for file in [pdf, *folder.glob("printed-*.pdf")]:
        texts = subprocess.run(
            ["pdftotext", "-layout", file, "-"], capture_output=True, text=True, check=True
        )
        beyond = _beyond_margin(file)
        print(f"{file.name}: {len(beyond)} words beyond the right margin", *beyond[:5])
        words = [len(page.split()) for page in texts.stdout.rstrip("\f").split("\f")]
        print(
            f"{file.name}: {len(words)} pages, the emptiest has {min(words)} words, {file.stat().st_size / 1e6:.2f} MB"
        )
        subprocess.run(["pdftoppm", "-r", "80", "-png", file, pages / file.stem], check=True)


def _beyond_margin(pdf: Path) -> list[str]:
    """Words that end in the right margin, each with its page: a table whose columns do not fit is cut there."""
    boxes = subprocess.run(["pdftotext", "-bbox", pdf, "-"], capture_output=True, text=True, check=True)
    found, number, right = [], 0, 0.0
    for line in boxes.stdout.splitlines():
        if page := re.search(r'<page width="([\d.]+)"', line):
            number, right = number + 1, float(page[1]) - MARGIN_POINTS
        elif (word := re.search(r'xMax="([\d.]+)".*>(.*)</word>', line)) and float(word[1]) > right:
            found.append(f"{word[2]} (page {number})")
    return found


def _in_browser(out: Path, folder: Path) -> None:
    with browser() as started, opened(out, started) as found:
        print(f"asked for: {found.asked or 'nothing but the file'}; console: {found.said or 'nothing'}")
        for paper in ("A4", "Letter"):
            found.page.pdf(path=folder / f"printed-{paper}.pdf", format=paper)
        found.page.screenshot(path=folder / "screen.png")
        not_drawn = "[...document.images].filter(image => !image.naturalWidth).length"
        print(f"images that are not drawn: {found.page.evaluate(not_drawn)}")
        for width in WIDTHS:
            found.page.set_viewport_size({"width": width, "height": SCREEN_HEIGHT})
            high, wide = found.page.evaluate(
                "[document.documentElement.scrollHeight, document.documentElement.scrollWidth]"
            )
            findings = told(found.findings())
            print(
                f"{width} px: {high / SCREEN_HEIGHT:.0f} screens, {wide} px wide; axe-core: {len(findings)} findings"
            )
            print(*(f"  {finding}" for finding in findings), sep="\n", end="\n" if findings else "")


def _nu(out: Path) -> str:
    """What the Nu HTML checker (npm package vnu-jar) says; it needs no network to check."""
    if shutil.which("java") is None or shutil.which("npm") is None:
        return "left out: Java and npm are needed"
    with tempfile.TemporaryDirectory() as folder:
        subprocess.run(["npm", "install", "--silent", "--prefix", folder, "vnu-jar"], check=True)
        jar = next(Path(folder).rglob("vnu.jar"))
        done = subprocess.run(
            ["java", "-jar", jar, "--stdout", "--format", "text", "--filterpattern", NOT_A_FINDING, out],
            capture_output=True,
            text=True,
        )
    return done.stdout.strip()


def main() -> None:
    """Run what the command line names."""
    what, *rest = sys.argv[1:] or [""]
    if what == "build" and rest:
        build(Path(rest[0]), *map(float, rest[1:]))
    elif what == "time" and rest:
        time_it(Path(rest[0]))
    elif what == "check" and len(rest) == 2:
        check(Path(rest[0]), Path(rest[1]))
    else:
        sys.exit(__doc__)


if __name__ == "__main__":
    main()
