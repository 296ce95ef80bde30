"""The condition of a reading (what is on): its names, and how long a statement of it holds. It is never assumed."""

from __future__ import annotations

import json
import re
from collections.abc import Iterable
from dataclasses import dataclass, replace

from logger.clock import NS_PER_S
from logger.translation import kept_text, tr_kept
from logger.visit.records.reading_records import Reading

EVERYTHING_ON = kept_text("everything on")
EVERYTHING_OFF = kept_text("everything off")
OUTSIDE_WALK = kept_text("outside walk")
"""Names of conditions that the tool itself gives; any other is a name that the user or the sweep made. They go through
`tr_kept` where they are shown."""

HOLDS_S = 3600.0
"""A statement holds for this long after it was made or after the last reading in that condition; then it is asked for
again: meanwhile supper was cooked, or it is the next day."""


STILL_AFTER_STATEMENT_S = 5.0
"""A value must have been settled for this long after another condition was stated before it is taken: the meter's
averaging and the detector's own delay are over by then, so that what was switched has shown."""


_NAMED_ON_OR_OFF = re.compile(r"only .+? (on|off)(?:, without .+)?")
"""A label that names the circuits that are on, or those that are off."""


def unlisted_on(condition: str) -> bool | None:
    """Return whether the circuits that are not listed were on in a condition; None where its label leaves it open.

    With 'everything off' and 'only Kitchen on' the rest of the panel was switched off, whether it is listed or not;
    with 'everything on' and 'only Kitchen off' it was on.

    Args:
        condition: of a reading, or the label of a combination.
    """
    for whole, is_on in ((EVERYTHING_ON, True), (EVERYTHING_OFF, False)):
        if condition == whole or condition.startswith(f"{whole}, without "):
            return is_on
    named = _NAMED_ON_OR_OFF.fullmatch(condition)
    return named[1] == "off" if named else None


def typed_condition(text: str) -> str:
    """The condition that a typed text means: blanks are joined, and capitals make no other condition of a known one.

    Whoever types it types it as it is shown to them, or in English.

    Args:
        text: as it was typed.
    """
    named = " ".join(text.split())
    usual = (EVERYTHING_ON, EVERYTHING_OFF)
    known = {shown.casefold(): condition for condition in usual for shown in (tr_kept(condition), condition)}
    return known.get(named.casefold(), named)


@dataclass(frozen=True, slots=True)
class EndedStatement:
    """A condition that was stated until a moment of a run: lines before it are not of what was stated then.

    Args:
        condition: that was stated.
        run_id: of the run.
        t_ns: when something else was stated, ns since the run's start.
    """

    condition: str
    run_id: int
    t_ns: int

    @classmethod
    def from_json(cls, text: str) -> EndedStatement | None:
        """From its JSON object; None where it is none."""
        try:
            fields = json.loads(text)
            return cls(str(fields["condition"]), int(fields["run_id"]), int(fields["t_ns"]))
        except (ValueError, KeyError, TypeError):
            return None


@dataclass(frozen=True, slots=True)
class EarlierStatement:
    """What was stated before the present statement.

    Args:
        condition: that was stated; empty: nothing was.
        run_ids: of the runs in which it was stated, or until which it held; empty where none of them is known.
    """

    condition: str = ""
    run_ids: frozenset[int] = frozenset()

    def in_run(self, run_id: int, readings: Iterable[Reading]) -> str:
        """What was stated before, where that held in a run; empty where it is of other recordings alone.

        Args:
            run_id: of the run.
            readings: of the visit: what one of the run was taken with held in it, whatever was corrected since.
        """
        is_of_run = (
            not self.run_ids
            or run_id in self.run_ids
            or any(r.run_id == run_id and r.as_taken.condition == self.condition for r in readings)
        )
        return self.condition if is_of_run else ""


@dataclass(frozen=True, slots=True)
class StatedMoment:
    """When a condition was stated in a run.

    Args:
        condition: that was stated; empty: it was not known any more.
        run_id: of the run.
        utc_ns: when, on its steady time line.
    """

    condition: str
    run_id: int
    utc_ns: int

    @classmethod
    def from_json(cls, text: str) -> StatedMoment | None:
        """From its JSON object, as `Statement.as_begun` gives it; None where it is none."""
        try:
            fields = json.loads(text)
            return cls(str(fields["condition"]), int(fields["run_id"]), int(fields["utc_ns"]))
        except (ValueError, KeyError, TypeError):
            return None


@dataclass(frozen=True, slots=True)
class Statement:
    """A condition that was stated, and when; empty when none was.

    Args:
        condition: that was stated.
        utc_ns: when, by the computer's clock.
        run_id: of the run that went on then; None where none did.
        in_run_utc_ns: when, on the steady time line of that run, which does not follow a clock that is set.
    """

    condition: str = ""
    utc_ns: int = 0
    run_id: int | None = None
    in_run_utc_ns: int = 0

    @property
    def steady_utc_ns(self) -> int:
        """When, as the steps and levels of the trace have it."""
        return self.utc_ns if self.run_id is None else self.in_run_utc_ns

    def with_moment(self, begun: str) -> Statement:
        """The same with the moment in its run, where that can be read.

        Args:
            begun: JSON as `as_begun` gives it.
        """
        moment = StatedMoment.from_json(begun)
        if moment is None or moment.condition != self.condition:
            return self
        return replace(self, run_id=moment.run_id, in_run_utc_ns=moment.utc_ns)

    @staticmethod
    def as_begun(condition: str, run_id: int, utc_ns: int) -> str:
        """As JSON, when a condition was stated in a run.

        Args:
            condition: that is stated.
            run_id: of the run.
            utc_ns: when, on its steady time line.
        """
        return json.dumps({"condition": condition, "run_id": run_id, "utc_ns": utc_ns})

    def holds(self, readings: Iterable[Reading], now_utc_ns: int) -> bool:
        """Whether it still holds.

        Args:
            readings: of the visit; those in this condition that are not voided show that it still held then.
            now_utc_ns: by the computer's clock.
        """
        since_ns = max(
            (
                reading.utc_ns
                for reading in readings
                if reading.condition == self.condition
                and reading.void_reason is None
                and reading.utc_ns > self.utc_ns
            ),
            default=self.utc_ns,
        )
        # Both ways: a clock that was set back makes a statement look as if it were still to come.
        return bool(self.condition) and abs(now_utc_ns - since_ns) <= HOLDS_S * NS_PER_S
