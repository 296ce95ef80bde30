"""Runs commands of an installation, each in a fork of one process that has imported them: a start costs milliseconds.

Run by the interpreter of the installation under trial: each line on standard input is a job as JSON, each line on
standard output the exit status of one. It imports nothing of this tree.
"""

import contextlib
import importlib
import json
import os
import resource
import signal
import sys
import traceback
import warnings
from pathlib import Path
from typing import Any


def run_job(job: dict[str, Any]) -> int:
    """Run one command in this process, as its installed script does; gives the exit status."""
    resource.setrlimit(resource.RLIMIT_AS, (job["memory_bytes"], job["memory_bytes"]))
    signal.alarm(job["limit_s"])  # ends the process
    os.dup2(os.open(os.devnull, os.O_RDONLY), 0)  # the jobs are not the command's
    with Path(job["out"]).open("wb") as out, Path(job["err"]).open("wb") as err:
        os.dup2(out.fileno(), 1)
        os.dup2(err.fileno(), 2)
    sys.argv = ["stillvolt", *job["words"]]
    status = 1
    try:
        status = sys.modules["logger.cli.main"].main() or 0
    except SystemExit as end:
        status = end.code if isinstance(end.code, int) else int(end.code is not None)
    except BaseException:
        traceback.print_exc()
    with contextlib.suppress(OSError, ValueError):
        sys.stdout.flush()
        sys.stderr.flush()
    return status


def main() -> None:
    """Import what the commands need, then run the jobs."""
    warnings.simplefilter("ignore")  # the threads of numerical libraries are idle when it forks
    importlib.import_module("logger.cli.main")
    for name in sys.argv[1:]:
        with contextlib.suppress(ImportError):  # an older installation has fewer commands
            importlib.import_module(f"logger.cli.commands.{name}")
    for line in sys.stdin:
        child = os.fork()
        if child == 0:
            os._exit(run_job(json.loads(line)) & 0xFF)
        status = os.waitpid(child, 0)[1]
        print(os.waitstatus_to_exitcode(status), flush=True)


if __name__ == "__main__":
    main()
