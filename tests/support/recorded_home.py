"""Parts of a whole visit in an invented home, recorded faster than time: its night, its sketches, its file at the end.

For the demo visit and for the homes that the report is tried on. What somebody does by day is in `practitioner`.
"""

from __future__ import annotations

import sqlite3
import tempfile
from contextlib import closing
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path

from PIL import Image, ImageDraw

from logger.clock import NS_PER_S
from logger.meter.description import MeterDescription
from logger.simulation.fast_forward import FastForward
from logger.simulation.house.house import House
from logger.simulation.house.scene import Scene, read_scene
from logger.visit import VisitLog
from logger.visit.photo_file import kept_photo
from logger.visit.records.home_records import Spot

NIGHT_RATE_HZ = 2.0
NIGHT_HABITS = """
motions_per_hour = 4
shift = 0.03
strength = 0.8
breaths_per_minute = 13
"""

Box = tuple[int, int, int, int]
"""Left, top, right and bottom in a drawn picture, pixels."""


@dataclass(frozen=True, slots=True)
class SimulatedNight:
    """A night in bed.

    Args:
        starts: when it begins.
        length_s: how long it is.
        script: what switches by itself, as in a scene.
        seed: draws motion and noise.
        lies_at: place of the house that the person lies at; empty: where the scene starts.
    """

    starts: datetime
    length_s: float
    script: str
    seed: int
    lies_at: str = ""


def record_night(
    path: Path, scene_text: str, house: House, night: SimulatedNight, zone: str, meter: MeterDescription
) -> None:
    """Record a night with the house as it was left; a recorder of its own.

    Args:
        path: the visit log.
        scene_text: the scene of the day, TOML.
        house: as the day left it.
        night: the night.
        zone: IANA name of the time zone.
        meter: the kept meter that the recording states.
    """
    scene = night_scene(scene_text, night.script)
    scene.house.breakers = dict(house.breakers)
    scene.house.cord_states = house.cord_states
    scene.house.wet = house.wet
    if night.lies_at:
        scene = replace(scene, start_spot=night.lies_at)
    run = FastForward(path, scene, ns_of(night.starts), zone, night.seed, meter)
    run.run(night.length_s)
    run.end("stopped")


def night_scene(scene_text: str, script: str) -> Scene:
    """The same house and meter with fewer lines, a sleeper, and what switches by itself.

    Args:
        scene_text: the scene of the day, TOML, whose first table is [supply] and which has a table [body].
        script: lines of a scene's script.
    """
    head, tables = scene_text.split("\n[supply]", 1)
    text = f'{head}\nscript = """\n{script}\n"""\n\n[supply]{tables}'.replace(
        "[body]\n", f"[body]\n{NIGHT_HABITS}"
    )
    scene = read_scene(text, "the night", None)
    return replace(scene, meter=replace(scene.meter, rate_hz=NIGHT_RATE_HZ))


def drawn_sketch(name: str, box: Box) -> bytes:
    """A room from above with a spot in it, as the visit log keeps a photo.

    Args:
        name: of the spot.
        box: where the spot is in a picture of 600 x 460 pixels.
    """
    picture = Image.new("RGB", (600, 460), "#ffffff")
    pen = ImageDraw.Draw(picture)
    pen.rectangle((20, 20, 580, 440), outline="#222222", width=8)
    pen.line((20, 330, 20, 420), fill="#ffffff", width=10)  # the door
    pen.rectangle(box, fill="#cfe3f1", outline="#0072B2", width=5)
    size = 26
    while pen.textlength(name, font_size=size) > box[2] - box[0] - 20:
        size -= 1
    pen.text((box[0] + 12, box[1] + 12), name, fill="#222222", font_size=size)
    return as_kept_photo(picture)


def as_kept_photo(picture: Image.Image) -> bytes:
    """A picture as the visit log keeps it."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "picture.bmp"  # the quickest to write and to read
        picture.save(path)
        return kept_photo(path)


def pack(path: Path) -> None:
    """One file without its journal, and with as little air in it as can be."""
    with closing(sqlite3.connect(path)) as db:
        db.execute("VACUUM")


def spot_named(log: VisitLog, name: str) -> Spot:
    """The spot of that name."""
    return next(s for s in log.spots.all() if s.name == name)


def ns_of(moment: datetime) -> int:
    """UTC nanoseconds."""
    return round(moment.timestamp()) * NS_PER_S
