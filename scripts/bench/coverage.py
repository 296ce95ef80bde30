"""How often the stated uncertainty covers at k = 2, on values with known truth: `python scripts/bench/coverage.py`.

    python scripts/bench/coverage.py [--traces N] [--seed S] [--only PART ...]

A part is one measured thing; without `--only` all are run. Of levels, each row is a family of noise at one rate and
one count: the share of settled spans whose level is within 2 u of the truth, and how wide u is: one over the root mean
square of error / u, which is 1 where u is the standard deviation of the errors. Of white noise, for which the standard
deviation of the mean is known, the median of u over that stands beside it.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))  # so that the tree itself can be imported

from logger.metrology.uncertainty import COVERAGE_FACTOR
from logger.settling.replay import replay
from scripts.bench.coverage_differences import DIFFERENCE_PARTS
from tests.support.level_families import FAMILIES, LEVELS, found_levels, level_trace, white_deviation

RATES_HZ = (2.5, 5.0, 10.0)
COUNTS_VOLTS = (0.0001, 0.001, 0.01)

MIN_COVERAGE = 0.93
MAX_WHITE_WIDTH = 1.5

SHORTEST_SPAN_S = 8.0
"""Settled spans shorter than this are not counted: what is measured are levels held for 14 to 24 s."""


@dataclass(slots=True)
class Coverage:
    """Errors beside their stated standard uncertainties, volts."""

    errors: list[float] = field(default_factory=list)
    us: list[float] = field(default_factory=list)

    def add(self, error_volts: float, u_volts: float) -> None:
        """Take in one value."""
        self.errors.append(error_volts)
        self.us.append(u_volts)

    def __iadd__(self, other: Coverage) -> Coverage:
        self.errors += other.errors
        self.us += other.us
        return self

    @property
    def share(self) -> float:
        """Share of the errors that are within k = 2."""
        errors, us = np.abs(self.errors), np.array(self.us)
        return float((errors <= COVERAGE_FACTOR * us).mean()) if len(us) else float("nan")

    @property
    def width(self) -> float:
        """How many times as large u is as the errors: one over the root mean square of error / u."""
        ratios = np.array(self.errors) / np.array(self.us)
        return float(1 / np.sqrt(np.mean(ratios**2))) if len(ratios) else float("nan")


@dataclass(slots=True)
class LevelCoverage:
    """Coverage of settled levels.

    Args:
        coverage: errors and their stated standard uncertainties.
        needed: standard deviation that white noise and the count leave in the mean, volts, one for each span.
        found: number of levels in which a settled span was found.
        levels: number of all levels.
    """

    coverage: Coverage = field(default_factory=Coverage)
    needed: list[float] = field(default_factory=list)
    found: int = 0
    levels: int = 0

    def __iadd__(self, other: LevelCoverage) -> LevelCoverage:
        self.coverage += other.coverage
        self.needed += other.needed
        self.found += other.found
        self.levels += other.levels
        return self

    @property
    def width(self) -> float:
        """Median of u over what white noise needs."""
        return float(np.median(np.array(self.coverage.us) / self.needed)) if self.needed else float("nan")


def level_coverage(family: str, rate_hz: float, count_volts: float, seeds: range) -> LevelCoverage:
    """Coverage of settled levels, one trace for each seed.

    Args:
        family: of noise.
        rate_hz: samples per second.
        count_volts: the meter's count.
        seeds: of the traces.
    """
    out = LevelCoverage()
    for seed in seeds:
        trace = level_trace(family, rate_hz, count_volts, seed)
        found = found_levels(trace, replay(trace.times_s, trace.volts), SHORTEST_SPAN_S)
        out.found += len({level.held.start_s for level in found})
        out.levels += LEVELS
        for level in found:
            out.coverage.add(level.error_volts, level.span.u_volts)
            out.needed.append(white_deviation(trace.noise_volts, count_volts, level.span.samples))
    return out


def show_levels(seeds: range) -> bool:
    """Print the coverage of settled levels by family, rate and count; return whether all of it is as wanted."""
    print(f"\nSettled levels held for 14 to 24 s: coverage at k = 2, {len(seeds)} traces a row")
    print(
        f"  {'family':<16}{'rate':>6}{'count':>9}{'spans':>7}{'covered':>9}{'u/error':>9}{'u/white':>9}{'found':>8}"
    )
    good = True
    for family in FAMILIES:
        whole = LevelCoverage()
        for rate_hz in RATES_HZ:
            for count_volts in COUNTS_VOLTS:
                one = level_coverage(family, rate_hz, count_volts, seeds)
                print(f"  {family:<16}{rate_hz:>6g}{1e3 * count_volts:>6g} mV{_level_row(one)}")
                whole += one
        asked = f"covered >= {MIN_COVERAGE:.0%}"
        is_good = whole.coverage.share >= MIN_COVERAGE
        if family == "white":
            asked += f", u/white <= {MAX_WHITE_WIDTH:g}"
            is_good &= whole.width <= MAX_WHITE_WIDTH
        good &= is_good
        print(
            f"  {family:<16}{'all':>6}{'':>9}{_level_row(whole)}   {asked}: {'pass' if is_good else 'FALLS SHORT'}"
        )
    return good


def _level_row(found: LevelCoverage) -> str:
    coverage = found.coverage
    return (
        f"{len(coverage.us):>7}{coverage.share:>9.1%}{coverage.width:>9.2f}{found.width:>9.2f}"
        f"{found.found / found.levels:>8.1%}"
    )


PARTS: dict[str, Callable[[range], bool]] = {"levels": show_levels, **DIFFERENCE_PARTS}
"""What is measured: each prints its table and returns whether all of it is as wanted."""


def main() -> int:
    """Run what is asked for and return the exit code."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--traces", type=int, default=20, help="traces of each row (default 20)")
    parser.add_argument("--seed", type=int, default=1, help="the first seed (default 1)")
    parser.add_argument("--only", nargs="+", choices=PARTS, default=list(PARTS), help="parts to measure")
    given = parser.parse_args()
    seeds = range(given.seed, given.seed + given.traces)
    good = all([PARTS[part](seeds) for part in given.only])
    print(
        f"\nSeeds {seeds.start} to {seeds.stop - 1}. {'All measures hold.' if good else 'Some measures fall short.'}"
    )
    return 0 if good else 1


if __name__ == "__main__":
    sys.exit(main())
