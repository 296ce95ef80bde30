"""Many runs of an installation's commands in little time: each in a fork of one process that has imported them."""

from __future__ import annotations

import json
import os
import subprocess
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path

from scripts.bench.fault_families.trials import Bench, Result

LIMIT_S = 60
"""After which a command hangs."""

MEMORY_BYTES = 3_000_000_000
"""Far above what any visit of this size needs (0.4 GB of address space are libraries)."""

MODULES = ("report", "export", "compare", "archive", "night", "form", "verify", "salvage", "import_", "replay",
           "stop", "lines", "sources")  # fmt: skip
"""Those of the commands; an older installation has fewer."""


class Forks:
    """The installed command's own code, each run in a fork that is limited in time and memory."""

    def __init__(self, bench: Bench) -> None:
        self._bench = bench
        self._process = subprocess.Popen(
            [bench.python, "-I", Path(__file__).with_name("forked_commands.py"), *MODULES],
            env=bench.environment(), stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True,
        )  # fmt: skip

    def __enter__(self) -> Forks:
        return self

    def __exit__(self, *_: object) -> None:
        assert self._process.stdin
        assert self._process.stdout
        self._process.stdin.close()
        self._process.wait()
        self._process.stdout.close()

    def run(self, words: Sequence[str | bytes | Path]) -> Result:
        """Run one command with these words."""
        assert self._process.stdin
        assert self._process.stdout
        out, err = self._bench.folder / "out.txt", self._bench.folder / "err.txt"
        job = {
            "words": [os.fsdecode(word) for word in words],
            "out": str(out),
            "err": str(err),
            "limit_s": LIMIT_S,
            "memory_bytes": MEMORY_BYTES,
        }
        self._process.stdin.write(json.dumps(job) + "\n")
        self._process.stdin.flush()
        status = int(self._process.stdout.readline())
        return Result(status, out.read_text(errors="replace"), err.read_text(errors="replace"))


@contextmanager
def shared_forks(bench: Bench) -> Iterator[Forks]:
    """The forks that a bench shares between its families; some of their own where it shares none."""
    if isinstance(bench.forks, Forks):
        yield bench.forks
        return
    with Forks(bench) as forks:
        yield forks
