"""Where the user's visits are: the usual folder, the one that a visit belongs to, and today's visit to go on with."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path

import platformdirs

from gui.model.example_visits import FOLDER_NAME
from logger.visit.storage.visit_brief import VisitBrief, read_brief
from logger.visit.storage.visit_folder import visits_in, written_s


def usual_visits_folder() -> Path:
    """Where visit logs go that were given no name."""
    return Path(platformdirs.user_documents_dir()) / "Stillvolt"


def own_folder(visit: Path) -> Path:
    """The folder for the user's visits beside a visit; an example lies in a folder of its own below it."""
    folder = visit.resolve().parent
    return folder.parent if folder.name == FOLDER_NAME else folder


def visit_of_today(folder: Path, present: Path, now: datetime) -> VisitBrief | None:
    """The visit that was written to last today, apart from the one that is open; None where there is none.

    Args:
        folder: of the visits.
        present: the visit that is open.
        now: local time.
    """
    for path in visits_in(folder):
        if datetime.fromtimestamp(written_s(path)).date() != now.date():
            return None
        if path.resolve() != present.resolve() and not (brief := read_brief(path)).is_unused:
            return brief
    return None
