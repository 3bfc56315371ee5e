import tracemalloc

import numpy as np
import pytest

from app.domain.alarm_curve import MISSING, alarm_curve, in_steps

NO_ROWS = np.zeros(0, dtype=np.int64)
FIRST = np.array([0])


def test_values_become_whole_steps_and_missing_ones_a_mark() -> None:
    steps = in_steps(np.array([36.6, 38.1, np.nan, -1e9]), 0.1)

    assert steps.tolist() == [366, 381, MISSING, -32_000]


@pytest.mark.parametrize("side", ["low", "high"])
def test_missing_samples_sound_at_no_limit(side: str) -> None:
    values = np.full(5, MISSING, dtype=np.int16)

    found = alarm_curve(values, FIRST, side, 0, np.array([-31_999, 0, 31_999]))  # type: ignore[arg-type]

    assert found.samples_in_alarm.tolist() == [0, 0, 0]


def test_limits_may_stand_in_any_order_and_twice() -> None:
    values = np.array([100, 120, 140, 90], dtype=np.int16)

    found = alarm_curve(values, FIRST, "high", 0, np.array([130, 95, 130]))

    assert found.samples_in_alarm.tolist() == [1, 3, 1]


def test_a_value_at_the_limit_does_not_sound() -> None:
    values = np.array([120, 121], dtype=np.int16)

    found = alarm_curve(values, FIRST, "high", 0, np.array([119, 120, 121]))

    assert found.samples_in_alarm.tolist() == [2, 1, 0]


def test_no_limits_and_no_rows_give_nothing() -> None:
    some, none = np.array([1, 2], dtype=np.int16), np.zeros(0, dtype=np.int16)

    assert alarm_curve(some, FIRST, "low", 0, NO_ROWS).counts.tolist() == []
    assert alarm_curve(none, NO_ROWS, "low", 0, np.array([5])).counts.tolist() == [0]


@pytest.mark.parametrize(("delay", "limit"), [(-1, 5), (0, 32_000), (0, -32_000)])
def test_what_cannot_be_told_in_steps_is_refused(delay: int, limit: int) -> None:
    with pytest.raises(ValueError, match="delay is negative, or a limit"):
        alarm_curve(np.zeros(3, dtype=np.int16), FIRST, "low", delay, np.array([limit]))


def test_a_long_series_is_read_in_blocks_and_needs_less_than_twice_its_own_room() -> None:
    """Numpy tells the book-keeping of what it takes; the series itself is there before."""
    values = np.tile(np.arange(60, 180, dtype=np.int16), 40_000)
    tracemalloc.start()
    alarm_curve(values, FIRST, "high", 10, np.arange(70, 170, dtype=np.int64))
    _, peak = tracemalloc.get_traced_memory()
    tracemalloc.stop()

    assert peak < values.nbytes
