"""States in words why the lines of a meter show no level: values take turns, or too many lines are refused.

In: what the detector found, line by line. Out: now and then a draft of a notice; `problem` as long as it lasts.
"""

from __future__ import annotations

from logger.meter.notice_draft import NoticeDraft
from logger.settling.events import Disagreement, State
from logger.translation import kept_text

NOTICE_EVERY_S = 60.0
"""What comes and goes gives one notice in this time, s."""


NO_CONTACT_VOLTS = 0.002
"""A meter whose probe has no contact shows no more than this, V: some counts. No source, ours."""


class AgreementWatch:
    """Follows whether the lines agree. Plain state."""

    def __init__(self) -> None:
        self.problem = ""
        """Why nothing is settled, in whole sentences; empty while the lines agree."""
        self._noticed_s: dict[State, float] = {}

    def poll(self, time_s: float, disagreement: Disagreement | None) -> list[NoticeDraft]:
        """Take what the detector has found by now; returns what is new.

        Args:
            time_s: now, on the recording's clock.
            disagreement: why there is no level; None while the lines agree.
        """
        if disagreement is None:
            self.problem = ""
            return []
        self.problem = describe(disagreement)
        last_s = self._noticed_s.get(disagreement.state)
        if last_s is not None and time_s - last_s < NOTICE_EVERY_S:
            return []
        self._noticed_s[disagreement.state] = time_s
        return [NoticeDraft(f"lines {disagreement.state}", self.problem)]


def describe(disagreement: Disagreement) -> str:
    """Why there is no level, and what to do, in whole sentences as the log keeps them."""
    if disagreement.state is State.REFUSED:
        return kept_text(
            "{share} of the latest lines contradict the others and were refused, so no value is settled: nobody knows "
            "which are wrong. It may be the probe's contact or the cable: check both, and the plug."
        ).format(share=f"{disagreement.refused_share:.0%}")
    *most, last = [f"{volts:.3f} V" for volts in disagreement.values_volts]
    is_contact = disagreement.values_volts[0] <= NO_CONTACT_VOLTS
    if len(most) == 1 and is_contact:
        text = kept_text(
            "Two values alternate, {values} and {last}, so no value is settled. Does the probe's contact come and go, "
            "or do two meters send at this port?"
        )
    elif len(most) == 1:
        text = kept_text(
            "Two values alternate, {values} and {last}, so no value is settled. Do two meters send at this port, or "
            "does the display show several functions in turn?"
        )
    elif is_contact:
        text = kept_text(
            "Several values come in turn, {values} and {last}, so no value is settled. Does the probe's contact come "
            "and go, or do two meters send at this port?"
        )
    else:
        text = kept_text(
            "Several values come in turn, {values} and {last}, so no value is settled. Do two meters send at this "
            "port, or does the display show several functions in turn?"
        )
    return text.format(values=", ".join(most), last=last)
