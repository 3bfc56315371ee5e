"""The alarm load at every limit at once, against one limit at a time."""

import numpy as np
from numpy.typing import NDArray

from app.domain.alarm_curve import Steps, Whole, alarm_curve, in_steps
from tests.bench.contests import Contest, Rival
from tests.bench.replaying import recording

DELAY = 10  # samples
LIMITS = np.arange(70, 170, dtype=np.int64)

Answer = tuple[list[int], list[int]]


def contest(samples: int) -> Contest:
    trends = recording(samples)
    values = in_steps(trends.values["heart-rate"], 1.0)
    first = trends.starts()
    starts = np.flatnonzero(first)
    return Contest(
        name="alarm curve",
        size=f"{samples:,} samples × {LIMITS.size} limits",
        ours=Rival("all limits in one pass", lambda: _at_once(values, starts)),
        others=(
            Rival("np.sum of the series", lambda: values.sum(), answers=False),
            Rival("one limit at a time", lambda: _one_by_one(values, first)),
        ),
        target="at most 16 × np.sum, at least 10 × faster than one by one",
    )


def _at_once(values: Steps, starts: Whole) -> Answer:
    curve = alarm_curve(values, starts, "high", DELAY, LIMITS)
    return curve.counts.tolist(), curve.samples_in_alarm.tolist()


def _one_by_one(values: Steps, first: NDArray[np.bool_]) -> Answer:
    found = [_at(values, first, int(limit)) for limit in LIMITS]
    return [count for count, _ in found], [sounding for _, sounding in found]


def _at(values: Steps, first: NDArray[np.bool_], limit: int) -> tuple[int, int]:
    above = values > limit
    begins = above & first
    begins[1:] |= above[1:] & ~above[:-1]
    row = np.arange(values.size)
    since = row - np.maximum.accumulate(np.where(begins, row, 0))
    return int((above & (since == DELAY)).sum()), int((above & (since >= DELAY)).sum())
