"""A file that takes long to make, made once for all processes that run the tests."""

from __future__ import annotations

import os
from collections.abc import Callable
from pathlib import Path

import pytest
from filelock import FileLock


def made_once(factory: pytest.TempPathFactory, name: str, make: Callable[[Path], object]) -> Path:
    """The file of that name, in a folder of its own that every process of this run of the tests shares.

    The first process that needs it makes it, the others wait; who changes it copies it before. As pytest-xdist
    describes it ("Making session-scoped fixtures execute only once").

    Args:
        factory: of the process's own folders.
        name: of the file; another one for each content.
        make: writes the file at the path that it is given.
    """
    shared = factory.getbasetemp()
    if "PYTEST_XDIST_WORKER" in os.environ:
        shared = shared.parent
    folder = shared / f"made once {name}"
    path, done = folder / name, folder / "done"
    with FileLock(shared / f"{name}.lock"):
        if not done.exists():
            folder.mkdir(exist_ok=True)
            path.unlink(missing_ok=True)
            make(path)
            done.touch()
    return path
