"""The definitions of a replay as plain loops, one sample after the other: slow, and obvious."""

import math
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from hypothesis import strategies as st

from app.domain.trends import Line, Trends

GAP = math.nan


@dataclass(frozen=True)
class Sample:
    second: int
    value: float


def violates(line: Line, value: float) -> bool:
    return value < line.limit if line.side == "low" else value > line.limit


def held(samples: list[Sample], interval_s: float | None) -> list[Sample]:
    """Every value carried on until the next, for less than twice the interval."""
    taken = [sample for sample in samples if not math.isnan(sample.value)]
    gaps = sorted(b.second - a.second for a, b in pairwise(taken))
    if interval_s is None:
        interval_s = float(np.median(gaps)) if gaps else 0.0
    found = []
    for sample in samples:
        before = [other for other in taken if other.second <= sample.second]
        value = GAP
        if before:
            age = sample.second - before[-1].second
            if age == 0 or age < 2 * interval_s:
                value = before[-1].value
        found.append(Sample(sample.second, value))
    return found


def alarm_seconds(
    samples: list[Sample], line: Line, delay_s: float, step: int
) -> tuple[int, set[int]]:
    """(alarms raised, seconds at which the alarm sounds) of one patient."""
    count, sounding = 0, set()
    onset: int | None = None
    raised = False
    last: int | None = None
    for sample in samples:
        jumped = last is not None and sample.second - last > step
        last = sample.second
        if not violates(line, sample.value):
            onset = None
            continue
        if onset is None or jumped:
            onset, raised = sample.second, False
        if sample.second - onset >= delay_s:
            count += not raised
            raised = True
            sounding.add(sample.second)
    return count, sounding


def recording(patients: list[list[Sample]], vital_sign: str) -> Trends:
    rows = [(index, s) for index, samples in enumerate(patients) for s in samples]
    gaps = [b.second - a.second for samples in patients for a, b in pairwise(samples)]
    return Trends(
        np.array([patient for patient, _ in rows], dtype=np.int64),
        np.array([sample.second for _, sample in rows], dtype=np.int64),
        {vital_sign: np.array([sample.value for _, sample in rows], dtype=np.float64)},
        min(gaps, default=1),
    )


@st.composite
def patients(draw: st.DrawFn) -> list[list[Sample]]:
    """One to three patients, steps of 2 s with jumps, values around the limits, and gaps."""
    found = []
    for _ in range(draw(st.integers(1, 3))):
        second, samples = draw(st.integers(-5, 5)), []
        for jump, value in draw(
            st.lists(
                st.tuples(
                    st.sampled_from([1, 1, 1, 2, 4]),
                    st.sampled_from([GAP, 88.0, 89.0, 90.0, 91.0, 92.0]),
                ),
                min_size=1,
                max_size=25,
            )
        ):
            second += 2 * jump
            samples.append(Sample(second, value))
        found.append(samples)
    return found
