"""What held when a reading was taken, kept with it, so that a year later it still means something."""

from __future__ import annotations

import json
from dataclasses import dataclass

from logger.metrology.checks import CheckKind, CheckVerdict
from logger.metrology.setup import Setup
from logger.metrology.uncertainty import Budget, reading_budget


@dataclass(frozen=True, slots=True)
class Context:
    """Set-up and verdicts of the checks at the time of a reading.

    Args:
        setup: as stated then.
        verdicts: of the newest check of each kind that was done with this meter and reference; a kind that never
            was is missing.
        rod_volts: how far the rod may be off (half-width) as the reference check found; None: not checked.
    """

    setup: Setup
    verdicts: dict[CheckKind, CheckVerdict]
    rod_volts: float | None = None

    def remarks(self) -> list[str]:
        """What has to be said beside a reading: what spoils the reference, and checks that are not passed."""
        out = self.setup.reference_state(self.rod_volts).remarks()
        for kind in CheckKind:
            verdict = self.verdicts.get(kind)
            if verdict is None:
                out.append(f"{kind} not done")
            elif verdict is not CheckVerdict.PASSED:
                out.append(f"{kind} {verdict}")
        return out

    def budget(self, volts: float, u_volts: float) -> Budget:
        """The uncertainty budget of a value taken in this context."""
        return reading_budget(
            volts,
            u_volts,
            self.setup.meter.accuracy_at(abs(volts)),
            self.setup.reference_state(self.rod_volts),
        )

    def to_json(self) -> str:
        """As JSON text; `from_json` is the way back."""
        return json.dumps(
            {
                "setup": json.loads(self.setup.to_json()),
                "verdicts": dict(self.verdicts),
                "rod_volts": self.rod_volts,
            }
        )

    @classmethod
    def from_json(cls, text: str) -> Context:
        """From what `to_json` gave."""
        data = json.loads(text)
        verdicts = {CheckKind(kind): CheckVerdict(verdict) for kind, verdict in data["verdicts"].items()}
        return cls(Setup.from_json(json.dumps(data["setup"])), verdicts, data.get("rod_volts"))


def why_visits_not_comparable(one: Context | None, other: Context | None) -> str:
    """Why two values of different visits cannot be compared, in one sentence; empty when they can.

    An unstated reference is the same wire within a visit, but not in two visits.
    """
    if why := why_not_comparable(one, other):
        return why
    assert one is not None
    if one.setup.reference is None:
        return "Not comparable: against what they were read is not stated in either visit."
    return ""


def why_not_comparable(one: Context | None, other: Context | None) -> str:
    """Why two readings cannot be held against each other, in one sentence; empty when they can."""
    if one is None or other is None:
        return "Not comparable: for one of them nothing is kept of meter and reference."
    first, second = one.setup, other.setup
    if (first.reference or "") != (second.reference or ""):
        return (
            f"Not comparable: one was read against {first.reference or 'an unstated reference'}, "
            f"the other against {second.reference or 'an unstated reference'}."
        )
    if first.meter.inputs != second.meter.inputs:
        one_input, other_input = first.meter.inputs_shown(), second.meter.inputs_shown()
        return f"Not comparable: the meters' inputs differ ({one_input}; {other_input})."
    return ""
