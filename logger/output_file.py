"""Writes what the program puts out (reports, tables, events): never over what was measured, and whole or not at all.

In: the paths to be written, what they are made from, and their content. Out: files that only their owner can read; what
is shared is shared on purpose.
"""

from __future__ import annotations

import os
import stat
import tempfile
from collections.abc import Callable, Sequence
from itertools import combinations
from pathlib import Path

from logger.errors import StillvoltError
from logger.output_kind import is_own_output
from logger.translation import tr
from logger.written_files import is_as_written, is_of_another, note_written

DATABASE_MARK = b"SQLite format 3\x00"
"""How every SQLite file begins, visit logs among them."""

JOURNAL_SUFFIXES = ("-wal", "-shm", "-journal")
"""What SQLite appends to a database's name for the files that belong to it."""


MEASURED_SUFFIXES = (".visit", *(f".visit{suffix}" for suffix in JOURNAL_SUFFIXES), ".gz", *JOURNAL_SUFFIXES)
"""Ends of the names of files that hold what was measured, whatever is in them: damaged visits, journals that lost their
visit, packed copies. They are never replaced."""


class ReplaceRefusedError(StillvoltError):
    """A file is there that the user has to be asked about before it is replaced."""


def refuse_outputs(
    outputs: Sequence[Path],
    inputs: Sequence[Path] = (),
    *,
    replace: bool = False,
    folder_is_made: bool = False,
) -> None:
    """Refuse targets that may not be written, before any work is done.

    Args:
        outputs: the files that are to be written; they need not exist.
        inputs: what they are made from.
        replace: whether the user has asked to replace what somebody else has written.
        folder_is_made: whether the folder of the targets is made where there is none.

    Raises:
        StillvoltError: the folder of a target does not exist or may not be written; or a target is an input, a visit
            log or another database or its journal, a device or another special file, a folder, or named twice; or it is
            a file that this program has not written, or that was changed since, and `replace` is not asked for
            (`ReplaceRefusedError`).
    """
    for one, other in combinations(outputs, 2):
        if _same_file(one, other):
            raise _refusal(
                tr("{path} is named for two files.").format(path=one), tr("Give each file a name of its own.")
            )
    for output in outputs:
        if any(_same_file(output, path) for path in inputs):
            raise _refusal(
                tr("{path} is the file that is read.").format(path=output), tr("Choose another name.")
            )
        _refuse_what_stands_there(output)
        if not folder_is_made:
            _refuse_folder(output.parent)
        if not replace:
            _refuse_what_others_wrote(output)


def refuse_another_visits(outputs: Sequence[Path], of: str) -> None:
    """Refuse to replace what was written of another visit, or is another kind of page of it.

    Args:
        outputs: the files that are to be written.
        of: the name of the visit that they are of, with the kind of page where it is no report.

    Raises:
        ReplaceRefusedError: one of them is there, and of something else.
    """
    for output in outputs:
        if output.is_file() and is_of_another(output, of):
            raise ReplaceRefusedError(
                tr("{path} was written of another visit, or is another kind of page.").format(path=output),
                tr("It was not changed."),
                tr("Choose another name, or replace it with --replace."),
            )


def write_whole(path: Path, content: bytes | Callable[[Path], None], kept: str, of: str = "") -> None:
    """Write a file whole or leave what was there.

    Args:
        path: the file; an older one is replaced once the new one is on the disk.
        content: its bytes, or a function that writes them to the path that it is given.
        kept: a sentence on what is safe, for the error.
        of: the name of the visit that it is of; empty where it is of none or of several.

    Raises:
        StillvoltError: as `refuse_outputs`, or the file cannot be written.
    """
    _refuse_what_stands_there(path)
    part: Path | None = None
    try:
        # A name of its own in the same folder, readable by its owner only.
        descriptor, name = tempfile.mkstemp(prefix=".stillvolt-", suffix=".part", dir=path.parent)
        os.close(descriptor)
        part = Path(name)
        if isinstance(content, bytes):
            part.write_bytes(content)
        else:
            content(part)
        with part.open("rb+") as written:
            os.fsync(written.fileno())
        _refuse_what_stands_there(path)
        part.replace(path)
        note_written(path, of)
    except OSError as error:
        raise StillvoltError(
            tr("{path} cannot be written ({reason}).").format(path=path, reason=error.strerror or error),
            kept,
            tr("Choose a folder that you may write to, or make room on the disk."),
        ) from error
    finally:
        if part is not None:
            part.unlink(missing_ok=True)


def _refuse_what_stands_there(path: Path) -> None:
    try:
        mode = path.stat().st_mode
    except (FileNotFoundError, NotADirectoryError):
        if path.is_symlink():
            raise _refusal(
                tr("{path} is a link to nothing.").format(path=path), tr("Choose another name.")
            ) from None
        refuse_journal(path)
        return
    except (OSError, ValueError) as error:
        # A name that is too long, or has a byte that no name may have.
        reason = getattr(error, "strerror", None) or str(error)
        raise _refusal(
            tr("{path} is no name for a file ({reason}).").format(path=path, reason=reason),
            tr("Choose another name."),
        ) from error
    if stat.S_ISDIR(mode):
        raise _refusal(tr("{path} is a folder.").format(path=path), tr("Give the name of a file."))
    if not stat.S_ISREG(mode):
        raise _refusal(
            tr("{path} is a device or another special file.").format(path=path),
            tr("Give the name of a file on a disk."),
        )
    refuse_journal(path)
    if path.name.casefold().endswith(MEASURED_SUFFIXES) or _resolved(path).casefold().endswith(
        MEASURED_SUFFIXES
    ):
        raise _refusal(
            tr("{path} is named as what holds a measurement.").format(path=path), tr("Choose another name.")
        )
    try:
        with path.open("rb") as there:
            begin = there.read(len(DATABASE_MARK))
    except OSError as error:
        raise _refusal(
            tr("{path} cannot be looked into ({reason}).").format(path=path, reason=error.strerror),
            tr("Choose another name."),
        ) from error
    if begin == DATABASE_MARK:
        raise _refusal(
            tr("{path} is a visit log or another database.").format(path=path), tr("Choose another name.")
        )


def _refuse_folder(folder: Path) -> None:
    if not folder.is_dir():
        raise StillvoltError(
            tr("There is no folder {folder}.").format(folder=folder),
            tr("Nothing was written."),
            tr("Make it, or choose another."),
        )
    if not os.access(folder, os.W_OK):
        raise StillvoltError(
            tr("The folder {folder} cannot be written.").format(folder=folder),
            tr("Nothing was written."),
            tr("Choose one that you may write to."),
        )


def _refuse_what_others_wrote(path: Path) -> None:
    try:
        if not path.exists() or not path.stat().st_size:
            return
        is_own = is_own_output(path)
        if is_own and is_as_written(path):
            return
    except OSError as error:
        raise _refusal(
            tr("{path} cannot be looked into ({reason}).").format(path=path, reason=error.strerror),
            tr("Choose another name."),
        ) from error
    what = tr("{path} is there already, and this program has not written it.").format(path=path)
    if is_own:
        what = tr(
            "{path} is not as this program wrote it here: somebody has changed it, or it was written "
            "on another computer or by an earlier version."
        ).format(path=path)
    raise ReplaceRefusedError(
        what, tr("It was not changed."), tr("Choose another name, or replace it with --replace.")
    )


def refuse_journal(path: Path) -> None:
    """Refuse a name that belongs to the journal of a file that is there.

    Raises:
        StillvoltError: it does.
    """
    for suffix in JOURNAL_SUFFIXES:
        if path.name.endswith(suffix) and path.with_name(path.name.removesuffix(suffix) or ".").is_file():
            raise _refusal(
                tr("{path} belongs to {database}, as its journal.").format(
                    path=path, database=path.name.removesuffix(suffix)
                ),
                tr("Choose another name."),
            )


def _same_file(one: Path, other: Path) -> bool:
    try:
        return one.samefile(other)
    except (OSError, ValueError):
        # One of them does not exist yet: their places are compared.
        return os.path.normcase(_resolved(one)) == os.path.normcase(_resolved(other))


def _resolved(path: Path) -> str:
    try:
        return str(path.resolve())
    except (OSError, ValueError):
        return str(path)


def _refusal(what: str, next_step: str) -> StillvoltError:
    return StillvoltError(what, tr("It was not changed."), next_step)
