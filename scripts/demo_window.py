"""Opens the window on the simulated house, already recording into a new visit log."""

from __future__ import annotations

import sys
from datetime import datetime
from pathlib import Path

import platformdirs

from logger.cli import main

folder = Path(platformdirs.user_documents_dir()) / "Stillvolt"
folder.mkdir(parents=True, exist_ok=True)
visit = folder / f"{datetime.now():%Y-%m-%d %H.%M.%S} practice house.visit"
print(f"The visit log is {visit}")
sys.exit(main(["--visit", str(visit), "--port", "sim://", "--start", *sys.argv[1:]]))
