"""Pictures drawn by the computer in the place of photos of a home, and a logo of an invented firm."""

from __future__ import annotations

import io

import numpy as np
from PIL import Image, ImageDraw, ImageFilter

from tests.support.recorded_home import as_kept_photo

PHOTO_SIZE = (1600, 1200)
"""Larger than what is kept, as a telephone's photo is."""
GRAIN = 22.0
"""How rough surfaces are, of 255: about as many bytes as a photo of a room has."""

WALLS = ("#d9d2c3", "#c9d4d8", "#d8cfd2", "#cdd6c6")
FURNITURE = ("#7b5b3f", "#5d6b78", "#86705a", "#6a5a6d")


def drawn_photo(name: str, seed: int) -> bytes:
    """A room with a window and a piece of furniture, as the visit log keeps a photo.

    Args:
        name: of the spot, written on a note in the picture.
        seed: draws the grain, and chooses colours and places.
    """
    width, height = PHOTO_SIZE
    picture = Image.new("RGB", PHOTO_SIZE, WALLS[seed % len(WALLS)])
    pen = ImageDraw.Draw(picture)
    pen.polygon([(0, height), (width, height), (width - 250, 780), (250, 780)], fill="#a58663")  # the floor
    pen.polygon([(0, 0), (250, 160), (250, 780), (0, height)], fill="#b9b2a4")  # the wall on the left
    window = 420 + 90 * (seed % 5)
    pen.rectangle((window, 230, window + 260, 560), fill="#eaf3fb", outline="#ffffff", width=18)
    left = 300 + 70 * (seed % 7)
    pen.rectangle((left, 640, left + 620, 900), fill=FURNITURE[seed % len(FURNITURE)])
    pen.rectangle((left + 20, 580, left + 190, 680), fill="#f3efe8")
    pen.rectangle((left + 250, 690, left + 600, 850), fill="#3f6f8f")
    grain = np.random.default_rng(seed).normal(0.0, GRAIN, (height, width, 1))
    rough = np.clip(np.asarray(picture.filter(ImageFilter.GaussianBlur(2)), float) + grain, 0, 255)
    picture = Image.fromarray(rough.astype(np.uint8))
    pen = ImageDraw.Draw(picture)
    pen.rectangle((40, 40, 120 + 20 * len(name), 120), fill="#fffbe0")
    pen.text((60, 52), name, fill="#222222", font_size=44)
    return as_kept_photo(picture)


def drawn_logo() -> bytes:
    """A mark of the invented firm, a PNG."""
    picture = Image.new("RGB", (360, 120), "#ffffff")
    pen = ImageDraw.Draw(picture)
    pen.ellipse((10, 10, 110, 110), fill="#0b5563")
    pen.line((30, 60, 90, 60), fill="#ffffff", width=10)
    pen.text((130, 38), "SAMPLE", fill="#0b5563", font_size=44)
    written = io.BytesIO()
    picture.save(written, "PNG", optimize=True)
    return written.getvalue()
