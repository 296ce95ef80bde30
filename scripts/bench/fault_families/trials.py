"""What every family of faults needs: the command under trial, the verdict on one run of it, the counts."""

from __future__ import annotations

import os
import random
import re
import signal
import sqlite3
import subprocess
import tempfile
from collections import Counter
from collections.abc import Callable, Collection, Iterable, Iterator, Mapping, Sequence
from contextlib import closing, contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Protocol, TypeVar

LIMIT_S = 120.0
"""A command that has not ended after this time hangs. The slowest takes about five seconds on a busy machine."""

HELD = "held"
KINDS = ("lost", "falsified", "traceback", "exit status", "hung", "not told", "let in")
"""The kinds of failure: something measured is lost; a false value or one taken for another; a traceback or a mistake
that nobody foresaw; an exit status that says the opposite; no end; no sentence about what happened; somebody or
something got in that must not."""

_TRACEBACK = re.compile(
    r"Traceback \(most recent call last\)|Something unexpected happened|Exception ignored"
)
SHOWN_CHARACTERS = 300
MIN_SCALE_OF_LISTS = 0.01
"""Below this share of the repeats only one of each list of faults is tried: the size of a test."""

T = TypeVar("T")


@dataclass(frozen=True, slots=True)
class Result:
    """What a command left behind.

    Args:
        status: exit status; negative: the signal that ended it; None: it did not end.
        out: its standard output.
        err: its standard error.
    """

    status: int | None
    out: str
    err: str

    @property
    def text(self) -> str:
        """Both outputs."""
        return f"{self.out}\n{self.err}"

    def failure(self) -> str:
        """The kind of failure that is one whatever the command was asked; empty for none."""
        if self.status is None or self.status == -signal.SIGALRM:
            return "hung"
        if _TRACEBACK.search(self.text):
            return "traceback"
        return "exit status" if self.status < 0 else ""

    def refused(self) -> str:
        """The kind of failure where the command had to refuse with a sentence; empty if it did."""
        return self.failure() or (
            "exit status" if self.status == 0 else "" if self.err.strip() else "not told"
        )

    def done(self) -> str:
        """The kind of failure where the command had to do what it was asked; empty if it did."""
        return self.failure() or ("exit status" if self.status else "")


@dataclass(slots=True)
class Tally:
    """The counts of one family."""

    counts: Counter[str] = field(default_factory=Counter)
    failures: list[str] = field(default_factory=list)

    def add(self, trial: str, kind: str, detail: str = "", count: int = 1) -> None:
        """Count a trial.

        Args:
            trial: what was done.
            kind: of `KINDS`; empty where it held.
            detail: what came of it, for a failure.
            count: of trials alike.
        """
        assert kind in ("", *KINDS), kind
        self.counts[kind or HELD] += count
        if kind and count:
            shown = " ".join(detail.split())[-SHOWN_CHARACTERS:]
            self.failures.append(f"{kind}: {trial}{f' ({count})' if count > 1 else ''}: {shown}")

    def listed(self, most: int) -> list[str]:
        """The first failures of each kind."""
        by_kind = ([failure for failure in self.failures if failure.startswith(f"{kind}:")] for kind in KINDS)
        return [failure for failures in by_kind for failure in failures[:most]]

    @property
    def tried(self) -> int:
        """The number of trials."""
        return self.counts.total()


class Runner(Protocol):
    """Runs commands."""

    def run(self, words: Sequence[str | bytes | Path]) -> Result:
        """Run one command with these words."""


class Bench:
    """A command under trial, with a home of its own in an empty folder.

    Args:
        command: the installed `stillvolt`.
        folder: for everything that is written.
        seed: of everything that is drawn.
        scale: how many of the repeated trials are made, 1.0 for all of them.
    """

    def __init__(self, command: Path, folder: Path, seed: int, scale: float) -> None:
        self.command = command.absolute()
        self.folder = folder
        self.seed = seed
        self.random = random.Random(seed)
        self.scale = scale
        self.home = folder / "home"
        self.home.mkdir()
        self.sample: Path | None = None
        """The sample visit, once it was made."""
        self.forks: Runner | None = None
        """Runs commands in forks of one process, where a trial asks nothing of the process itself; see `forks`."""
        self.forkable: Collection[str] = ()
        """The commands that may run so."""

    @property
    def python(self) -> Path:
        """The interpreter of the installation."""
        return self.command.parent / "python"

    def repeats(self, full: int) -> int:
        """How many of `full` trials are made, at least one."""
        return max(1, round(full * self.scale))

    def chosen(self, things: Iterable[T]) -> list[T]:
        """All of them; one that is drawn where fewer trials than of the smallest run are wanted."""
        every = list(things)
        return every if self.scale >= MIN_SCALE_OF_LISTS else [self.random.choice(every)]

    def environment(self, home: Path | None = None, **more: str | None) -> dict[str, str]:
        """The environment of a command; a value of None takes a variable away."""
        home = home or self.home
        wanted: dict[str, str | None] = {name: os.environ.get(name) for name in ("PATH", "LANG")}
        wanted |= {
            "HOME": str(home),
            "XDG_CACHE_HOME": str(home / "cache"),
            "XDG_CONFIG_HOME": str(home / "config"),
            "XDG_STATE_HOME": str(home / "state"),
            "XDG_DATA_HOME": str(home / "data"),
            "QT_QPA_PLATFORM": "offscreen",
            "OPENBLAS_NUM_THREADS": "1",
            "TZ": "Europe/Vienna",
        }
        wanted |= more
        return {name: value for name, value in wanted.items() if value is not None}

    def run(
        self,
        *words: str | bytes | Path,
        env: Mapping[str, str] | None = None,
        limit_s: float = LIMIT_S,
        **how: Any,
    ) -> Result:
        """Run the command to its end.

        Args:
            words: after `stillvolt`.
            env: instead of `environment()`.
            limit_s: after which it hangs.
            how: further arguments of `subprocess.run`.
        """
        is_plain = not how and env in (None, self.environment())
        if self.forks is not None and is_plain and words and words[0] in self.forkable:
            return self.forks.run(words)
        where: dict[str, Any] = {
            "stdout": subprocess.PIPE,
            "stderr": subprocess.PIPE,
            "stdin": subprocess.DEVNULL,
        }
        try:
            done = subprocess.run(
                [self.command, *words], env=env or self.environment(), timeout=limit_s, **(where | how)
            )
        except subprocess.TimeoutExpired as error:
            return Result(None, _text(error.stdout), _text(error.stderr))
        return Result(done.returncode, _text(done.stdout), _text(done.stderr))

    @contextmanager
    def started(self, *words: str | Path, **how: Any) -> Iterator[subprocess.Popen[bytes]]:
        """Start the command; what is not over in the end is killed. Arguments as of `run`."""
        where: dict[str, Any] = {
            "stdout": subprocess.PIPE,
            "stderr": subprocess.PIPE,
            "stdin": subprocess.DEVNULL,
        }
        how.setdefault("env", self.environment())
        how.setdefault("preexec_fn", _answer_interrupts)
        process = subprocess.Popen([self.command, *words], **(where | how))
        try:
            yield process
        finally:
            process.kill()
            process.wait()
            for stream in (process.stdout, process.stderr):
                if stream:
                    stream.close()

    @contextmanager
    def place(self) -> Iterator[Path]:
        """An empty folder for one trial."""
        # What a recorder that was killed left behind may still write.
        with tempfile.TemporaryDirectory(dir=self.folder, ignore_cleanup_errors=True) as name:
            yield Path(name)


def _answer_interrupts() -> None:
    """Ctrl+C counts also where the bench itself is a background job of a shell, which ignores it."""
    signal.signal(signal.SIGINT, signal.SIG_DFL)


Family = Callable[[Bench, Tally], None]


def ended(process: subprocess.Popen[bytes], limit_s: float = LIMIT_S) -> Result:
    """Wait for the end of a started command.

    Args:
        process: started with `Bench.started`.
        limit_s: after which it hangs.
    """
    try:
        out, err = process.communicate(timeout=limit_s)
    except subprocess.TimeoutExpired:
        process.kill()
        out, err = process.communicate()
        return Result(None, _text(out), _text(err))
    return Result(process.returncode, _text(out), _text(err))


def rows(visit: Path, query: str) -> list[tuple[Any, ...]]:
    """What a query finds in a visit log, read past the command under trial; nothing where it cannot be read."""
    try:
        with closing(sqlite3.connect(f"{visit.absolute().as_uri()}?mode=ro", uri=True)) as db:
            return [tuple(row) for row in db.execute(query)]
    except sqlite3.Error:
        return []


def numbers(visit: Path) -> list[int]:
    """The numbers of the lines of `numbered_lines` that a visit log holds."""
    return [
        round(volts * 1e5)
        for (volts,) in rows(visit, "SELECT volts FROM line WHERE volts IS NOT NULL ORDER BY id")
    ]


def first_difference(expected: Sequence[Any], found: Sequence[Any]) -> str:
    """Where two sequences part, in words."""
    for index, (one, other) in enumerate(zip(expected, found, strict=False)):
        if one != other:
            return f"number {index}: {one!r} became {other!r}"
    return f"{len(expected)} became {len(found)}"


def _text(data: bytes | str | None) -> str:
    return data.decode("utf-8", "replace") if isinstance(data, bytes) else data or ""
