"""The error for a visit log that is damaged, in one form for every way of opening one."""

from __future__ import annotations

from pathlib import Path

from logger.errors import StillvoltError


def damaged(path: Path, reason: str) -> StillvoltError:
    """The error for a visit log that is damaged.

    Args:
        path: the file.
        reason: what was found.
    """
    return StillvoltError(
        f"{path} is damaged ({reason.removesuffix('.')}).",
        "It was not changed.",
        "`stillvolt verify` lists what is damaged; `stillvolt salvage` brings what can be read into a new visit log.",
    )
