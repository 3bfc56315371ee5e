"""Averaging before the limit: y(t) is the mean of the last n samples up to t, on the step.

With A seconds of averaging and samples s seconds apart, n is A / s rounded, at least 1; after a
missing sample or a jump the mean begins anew, with as many samples as there are. Halves are
rounded up. Long averaging hides short episodes as a delay does, and moves the others.
"""

import numpy as np
from numpy.typing import NDArray

from app.domain.alarm_curve import MISSING, Steps

Flags = NDArray[np.bool_]


def samples_averaged(averaging_s: float, step_s: int) -> int:
    return max(1, int(averaging_s / step_s + 0.5))


def averaged(values: Steps, starts: Flags, width: int) -> Steps:
    """`values` in steps; `starts` where a row does not follow the one before."""
    if width <= 1:
        return values
    there = values != MISSING
    begins = starts | ~there
    begins[1:] |= ~there[:-1]
    row = np.arange(values.size)
    first = np.maximum(np.maximum.accumulate(np.where(begins, row, 0)), row - width + 1)
    total = np.concatenate([[0], np.cumsum(np.where(there, values, 0), dtype=np.int64)])
    count = row + 1 - first
    mean = (2 * (total[row + 1] - total[first]) + count) // (2 * count)
    return np.where(there, mean, MISSING).astype(np.int16)
