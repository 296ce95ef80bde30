"""How often two nights that are alike are called lower or higher: the size of the test, by correlation time.

    python scripts/bench/night_test.py [PAIRS] [SEED]     each correlation time with so many pairs of nights of 8 h

Wanted at the 5 % level: 4 to 6 % up to 30 min. Beyond that the answer is that the nights do not hold enough independent
pieces; the share of such answers is printed, and the false verdicts are counted over all pairs.
Figures are in fixtures/figures/night.md.
"""

from __future__ import annotations

import sys
from collections import Counter

import numpy as np
from scipy.signal import lfilter

from logger.night.analysis.night_comparison import NightVerdict, compare_records
from logger.night.analysis.night_record import Floats, NightRecord
from logger.settling.events import Settled

CORRELATION_TIMES_S = (0.0, 1.0, 10.0, 60.0, 600.0, 1800.0, 3600.0, 7200.0)
HOURS = 8.0
LEVEL_VOLTS = 0.3
SPREAD_VOLTS = 0.02


def wandering_volts(seconds: int, time_s: float, rng: np.random.Generator) -> Floats:
    """Draw a first-order autoregressive process of unit variance, one value a second.

    Args:
        seconds: how many values.
        time_s: correlation time, s; 0 for independent values.
        rng: random numbers.
    """
    drawn = rng.standard_normal(seconds)
    if time_s == 0.0:
        return drawn
    keep = float(np.exp(-1.0 / time_s))
    drawn[1:] *= np.sqrt(1.0 - keep**2)
    values: Floats = lfilter([1.0], [1.0, -keep], drawn)
    return values


def still_night(hours: float, time_s: float, rng: np.random.Generator) -> NightRecord:
    """Draw a night that is still throughout, one sample a second.

    Args:
        hours: length of the night.
        time_s: correlation time of its level, s.
        rng: random numbers.
    """
    seconds = int(hours * 3600)
    volts = LEVEL_VOLTS + SPREAD_VOLTS * wandering_volts(seconds, time_s, rng)
    span = Settled(0.0, seconds - 1.0, LEVEL_VOLTS, 0.001, 5.0, seconds)
    return NightRecord(np.arange(seconds, dtype=float), volts, (span,), float(seconds))


def verdicts(pairs: int, time_s: float, seed: int) -> Counter[NightVerdict]:
    """Count the verdicts on pairs of nights that are alike.

    Args:
        pairs: how many pairs.
        time_s: correlation time of their level, s.
        seed: of the random numbers.
    """
    rng = np.random.default_rng([seed, round(time_s)])
    found: Counter[NightVerdict] = Counter()
    for _ in range(pairs):
        compared = compare_records(still_night(HOURS, time_s, rng), still_night(HOURS, time_s, rng))
        assert compared is not None
        found[compared.verdict] += 1
    return found


def main() -> None:
    """Print a line for each correlation time."""
    pairs = int(sys.argv[1]) if len(sys.argv) > 1 else 1000
    seed = int(sys.argv[2]) if len(sys.argv) > 2 else 1
    print(f"{pairs} pairs of alike nights of {HOURS:g} h, seed {seed}")
    print("correlation time, s | lower or higher | of those answered | not enough independent pieces")
    for time_s in CORRELATION_TIMES_S:
        found = verdicts(pairs, time_s, seed)
        refused = found[NightVerdict.NOT_COMPARABLE]
        false = found[NightVerdict.LOWER] + found[NightVerdict.HIGHER]
        answered = false / max(pairs - refused, 1)
        print(
            f"{time_s:19g} | {false / pairs:15.1%} | {answered:17.1%} | {refused / pairs:10.1%}", flush=True
        )


if __name__ == "__main__":
    main()
