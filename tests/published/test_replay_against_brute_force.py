"""The vectorised replay against a plain loop written straight from the definitions."""

import math
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from app.domain.replay import Line, Replay, Trends, replay

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
    gaps = [
        b.second - a.second
        for samples in patients
        for a, b in pairwise(samples)
    ]
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


lines = st.builds(
    Line,
    st.just("alarm"),
    st.just("spo2"),
    st.sampled_from(["low", "high"]),
    st.sampled_from([89.0, 90.0, 90.5]),
    st.sampled_from([0.0, 1.0, 2.0, 5.0, 10.0]),
)


def check(found: Replay, expected: list[tuple[int, set[int]]], hours: float, step: int) -> None:
    load = found.alarms["alarm"]
    assert load.count == sum(count for count, _ in expected)
    assert load.seconds_in_alarm == sum(len(seconds) for _, seconds in expected) * step
    assert load.patients_with_alarm == sum(bool(count) for count, _ in expected)
    assert math.isclose(load.per_patient_hour, load.count / hours if hours else 0.0)


@settings(max_examples=150, deadline=None)
@given(patients(), lines)
def test_a_continuous_alarm(series: list[list[Sample]], line: Line) -> None:
    trends = recording(series, "spo2")

    found = replay(trends, [line])

    hours = sum(map(len, series)) * trends.step_s / 3600
    expected = [alarm_seconds(s, line, line.delay_s, trends.step_s) for s in series]
    check(found, expected, hours, trends.step_s)
    assert math.isclose(found.patient_hours, hours)


@settings(max_examples=150, deadline=None)
@given(patients(), lines, st.sampled_from([None, 2.0, 3.0, 10.0]))
def test_an_intermittent_alarm(
    series: list[list[Sample]], line: Line, interval_s: float | None
) -> None:
    line = Line("alarm", "nibp-systolic", line.side, line.limit, line.delay_s, intermittent=True)
    trends = recording(series, "nibp-systolic")

    found = replay(trends, [line], interval_s)

    carried = [held(samples, interval_s) for samples in series]
    hours = sum(not math.isnan(s.value) for c in carried for s in c) * trends.step_s / 3600
    expected = [alarm_seconds(c, line, 0.0, trends.step_s) for c in carried]
    check(found, expected, hours, trends.step_s)


@settings(max_examples=80, deadline=None)
@given(patients(), lines, lines)
def test_the_whole_is_the_union_of_its_lines(
    series: list[list[Sample]], first: Line, second: Line
) -> None:
    trends = recording(series, "spo2")
    other = Line("other", "spo2", second.side, second.limit, second.delay_s)

    found = replay(trends, [first, other]).all

    sounding = 0
    for samples in series:
        seconds: set[int] = set()
        for line in (first, other):
            seconds |= alarm_seconds(samples, line, line.delay_s, trends.step_s)[1]
        sounding += len(seconds)
    assert found.seconds_in_alarm == sounding * trends.step_s


def test_a_looser_limit_can_raise_the_count() -> None:
    """One long episode breaks up in two, so a count never stands alone."""
    series = [[Sample(second, value) for second, value in enumerate([85, 89, 85])]]
    trends = recording(series, "spo2")

    tight = replay(trends, [Line("alarm", "spo2", "low", 90, 0)]).alarms["alarm"]
    loose = replay(trends, [Line("alarm", "spo2", "low", 88, 0)]).alarms["alarm"]

    assert (tight.count, tight.seconds_in_alarm) == (1, 3)
    assert (loose.count, loose.seconds_in_alarm) == (2, 2)
