"""The folder in which descriptions of meters are kept, one file each.

In: names. Out: descriptions. A file that is written over is kept beside the new one.
"""

from __future__ import annotations

import re
from pathlib import Path

import platformdirs

from logger.errors import StillvoltError
from logger.meter.description import MeterDescription
from logger.meter.description_toml import as_toml, from_toml


def folder() -> Path:
    """The folder of the meter descriptions; it need not exist."""
    return Path(platformdirs.user_config_dir("stillvolt", appauthor=False)) / "meters"


def path_of(name: str, where: Path | None = None) -> Path:
    """The file of a description.

    Raises:
        StillvoltError: the name cannot be that of a file.
    """
    stem = name.strip()
    if not stem or len(stem) > 80 or stem[0] == "." or re.search(r'[<>:"/\\|?*\x00-\x1f]', stem):
        raise StillvoltError(
            f"A meter cannot be called {name!r}.",
            next_step="Use letters, digits, spaces and hyphens, up to 80.",
        )
    return (where or folder()) / f"{stem}.toml"


def list_descriptions(where: Path | None = None) -> list[str]:
    """The names under which descriptions are kept, in order."""
    return sorted((path.stem for path in (where or folder()).glob("*.toml")), key=str.casefold)


def load(name: str, where: Path | None = None) -> MeterDescription:
    """The description kept under a name.

    Raises:
        StillvoltError: there is none, or something in it is wrong; then file, line and field are named.
    """
    path = path_of(name, where)
    if not path.exists():
        known = ", ".join(list_descriptions(where))
        raise StillvoltError(
            f"No meter called {name!r} is described in {path.parent}.",
            next_step=f"There are: {known}."
            if known
            else "`stillvolt identify --keep NAME` makes a description.",
        )
    return load_file(path)


def load_file(path: Path) -> MeterDescription:
    """The description in a file.

    Raises:
        StillvoltError: it cannot be read, or something in it is wrong; then file, line and field are named.
    """
    try:
        text = path.read_text(encoding="utf-8")
    except (OSError, UnicodeDecodeError) as error:
        raise StillvoltError(f"{path} cannot be read ({error}).") from error
    return from_toml(text, path)


def save(description: MeterDescription, where: Path | None = None, *, replaces: bool = True) -> Path:
    """Keep a description under its name. A file of that name is kept beside it as NAME.toml.1, .2 and so on.

    Args:
        description: what to keep.
        where: the folder; None for the user's.
        replaces: whether another description of that name may be replaced.

    Returns:
        The file.

    Raises:
        StillvoltError: it cannot be written, or there is another one that may not be replaced; what was there is left
            as it was.
    """
    path = path_of(description.name, where)
    text = as_toml(description)
    try:
        path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
        if path.exists():
            if path.read_text(encoding="utf-8", errors="replace") == text:
                return path
            if not replaces:
                raise StillvoltError(
                    f"A meter called {description.name!r} is kept already in {path}, with what was stated of it.",
                    "It was not changed.",
                    "Choose another name, or give --replace: the one before is then kept beside it as .toml.1.",
                )
            path.rename(_free_backup(path))
        new = path.with_suffix(".new")
        new.write_text(text, encoding="utf-8")
        new.replace(path)
    except OSError as error:
        raise StillvoltError(
            f"{path} cannot be written ({error.strerror}).", "Nothing was changed.", "Choose another name."
        ) from error
    return path


def _free_backup(path: Path) -> Path:
    number = 1
    while (backup := path.with_name(f"{path.name}.{number}")).exists():
        number += 1
    return backup
