"""What the literature found when a delay was added, in a cohort built to its durations.

Jämsä 2021 (emergency department, Finland; abstract): 53% of alarm sounds lasted less than 10 s.
Görges 2009 (medical ICU; abstract): the median alarm lasted 17 s, and a delay of 14 s would have
removed 50% of the ignored and ineffective ones. Rheineck-Leyssius and Kalkman 1998 (recovery, as
cited elsewhere): 15 s at an SpO2 of 90% removed 60% of the alarms.

ASSUMPTION: durations are exponential, with the one published share fixing the only parameter. No
whole distribution was published. Dips are far apart, so that none runs into another.
"""

import math

import numpy as np
import pytest

from app.domain.replay import replay
from app.domain.trends import Line, Trends

EPISODES = 4000


def cohort(share: float, below_s: float) -> Trends:
    """Dips to 85 of which `share` last less than `below_s`; one sample a second, 200 apart."""
    dice = np.random.default_rng(1998)
    mean = -below_s / math.log(1 - share)
    lasts = np.minimum(np.ceil(dice.exponential(mean, EPISODES)), 199).astype(int)
    second = np.arange(EPISODES * 200)
    values = np.where(second % 200 < np.repeat(lasts, 200), 85.0, 97.0)
    return Trends(np.zeros(second.size, dtype=np.int64), second, {"spo2": values}, 1)


def left_after(trends: Trends, delay_s: float) -> float:
    counts = [
        replay(trends, [Line("spo2-low", "spo2", "low", 90, delay)]).alarms["spo2-low"].count
        for delay in (0, delay_s)
    ]
    assert counts[0] == EPISODES
    return counts[1] / EPISODES


def test_fifteen_seconds_remove_more_than_half_of_mostly_short_dips() -> None:
    trends = cohort(share=0.53, below_s=10)

    removed = 1 - left_after(trends, 15)

    assert removed > 0.5
    assert removed == pytest.approx(1 - (1 - 0.53) ** 1.5, abs=0.03)  # the law itself
    assert removed == pytest.approx(0.60, abs=0.10)  # near what the recovery room saw


def test_fourteen_seconds_remove_nearly_half_where_the_median_is_seventeen() -> None:
    removed = 1 - left_after(cohort(share=0.5, below_s=17), 14)

    assert removed == pytest.approx(0.50, abs=0.10)


def test_a_longer_delay_removes_more_and_never_the_longest() -> None:
    trends = cohort(share=0.53, below_s=10)

    left = [left_after(trends, delay) for delay in (5, 15, 30, 60)]

    assert left == sorted(left, reverse=True)
    assert left[-1] > 0
