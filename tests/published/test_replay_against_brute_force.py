"""The vectorised replay against a plain loop written straight from the definitions."""

import math

from hypothesis import given, settings
from hypothesis import strategies as st

from app.domain.replay import Replay, replay
from app.domain.trends import Line
from tests.published.replay_by_loop import Sample, alarm_seconds, held, patients, recording

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
