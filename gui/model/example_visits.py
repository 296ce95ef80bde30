"""Two finished example visits that come with the program: a garden flat, and the same flat a year later.

In: the folder of the user's visits. Out: copies of the examples in a folder of their own below it, so that they are
neither in the way of the user's own visits nor changed where they came from.
"""

from __future__ import annotations

import lzma
from collections.abc import Callable
from dataclasses import dataclass
from importlib.resources import files
from pathlib import Path

from logger.errors import StillvoltError
from logger.translation import tr

FOLDER_NAME = "Examples"


@dataclass(frozen=True, slots=True)
class ExampleVisit:
    """An example.

    Args:
        packed: its packed file among the program's own.
        file_name: of the copy.
        describe: its name in the language that is chosen.
    """

    packed: str
    file_name: str
    describe: Callable[[], str]


EXAMPLES = (
    ExampleVisit("garden_flat.visit.xz", "Garden flat.visit", lambda: tr("Example: a garden flat")),
    ExampleVisit(
        "garden_flat_later.visit.xz",
        "Garden flat a year later.visit",
        lambda: tr("Example: the same garden flat a year later"),
    ),
)


def example_folder(visits: Path) -> Path:
    """The folder of the examples; where the user's visits are the examples themselves, the same one."""
    return visits if visits.name == FOLDER_NAME else visits / FOLDER_NAME


def examples_beside(visit: Path) -> list[tuple[ExampleVisit, Path]]:
    """The examples that are not open now, with the place of each one's copy.

    Args:
        visit: the visit that is open.
    """
    folder = example_folder(visit.parent)
    return [
        (example, path)
        for example in EXAMPLES
        if (path := folder / example.file_name).resolve() != visit.resolve()
    ]


def unpack_examples(folder: Path) -> None:
    """Copy both examples into a folder; a copy that is there already stays as it is.

    Args:
        folder: made if it is missing.

    Raises:
        StillvoltError: they cannot be written there.
    """
    try:
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)
        for example in EXAMPLES:
            path = folder / example.file_name
            if path.exists():
                continue
            content = lzma.decompress((files("gui.model") / "examples" / example.packed).read_bytes())
            unfinished = path.with_suffix(".part")
            unfinished.touch(mode=0o600)
            unfinished.write_bytes(content)
            unfinished.replace(path)
    except OSError as error:
        raise StillvoltError(
            tr("The example visits cannot be written to {folder} ({reason}).").format(
                folder=folder, reason=error.strerror
            ),
            tr("No other file was changed."),
        ) from error
