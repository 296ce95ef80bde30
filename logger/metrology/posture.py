"""How well a body repeats its value, as shares of the value. No source; the shares are ours.

The body's voltage depends on its posture. How much a repeated value may differ depends on what happened in between.
"""

from __future__ import annotations

STILL_SHARE = 0.02
"""Half-width for a body that lies still for minutes while somebody goes to the panel and back. It is part of every
reading's uncertainty when readings are combined."""

TAKEN_UP_AGAIN_SHARE = 0.05
"""Half-width for a posture that is left and taken up again, at best: the values before and after the reference was
improved must agree within it, and it is part of a comparison of two visits."""

STEP_SCATTER_SHARE = 0.15
"""Steps of one thing that scatter by no more than this share of their mean (standard deviation) differ by the posture:
that changes how much the thing gives, and does not contradict its giving something."""
