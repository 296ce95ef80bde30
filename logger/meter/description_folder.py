"""The folder in which descriptions of meters are kept, one file each.

In: names. Out: descriptions. A file that is written over is kept beside the new one.
"""

from __future__ import annotations

import os
import re
from pathlib import Path

import platformdirs

from logger.errors import StillvoltError
from logger.meter.description import MeterDescription
from logger.meter.description_toml import as_toml, from_toml
from logger.name_list import listed
from logger.plain_text import one_line
from logger.translation import tr

MAX_NAME_LETTERS = 80
MAX_NAME_BYTES = 240
"""A file's name has at most 255 bytes on the usual systems, its ending included; some letters take four."""


def folder() -> Path:
    """The folder of the meter descriptions; it need not exist."""
    return Path(platformdirs.user_config_dir("stillvolt", appauthor=False)) / "meters"


def path_of(name: str, where: Path | None = None) -> Path:
    """The file of a description.

    Raises:
        StillvoltError: the name cannot be that of a file.
    """
    stem = name.strip()
    unusual = stem[:1] == "." or one_line(stem) != stem or re.search(r'[<>:"/\\|?*\x00-\x1f]', stem)
    if not stem or unusual or len(stem) > MAX_NAME_LETTERS or len(os.fsencode(stem)) > MAX_NAME_BYTES:
        raise StillvoltError(
            tr("A meter cannot be called {name}.").format(name=repr(name[:MAX_NAME_LETTERS])),
            next_step=tr("Use letters, digits, spaces and hyphens, up to {n}.").format(n=MAX_NAME_LETTERS),
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
        known = listed(list_descriptions(where))
        raise StillvoltError(
            tr("No meter called {name} is described in {folder}.").format(
                name=repr(name), folder=path.parent
            ),
            next_step=tr("There are: {names}.").format(names=known)
            if known
            else tr("`stillvolt identify --keep NAME` makes a description."),
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
        raise StillvoltError(tr("{file} cannot be read ({error}).").format(file=path, error=error)) from error
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
                    tr("A meter called {name} is kept already in {file}, with what was stated of it.").format(
                        name=repr(description.name), file=path
                    ),
                    tr("It was not changed."),
                    tr(
                        "Choose another name, or give --replace: the one before is then kept beside it as .toml.1."
                    ),
                )
            path.rename(_free_backup(path))
        new = path.with_suffix(".new")
        new.write_text(text, encoding="utf-8")
        new.replace(path)
    except OSError as error:
        raise StillvoltError(
            tr("{file} cannot be written ({error}).").format(file=path, error=error.strerror),
            tr("Nothing was changed."),
            tr("Choose another name."),
        ) from error
    return path


def set_aside(name: str, where: Path | None = None) -> Path:
    """Take a description off the list; its file is kept beside the others as NAME.toml.1, .2 and so on.

    Args:
        name: of the description; it may be one that cannot be read.
        where: the folder; None for the user's.

    Returns:
        The file as it is kept.

    Raises:
        StillvoltError: there is none of that name, or the file cannot be renamed; it is left as it was.
    """
    path = path_of(name, where)
    aside = _free_backup(path)
    try:
        path.rename(aside)
    except OSError as error:
        raise StillvoltError(
            tr("{file} cannot be taken off the list ({error}).").format(file=path, error=error.strerror),
            tr("Nothing was changed."),
        ) from error
    return aside


def replace_description(old_name: str, description: MeterDescription, where: Path | None = None) -> Path:
    """Keep a description that was edited, perhaps under another name; the file before is kept as NAME.toml.1.

    Args:
        old_name: under which it was kept.
        description: as it is to be kept.
        where: the folder; None for the user's.

    Returns:
        The file.

    Raises:
        StillvoltError: it cannot be written, or another meter has the new name; nothing was changed then.
    """
    renamed = description.name != old_name
    path = save(description, where, replaces=not renamed)
    # Where capitals do not count, both names are the same file.
    old = path_of(old_name, where)
    if renamed and old.exists() and not old.samefile(path):
        set_aside(old_name, where)
    return path


def _free_backup(path: Path) -> Path:
    number = 1
    while (backup := path.with_name(f"{path.name}.{number}")).exists():
        number += 1
    return backup
