"""Newcombe RG, Stat Med 1998;17:857-872: score and exact intervals, 95 %. The printed values are
from memory and reproduced here.

The exact bounds for a known fleet are held against SciPy's hypergeometric distribution.
"""

from collections.abc import Callable

import pytest
from scipy.stats import hypergeom
from statsmodels.stats.proportion import proportion_confint

from app.domain.intervals import (
    Interval,
    at_most,
    clopper_pearson,
    hypergeometric_bounds,
    hypergeometric_counts,
    wilson,
)


@pytest.mark.parametrize(
    ("found", "read", "low", "high"),
    [
        (81, 263, 0.2553, 0.3662),
        (15, 148, 0.0624, 0.1605),
        (0, 20, 0.0, 0.1611),
        (1, 29, 0.0061, 0.1718),
        (20, 20, 0.8389, 1.0),  # the mirror image of 0 of 20
    ],
)
def test_wilson_as_printed(found: int, read: int, low: float, high: float) -> None:
    interval = wilson(found, read)

    assert (interval.low, interval.high) == pytest.approx((low, high), abs=5e-5)


@pytest.mark.parametrize(
    ("found", "read", "low", "high"),
    [
        (81, 263, 0.2527, 0.3676),
        (15, 148, 0.0578, 0.1617),
        (0, 20, 0.0, 0.1684),
        (1, 29, 0.0009, 0.1776),
        (20, 20, 0.8316, 1.0),  # the mirror image of 0 of 20
    ],
)
def test_clopper_pearson_as_printed(found: int, read: int, low: float, high: float) -> None:
    interval = clopper_pearson(found, read)

    assert (interval.low, interval.high) == pytest.approx((low, high), abs=5e-5)


@pytest.mark.parametrize("confidence", [0.5, 0.95, 0.999])
@pytest.mark.parametrize("read", [1, 7, 40, 1000])
@pytest.mark.parametrize(
    ("ours", "theirs"), [(wilson, "wilson"), (clopper_pearson, "beta")], ids=["Wilson", "exact"]
)
def test_statsmodels_agrees(
    ours: Callable[[int, int, float], Interval], theirs: str, read: int, confidence: float
) -> None:
    for found in range(0, read + 1, max(1, read // 20)):
        interval = ours(found, read, confidence)
        expected = proportion_confint(found, read, alpha=1 - confidence, method=theirs)
        assert (interval.low, interval.high) == pytest.approx(expected, abs=1e-9)


@pytest.mark.parametrize(
    ("found", "read", "fleet", "most"),
    [
        (0, 10, 40, 9),
        (1, 20, 40, 6),
        (0, 20, 40, 4),
        (0, 30, 40, 2),
        (0, 45, 60, 2),
        (0, 45, 100, 4),
    ],
)
def test_exact_upper_limits_as_computed(found: int, read: int, fleet: int, most: int) -> None:
    assert at_most(found, read, fleet) == most


@pytest.mark.parametrize(("read", "fleet"), [(1, 1), (3, 12), (12, 12), (20, 46)])
def test_scipy_agrees_on_every_exact_bound(read: int, fleet: int) -> None:
    for found in range(read + 1):
        interval = hypergeometric_bounds(found, read, fleet)
        possible = [
            has
            for has in range(found, fleet - (read - found) + 1)
            if hypergeom(fleet, has, read).sf(found - 1) > 0.025
            and hypergeom(fleet, has, read).cdf(found) > 0.025
        ]
        assert (interval.low * fleet, interval.high * fleet) == pytest.approx(
            (possible[0], possible[-1])
        )


@pytest.mark.parametrize(
    ("found", "read", "fleet"), [(950, 1000, 100_000), (3, 400, 5000), (499, 500, 501)]
)
def test_scipy_agrees_at_both_borders_of_a_large_fleet(found: int, read: int, fleet: int) -> None:
    least, most = hypergeometric_counts(found, read, fleet)

    assert hypergeom(fleet, least, read).sf(found - 1) > 0.025
    assert hypergeom(fleet, least - 1, read).sf(found - 1) <= 0.025
    assert hypergeom(fleet, most, read).cdf(found) > 0.025
    assert most + 1 > fleet - read + found or hypergeom(fleet, most + 1, read).cdf(found) <= 0.025


def test_a_census_leaves_no_doubt() -> None:
    interval = hypergeometric_bounds(39, 46, 46)

    assert interval.low == interval.high == 39 / 46


@pytest.mark.parametrize(("found", "read"), [(-1, 5), (6, 5)])
def test_impossible_counts_are_refused(found: int, read: int) -> None:
    with pytest.raises(ValueError, match="found"):
        wilson(found, read)
