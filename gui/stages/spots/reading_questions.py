"""What may have to be asked before and after a reading."""

from __future__ import annotations

from dataclasses import dataclass

from gui.stages.spots.condition_actions import ConditionActions
from gui.stages.spots.round_actions import RoundActions
from gui.stages.spots.spot_actions import SpotActions


@dataclass(frozen=True)
class ReadingQuestions:
    """The questions around a reading."""

    spots: SpotActions
    """Ask for a spot where none is chosen."""
    condition: ConditionActions
    """Ask what is on where that is not known."""
    rounds: RoundActions
    """Offer the next round."""
