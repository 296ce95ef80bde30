"""What held when a reading was taken, kept with it, so that a year later it still means something."""

from __future__ import annotations

import json
from dataclasses import asdict, dataclass, field, replace

from logger.clock import format_long_duration
from logger.meter.description import Accuracy
from logger.metrology.check_validity import Lapse, lapse_of
from logger.metrology.check_words import check_name, state_text
from logger.metrology.checks import ROD_CHECKS, CheckKind, CheckVerdict, open_checks
from logger.metrology.meter_connection import MeterConnection
from logger.metrology.reference_answers import OF_THE_ROD, ReferenceAnswers
from logger.metrology.reference_error import UNPROVEN_ROD_VOLTS
from logger.metrology.setup import REFERENCES, Setup
from logger.metrology.uncertainty import Budget, LevelParts, ReferenceState, reading_budget
from logger.translation import marked, tr

SIMULATED_REMARK = marked("simulated, not measured")
"""Stands beside each simulated value, before all other remarks."""

UNCHANGED_REMARK = marked("on the practitioner's word: nothing in the trace shows a change before it")
"""Stands beside a reading out of the still stretch that another spot or condition was read in."""

UNMOVED_REMARKS = {
    "step": marked("on the practitioner's word: only a step, no motion, since “{spot}” was read"),
    "gap": marked(
        "on the practitioner's word: only a time without lines, no motion, since “{spot}” was read"
    ),
    "nothing": marked("on the practitioner's word: no motion since “{spot}” was read"),
    "missing": marked("part of the trace since “{spot}” was read is missing, and the rest shows no motion"),
}
"""Stands beside a reading of a spot that nobody was seen to move to, by what was seen instead; and beside one whose
value is another after a time without lines, of which nobody was asked."""

STATED_LATER_REMARK = marked("what was on was entered only after the value was there")
"""Stands beside a reading for which what was on was asked once its value stood."""

UNIT_ASSUMED_REMARK = marked("unit assumed: none is stated, and the numbers are taken for volts")
"""Stands beside a reading of a meter whose lines have no unit, where nobody has said what its display shows."""

OTHER_METER_REMARK = marked("recorded with the meter “{recorded}”, but counted with the data of “{counted}”")
"""Stands beside a reading that an older version kept with the stated meter in place of the recorded one."""

BATTERY_LOW_REMARK = marked(
    "the meter said that its battery was low: not to be trusted until read again with another battery"
)
"""Stands beside a reading of a meter that marked its battery as low."""

CLOCK_SET_BY_S = 15.0
"""A reading's time lies a few seconds after its newest sample; so much further off, the computer's clock was set during
the recording (own choice)."""

CLOCK_SET_REMARKS = (
    marked(
        "the computer's clock was set while it was recorded: the time of the reading is {duration} before that of its "
        "samples"
    ),
    marked(
        "the computer's clock was set while it was recorded: the time of the reading is {duration} after that of its "
        "samples"
    ),
)
"""Stands beside a reading whose time by the computer's clock is another one than its samples have."""


@dataclass(frozen=True, slots=True)
class Context:
    """Set-up and verdicts of the checks at the time of a reading.

    Args:
        setup: as stated then.
        verdicts: of the newest check of each kind that was done with this meter and reference; a kind that never
            was is missing.
        rod_volts: how far the rod may be off (half-width) after its checks; None: not checked.
        rod_proved: a second rod proved it.
        read_on: ISO date of the reading (UTC); empty in logs of older versions.
        count_volts: the display's least count, learned from the samples; None where they do not show it.
        lapses: why the newest check of a kind proves nothing for this reading, where none of that kind does.
        parts: what the uncertainty of the settled level consists of; None where that is not known.
        simulated: no meter was there, but a simulation.
        check_ids: ids of the checks that the verdicts are of; empty in logs of older versions.
        connection: how the meter was connected; None where nothing was recorded, and in logs of older versions.
        stated_unchanged: that the spot or what is on is another one than in the reading before is the user's word,
            since nothing stirred the value in between.
        condition_stated_later: what was on was entered after the value had been measured.
        unmoved: where the reading is of another spot than the one before and no motion came in between, what came:
            a key of `UNMOVED_REMARKS`; empty where that does not hold.
        unmoved_since: the name of that other spot as it was then.
        failed_zero_volts: what the meter showed on the reference wire, with its U, where the zero check failed; else 0.
        answered_later: names of the answers of the set-up that nobody had given yet; the set-up has the first one that
            was given since. The uncertainty counts them as they were: not stated. Worked out from the log, not kept.
        clock_ahead_s: how far its time by the computer's clock lies after its newest sample, in seconds (negative:
            before it); worked out from the log, not kept in it.
    """

    setup: Setup
    verdicts: dict[CheckKind, CheckVerdict]
    rod_volts: float | None = None
    rod_proved: bool = False
    lapses: dict[CheckKind, Lapse] = field(default_factory=dict)
    read_on: str = ""
    count_volts: float | None = None
    parts: LevelParts | None = None
    simulated: bool = False
    check_ids: dict[CheckKind, int] = field(default_factory=dict)
    connection: MeterConnection | None = None
    stated_unchanged: bool = False
    condition_stated_later: bool = False
    unmoved: str = ""
    unmoved_since: str = ""
    clock_ahead_s: float = 0.0
    failed_zero_volts: float = 0.0
    answered_later: frozenset[str] = frozenset()

    @property
    def setup_as_known(self) -> Setup:
        """The set-up without the answers that were given only later."""
        unstated = Setup()
        return self.setup.with_changes(**{name: getattr(unstated, name) for name in self.answered_later})

    def with_answers(self, answers: ReferenceAnswers) -> Context:
        """The same for a reading whose answers on reference, laptop and link were corrected.

        What the checks proved was kept for the reference as it was stated, so that none has passed for another one.
        The wire itself was the same: what failed still fails, but for checks of a rod where there was none.

        Args:
            answers: as they are corrected to.
        """
        changes = ReferenceAnswers.of(self.setup_as_known).changes_to(answers)
        if answers.reference == "building earth":
            changes |= {name: getattr(answers, name) for name in OF_THE_ROD}
        later = self.answered_later - changes.keys()
        found = replace(self, setup=self.setup.with_changes(**changes), answered_later=later)
        if not changes.keys() & {"reference", *OF_THE_ROD} or not _is_other_reference(self, found):
            return found
        is_rod = answers.reference == "earth rod"
        held: dict[CheckKind, CheckVerdict] = {
            kind: verdict
            for kind, verdict in self.verdicts.items()
            if verdict is CheckVerdict.FAILED and (is_rod or kind not in ROD_CHECKS)
        }
        rod_volts = None if self.rod_volts is None else max(self.rod_volts, UNPROVEN_ROD_VOLTS)
        return replace(
            found,
            verdicts=held,
            lapses=self.lapses | {kind: Lapse.REFERENCE for kind in self.verdicts if kind not in held},
            check_ids={kind: check_id for kind, check_id in self.check_ids.items() if kind in held},
            rod_volts=rod_volts if is_rod else None,
            rod_proved=False,
        )

    def reference_state(self) -> ReferenceState:
        """What the uncertainty budget needs of the reference: what was not stated then counts as the worse of both."""
        state = self.setup_as_known.reference_state(self.rod_volts, self.rod_proved)
        return replace(state, failed_zero_volts=self.failed_zero_volts)

    def remarks(self, volts: float | None = None) -> list[str]:
        """What has to stand beside a reading: what spoils the reference, what the meter lacks, checks not passed.

        Args:
            volts: the reading; None where none is meant.
        """
        return [
            *self.remarks_but_of_checks(volts),
            *(self.check_text(kind) for kind in open_checks(self.verdicts)),
        ]

    def confirmed_remark(self) -> str:
        """What the user confirmed when the trace showed no switching or no motion, or that part of it is missing."""
        if self.unmoved in UNMOVED_REMARKS:
            return tr(UNMOVED_REMARKS[self.unmoved]).format(spot=self.unmoved_since)
        return tr(UNCHANGED_REMARK) if self.stated_unchanged else ""

    def remarks_but_of_checks(self, volts: float | None = None) -> list[str]:
        """The same without the checks.

        Args:
            volts: as for `remarks`.
        """
        out = [tr(SIMULATED_REMARK)] if self.simulated else []
        out += self.reference_state().remarks()
        if self.connection is not None and self.connection.is_unit_assumed:
            out.append(tr(UNIT_ASSUMED_REMARK))
        if self.connection is not None and self.connection.is_battery_low:
            out.append(tr(BATTERY_LOW_REMARK))
        if confirmed := self.confirmed_remark():
            out.append(confirmed)
        if self.condition_stated_later:
            out.append(tr(STATED_LATER_REMARK))
        if abs(self.clock_ahead_s) > CLOCK_SET_BY_S:
            text = tr(CLOCK_SET_REMARKS[self.clock_ahead_s > 0])
            out.append(text.format(duration=format_long_duration(abs(self.clock_ahead_s))))
        meter = self.setup.meter
        if self.connection is not None and self.connection.meter not in ("", meter.name):
            text = tr(OTHER_METER_REMARK)
            out.append(text.format(recorded=self.connection.meter, counted=meter.name))
        if volts is not None and not self.accuracy_at(volts).specifies(abs(volts)):
            out.append(tr("below what the meter is specified for"))
        if meter.is_calibrated_after(self.read_on):
            out.append(tr("meter's calibration dated after the reading"))
        if meter.overdue_factor(self.read_on) > 1.0:
            out.append(tr("meter's calibration out of date"))
        return out

    def check_state(self, kind: CheckKind) -> CheckVerdict | Lapse | None:
        """A check's verdict, or why it has lapsed; None where it was not done."""
        return self.verdicts.get(kind) or self.lapses.get(kind)

    def check_text(self, kind: CheckKind) -> str:
        """A check's verdict, that it has lapsed and why, or that it was not done: 'zero check not done'."""
        return state_text(check_name(kind), self.check_state(kind))

    def accuracy_at(self, volts: float) -> Accuracy:
        """The meter's accuracy for a value: on the range that the count tells, wider where calibration is overdue."""
        meter = self.setup.meter
        accuracy = meter.accuracy_at(abs(volts), self.count_volts)
        factor = meter.overdue_factor(self.read_on)
        return accuracy.widened(factor) if factor > 1.0 else accuracy

    def budget(self, volts: float, u_volts: float) -> Budget:
        """The uncertainty budget of a value taken in this context."""
        return reading_budget(
            volts,
            u_volts,
            self.accuracy_at(volts),
            self.reference_state(),
            self.setup.meter.waveform_share(self.setup.mains_hz),
            self.parts,
        )

    def to_json(self) -> str:
        """As JSON text; `from_json` is the way back."""
        return json.dumps(
            {
                "setup": json.loads(self.setup.to_json()),
                "verdicts": dict(self.verdicts),
                "rod_volts": self.rod_volts,
                "rod_proved": self.rod_proved,
                "failed_zero_volts": self.failed_zero_volts,
                "lapses": dict(self.lapses),
                "read_on": self.read_on,
                "count_volts": self.count_volts,
                "parts": None if self.parts is None else asdict(self.parts),
                "simulated": self.simulated,
                "stated_unchanged": self.stated_unchanged,
                "condition_stated_later": self.condition_stated_later,
                "unmoved": self.unmoved,
                "unmoved_since": self.unmoved_since,
                "check_ids": dict(self.check_ids),
                "connection": None if self.connection is None else asdict(self.connection),
            }
        )

    @classmethod
    def from_json(cls, text: str) -> Context:
        """From what `to_json` gave, now or in an older version.

        Older ones counted a rod as good as the change that wetting made, which does not prove it.
        """
        data = json.loads(text)
        verdicts = {CheckKind(kind): CheckVerdict(verdict) for kind, verdict in data["verdicts"].items()}
        rod_volts = data.get("rod_volts")
        if rod_volts is not None and "rod_proved" not in data:
            rod_volts = max(rod_volts, UNPROVEN_ROD_VOLTS)
        parts, connection = data.get("parts"), data.get("connection")
        return cls(
            Setup.from_json(json.dumps(data["setup"])),
            verdicts,
            rod_volts,
            data.get("rod_proved", False),
            {CheckKind(kind): Lapse(lapse) for kind, lapse in data.get("lapses", {}).items()},
            data.get("read_on", ""),
            data.get("count_volts"),
            LevelParts(**parts) if parts else None,
            data.get("simulated") is True,
            {CheckKind(kind): check_id for kind, check_id in data.get("check_ids", {}).items()},
            MeterConnection(**connection) if connection else None,
            data.get("stated_unchanged") is True,
            data.get("condition_stated_later") is True,
            str(data.get("unmoved", "")),
            str(data.get("unmoved_since", "")),
            failed_zero_volts=float(data.get("failed_zero_volts", 0.0)),
        )


def _is_other_reference(one: Context, other: Context) -> bool:
    """Whether a check that was done with what the one is read against has lapsed for the other."""
    return lapse_of(one.setup_as_known, other.setup_as_known) is Lapse.REFERENCE


def shared_range(one: Context, other: Context, volts: tuple[float, float]) -> Accuracy | None:
    """The range on which two values were read with the same meter; None for other meters or ranges.

    Args:
        one: the context of the first value.
        other: the context of the second value.
        volts: both values.
    """
    contexts = tuple(zip((one, other), volts, strict=True))
    first, second = (c.setup.meter.accuracy_at(abs(value), c.count_volts) for c, value in contexts)
    if one.setup.meter != other.setup.meter or first != second:
        return None
    # A calibration that went out of date in between widens the later one.
    return max(
        (c.accuracy_at(value) for c, value in contexts), key=lambda accuracy: accuracy.limit_volts(1.0)
    )


def why_visits_not_comparable(one: Context | None, other: Context | None) -> str:
    """Why two values of different visits cannot be compared, in one sentence; empty when they can.

    An unstated reference is the same wire within a visit, but not in two visits.
    """
    if why := why_not_comparable(one, other):
        return why
    assert one is not None
    if one.setup.reference is None:
        return tr("Not comparable: against what they were read is not stated in either visit.")
    return ""


def _reference_text(setup: Setup) -> str:
    return tr("an unstated reference") if setup.reference is None else tr(REFERENCES[setup.reference])


def why_not_comparable(one: Context | None, other: Context | None) -> str:
    """Why two readings cannot be held against each other, in one sentence; empty when they can."""
    if one is None or other is None:
        return tr("Not comparable: for one of them nothing is kept of meter and reference.")
    if one.simulated != other.simulated:
        return tr("Not comparable: one was measured, the other simulated.")
    first, second = one.setup, other.setup
    if (first.reference or "") != (second.reference or ""):
        return tr("Not comparable: one was read against {one}, the other against {other}.").format(
            one=_reference_text(first), other=_reference_text(second)
        )
    if first.meter.inputs != second.meter.inputs:
        return tr("Not comparable: the meters' inputs differ ({one}; {other}).").format(
            one=first.meter.inputs_shown(), other=second.meter.inputs_shown()
        )
    return ""
