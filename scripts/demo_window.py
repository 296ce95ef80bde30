"""Opens the window on the practice house, already recording into a new visit log: a whole visit at a desk."""

from __future__ import annotations

import sys
from datetime import datetime
from pathlib import Path

import platformdirs

from logger.cli.main import main
from logger.simulation.practice_switches import url_of


def open_practice_house() -> int:
    """Returns the exit code."""
    folder = Path(platformdirs.user_documents_dir()) / "Stillvolt"
    folder.mkdir(parents=True, exist_ok=True)
    visit = folder / f"{datetime.now():%Y-%m-%d %H.%M.%S} practice house.visit"
    control = visit.with_suffix(".control")  # what is switched in the house
    control.touch()
    print(f"The visit log is {visit}")
    return main(["--visit", str(visit), "--port", url_of(control), "--start", *sys.argv[1:]])


if __name__ == "__main__":  # a night in a minute is recorded by a process that imports this file again
    sys.exit(open_practice_house())
