"""Averaging, hysteresis and latching against plain loops, each alone and all together."""

from dataclasses import replace

from hypothesis import given, settings
from hypothesis import strategies as st

from app.domain.replay import replay
from app.domain.trends import Line
from tests.published.habits_by_loop import averaged, sounding
from tests.published.replay_by_loop import GAP, Sample, patients, recording

lines = st.builds(
    Line,
    st.just("alarm"),
    st.just("spo2"),
    st.sampled_from(["low", "high"]),
    st.sampled_from([89.0, 90.0, 91.0]),
    st.sampled_from([0.0, 2.0, 3.0, 6.0]),
    averaging_s=st.sampled_from([0.0, 2.0, 4.0, 5.0, 8.0]),
    hysteresis=st.sampled_from([0.0, 1.0, 2.0]),
    acknowledged_after_s=st.sampled_from([0.0, 1.0, 4.0, 9.0]),
)


@settings(max_examples=400, deadline=None)
@given(patients(), lines)
def test_every_habit_agrees_with_the_loop(series: list[list[Sample]], line: Line) -> None:
    trends = recording(series, "spo2")

    found = replay(trends, [line])

    expected = [sounding(samples, line, trends.step_s) for samples in series]
    load = found.alarms["alarm"]
    assert load.count == sum(count for count, _ in expected)
    assert load.seconds_in_alarm == sum(len(seconds) for _, seconds in expected) * trends.step_s
    assert load.patients_with_alarm == sum(bool(count) for count, _ in expected)
    assert found.all.seconds_in_alarm == load.seconds_in_alarm


def one_patient(*values: float) -> list[list[Sample]]:
    return [[Sample(second, value) for second, value in enumerate(values)]]


def load_of(series: list[list[Sample]], **habits: float) -> tuple[int, float]:
    line = replace(Line("alarm", "spo2", "low", 90, 0), **habits)  # type: ignore[arg-type]
    load = replay(recording(series, "spo2"), [line]).alarms["alarm"]
    return load.count, load.seconds_in_alarm


def test_a_value_that_flutters_at_the_limit_is_one_alarm_with_hysteresis() -> None:
    series = one_patient(89, 90, 89, 90, 89, 91, 89)

    assert load_of(series) == (4, 4)
    assert load_of(series, hysteresis=1) == (2, 6)


def test_averaging_takes_a_single_dip_away_and_begins_anew_after_a_gap() -> None:
    assert load_of(one_patient(95, 95, 80, 95, 95)) == (1, 1)
    assert load_of(one_patient(95, 95, 80, 95, 95), averaging_s=4) == (0, 0)
    assert load_of(one_patient(95, GAP, 89, 89), averaging_s=4) == (1, 2)


def test_halves_are_rounded_up() -> None:
    told = averaged([Sample(0, 89), Sample(1, 90)], 2, 1)

    assert [sample.value for sample in told] == [89, 90]
    assert load_of(one_patient(89, 90), averaging_s=2) == (1, 1)


def test_a_latched_alarm_outlasts_its_episode_and_takes_the_next_one_in() -> None:
    series = one_patient(89, 95, 95, 89, 89, 95)

    assert load_of(series, acknowledged_after_s=2) == (2, 4)
    assert load_of(series, acknowledged_after_s=4) == (1, 5)
    assert load_of(series, acknowledged_after_s=60) == (1, 6)


def test_a_latched_alarm_ends_with_its_patient() -> None:
    series = one_patient(95, 89) + one_patient(95, 95)

    assert load_of(series, acknowledged_after_s=60) == (1, 1)
