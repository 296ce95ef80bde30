"""A short version of each family of faults: the whole of it is `scripts/bench/faults.py`."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from scripts.bench.fault_families.forks import Forks
from scripts.bench.fault_families.trials import KINDS, Bench, Result, Tally
from scripts.bench.faults import FAMILIES

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="Windows has no pseudo-terminals")

ONE_OF_EACH_LIST = 0.0005
FORKABLE = {
    "report",
    "export",
    "compare",
    "archive",
    "night",
    "form",
    "verify",
    "salvage",
    "import",
    "replay",
}
"""Commands whose trials ask for files, output and status: a start of each in a process of its own takes a second."""

LEFT_OUT = {"identify", "streams", "hostile", "private"}
"""A search takes a minute, and a few damaged lines show no rate: both have tests of their own in `tests/meter`, as the
other two have in `tests/visit/test_hostile_visits.py` and `tests/test_private_files.py`."""


@pytest.fixture(scope="module")
def bench(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Bench]:
    command = Path(sys.executable).with_name("stillvolt")
    bench = Bench(command, tmp_path_factory.mktemp("faults"), seed=14, scale=ONE_OF_EACH_LIST)
    with Forks(bench) as forks:
        bench.forks, bench.forkable = forks, FORKABLE
        yield bench


@pytest.mark.parametrize("family", sorted(FAMILIES.keys() - LEFT_OUT))
def test_what_an_ordinary_day_does_loses_and_falsifies_nothing(family: str, bench: Bench) -> None:
    tally = Tally()
    FAMILIES[family](bench, tally)
    assert tally.failures == []
    assert tally.tried > 0


def test_a_verdict_names_what_went_wrong() -> None:
    refused = Result(1, "", "stillvolt: It is damaged.")
    assert (refused.failure(), refused.refused(), refused.done()) == ("", "", "exit status")
    assert Result(0, "done", "").refused() == "exit status"
    assert Result(1, "", "").refused() == "not told"
    assert Result(1, "", "Traceback (most recent call last):").refused() == "traceback"
    assert Result(1, "", "stillvolt: Something unexpected happened").done() == "traceback"
    assert Result(None, "", "").failure() == "hung"
    assert Result(-11, "", "").refused() == "exit status"
    tally = Tally()
    tally.add("a trial", "")
    tally.add("another", "lost", "the end of it", count=3)
    assert (tally.tried, tally.counts["held"], tally.counts["lost"]) == (4, 1, 3)
    assert tally.listed(1) == ["lost: another (3): the end of it"]
    assert set(tally.counts) - {"held"} <= set(KINDS)
