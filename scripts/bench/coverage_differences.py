"""How often the uncertainty of a difference covers: parts of `scripts/bench/coverage.py`, on values with known truth.

A home has true values at the mean posture of its person. Each reading has a posture of its own (a standard deviation as
a share of the value), the meter's gain and counts within its data sheet, scatter, and what the rod is off. Stated is
what the program states, by the same functions; the truth is what the readings would be without any of these errors.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from logger.meter.description import Accuracy, MeterDescription
from logger.metrology.change_verdict import Change, ChangeVerdict, judge_together
from logger.metrology.context import Context
from logger.metrology.difference import Term, difference
from logger.metrology.posture import DEFAULT_REPEATABILITY, Repeatability, pooled_repeatability
from logger.metrology.setup import MeterFacts, Setup
from logger.metrology.target import TARGET_VOLTS
from logger.metrology.uncertainty import COVERAGE_FACTOR
from logger.sweep.confirmation import ConfirmationVerdict, SwitchedStep, effect_of
from logger.sweep.solver.answer import solve_sweep
from logger.sweep.solver.readings import sweep_of_sets
from scripts.bench.houses import numbers

MIN_COVERAGE = 0.93
MAX_FALSE_VERDICTS = 0.05
SIZE_LIMITS = (0.04, 0.06)

PER_SEED = 50
"""Values, pairs or cords drawn for each seed."""

POSTURE_SHARES = (0.03, 0.05, 0.07, 0.10)
"""Standard deviations of the posture that are tried; the program does not know which."""

ON_SITE_PAIRS = 6
"""Spots read twice, where the repeatability is measured on site."""

VALUES_AT_HOME = 18

METERS = {
    "good": Accuracy(6.0, 0.5, 3.0, 0.0001),
    "plain": Accuracy(6.0, 2.0, 5.0, 0.001),
}
"""A meter of 0.5 % and 3 counts of 0.1 mV, and one as anybody has it."""

LEVEL_S, RATE_HZ = 20.0, 5.0
NOISE_VOLTS = 0.01
"""Of the levels between which a cord is switched."""

CORD_VOLTS = 0.05

TIME_CONSTANTS_S = (0.0, 0.3, 1.0, 3.0)
"""Of noise of the first order; 0 is white."""


class Home:
    """One meter at one home with one person.

    Args:
        accuracy: of the meter.
        posture_share: true standard deviation of the posture.
        random: draws everything.
    """

    def __init__(self, accuracy: Accuracy, posture_share: float, random: np.random.Generator) -> None:
        self.accuracy, self.posture_share, self.random = accuracy, posture_share, random
        description = MeterDescription("bench", accuracy=(self.accuracy,), true_rms=True)
        meter = replace(MeterFacts.of(description), calibrated_on="2026-01-15")
        setup = Setup(reference="earth rod", on_battery=True, link_isolated=True, mains_hz=50.0, meter=meter)
        self.context = Context(setup, {}, read_on="2026-05-16")
        self.rod_volts = self.context.reference_state().rod_volts
        self.gain = 1.0 + self.accuracy.percent_of_reading / 100 * self.random.uniform(-1, 1)

    def read(self, true_volts: float) -> tuple[float, float]:
        """Take a reading after getting up: volts and the standard uncertainty of its scatter."""
        random, accuracy = self.random, self.accuracy
        u_volts = float(np.hypot(0.001, 0.003 * true_volts))
        at_body = true_volts * (1 + self.posture_share * random.normal()) + u_volts * random.normal()
        at_body += self.rod_volts * random.uniform(-1, 1)
        shown = at_body * self.gain + accuracy.counts * accuracy.resolution_volts * random.uniform(-1, 1)
        return max(shown, 0.0), u_volts

    def repeatability(self) -> Repeatability:
        """As measured by reading some spots of 0.3 to 1 V twice."""
        truths = self.random.uniform(0.3, 1.0, ON_SITE_PAIRS)
        return pooled_repeatability([[self.read(true)[0], self.read(true)[0]] for true in truths])

    def term(self, reading: tuple[float, float], repeatability: Repeatability) -> Term:
        """A reading as a term of a difference."""
        return Term(self.context.budget(*reading), self.context, repeatability)


def _true_values(random: np.random.Generator, count: int) -> NDArray[np.float64]:
    """Values with everything on as homes have them: 0.3 V in the middle, 0.04 to 2.2 V in 95 of 100; shape (count,)."""
    return random.lognormal(np.log(0.3), 1.0, count)


def _coverage(pairs: list[tuple[float, float]]) -> float:
    """Share of errors (V) within k = 2 of their standard uncertainties (V)."""
    errors, us = np.abs(np.array(pairs)).T
    return float((errors <= COVERAGE_FACTOR * us).mean())


def _row(name: str, pairs: list[tuple[float, float]], asked: float = MIN_COVERAGE) -> bool:
    found = _coverage(pairs)
    good = found >= asked
    print(f"  {name:<52}{len(pairs):>7}{found:>9.1%}   >= {asked:.0%}: {'pass' if good else 'FALLS SHORT'}")
    return good


def show_budgets(seeds: range) -> bool:
    """Print the coverage of whole budgets of single readings; return whether all of it is as wanted."""
    print("\nWhole budget of a reading in its own posture: coverage at k = 2")
    good = True
    for meter, accuracy in METERS.items():
        pairs = []
        for seed in seeds:
            home = Home(accuracy, 0.0, np.random.default_rng([seed, 1]))
            for true in _true_values(home.random, PER_SEED):
                reading = home.read(float(true))
                pairs.append((reading[0] - true, home.context.budget(*reading).u_volts))
        good &= _row(f"{meter} meter", pairs)
    return good


def show_on_off(seeds: range) -> bool:
    """Print the coverage of on - off; return whether all of it is as wanted."""
    print("\nOn minus off, everybody gets up for the panel: coverage at k = 2")
    return _differences(seeds, lambda random, on: on * random.uniform(0.02, 0.9), same_visit=True)


def show_compare(seeds: range) -> bool:
    """Print the coverage of after - before, and false verdicts at an unchanged home."""
    print("\nAfter minus before, two visits with the same meter: coverage at k = 2")
    good = _differences(seeds, lambda random, before: before * random.uniform(0.05, 1.5), same_visit=False)
    print(f"\nAn unchanged home of {VALUES_AT_HOME} values: visits with any false verdict")
    for share in POSTURE_SHARES:
        for on_site in (False, True):
            improved_or_worse = any_verdict = homes = 0
            for seed in seeds:
                for part in range(PER_SEED // 5):
                    home = Home(METERS["good"], share, np.random.default_rng([seed, 2, part]))
                    verdicts = _unchanged(home, on_site)
                    homes += 1
                    any_verdict += any(
                        verdict is not ChangeVerdict.NOT_DISTINGUISHABLE for verdict in verdicts
                    )
                    improved_or_worse += bool({ChangeVerdict.IMPROVED, ChangeVerdict.WORSE} & set(verdicts))
            is_good = any_verdict / homes <= MAX_FALSE_VERDICTS
            good &= is_good
            known = f"{ON_SITE_PAIRS} repeats on site" if on_site else "default"
            print(
                f"  posture {share:>4.0%}, {known:<20} improved or worse {improved_or_worse / homes:>6.1%}, any "
                f"{any_verdict / homes:>6.1%} of {homes}   <= {MAX_FALSE_VERDICTS:.0%}: "
                f"{'pass' if is_good else 'FALLS SHORT'}"
            )
    return good


def _differences(
    seeds: range, other_value: Callable[[np.random.Generator, float], float], *, same_visit: bool
) -> bool:
    """Print the coverage of a difference by meter, posture, and how well that is known.

    Args:
        seeds: of the homes.
        other_value: draws the second true value from the first one, V.
        same_visit: both are read in one visit.
    """
    good = True
    for meter, accuracy in METERS.items():
        for share in POSTURE_SHARES:
            for on_site in (False, True):
                pairs = []
                for seed in seeds:
                    home = Home(accuracy, share, np.random.default_rng([seed, 3]))
                    repeatability = home.repeatability() if on_site else DEFAULT_REPEATABILITY
                    for true in map(float, _true_values(home.random, PER_SEED)):
                        other = other_value(home.random, true)
                        found = difference(
                            home.term(home.read(true), repeatability),
                            home.term(home.read(other), repeatability),
                            ("one", "other"),
                            same_visit=same_visit,
                        )
                        pairs.append((found.volts - (true - other), found.u_volts))
                known = f"{ON_SITE_PAIRS} repeats on site" if on_site else "default"
                good &= _row(f"{meter} meter, posture {share:.0%}, {known}", pairs)
    return good


def _unchanged(home: Home, on_site: bool) -> list[ChangeVerdict]:
    """Verdicts of two visits between which nothing has changed.

    Args:
        home: where.
        on_site: the repeatability was measured in both visits.
    """
    before, after = (home.repeatability() if on_site else DEFAULT_REPEATABILITY for _ in range(2))
    changes = []
    for true in map(float, _true_values(home.random, VALUES_AT_HOME)):
        old, new = home.term(home.read(true), before), home.term(home.read(true), after)
        found = difference(new, old, ("after", "before"), same_visit=False)
        changes.append(Change(old.budget, new.budget, found))
    return [judged[0] for judged in judge_together(changes, TARGET_VOLTS) if judged is not None]


def show_confirmation(seeds: range) -> bool:
    """Print how often off, on, off confirms a cord, and the coverage of its effect."""
    print(f"\nOff, on, off in levels of {LEVEL_S:g} s: how often a cord is confirmed at the 5 % level")
    good = True
    for levels in (3, 5):
        for time_constant_s in TIME_CONSTANTS_S:
            random = np.random.default_rng([seeds.start, 4, levels, round(10 * time_constant_s)])
            count = len(seeds) * PER_SEED * 4
            size, power = (
                np.mean(
                    [
                        effect_of(_steps(random, volts, time_constant_s, levels)).verdict
                        is ConfirmationVerdict.CONFIRMED
                        for _ in range(count)
                    ]
                )
                for volts in (0.0, CORD_VOLTS)
            )
            is_good = size <= SIZE_LIMITS[1] and (time_constant_s > 0.3 or size >= SIZE_LIMITS[0])
            good &= bool(is_good)
            noise = f"first order {time_constant_s:g} s" if time_constant_s else "white"
            print(
                f"  {levels} levels, {noise:<20} nothing {size:>6.1%} of {count}, {CORD_VOLTS:g} V {power:>6.1%}   "
                f"{'pass' if is_good else 'FALLS SHORT'}"
            )
    print("\nEffect of a cord of 0.05 to 2 V at the mean posture: coverage at k = 2")
    for share in POSTURE_SHARES:
        pairs = []
        for seed in seeds:
            random = np.random.default_rng([seed, 5])
            for volts in random.uniform(0.05, 2.0, PER_SEED):
                in_posture = float(volts) * (1 + share * random.normal())
                effect = effect_of(_steps(random, in_posture, 0.3, 3))
                pairs.append((effect.volts - volts, effect.u_volts))
        good &= _row(f"posture {share:.0%}, default", pairs)
    return good


def _steps(
    random: np.random.Generator, cord_volts: float, time_constant_s: float, levels: int
) -> list[SwitchedStep]:
    """Steps of a cord, off first, with the true standard uncertainty of their levels.

    Args:
        random: draws the noise.
        cord_volts: what the cord gives, V.
        time_constant_s: of the noise, s; 0 is white.
        levels: how many levels.
    """
    from scipy import signal  # noqa: PLC0415 - the other parts do without it

    per_level = round(LEVEL_S * RATE_HZ)
    kept = float(np.exp(-1 / RATE_HZ / time_constant_s)) if time_constant_s else 0.0
    start = [kept * random.normal()]
    noise = signal.lfilter(
        [(1 - kept**2) ** 0.5], [1, -kept], random.normal(size=levels * per_level), zi=start
    )[0]
    lags = np.arange(1, per_level)
    u_level = NOISE_VOLTS * ((1 + 2 * ((1 - lags / per_level) * kept**lags).sum()) / per_level) ** 0.5
    means = NOISE_VOLTS * noise.reshape(levels, per_level).mean(axis=1) + cord_volts * (np.arange(levels) % 2)
    return [
        SwitchedStep(n % 2 == 0, float(means[n + 1] - means[n]), float(u_level) * 2**0.5)
        for n in range(levels - 1)
    ]


def show_predictions(seeds: range) -> bool:
    """Print the coverage of predicted values of sweeps whose every reading had a posture of its own."""
    print("\nPredicted value with the recommended set off, at the mean posture: coverage at k = 2")
    good = True
    for share in POSTURE_SHARES[:3]:
        pairs = []
        for seed in seeds:
            house, random = numbers(seed), np.random.default_rng([seed, 6])
            rows = []
            for live, volts, u_volts in house.sweep():
                read = volts * (1 + share * random.normal())
                rows.append((live, read, float(np.hypot(u_volts, DEFAULT_REPEATABILITY.share * read))))
            sweep = replace(sweep_of_sets(rows, house.names), understated=1.0)
            answer = solve_sweep(sweep, house.supply, house.keep)
            if not answer.consistent:
                continue
            live = frozenset(house.names) - frozenset(answer.off_tonight)
            pairs.append((answer.predicted_volts - house.volts(live), answer.u_predicted_volts))
        good &= _row(
            f"posture {share:.0%}, default, {len(seeds) - len(pairs)} of the sweeps inconsistent", pairs
        )
    return good


DIFFERENCE_PARTS: dict[str, Callable[[range], bool]] = {
    "budgets": show_budgets,
    "on-off": show_on_off,
    "confirmation": show_confirmation,
    "compare": show_compare,
    "predictions": show_predictions,
}
