"""Each fault of an ordinary day, or of somebody who means harm, against an installed `stillvolt`.

python scripts/bench/faults.py                               every family at its full size, about an hour
python scripts/bench/faults.py --scale 0.02                  the same with fewer repeats
python scripts/bench/faults.py moved hostile                 these families only
python scripts/bench/faults.py --command VENV/bin/stillvolt  another installation

The command is a black box: it is started as a user starts it, and judged by its outputs, its exit status and the files
that are left. Where there are many, commands run in forks of one process of the same installation. The table counts the
trials of each family: held, or failed by kind. The failures are listed below it.
"""

from __future__ import annotations

import argparse
import signal
import subprocess
import sys
import tempfile
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))  # so that the tree itself can be imported

from scripts.bench.fault_families.command_line import command_line
from scripts.bench.fault_families.damaged_files import damaged_files
from scripts.bench.fault_families.hostile_visits import hostile_visits
from scripts.bench.fault_families.marks_and_privacy import private, simulated, two_recorders
from scripts.bench.fault_families.messages import messages
from scripts.bench.fault_families.moved_files import copies, moved_files
from scripts.bench.fault_families.outputs import outputs
from scripts.bench.fault_families.streams import live_streams, searches, streams
from scripts.bench.fault_families.trials import HELD, KINDS, Bench, Family, Tally

FAMILIES: dict[str, Family] = {
    "moved": moved_files,
    "copied": copies,
    "outputs": outputs,
    "messages": messages,
    "hostile": hostile_visits,
    "simulated": simulated,
    "private": private,
    "two recorders": two_recorders,
    "command line": command_line,
    "streams": streams,
    "live stream": live_streams,
    "identify": searches,
    "damaged": damaged_files,
}
SHOWN_FAILURES = 12
TREE = Path(__file__).resolve().parents[2]
"""That this bench stands in."""


def trial(name: str, command: Path, seed: int, scale: float) -> Tally:
    """Run a family in an empty folder.

    Args:
        name: in `FAMILIES`.
        command: the installed `stillvolt`.
        seed: of everything that is drawn.
        scale: share of the repeated trials.
    """
    tally = Tally()
    with tempfile.TemporaryDirectory(prefix="faults-", ignore_cleanup_errors=True) as folder:
        FAMILIES[name](Bench(command, Path(folder), seed, scale), tally)
    return tally


def tree_of(command: Path) -> Path:
    """Return the folder whose code an installed `stillvolt` runs, whatever the environment says.

    Args:
        command: the installed `stillvolt`.
    """
    where = "import logger; print(logger.__file__)"
    python = command.absolute().parent / "python"
    found = subprocess.run([python, "-I", "-c", where], capture_output=True, text=True, check=True)
    return Path(found.stdout.strip()).resolve().parents[1]


def row(name: str, tally: Tally) -> str:
    """A row of the table."""
    counts = [tally.counts[kind] for kind in (HELD, *KINDS)]
    return f"| {name} | {tally.tried:,} | {' | '.join(f'{count:,}' if count else '' for count in counts)} |"


def main() -> None:
    """Print the table and the failures."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("family", nargs="*", help=f"of {', '.join(FAMILIES)}; all if none is given")
    parser.add_argument(
        "--command",
        type=Path,
        help="the installed command; the one beside this python if it runs the code of this tree",
    )
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--scale", type=float, default=1.0, help="share of the repeated trials that is made")
    parser.add_argument(
        "--failures", type=int, default=SHOWN_FAILURES, help="so many of each kind are listed"
    )
    arguments = parser.parse_args()
    command = arguments.command or Path(sys.executable).with_name("stillvolt")
    # Commands start without PYTHONPATH, as a user's do: what is tested must not be another tree unnoticed.
    if arguments.command is None and (tree := tree_of(command)) != TREE:
        parser.error(
            f"{command} runs the code of {tree}, not of {TREE}: install this tree, or name a --command"
        )
    # A job in the background has Ctrl+C switched off, and so have the commands that it starts.
    signal.signal(signal.SIGINT, signal.default_int_handler)
    print(f"| family | tried | {' | '.join((HELD, *KINDS))} | seconds |")
    print("| --- " * (len(KINDS) + 4) + "|")
    failures: list[str] = []
    try:
        for name in arguments.family or FAMILIES:
            started = time.monotonic()
            tally = trial(name, command, arguments.seed, arguments.scale)
            print(f"{row(name, tally)} {time.monotonic() - started:.0f} |", flush=True)
            failures += [f"{name}: {failure}" for failure in tally.listed(arguments.failures)]
    finally:
        print("", *failures, sep="\n")


if __name__ == "__main__":
    main()
