"""Which stretch of the trace is in sight: how long it is, where it ends, and whether it follows the newest value.

No widget; times are seconds on the time line of the trace.
"""

from __future__ import annotations

from dataclasses import dataclass

from gui.model.visit_snapshot import VisitSnapshot

SPANS_S: tuple[float | None, ...] = (30.0, 120.0, 600.0, None)
"""Stretches of the trace that one key goes through; None is all of it."""

FIRST_SPAN_S = 120.0
"""The stretch that a window begins with."""

MIN_SPAN_S = 1.0
"""No stretch is shorter."""

MIN_TRACE_S = 30.0
"""A trace that has just begun is shown as if it were this long."""

MIN_LONGEST_S = 600.0
"""A stretch up to this is kept, though the trace is shorter; beyond it, all of the trace is shown."""

AHEAD_SHARE = 0.03
"""Of the stretch, left free to the right of the newest value."""

SAME_SPAN = 1.01
"""The next fixed stretch has to be longer than the present one by this factor."""


@dataclass(frozen=True, slots=True)
class ViewRange:
    """What is in sight, to come back to."""

    span_s: float | None
    following: bool
    right_s: float


class TimeWindow:
    """The stretch in sight; follows the newest value until the user looks back.

    Args:
        snapshot: what is known of the visit log: where the trace ends now.
    """

    def __init__(self, snapshot: VisitSnapshot) -> None:
        self._snapshot = snapshot
        self.span_s: float | None = FIRST_SPAN_S
        """Length that was chosen; None for all of the trace."""
        self.following = True
        self._right_s = 0.0

    @property
    def length_s(self) -> float:
        """Length of the stretch in sight."""
        # A trace that has just begun fills the picture instead of standing at its edge.
        whole_s = max(self._snapshot.now_s, MIN_TRACE_S) * (1 + AHEAD_SHARE)
        return whole_s if self.span_s is None else min(self.span_s, whole_s)

    def bounds_s(self) -> tuple[float, float]:
        """Start and end of what is in sight."""
        length_s = self.length_s
        right_s = self._newest_s(length_s) if self.following else self._right_s
        return right_s - length_s, right_s

    def set_span(self, span_s: float | None) -> None:
        """Choose the length; all of the trace (None) is always followed."""
        self.span_s = span_s
        if span_s is None:
            self.following = True

    def next_span(self) -> None:
        """Go to the next of the fixed stretches."""
        present = self.span_s
        longer = [s for s in SPANS_S if s is None or (present is not None and s > present * SAME_SPAN)]
        self.set_span(longer[0] if present is not None else SPANS_S[0])

    def zoom(self, factor: float) -> None:
        """Make the stretch longer (factor > 1) or shorter; its middle stays while the user looks back."""
        wanted_s = self.length_s * factor
        if not self.following:
            left_s, right_s = self.bounds_s()
            self._right_s = (left_s + right_s + wanted_s) / 2
        longest_s = max(self._snapshot.now_s, MIN_LONGEST_S)
        self.set_span(None if wanted_s > longest_s else max(wanted_s, MIN_SPAN_S))

    def zoom_at(self, factor: float, at_s: float) -> None:
        """Make the stretch longer (factor > 1) or shorter; a moment stays where it is in the picture.

        While the newest value stays in sight, it is followed.

        Args:
            factor: of the length.
            at_s: the moment.
        """
        left_s, right_s = self.bounds_s()
        wanted_s = max((right_s - left_s) * factor, MIN_SPAN_S)
        if wanted_s > max(self._snapshot.now_s, MIN_LONGEST_S):
            self.set_span(None)
            return
        share = (at_s - left_s) / (right_s - left_s)
        self.span_s = wanted_s
        self._place(at_s + (1.0 - share) * self.length_s)

    def pan(self, share: float) -> None:
        """Move by a share of the stretch; at the newest value it follows again."""
        self.pan_to(self.bounds_s()[1] + share * self.length_s)

    def pan_to(self, right_s: float) -> None:
        """Move so that the stretch ends there; with the newest value in sight it is followed.

        Args:
            right_s: the wanted right edge.
        """
        length_s = self.length_s
        if self.span_s is None:
            self.span_s = length_s
        self._place(right_s)

    def go_live(self) -> None:
        """Go to the newest value and follow it."""
        self.following = True

    def show_stretch(self, start_s: float, end_s: float) -> None:
        """Look at a stretch, from end to end, and stay there."""
        self.span_s = max(end_s - start_s, MIN_SPAN_S)
        self._right_s, self.following = (start_s + end_s + self.span_s) / 2, False

    @property
    def view_range(self) -> ViewRange:
        """What is in sight, to come back to."""
        return ViewRange(self.span_s, self.following, self._right_s)

    @view_range.setter
    def view_range(self, view_range: ViewRange) -> None:
        self.span_s, self.following = view_range.span_s, view_range.following
        self._right_s = view_range.right_s

    def _place(self, right_s: float) -> None:
        length_s = self.length_s
        newest_s = self._newest_s(length_s)
        first_s = min(length_s * 0.5, newest_s)
        self._right_s = min(max(right_s, first_s), newest_s)
        self.following = self._right_s >= self._snapshot.now_s

    def _newest_s(self, length_s: float) -> float:
        """The right edge of a stretch of that length that shows the newest value."""
        return self._snapshot.now_s + AHEAD_SHARE * length_s
