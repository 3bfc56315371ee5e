import numpy as np
import pytest

from app.domain.alarm_conditions import Side
from app.domain.replay import replay
from app.domain.trends import Line, Trends

GAP = np.nan


def trends(
    values: list[float],
    *,
    second: list[int] | None = None,
    patient: list[int] | None = None,
    vital_sign: str = "spo2",
    step_s: int = 2,
) -> Trends:
    """Two seconds a row, one patient, unless said otherwise."""
    rows = len(values)
    return Trends(
        np.array(patient or [0] * rows),
        np.array(second or range(0, 2 * rows, 2), dtype=np.int64),
        {vital_sign: np.array(values, dtype=np.float64)},
        step_s,
    )


def low(limit: float = 90, delay_s: float = 0, alarm: str = "spo2-low") -> Line:
    return Line(alarm, "spo2", "low", limit, delay_s)


def nibp(limit: float = 100) -> Line:
    return Line("nibp-low", "nibp-systolic", "low", limit, 60, intermittent=True)


@pytest.mark.parametrize(
    ("side", "value", "sounds"),
    [
        ("low", 89.9, True),
        ("low", 90, False),
        ("low", 90.1, False),
        ("high", 89.9, False),
        ("high", 90, False),
        ("high", 90.1, True),
    ],
)
def test_a_value_at_the_limit_does_not_sound(side: Side, value: float, *, sounds: bool) -> None:
    load = replay(trends([value]), [Line("alarm", "spo2", side, 90, 0)]).alarms["alarm"]

    assert load.count == sounds


@pytest.mark.parametrize(
    ("delay_s", "count", "seconds"),
    [
        (0, 1, 8),
        (1, 1, 6),  # between two rows: the next one raises it
        (2, 1, 6),
        (5.9, 1, 2),
        (6, 1, 2),  # the last row of four is 6 s after the onset
        (6.1, 0, 0),
    ],
)
def test_an_alarm_is_raised_once_the_delay_is_over(
    delay_s: float, count: int, seconds: float
) -> None:
    recorded = trends([95, 85, 85, 85, 85, 95])

    load = replay(recorded, [low(delay_s=delay_s)]).alarms["spo2-low"]

    assert (load.count, load.seconds_in_alarm) == (count, seconds)


@pytest.mark.parametrize(
    ("recorded", "count", "seconds"),
    [
        (trends([85, 85, 85, 85]), 1, 4),
        (trends([85, 85, GAP, 85]), 0, 0),
        (trends([85, 85, 90, 85]), 0, 0),
        (trends([85, 85, 85, 85], second=[0, 2, 6, 8]), 0, 0),
        (trends([85, 85, 85, 85], patient=[0, 0, 1, 1]), 0, 0),
        (trends([85, 85, 85, 85, 90, 85, 85, 85]), 2, 6),
    ],
    ids=["unbroken", "missing", "at the limit", "a jump", "another patient", "two episodes"],
)
def test_what_ends_an_episode_starts_the_delay_anew(
    recorded: Trends, count: int, seconds: float
) -> None:
    load = replay(recorded, [low(delay_s=4)]).alarms["spo2-low"]

    assert (load.count, load.seconds_in_alarm) == (count, seconds)


def test_patient_hours_count_every_row_also_the_missing_ones() -> None:
    recorded = trends([85] + [GAP] * 1799, patient=[0] * 900 + [1] * 900)

    result = replay(recorded, [low()])

    assert (result.patient_hours, result.patients) == (1.0, 2)
    assert result.alarms["spo2-low"].per_patient_hour == 1.0
    assert result.alarms["spo2-low"].patients_with_alarm == 1


def test_all_counts_every_alarm_and_time_in_alarm_once() -> None:
    recorded = trends([85, 75, 85, 95, 99], patient=[0, 0, 0, 1, 1])
    high = Line("spo2-high", "spo2", "high", 98, 0)

    result = replay(recorded, [low(), low(80, alarm="spo2-low.deep"), high])

    assert [load.count for load in result.alarms.values()] == [1, 1, 1]
    assert (result.all.count, result.all.seconds_in_alarm) == (3, 8)
    assert result.all.patients_with_alarm == 2


def test_without_lines_nothing_sounds() -> None:
    result = replay(trends([85, 85]), [])

    assert (result.alarms, result.all.count, result.all.seconds_in_alarm) == ({}, 0, 0.0)


@pytest.mark.parametrize(
    ("interval_s", "seconds"),
    [
        (1, 2),  # holds less than 2 s: its own row only
        (2, 4),
        (3, 6),
        (60, 12),  # all the way to the next value
        (None, 12),  # 12 s between the two values: the usual gap
    ],
)
def test_a_cuff_pressure_holds_for_twice_its_interval_at_most(
    interval_s: float | None, seconds: float
) -> None:
    recorded = trends([80, GAP, GAP, GAP, GAP, GAP, 120], vital_sign="nibp-systolic")

    load = replay(recorded, [nibp()], interval_s).alarms["nibp-low"]

    assert (load.count, load.seconds_in_alarm) == (1, seconds)


def test_the_usual_gap_is_each_patients_own() -> None:
    values = [80, 80, GAP, GAP, GAP, GAP, 80, GAP, GAP]
    recorded = trends(values, patient=[0] * 6 + [1] * 3, vital_sign="nibp-systolic")

    load = replay(recorded, [nibp()]).alarms["nibp-low"]

    # The first two values are 2 s apart and the second holds 4 s; the last has no other beside it.
    assert load.seconds_in_alarm == (1 + 2 + 1) * 2


def test_a_cuff_pressure_is_rated_per_hour_in_which_one_is_held() -> None:
    values = [80] + [GAP] * 899 + [GAP] * 900
    recorded = trends(values, vital_sign="nibp-systolic")

    result = replay(recorded, [nibp()], 900)

    assert result.patient_hours == 1.0
    assert result.alarms["nibp-low"].per_patient_hour == 2.0
    assert result.all.per_patient_hour == 1.0


def test_a_pressure_of_one_patient_says_nothing_of_the_next() -> None:
    recorded = trends([80, GAP, GAP, GAP], patient=[0, 0, 1, 1], vital_sign="nibp-systolic")

    load = replay(recorded, [nibp()], 3600).alarms["nibp-low"]

    assert (load.seconds_in_alarm, load.patients_with_alarm) == (4, 1)
