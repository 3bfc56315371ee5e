"""The whole alarm curve in one pass, held at every limit against the plain loop, and, where a
loop would be too slow, against the replay of one limit at a time."""

import math
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from app.domain.alarm_conditions import Side
from app.domain.alarm_curve import BLOCK, Curve, alarm_curve, in_steps
from app.domain.replay import replay
from app.domain.trends import Line, Trends
from tests.published.replay_by_loop import Sample, alarm_seconds, patients, recording

SIDES = st.sampled_from(["low", "high"])


def curve_of(
    trends: Trends, side: Side, delay_s: float, limits: list[int], block: int = BLOCK
) -> Curve:
    return alarm_curve(
        in_steps(trends.values["spo2"], 1.0),
        np.flatnonzero(trends.starts()),
        side,
        math.ceil(delay_s / trends.step_s),
        np.array(limits),
        block,
    )


@settings(max_examples=150, deadline=None)
@given(
    patients(),
    SIDES,
    st.sampled_from([0.0, 1.0, 2.0, 3.0, 4.0, 6.0, 10.0, 60.0]),
    st.sampled_from([1, 7, BLOCK]),
)
def test_every_limit_agrees_with_the_loop(
    series: list[list[Sample]], side: Side, delay_s: float, block: int
) -> None:
    trends = recording(series, "spo2")
    limits = list(range(86, 95))

    found = curve_of(trends, side, delay_s, limits, block)

    for index, limit in enumerate(limits):
        line = Line("alarm", "spo2", side, float(limit), delay_s)
        expected = [alarm_seconds(samples, line, delay_s, trends.step_s) for samples in series]
        assert found.counts[index] == sum(count for count, _ in expected)
        assert found.samples_in_alarm[index] == sum(len(seconds) for _, seconds in expected)


def long_recording() -> Trends:
    """300,000 rows with gaps, jumps and patients, some of them around multiples of 2 ** 17."""
    dice = np.random.default_rng(1927)
    size = 300_000
    jumps = np.concatenate([[2**17 - 1, 2**17, 2**17 + 1, 2**18 + 3], dice.integers(1, size, 99)])
    apart = np.ones(size, dtype=np.int64)
    apart[jumps] = 7
    values = np.rint(90 + 8 * np.sin(np.arange(size) / 50) + dice.normal(0, 2, size))
    values[dice.integers(0, size, 500)] = np.nan
    patient = np.searchsorted([40_000, 2**17 + 40, 2**18], np.arange(size), side="right")
    return Trends(patient, np.cumsum(apart), {"spo2": values}, 1)


@pytest.mark.parametrize("side", ["low", "high"])
@pytest.mark.parametrize("delay_s", [0, 1, 10, 300])
def test_a_long_recording_agrees_with_one_replay_a_limit(side: Side, delay_s: int) -> None:
    trends = long_recording()
    limits = list(range(78, 104, 3))

    found = curve_of(trends, side, delay_s, limits)

    lines = [Line(str(limit), "spo2", side, float(limit), delay_s) for limit in limits]
    loads = replay(trends, lines).alarms.values()
    assert found.counts.tolist() == [load.count for load in loads]
    assert found.samples_in_alarm.tolist() == [load.seconds_in_alarm for load in loads]


def test_time_in_alarm_only_falls_while_a_limit_loosens_but_the_count_may_rise() -> None:
    trends = recording([[Sample(second, v) for second, v in enumerate([85, 89, 85])]], "spo2")

    found = curve_of(trends, "low", 0, [90, 88])

    assert found.samples_in_alarm.tolist() == [3, 2]
    assert found.counts.tolist() == [1, 2]


def test_a_longer_delay_never_lengthens_the_alarms() -> None:
    trends = long_recording()

    in_alarm = [curve_of(trends, "high", delay, [95]).samples_in_alarm[0] for delay in range(8)]

    assert all(longer < shorter for shorter, longer in pairwise(in_alarm))
