"""Rice's formula for the level crossings of a Gaussian process, through the replay.

Rice SO, Bell Syst Tech J 1944;23:282-332 and 1945;24:46-156: a stationary Gaussian process with
variance r(0) crosses the level u upward sqrt(-r''(0)/r(0)) / 2π · exp(-u² / 2r(0)) times a
second. Sampled each second, the exact rate is that of the pair of neighbouring samples, a
bivariate normal with correlation r(1)/r(0); for a slow process the two agree.
"""

import math

import numpy as np
import pytest
from scipy.stats import multivariate_normal, norm

from app.domain.replay import replay
from app.domain.trends import Line, Trends

SECONDS = 400_000
SCALE = 12.0  # the process is white noise smoothed by a Gaussian of this many seconds


def smooth_gaussian_process() -> np.ndarray:
    """Unit variance; correlation exp(-t² / 4·SCALE²) at lag t."""
    reach = np.arange(-8 * int(SCALE), 8 * int(SCALE) + 1)
    kernel = np.exp(-(reach**2) / (2 * SCALE**2))
    kernel /= math.sqrt(float((kernel**2).sum()))
    noise = np.random.default_rng(20261125).standard_normal(SECONDS + kernel.size - 1)
    return np.convolve(noise, kernel, mode="valid")


@pytest.mark.parametrize("level", [0.0, 1.0, 2.0])
def test_alarms_without_a_delay_come_as_often_as_rice_says(level: float) -> None:
    values = smooth_gaussian_process()
    trends = Trends(
        np.zeros(values.size, dtype=np.int64),
        np.arange(values.size, dtype=np.int64),
        {"heart-rate": values},
        1,
    )

    found = replay(trends, [Line("alarm", "heart-rate", "high", level, 0.0)]).alarms["alarm"]

    rice = 1 / (math.sqrt(2) * SCALE) / (2 * math.pi) * math.exp(-(level**2) / 2)
    together = multivariate_normal(
        cov=[[1, math.exp(-1 / (4 * SCALE**2))], [math.exp(-1 / (4 * SCALE**2)), 1]]
    ).cdf([level, level])
    sampled = norm.cdf(level) - float(together)
    assert sampled == pytest.approx(rice, rel=0.01)
    # Crossings come in nearly independent lots; four standard errors of a Poisson count.
    assert found.count == pytest.approx(sampled * SECONDS, abs=4 * math.sqrt(sampled * SECONDS))
    assert found.seconds_in_alarm / SECONDS == pytest.approx(norm.sf(level), abs=0.02)
