"""The programme against every cut and every pair of limits, tried one by one."""

from collections.abc import Callable, Iterator
from itertools import combinations, pairwise, product

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from app.domain.band_search import Aim, FoundBand, Sides, best_bands

LIMITS = np.array([40.0, 50, 60, 70])


def every_cut(months: int, most: int) -> Iterator[tuple[int, ...]]:
    for count in range(1, min(most, months) + 1):
        for inner in combinations(range(1, months), count - 1):
            yield (0, *inner, months)


def exhausted(sides: Sides, aim: Aim, most: int) -> float:
    """The least cost that at most so many bands can reach."""
    pairs = [
        (low, high)
        for low, high in product(range(len(sides.lows)), range(len(sides.highs)))
        if sides.lows[low] < sides.highs[high]
    ]
    months = len(sides.low)
    reached: list[float] = []
    for edges in every_cut(months, most):
        parts = []
        for start, end in pairwise(edges):
            by_pair = [
                [sides.low[month, low] + sides.high[month, high] for month in range(start, end)]
                for low, high in pairs
            ]
            parts.append(min(map(max if aim is Aim.WORST else sum, by_pair)))
        reached.append(max(parts) if aim is Aim.WORST else sum(parts) / months)
    return min(reached)


def monthly(sides: Sides, bands: tuple[FoundBand, ...]) -> list[float]:
    return [
        sides.low[month, band.low] + sides.high[month, band.high]
        for band in bands
        for month in range(band.start, band.end)
    ]


COSTS: dict[Aim, Callable[[list[float]], float]] = {
    Aim.WORST: max,
    Aim.MEAN: lambda costs: sum(costs) / len(costs),
}


@st.composite
def small_cases(draw: st.DrawFn) -> Sides:
    """Few values, so that ties, plateaus and months alike are common; sides may cross."""
    months = draw(st.integers(1, 6))
    lows, highs = draw(st.integers(1, 4)), draw(st.integers(1, 4))
    cost = st.integers(0, 4).map(float)
    low, high = (
        np.array(
            draw(st.lists(st.lists(cost, min_size=n, max_size=n), min_size=months, max_size=months))
        )
        for n in (lows, highs)
    )
    above = draw(st.sampled_from([-5.0, 5.0, 15.0, 25.0]))
    return Sides(low, high, LIMITS[:lows], LIMITS[:highs] + above)


@pytest.mark.parametrize("aim", Aim)
@given(sides=small_cases(), most=st.integers(1, 6))
@settings(max_examples=120, deadline=None)
def test_no_cut_and_no_limits_cost_less(aim: Aim, sides: Sides, most: int) -> None:
    found = best_bands(sides, aim, most)

    if not np.any(sides.lows[:, None] < sides.highs):
        assert found == []
        return
    for count, bands in enumerate(found, start=1):
        assert len(bands) <= count
        assert [band.start for band in bands] == [0, *(band.end for band in bands[:-1])]
        assert bands[-1].end == len(sides.low)
        assert all(sides.lows[band.low] < sides.highs[band.high] for band in bands)
        cost = COSTS[aim](monthly(sides, bands))
        assert cost == pytest.approx(exhausted(sides, aim, count))


def test_among_cuts_with_the_same_worst_the_smaller_mean_is_taken() -> None:
    """The last month sets the worst whatever the cut; the others are still cut well."""
    low = np.array([[0.0, 9], [0, 9], [9, 0], [9, 0], [10, 10]])
    sides = Sides(low, np.zeros((5, 1)), LIMITS[:2], np.array([200.0]))

    _, two, three = best_bands(sides, Aim.WORST, 3)

    assert [(band.start, band.end) for band in two] == [(0, 2), (2, 5)]
    assert sum(monthly(sides, two)) == 10
    assert three == two  # a third buys nothing


def test_a_further_band_that_buys_nothing_is_not_made() -> None:
    sides = Sides(np.zeros((4, 2)), np.zeros((4, 2)), LIMITS[:2], LIMITS[2:])

    found = best_bands(sides, Aim.MEAN, 3)

    assert [len(bands) for bands in found] == [1, 1, 1]
    tightest = found[0][0]
    assert (tightest.low, tightest.high) == (1, 0)
