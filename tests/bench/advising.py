"""Band advice with 216 months that all differ, against the same programme without short cuts."""

from itertools import product

import numpy as np

from app.domain.band_search import Aim, Costs, Sides, best_bands
from tests.bench.contests import Contest, Rival

MONTHS, LIMITS, MOST = 216, 24, 8


def contest() -> Contest:
    sides = _sides()
    return Contest(
        name="band advice",
        size=f"{MONTHS} months × {LIMITS} × {LIMITS} limits, 1 to {MOST} bands",
        ours=Rival("all pairs at once", lambda: _worst(sides)),
        others=(
            Rival("np.sum of every cost", lambda: _outer(sides).sum(), answers=False),
            Rival("every band and pair by itself", lambda: _one_by_one(sides)),
        ),
        target="within a second",
    )


def _sides() -> Sides:
    """A fan that falls with age, as healthy children's does, and bounds that fall beside it."""
    months = np.arange(MONTHS)[:, None]
    lows, highs = np.arange(40.0, 40 + LIMITS), np.arange(140.0, 140 + LIMITS)
    low = np.exp((lows - 70 + months / 9) / 6) + 10 * np.maximum(60 - months / 11 - lows, 0)
    high = np.exp((135 - months / 9 - highs) / 6) + 10 * np.maximum(highs - 160 + months / 11, 0)
    return Sides(low, high, lows, highs)


def _outer(sides: Sides) -> Costs:
    return sides.low[:, :, None] + sides.high[:, None, :]


def _worst(sides: Sides) -> list[float]:
    return [
        round(
            max(
                float(
                    (sides.low[b.start : b.end, b.low] + sides.high[b.start : b.end, b.high]).max()
                )
                for b in bands
            ),
            9,
        )
        for bands in best_bands(sides, Aim.WORST, MOST)
    ]


def _one_by_one(sides: Sides) -> list[float]:
    """numpy over the months of a band, Python over bands and pairs of limits."""
    cost = np.full((MONTHS, MONTHS + 1), np.inf)
    for low, high in product(range(LIMITS), range(LIMITS)):
        together = sides.low[:, low] + sides.high[:, high]
        for start in range(MONTHS):
            ahead = np.maximum.accumulate(together[start:])
            cost[start, start + 1 :] = np.minimum(cost[start, start + 1 :], ahead)
    reached = [cost[0]]
    for _ in range(MOST - 1):
        best = reached[-1].copy()
        for end in range(1, MONTHS + 1):
            for start in range(1, end):
                best[end] = min(best[end], max(reached[-1][start], cost[start, end]))
        reached.append(best)
    return [round(float(one[-1]), 9) for one in reached]
