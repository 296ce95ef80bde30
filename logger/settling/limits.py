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
FIRST_STILL_S = 3.6
"""Shortest window that can be called settled; the same while the meter's noise is not known."""

STILL_BLOCKS = 5
SHARPLY_RAISED_STILL_S = 4.0
RAISED_STILL_S = 5.0
"""The window when the value has crept up to above the last still level: as a raised arm does, more often than not."""

LONGEST_WAIT_S = 12.0
"""A noisy meter's level must be known to `LEVEL_U_VOLTS` before it is declared, but this long is enough."""

LEVEL_U_VOLTS = 0.005
LEVEL_U_SHARE = 0.01

AFTER_DRIFT_STILL_S = 6.0
"""The window while a drift goes on: a slow one looks level for a while."""

TILT_VOLTS = 0.005
TILT_SIGMAS = 2.6
"""Rise of the line through the window that is still level: volts, or multiples of its standard uncertainty."""

SCATTER_VOLTS = 0.004
LEARNED_SCATTER_VOLTS = 0.0025
UNLEARNED_SCATTER_VOLTS = 0.03
UNLEARNED_SCATTER_SHARE = 0.005
LOUD_STILL_S = 6.0
ROUGH_SIGMAS = 1.645
"""While the noise is not known, more scatter than that is level only if it is rough (95% of white noise is) and that
long; more than this, never."""

LOUD_RATIO = 8.0
"""A level found so is believed only until its variance proves to be this many times what the noise is: about the 99.9%
point of F for 9 and 9 degrees of freedom."""
LOUD_CONFIRM_S = 30.0
"""Or until it has lasted this long."""

LOUDER = 1.3
LOUDEST = 3.0
SCATTER_RATIO = 1.8
SCATTER_SPREAD = 1.9
"""Scatter in the window that is still calm: volts, or this many times the learned noise."""

# ---- a level that only a long look can tell, in strong slow noise

LONG_WINDOWS_S = (10.0, 20.0, 30.0)
UNLEARNED_LONG_WINDOWS_S = (8.0, 20.0)
LONG_BATCH_S = 2.0
MIN_BATCHES = 4
LONG_SPREAD_VOLTS = 0.03
LONG_SPREAD_SHARE = 0.01
LONG_SPREAD_RATIO = 3.0
LONG_TILT_SHARE = 0.35
"""Share of the variance that a straight line may explain while the noise is not known."""

# ---- leaving a level

DEVIATION_VOLTS = 0.010
DEVIATION_SIGMAS = 5.0
"""One block this far off ends the span."""

SHIFT_VOLTS = 0.008
SHIFT_SIGMAS = 4.5
SHIFT_LOOK_BACK = 12
"""Means over 4, 16, 64 blocks this far off end the span."""

UNSURE_BLOCKS = 31.0
MAX_UNSURE_BLOCKS = 12
"""8 ln(1 / 2%): a change is certain to 98% within this many blocks over the square of its size in sigmas. They belong
to neither span."""

JUMP_SIGMAS = 4.5
OLD_JUMP_SIGMAS = 5.5
LONGEST_JUMP_BLOCKS = 160
MIN_PART_BLOCKS = 4
MAX_CORRELATION = 0.9
"""A division of the span into two levels is believed from here on; neither part is shorter. An old span has been
tested many times, and its noise is known well."""

DRIFT_VOLTS = 0.007
DRIFT_SIGMAS = 4.5
LONGEST_DRIFT_BLOCKS = 192
"""Rise along the span that makes it a drift."""

LOOKS_LIKE_DRIFT_S = 8.0
LONGEST_DRIFT_LOOK_S = 25.0
CREEP_S = 12.0
"""Two small changes the same way with less than this between them are a drift."""

TAIL_SHARE = 0.35
"""A drift that has slowed to this share was the tail of a meter's averaging."""

SHORTEST_BEFORE_DRIFT_S = 6.0
"""A span that was level for less than this before it drifted was never level."""

SHORTEST_SPAN_S = 2.0
LULL_S = 4.5
"""A rest shorter than this between two movements is part of them."""

CONFIRM_S = 8.0
HIGHER_S = 20.0
CREPT_S = 30.0
MAX_WAITING = 3
"""A span is final from then on; one above the level before it, later; one that neither a movement nor a step led to,
latest. One that ends sooner may have to wait for the next, and so many may wait."""

PAUSE_S = 6.0
"""A rest as short as this, reached gradually or while moving, is part of the movement."""

RETURN_SHARE = 0.05
BRIEF_S = 8.0
"""A higher level that is left for the one before it, to within this share of its height, was a movement if it lasted
less than this, whatever its edges."""

CRISP_S = 1.4
EDGE_SHARE = 0.2
BLUNT_S = 12.0
HUMP_S = 20.0
SHARP_S = 2.2
SHARP_SHARE = 0.6
"""The same when the middle of an edge, from `EDGE_SHARE` of the way to as much before its end, took longer than
`CRISP_S` (a meter that averages with 1 s) beyond the meter's rhythm: `BLUNT_S`; when the level was not reached to
`SHARP_SHARE` within `SHARP_S`, or several higher levels came one after the other: `HUMP_S`."""

RESTLESS_BLOCKS = 10
UNREST_SIGMAS = 3.0
DOME_SIGMAS = 3.0
"""The same at any length when it scattered more than noise (F test), or stood higher in the middle than at its ends."""

# ---- what it was

MOTION_VOLTS = 0.02
MOTION_SIGMAS = 6.0
WEAK_SIGMAS = 4.0
LONE_VOLTS = 0.05
LONE_SIGMAS = 9.0
"""A single block above the level must stand out by this to be a motion: noise has outliers."""

STEP_VOLTS = 0.015
STEP_SIGMAS = 5.0
STEP_RISE_S = 4.5
"""A step is over within this time but for its tail (a meter that averages with 2 s has gone 90% of the way)."""

EDGE_LAG_S = 0.8
EDGE_OVER_SHARE = 0.2
"""A burst of change is over when it falls below this share of its peak."""

SWITCH_REST_S = 1.6
SWITCH_APART_S = 6.0
SWITCH_UNREST_SHARE = 0.06
"""Something switched on and off again: edges at least this far apart, with rest of this length between them."""

ONSET_BLOCKS = 25
AVERAGING_S = (0.6, 1.8)
RAMP_S = (7.0, 11.0, 18.0)
RAMP_EVIDENCE = 8.0
"""Half this is the log likelihood ratio that makes a small change a ramp rather than a step."""

EDGE_OVER_USUAL = 3.0
EDGE_SIGMAS = 6.0
EDGE_MARGIN_BLOCKS = 5
TAIL_S = 8.0
FLAT_SHARE = 0.4
"""A level that itself rises by this share of the step to it is a drift's."""

SMALL_STEP_VOLTS = 0.04
SMALL_STEP_SIGMAS = 3.8
SMALL_STEP_S = 30.0
"""A change without a clean edge that is below one of these must last this long."""

RESUME_BLOCKS = 8
YOUNG_BLOCKS = 32
RESTLESS_S = 30.0
AT_LEAST_FLAT_S = 2.0
"""At the end of a trace, a level is guessed from this much."""

# ---- noise

TEACH_AFTER_S = 8.0
"""A block teaches noise only when the level has held for this long after it: a change just beginning must not."""
