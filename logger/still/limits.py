"""Every threshold of the detector, each once. Volts and seconds are what matters to a practitioner; multiples of the
noise keep false alarms rare. DEVELOPERS.md says how each was chosen and checked."""

from __future__ import annotations

# ---- samples

BLOCK_S = 0.2
"""Faster meters are averaged to blocks of this length."""

LOWEST_VOLTS = -0.1
"""A meter near zero may show a small negative offset; anything below is not an rms voltage and is no sample."""

HIGHEST_VOLTS = 1e6
"""From here on the number stands for an overload (infinity, 9.9E37)."""

SHORTEST_GAP_S = 2.5
GAP_INTERVALS = 4.0
"""A silence longer than both is a gap: seconds, and the meter's own interval."""

CLOCK_BACK_S = 1.0
"""Times that go back by less are taken as standing still; by more, as a new stretch."""

# ---- a level is found

STILL_S = 3.0
"""Shortest window that can be called settled."""

STILL_BLOCKS = 5
RAISED_STILL_S = 5.0
"""The window when the value has crept up to above the last still level: as a raised arm does, more often than not."""

LONGEST_WAIT_S = 12.0
"""A noisy meter's level must be known to `LEVEL_U_VOLTS` before it is declared, but this long is enough."""

LEVEL_U_VOLTS = 0.005
LEVEL_U_SHARE = 0.01

TILT_VOLTS = 0.005
TILT_SIGMAS = 2.6
"""Rise of the line through the window that is still level: volts, or multiples of its standard uncertainty."""

SCATTER_VOLTS = 0.004
SCATTER_RATIO = 1.8
"""Scatter in the window that is still calm: volts, or this many times the learned noise."""

# ---- a level that only a long look can tell, in strong slow noise

LONG_WINDOWS_S = (10.0, 20.0, 30.0)
LONG_BATCH_S = 2.0
LONG_SPREAD_VOLTS = 0.04
LONG_SPREAD_SHARE = 0.04

# ---- leaving a level

DEVIATION_VOLTS = 0.010
DEVIATION_SIGMAS = 5.0
"""One block this far off ends the span."""

SHIFT_VOLTS = 0.008
SHIFT_SIGMAS = 4.5
SHIFT_LOOK_BACK = 12
"""Means over 4, 16, 64 blocks this far off end the span."""

DRIFT_VOLTS = 0.007
DRIFT_SIGMAS = 4.5
LONGEST_DRIFT_BLOCKS = 192
"""Rise along the span that makes it a drift."""

SHORTEST_BEFORE_DRIFT_S = 6.0
"""A span that was level for less than this before it drifted was never level."""

SHORTEST_SPAN_S = 2.0
SUSPECT_S = 8.0
"""A raised, gradually reached level must last this long to count."""

# ---- what it was

MOTION_VOLTS = 0.02
MOTION_SIGMAS = 6.0
STEP_VOLTS = 0.015
STEP_SIGMAS = 5.0
STEP_RISE_S = 5.0
"""A step goes from 15% to 85% within this time (a meter that averages with 2 s needs 3.5 s)."""

SHARP_S = 1.5
RESTLESS_S = 30.0
