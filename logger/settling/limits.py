"""Every threshold of the detector, each defined once.

Volts and seconds are what matters to a practitioner; multiples of the noise (SIGMAS) or of the meter's least count
(COUNTS) keep false alarms rare. A window's length is in blocks (BLOCKS) where a statistic needs so many values. The
README of this package has the tests that these thresholds belong to, and where the multiples come from.
"""

from __future__ import annotations

# ---- samples and blocks

BLOCK_S = 0.2
"""Seconds. Faster meters are averaged to blocks of this length."""

FULL_BLOCK_S = 0.95 * BLOCK_S
"""Seconds. A block is full from this length on: times are rounded, and a meter of five lines a second is not exact."""

LOWEST_VOLTS = -0.1
"""A meter near zero may show a small negative offset; anything below is not an rms voltage and is no sample."""

HIGHEST_VOLTS = 1e6
"""From here on the number stands for an overload (infinity, 9.9E37)."""

SHORTEST_GAP_S = 2.5
"""A silence is a gap when it is longer than this ..."""

GAP_INTERVALS = 4.0
"""... and longer than so many of the meter's own intervals."""

SLOWEST_INTERVAL_S = 10.0
SLOW_RHYTHM_INTERVALS = 2
SLOW_RHYTHM_RATIO = 1.25
"""Seconds, number, ratio. So many silences one after the other, alike up to the ratio and not longer than this, are the
rhythm of a slow meter and no gaps. A meter that sends more rarely is too slow to settle. No source."""

LATE_BACKLOG_S = 0.5
MIN_LATE_LINES = 3
LATE_USUAL_LEVELS = 2.0
"""After a gap, lines came late where more of them came at once than the meter sends in these seconds, than this number,
and than so many times what usually comes at once (some adapters send packets). No source."""

LATE_CHECK_S = 0.5
LATE_CHECK_INTERVALS = 4.0
LATE_OVER_S = 1.0
"""Seconds; the meter's intervals. The lines after a gap are held back until they came in its rhythm for so long; after
late lines for the last."""

LATE_FASTER_SHARE = 0.2
LATE_MOST_OF_SILENCE = 1.1
"""Shares. After a gap, lines come late where they come faster than in the meter's rhythm by more than this. A link has
kept no more of them than the meter sends in so many times the silence: what is more is another rhythm. No source."""

LATE_AT_ONCE_S = 2.0
"""Seconds. Lines that come late for longer do not come all at once: the user learns of it while they come."""

LATE_TOGETHER_INTERVALS = 0.05
"""The meter's intervals. Lines that come closer together are of one packet."""

LATE_LEVEL_FALL = 1.5
LATE_PACKETS = 64
LATE_PACKET_SHARE = 0.85
"""Lines; number; share. How far the level of lines at once falls in one of the meter's intervals; of so many packets
this share has no more lines than what is usual. No source."""

LATE_RHYTHM_LINES = 10
LATE_RHYTHM_SHARE = 0.02
"""Number of lines from which on the rhythm is known, and the share of the newest interval in it: about 50 lines."""

LONGEST_BRIDGED_S = 60.0
"""Seconds. Levels on both sides of a gap or an overload are compared up to this length; beyond it the visit may have
moved on, to another spot or meter."""

UNSEEN_POSTURE_SHARE = 0.1
"""Share of the higher level by which they must differ to be a step: what a body that shifted meanwhile, unseen, does
not explain. Twice the half-width of a posture that was left and taken up again."""

CLOCK_BACK_S = 1.0
"""A time that goes back by up to this counts as the time before it; by more, it starts a new stretch."""

RUNNING_MEAN_SHARE = 0.1
"""Share of the newest value in the running means of the meter's interval and of the samples in a block."""

MAX_RHYTHM_INTERVALS = 3.0
"""An interval counts into the meter's rhythm as so many usual ones at most: a missing line is no new rhythm."""

MIN_BLOCK_SIZE_RATIO = 0.55
MAX_BLOCK_SIZE_RATIO = 1.8
"""Outside these ratios of samples in a block, now to when the noise was learned, the noise is rescaled."""

KEEP_BLOCKS = 512
"""At least this many blocks can be looked back at (100 s at 5 blocks/s, 200 s at 2.5)."""

TIME_ROUNDING_S = 1e-6
"""Seconds. Times that differ by less are equal, but for rounding."""

# ---- the meter's noise and its least count

SCALES = (1, 4, 16, 64)
"""Blocks. Means over so many have a variance of their own each: it falls with the number for white noise, and does not
for breathing, beats and a meter's averaging, which are learned so without a model of any of them."""

TEACH_BLOCKS = SCALES[1]
"""Noise is taught by so many blocks at a time."""

TEACH_AFTER_S = 8.0
"""Seconds. A block teaches noise only when the level has held for this long after it: a change just beginning must not
teach its own rise."""

CARRY_OVER = 0.4
"""Share of the variance that is assumed to remain from one scale to the next (four times the blocks) until it is
learned, unless the correlation of neighbours leaves more. White noise leaves 0.25."""

MAX_LEARNED_CORRELATION = 0.95
"""Correlation of neighbours that first-order noise is taken to have at most."""

PRIOR_WEIGHTS = (2.0, 4.0, 4.0, 4.0)
"""Weight, in values, of what is assumed at each scale."""

MAX_WEIGHTS = (500.0, 200.0, 100.0, 50.0)
"""Weight, in values, that the past has at most at each scale: the noise of last hour is forgotten."""

RESCALED_WEIGHT = 20.0
"""Weight, in values, that the past has at most after the meter's rate has changed (over the scale)."""

SETTLED_WEIGHT = 20.0
"""From this weight on a new window may raise the variance to `MAX_WINDOW_RATIO` times what is learned at most, and a
correlation is averaged over at least so many values."""

MAX_WINDOW_RATIO = 2.0
"""Ratio of variances; see `SETTLED_WEIGHT`."""

CLIP_VARIANCES = 9.0
"""A square larger than this many variances counts as this many: an unnoticed event must not teach noise."""

MIN_NOISE_VOLTS = 0.0005
"""Volts. Deviations this small are never too large to be noise."""

KNOWN_BLOCKS = 4
"""The noise counts as known from this many blocks on."""

YOUNG_WEIGHT = 48.0
"""Below this weight the variances are worked out anew with every batch, then with every fourth."""

QUIETER = 6.0
"""A variance this many times below the learned one is believed instead: the meter is as quiet as the trace ever was."""

LATELY_BLOCKS = 24.0
"""Blocks that the running mean of squares covers in which `QUIETER` is looked for."""

LATELY_RATIO = 2.0
"""Ratio to that running mean of the variance that is then begun with, by way of caution."""

LEARNED_WEIGHT_RATIO = 2.0
"""A scale counts as learned when its weight is so many times that of what is assumed."""

LONG_RUN_BLOCKS = (32, 128)
"""Blocks. Windows from these lengths on have their variance of a mean from the scales 2 and 3."""

INFLATION_BLOCKS = 8
"""Blocks. Windows shorter than this are taken as white."""

MEAN_BLOCKS = (8, 32)
"""Blocks. Means of a level over so many have their variance from the scales 2 and 3."""

COARSEST_COUNT_VOLTS = 0.01
"""Volts. The largest least count that is assumed until the values have shown a coarser one often."""

FINEST_COUNT_VOLTS = 1e-5
"""Volts. Values on a finer grid count as not on a grid: no meter for this job resolves it."""

COUNT_DIFFERENCES = 60
"""Differences of values that are looked at in one go to learn the count."""

COARSE_COUNT_DIFFERENCES = 12
"""Differences after which even a coarse count is believed."""

# ---- the uncertainty of a level that is reported

FASTEST_WANDER_S = 0.3
SLOWEST_WANDER_S = 35.0
WANDER_TIMES = 12
"""Seconds, number. The grid of correlation times of a wandering value, equal ratios apart. What is faster is
independent from block to block; what is slower is a drift within a span, and is allowed for by the slowest."""

SLOWER_IS_LIKELIER = 0.7
"""The prior probability of a correlation time grows with this power of it: a span shows little of what is as slow as
itself, and an uncertainty that is too small does more harm than one that is too large."""

WANDER_SHARES = ((0.15, 0.05), (0.4, 0.1), (0.7, 0.15), (0.9, 0.2), (0.97, 0.2), (1.0, 0.3))
"""Shares of a block's variance that may wander, each with its prior probability. They are close together near the
whole: rounding to the meter's count adds a little that is independent to what wanders as a whole."""

BREATHING_PERIODS_S = (2.5, 3.2, 4.0, 5.0, 6.3)
BREATHING_KEPT_S = 12.0
BREATHING_PRIOR = 0.1
"""Seconds, probability. Periods of somebody's breathing, the time over which it keeps its pace, and the prior
probability that it shows. It averages out over a few breaths, where slow wandering of the same scatter does not."""

STEADY_PRIOR = 0.5
"""Prior probability that nothing wanders. No source: with these priors white noise is stated 1.2 to 1.4 times as wide
as it would have to be if it were known to be white, and first-order noise of 8 s is covered in a first span of 14 s."""

WANDER_KEPT = 0.9
WANDER_LEARNED_SHARE = 0.3
LEAST_LOG_LIKELIHOOD = -30.0
"""Shares of what was learned that are kept with each further span, and that count in the next one: a body need not
wander as it did, so earlier spans count less. No shape is ever ruled out further than by the third."""

WANDER_BLOCKS = 400
WANDER_POINTS = 96
"""Blocks, number. Only so many of a span's latest blocks are looked at, averaged to so many points at most."""

SMALLEST_WEIGHT = 1e-4
"""Shapes less probable than this are left out."""

NEIGHBOURING_COUNTS = 1.001
"""Counts. A span that ranges over no more showed two neighbouring values only."""

REPORT_GROWTH = 0.05
"""The uncertainty of a growing span is worked out anew when the span has grown by this share."""

MAX_SIGMAS = 6.0
SIGMA_STEPS = 600
"""Standard deviations, number. The normal distribution is tabulated up to the first in so many steps."""

COVERING_CANDIDATES = 24
"""Half-widths that are tried at once; what is between two of them is interpolated."""

LONGEST_HOLD_S = 90.0
"""Seconds. Nobody is asked to hold still for longer than this in all."""

LENGTH_RATIO = 0.94
INTERVAL_STEP = 0.1
"""Ratio of one number of points to the next, and logarithm of the ratio of intervals, for which the shapes are worked
out: they are kept, and each is good for what is a little longer or slower."""

COVERED = 0.9545
"""Probability within k = 2 for a normal distribution (GUM 6.3.3). The reported u is half of what covers the level with
this probability, so that k = 2 covers whatever the number of independent pieces."""

# ---- a level is found

STILL_S = 3.0
"""Seconds. Shortest window that can be called settled."""

FIRST_STILL_S = 3.6
"""Seconds. The same while the meter's noise is not known."""

STILL_BLOCKS = 5
"""Blocks that such a window holds at least."""

SHARPLY_RAISED_STILL_S = 4.0
"""Seconds. The window when the value has jumped to above the level before: a higher level has to prove itself."""

RAISED_STILL_S = 5.0
"""Seconds. The window when it has crept up there: as a raised arm does, more often than not."""

RAISED_SIGMAS = 3.0
"""A level is above another when it is higher by this, and by `STEP_VOLTS`."""

LONGEST_WAIT_S = 12.0
"""Seconds. A noisy meter's level must be known to `LEVEL_U_VOLTS` before it is declared, but this long is enough."""

LEVEL_U_VOLTS = 0.005
LEVEL_U_SHARE = 0.01
"""Standard uncertainty that a level may have when it is declared: volts, or this share of it. A reading good to 12 mV
or 2 % has to be worth taking."""

AFTER_DRIFT_STILL_S = 6.0
"""Seconds. The window while a drift goes on: a slow one looks level for a while."""

DRIFT_LEFT_SHARE = 0.5
"""After a drift a window is level when its own slope is certainly below this share of the drift's."""

DRIFT_LEFT_SIGMAS = 2.0
"""Standard uncertainties of the slope that make it certain."""

DRIFT_LEFT_COUNTS = 0.4
"""Counts. Standard uncertainty of a window's rise that the meter's count alone leaves."""

DRIFT_WINDOW_GROWTH = 4
"""The window is lengthened to at most so many times its length in one go."""

LONGEST_DRIFT_LOOK_S = 25.0
"""Seconds. Up to this length a longer window is looked at to tell a slow drift from a level."""

TILT_VOLTS = 0.005
TILT_SIGMAS = 2.6
"""Rise of the line through a window that is still level: volts, one count, or multiples of its standard uncertainty.
2.6 refuses 1 % of the level windows, which costs a block each."""

SCATTER_VOLTS = 0.004
"""Volts. Scatter of a window that is calm whatever the meter, while the noise is not known."""

LEARNED_SCATTER_VOLTS = 0.0025
"""Volts. The same once the noise is known."""

CALM_COUNTS = 0.6
"""Counts. Scatter that rounding to the meter's count alone may make."""

SCATTER_SPREAD = 1.9
"""A window of n blocks is calm up to 1 + this / sqrt(n) times the learned noise: the 99 % point of a standard deviation
of white noise."""

SCATTER_CAUTION = 3.0
"""The same bound is wider by 1 + this / weight while the noise is known from few values."""

WINDOW_RANGE_SIGMAS = 4.5
"""A window whose highest and lowest block are further apart than this many times the calm scatter is not level."""

LOUDER = 1.3
"""Noise that may have grown with the level by more than this ratio is held against the jitter of the window too."""

LOUDER_JITTERS = 1.5
"""Ratio to the jitter of neighbours up to which scatter is then calm: a movement is smoother than noise."""

HIDDEN_COUNTS = 0.25
"""Standard deviation in counts of noise that all but never moves the last digit, where the level is in its middle."""

LOOKS_FLAT_S = 4.0
LOOKS_FLAT_SHARE = 0.025
"""A trace that ranged over less than this share of its level for so many seconds looks flat. While it has yet to prove
a level, it is said to settle, not to change. No source."""

HELD_SHARE = 0.5
HELD_COUNTS = 3.0
"""Of the level at which noise was learned: at a lower one it may be hidden by the digits. At this share and above,
digits that stand still where the standard deviation was so many counts are held: four in a row are alike by chance once
in 500 times (Gaussian). No source."""

GROWN_SHARE = 0.004
GROWN_STILL_S = 5.0
GROWN_BEND_SHARE = 0.7
"""What has grown with the level and is smooth may be somebody's breathing: up to this share of the level, in a window
of so many seconds, which holds a breath, and where a parabola explains less of it than the last: the top of a movement
is one arch, breathing is a wave. Breathing of 0.4 % to either side is 0.28 % of the level. No source."""

LOUDEST = 3.0
"""Ratio by which noise may have grown with the level: what modulates a voltage grows with it ..."""

BREATHING_SHARE = 0.015
"""... and it may have grown further, up to this share of the level: breathing of 1.5 % to either side has a standard
deviation of 1.1 % of the level, and its depth varies."""

UNLEARNED_SCATTER_VOLTS = 0.03
UNLEARNED_SCATTER_SHARE = 0.005
"""Scatter, in volts or as a share of the level, above which no window is level while the noise is not known."""

LOUD_STILL_S = 6.0
"""Seconds. Between `SCATTER_VOLTS` and that, a window is level only when it is this long and rough."""

ROUGH_SIGMAS = 1.645
"""A window is rough when von Neumann's ratio is above this 5 % point of white noise."""

FIRST_RISE_SHARE = 0.7
"""Where a line explains more of the first window's variance, and what is left is rough, only that is taken for noise:
breathing leaves something smooth, a drift does not."""

LOUD_RATIO = 8.0
"""A level found so counts only until its variance proves to be this many times what the noise is: about the 99.9 %
point of F for 9 and 9 degrees of freedom."""

LOUD_CONFIRM_S = 30.0
"""Seconds. Or until it has lasted this long."""

LOUD_START_BLOCKS = 2
"""Blocks by which the quiet end of such a level must be shorter than the whole, for its start to be cut off."""

REACH_SIGMAS = 2.0
"""A level found reaches back over the blocks that are within this of its window's mean."""

MIN_REACH_SIGMA_VOLTS = SCATTER_VOLTS / 3
"""Volts. Standard deviation that the reach is reckoned with at least."""

SEARCH_LOUD_BLOCKS = 4
SEARCH_LATE_BLOCKS = 2
"""Blocks. A level is looked for at every fourth block while none is possible, at every second one once the transition
has gone on for `CHANGING_LONG_S` or drifts: somebody who has waited so long does not mind another block."""

CHANGING_LONG_S = 30.0
"""Seconds. A transition that has gone on for this long is shown as such, with what to do."""

LOOKS_LIKE_DRIFT_S = 8.0
"""Seconds. A trace that is one slope for this long, longer than a meter's averaging takes, is shown as drifting."""

LOOKS_LIKE_DRIFT_VOLTS = 2 * TILT_VOLTS
"""Volts. Rise over that time from which on it is."""

LOOKS_LIKE_DRIFT_SCATTER = 1.8
"""Ratio to the calm scatter up to which the trace may scatter about that slope."""

# ---- a level that only a long look can find, in strong slow noise

LONG_WINDOWS_S = (10.0, 20.0, 30.0)
"""Seconds. Windows that are looked at in turn. A noisier meter is believed from the second on, for a raised level from
the third."""

UNLEARNED_LONG_WINDOWS_S = (8.0, 20.0)
"""Seconds. The same while the noise is not known."""

LONG_LOOK_BLOCKS = 4
"""Blocks. One of the windows is looked at with every fourth block."""

STATIONARY_BLOCKS = 240
STATIONARY_LOOK_BLOCKS = 16
STATIONARY_SHARE = 0.025
"""Blocks of a window that may show a level noisier than any before it (48 s at 5 lines/s, 2 min at 2); it is looked at
with every so many blocks. In it hold, for noise of any height up to this share of the level:"""

STATIONARY_ROUGH_SIGMAS = 2.0
STATIONARY_SIGMAS = 2.5
STATIONARY_PEAK_SIGMAS = 4.0
STATIONARY_PARTS = 4
"""roughness, within the first number of standard uncertainties of what it is for white noise; skewness, and the mean
and spread of each quarter, within the second; and no block further off than the third."""

SLOWEST_STATIONARY_S = 0.55
"""Seconds from block to block beyond which nothing is found so: a movement of a second is as rough there as noise."""

LONG_LOOK_S = LONG_WINDOWS_S[0] + 1.0
"""Seconds. A level found in a longer window than this was found by a long look."""

LONG_BATCH_S = 2.0
MIN_BATCHES = 4
"""Seconds, number. What scatters in a long look are the means of batches of this length; it needs so many."""

MIN_BATCH_BLOCKS = 2
"""Blocks that such a batch holds at least."""

LONG_SPREAD_VOLTS = 0.03
LONG_SPREAD_SHARE = 0.01
"""How far the blocks may scatter while the noise is not known: volts, or this share of the level."""

LONG_SPREAD_RATIO = 3.0
"""How far they may once it is, as a multiple of it: a meter that has become noisier is believed after a while."""

LONG_RANGE_SIGMAS = 8.0
LONG_PEAK_SIGMAS = 4.0
"""Multiples of the allowed scatter that the range of the window may have at most, and of the scatter that its highest
block may be above the mean: a level has no peaks."""

LONG_TILT_SHARE = 0.35
"""Share of the variance that a straight line may explain while the noise is not known."""

LONG_BEND_SHARE = 0.85
"""Share that a parabola may: the turn of a triangle is explained to 94 %, first-order noise whose correlation time is
a third of the window mostly to less than 70 %. It is a trend that turns, not noise, and must not teach its own rise."""

# ---- the lines agree on one level

ALTERNATION_D = 5.0
"""Ashman's D from which on two groups of samples are two values. Cut in two, Gaussian noise has 2.7, a ramp 3.5, a sine
4.1, with or without the meter's beat against the mains; two values with noise s at a distance of 5 s have 5."""

SURE_ALTERNATION_SAMPLES = 32
SURE_ALTERNATION_D = 5.0, 160.0
"""Samples from which on, and Ashman's D (this, and the second number over the count of samples) above which, values are
told to alternate. Of 32 samples of white noise that come to each side of their widest gap `SURE_VISITS` times, D > 5
has one set in 14,000, D > 6 one in 600,000, and each further unit makes it ten times as rare: above 10 less than one
in 1e9 (Gaussian, also in coarse counts; uniform noise, the worst, less than one in 1e7). A night has at most some
10,000 such looks. Our simulation, no source."""

MIN_ALTERNATION_SAMPLES = 10
MIN_VISITS = 3
SURE_VISITS = 6
"""Samples that are looked at, at least; and how often they come to each value: to refuse a level, and to state that
values alternate where the trace is not level anyway. A movement crosses a gap once or twice."""

MAX_ALTERNATING_VALUES = 8
"""Values that are looked for: some meters, or the functions of one display. More are named as so many."""

ALTERNATION_SHARE = 2 * LEVEL_U_SHARE
"""Share of their mean by which values are apart that alternate, and `STEP_VOLTS`: the mean of closer ones is off either
by less than the uncertainty that a level may have."""

FASTEST_BREATH_S = 2.2
SLOW_ALTERNATION_SHARE = 0.05
"""Values that come no more often than somebody breathes (seconds, see `BREATHING_PERIODS_S`), fewer than `SURE_VISITS`
times, must be further apart than breathing moves the level: 1.5 % as a standard deviation is 4.2 % from the lowest to
the highest. Breathing does not keep in step with a meter for so many breaths (`BREATHING_KEPT_S`)."""

NEIGHBOURING_GAP_COUNTS = 1.5
MAX_DECIMALS = 6
"""Counts; decimals of a volt. Neighbouring values of the display are no two values: a level between them toggles."""

MIN_ALTERNATION_BLOCKS = 12
"""Blocks. No fewer are looked at before a level is found, where there are so many: of a slow meter each is a sample."""

ALTERNATION_BLOCKS = 32
ALTERNATION_EVERY_BLOCKS = 16
"""Blocks. So many are looked at, as often as this, in a trace that is not level and in a span that grows."""

SLOW_ALTERNATION_BLOCKS = (ALTERNATION_BLOCKS, 64, 160)
"""Blocks. So many are looked at in a trace that is not level: in 32 s values that stay for 2.6 s each come
`SURE_VISITS` times, and one that stays for longer is soon a level by itself."""

MAX_FROZEN_SHARE = 0.5
"""Of a settled span of which a larger share shows a frozen display (see `FrozenValue`) only the rest is left."""

MAX_FROZEN_STRETCHES = 64
"""So many frozen stretches are remembered: each lasts for a minute at least."""

KEEP_SAMPLES = 1024
"""At least this many samples can be looked back at (10 s at 100 lines/s)."""

MAX_REFUSED_SHARE = 0.15
REFUSED_WINDOW_S = 10.0
"""No level is found while a larger share of the lines of the last seconds is refused: where one byte is lost in half of
the lines, nobody knows which half is damaged. A bad cable loses some per cent. No source."""

MIN_REFUSED_LINES = 4
"""So few refused lines are no share."""

LONGEST_REFUSED_S = 0.8
REFUSED_INTERVALS = 2.5
"""Where only refused lines came for longer than these seconds, and than so many of the meter's intervals, the voltage
was not seen, as in a gap: no span goes on through it. A meter that sends AC and DC volts in turn stays below."""

# ---- leaving a level

STEP_VOLTS = 0.015
"""Volts. The smallest change of level that is told from none."""

DEVIATION_VOLTS = 0.010
DEVIATION_COUNTS = 1.6
DEVIATION_SIGMAS = 5.0
"""One block this far off ends the span: 5.7e-7 a block for Gaussian noise. Two levels closer than the volts agree."""

FEW_VALUES_WIDENING = 4.0
"""The limit is wider by 1 + this / weight while the noise is known from few values, as Student's t is."""

YOUNG_BLOCKS = 32
YOUNG_CHECK_BLOCKS = 2
CHECK_BLOCKS = 4
"""A span is checked with every second block up to the first of these lengths, then with every fourth."""

SHIFT_VOLTS = 0.008
SHIFT_COUNTS = 0.8
SHIFT_SIGMAS = 4.5
"""Means over 4, 16, 64 blocks this far off the mean of the rest end the span."""

SHIFT_TURNS = (4, 4, 4, 2)
"""How often in its length the mean over each of `SCALES` is looked at."""

SHIFT_WINDOWS = 2
"""The span must be so many times as long as the mean, and the change is looked for that far back."""

SHIFT_LOOK_BACK = 12
"""Blocks. How far back the change is looked for that one block gave away."""

ONSET_LEAN_SIGMAS = 1.5
"""Blocks before the change that lean the same way by this belong to it: a body starts gently."""

UNSURE_BLOCKS = 31.0
"""8 ln(1 / 2 %): a change is certain to 98 % within this many blocks over the square of its size in sigmas, since its
likelihood falls by exp(-d^2 / 8) a block. They belong to neither span."""

MAX_UNSURE_BLOCKS = 12
"""Blocks that are left out so at most."""

MAX_UNSURE_DIVISOR = 4
"""And at most this part of the span: a quarter."""

JUMP_COUNTS = 1.2
JUMP_SIGMAS = 4.5
OLD_JUMP_SIGMAS = 5.5
"""A division of the span into two levels is believed from here on, and from `STEP_VOLTS`. An old span has been tested
many times, and its noise is known well."""

LONGEST_JUMP_BLOCKS = 160
"""Blocks. Only so many of the span are looked at, and a longer span is old."""

MIN_PART_BLOCKS = 4
"""Blocks. Neither part of a span that is divided is shorter."""

JUMP_PARTS = 4
"""A span is divided when it has so many times the shortest part."""

JUMP_TEST_GROWTH = 1.2
JUMP_TEST_DIVISOR = 4
"""A span is tested for a division each time it has grown by this ratio; beyond the longest, by this part of it."""

JUMP_CORRELATION_CAUTION = 1.5
"""The correlation of n neighbours is taken to be larger by this / sqrt(n)."""

MAX_CORRELATION = 0.9
"""And this at most."""

DRIFT_VOLTS = 0.007
DRIFT_COUNTS = 1.5
DRIFT_SIGMAS = 4.5
"""Rise along the span that makes it a drift."""

LONGEST_DRIFT_BLOCKS = 192
"""Blocks. Only so many of the span are looked at."""

FIRST_DRIFT_TEST_BLOCKS = 12
"""Blocks. A span is tested for a drift and for a division from this length on."""

DRIFT_TEST_GROWTH = 1.4
DRIFT_TEST_GROWS_TO_BLOCKS = 96
DRIFT_TEST_BLOCKS = 32
"""It is tested for a drift each time it has grown by this ratio; from the second length on, with every so many blocks
more."""

DRIFT_PARTS_BLOCKS = 64
"""Blocks. From this length on its latest half and quarter are tested too."""

DRIFT_HEAD_DIVISOR = 4
"""The level before a drift is that of this part of the span: its first quarter."""

TAIL_SHARE = 0.35
"""A drift that has slowed to this share was the tail of a meter's averaging."""

TAIL_STILL_S = STILL_S / 2
TAIL_VOLTS = TILT_VOLTS / 2
"""The half after such a tail has lasted this long, and rises by the volts at most."""

SHORTEST_BEFORE_DRIFT_S = 6.0
"""Seconds. A span that was level for less than this before it drifted was never level."""

CREEP_S = 12.0
"""Seconds. Two small changes the same way with less than this between them are a drift."""

CREEP_VOLTS = 2 * STEP_VOLTS
CREEP_COUNTS = 2.5
"""A change is small up to this: volts, or counts."""

CREEP_SIGMAS = 2.0
"""A change, or a rise, is one from this many standard uncertainties on."""

CREEP_LATEST_BLOCKS = 2
"""Blocks after a span that show where it went on to."""

MIN_LINE_BLOCKS = 3
"""Blocks. A line, or a level, is put through no fewer."""

# ---- a brief excursion: back on the level at once

RESUME_BLOCKS = 8
"""Blocks. A span is resumed within this many of its end or not at all."""

RESUME_SIGMAS = 2.5
RESUME_BACK_BLOCKS = 2
EXCURSION_BLOCKS = 2
"""It is resumed when the latest two blocks or more are within this of its level, and no more than two are not."""

LONGEST_EXCURSION_S = 5.0
"""Seconds. Two spans at one level are one span where the voltage was off it for no longer in between: a breath held
and let go. A swing over tens of seconds comes back to its crest as well, and is no level."""

MAX_LEFT_OUT_SHARE = 0.2
LEFT_OUT_VOLTS = 0.001
"""Nor are they one where more than this share of the blocks would be left out, or where those would move the mean by
more than the volts and than its uncertainty. What is left out and moves it by less is in the reported uncertainty."""

MIN_STRAY_VOLTS = SCATTER_VOLTS / 2
"""Volts. How far a block is taken to stray at least."""

# ---- a span is final

CONFIRM_S = 8.0
"""Seconds. A span is final from this length on ..."""

FIRST_CONFIRM_S = 12.0
"""... the first one of a stretch from this one ..."""

HIGHER_S = 20.0
"""... one above the level before it from this one ..."""

CREPT_S = 30.0
"""... and one that neither a movement nor a step led to from this one. One that ends sooner may have to wait for the
next."""

MAX_WAITING = 3
"""Number of spans that may wait so."""

MIN_SPAN_BLOCKS = 2
"""Blocks. Less than this cannot be left of a span that ends: it was none."""

SHORTEST_SPAN_S = 2.0
"""Seconds. A span that ends up shorter than this is none."""

LULL_S = 4.5
"""Seconds. A rest shorter than this between two movements is part of them."""

PAUSE_S = 6.0
"""Seconds. A rest as short as this, reached gradually or while moving, is part of the movement."""

# ---- a level proves to have been a movement

BRIEF_S = 8.0
"""Seconds. A higher level that is left for the one before it was a movement if it lasted less than this, whatever its
edges: a rise that returned."""

BLUNT_S = 12.0
"""Seconds. The same when the middle of an edge was blunt."""

HUMP_S = 20.0
"""Seconds. The same when it was reached gradually, or several higher levels came one after the other."""

RETURN_SHARE = 0.05
RETURN_SIGMAS = 3.0
"""The level after it is the one before it to within this share of its height, this many standard uncertainties, or
`DEVIATION_VOLTS`."""

CRISP_S = 1.4
EDGE_SHARE = 0.2
"""An edge is blunt when its middle, from this share of the way to as much before its end, took longer than these
seconds (a meter that averages with 1 s) beyond the meter's rhythm."""

SHARP_S = 2.2
SHARP_SHARE = 0.6
"""A level was reached gradually when it took longer than these seconds, beyond the meter's rhythm, to come this share
of the way."""

UNREST_BLOCKS = 10
"""Blocks. From this length on a raised span is tested for unrest and for a dome."""

UNREST_CHECK_BLOCKS = 4
"""Blocks. A raised span that is young is tested for unrest in every so many."""

UNREST_SIGMAS = 3.0
"""A movement at any length scatters more than noise by this (F test)."""

MIN_UNREST_VOLTS = LEARNED_SCATTER_VOLTS / 2
"""Volts. Scatter that is never unrest."""

DOME_SIGMAS = 3.0
"""Or its middle third is above the others by this, and by `TILT_VOLTS`: a level is no dome."""

# ---- what happened between two levels

MOTION_VOLTS = 0.02
MOTION_COUNTS = 2.0
MOTION_SIGMAS = 6.0
"""A rise of one block above both levels that no noise explains."""

WEAK_SIGMAS = 4.0
"""From here on blocks that are not enough alone are added up, against `MOTION_SIGMAS`."""

MOTION_EDGE_SIGMAS = 3.0
"""A motion begins and ends with the first and last block that is this far above, or by `DEVIATION_VOLTS`."""

LONE_VOLTS = 0.05
LONE_SIGMAS = 9.0
"""A single block above the level must stand out by this to be a motion: noise has outliers."""

STEP_SIGMAS = 5.0
"""Two levels are different for certain from this many standard uncertainties on, and from `STEP_VOLTS`."""

REROUNDED_SIGMAS = 2.0
"""Two levels in two ranges of the meter are one level where they differ by half the coarser digit and so many u."""

SAME_DIGIT_RATIO = 2.0
"""Last digits are worth powers of ten of each other; less than this ratio is a rounding error."""

SAME_LEVEL_SIGMAS = 2.0
"""Two levels agree within this many standard uncertainties, or within `DEVIATION_VOLTS`."""

FLAT_SHARE = 0.4
"""A level that itself rises by this share of the step to it is a drift's."""

EDGE_COUNTS = 1.6
EDGE_SIGMAS = 6.0
"""A jump is at least this large, and `STEP_VOLTS`."""

EDGE_LAG_S = 0.8
"""Seconds over which the change is looked at that jumps are found in."""

STEP_RISE_S = 4.5
"""Seconds. A step is over within this time but for its tail (a meter that averages with 2 s has gone 90 % of it)."""

EDGE_OVER_SHARE = 0.2
"""A burst of change is over when it falls below this share of its peak."""

EDGE_OVER_USUAL = 3.0
EDGE_ABOVE_USUAL = 1.5
"""A jump is larger than this many times the path's usual change, and exceeds the least jump by so many times it."""

EDGE_ABOVE_EBB = 1.5
"""A burst the same way as the last exceeds the least jump by this many times the ebb between: a tail is no jump."""

MIN_INTERVAL_S = 1e-3
"""Seconds between two blocks of a path, at least: many may have one time."""

EDGE_MARGIN_BLOCKS = 5
"""Blocks before a transition that its path includes."""

TAIL_S = 8.0
"""Seconds. When the span comes within this of the last jump, its level is what the jump led to."""

SWITCH_LEVEL_BLOCKS = 5
"""Blocks before the next jump that the level between two jumps is taken from."""

SWITCH_REST_S = 1.6
SWITCH_APART_S = 6.0
"""Seconds. Something switched on and off again: edges at least this far apart, with rest of this length between."""

SWITCH_REST_SHARE = 0.8
"""Share of the longer edge that the rest lasts at least."""

SWITCH_UNREST_SHARE = 0.06
SWITCH_UNREST_SIGMAS = 5.0
"""Share of the smaller jump, or multiple of the noise, by which the rest between two may move back."""

SWITCH_TAIL_ALLOWANCE = 2.0
"""Multiple of that by which the second half of the rest may go on: a meter's averaging still creeps."""

SWITCH_LEAD_DIVISOR = 4
"""This part of a jump's blocks before it belongs to it: their change is too small to have been counted."""

ONSET_BLOCKS = 25
"""Blocks on either side of a change without a clean edge that are fitted."""

AVERAGING_S = (0.6, 1.8)
"""Seconds. Averaging of meters that a step is tried with, besides none."""

NO_AVERAGING_S = 1e-3
"""Seconds. Averaging that is none."""

STEP_SHIFTS = (0.0, 0.5, 1.0)
"""How many averaging times before the change is seen the step is tried."""

RAMP_S = (7.0, 11.0, 18.0)
"""Seconds. Lengths of the ramps that are tried against it."""

RAMP_SHIFTS = (0.25, 0.5, 0.75)
"""Which share of a ramp is before the change."""

RAMP_EVIDENCE = 8.0
"""Twice the log likelihood ratio that makes a small change a ramp rather than a step."""

SMALL_STEP_NOISE_COUNTS = 0.25
SMALL_STEP_NOISE_VOLTS = 1e-4
"""Noise that this is reckoned with at least."""

SMALL_STEP_VOLTS = 0.04
SMALL_STEP_SIGMAS = 3.8
SMALL_STEP_S = 30.0
"""A change without a clean edge that is below one of these must last this long (seconds)."""

HIDDEN_STEP_FLAT_SHARE = 0.2
HIDDEN_STEP_BLOCKS = 2 * EDGE_MARGIN_BLOCKS
HIDDEN_STEP_MIN_BLOCKS = 3 * EDGE_MARGIN_BLOCKS
"""The level had changed before a movement when the last of so many blocks before it ranged over less than this share
of the change."""

AT_LEAST_FLAT_S = 2.0
AT_LEAST_FLAT_BLOCKS = 3
MAX_FLAT_BLOCKS = 12
FLAT_SIGMAS = 6.0
"""At the end of a trace a level is guessed from this many seconds, within these numbers of blocks, that range over less
than so many sigmas or `DEVIATION_VOLTS`."""

MIN_UNFINISHED_BLOCKS = 2
"""Blocks. A transition that is shorter when the trace ends was nothing."""
