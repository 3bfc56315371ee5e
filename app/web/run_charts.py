"""A run chart as it is drawn: months from left to right, shares from 0 % up."""

from collections.abc import Iterable
from dataclasses import dataclass

from app.domain.measures import Point, RunChart

WIDTH, HEIGHT = 640.0, 180.0
LEFT, RIGHT, TOP, BOTTOM = 48.0, 36.0, 12.0, 26.0
_STEPS = (0.01, 0.02, 0.05, 0.1, 0.2, 0.5, 1.0)
_MOST_LABELS = 8


@dataclass(frozen=True)
class Spot:
    x: float
    y: float
    point: Point


@dataclass(frozen=True)
class Tick:
    at: float
    label: str


@dataclass(frozen=True)
class DrawnChart:
    """`lines`: one path for each stretch of months in which something was read."""

    title: str
    spots: tuple[Spot, ...]
    lines: tuple[str, ...]
    months: tuple[Tick, ...]
    shares: tuple[Tick, ...]
    middle_y: float | None
    chart: RunChart
    width: float = WIDTH
    height: float = HEIGHT
    left: float = LEFT
    right: float = WIDTH - RIGHT
    bottom: float = HEIGHT - BOTTOM


def drawn_chart(title: str, chart: RunChart) -> DrawnChart:
    top = _top(point.share or 0 for point in chart.points)
    gap = (WIDTH - LEFT - RIGHT) / max(1, len(chart.points) - 1)

    def y(share: float) -> float:
        return round(HEIGHT - BOTTOM - share / top * (HEIGHT - BOTTOM - TOP), 1)

    places = [(round(LEFT + gap * n, 1), point) for n, point in enumerate(chart.points)]
    every = -(-len(places) // _MOST_LABELS) or 1
    return DrawnChart(
        title,
        tuple(Spot(x, y(point.share), point) for x, point in places if point.share is not None),
        _stretches((x, None if point.share is None else y(point.share)) for x, point in places),
        tuple(Tick(x, point.label) for x, point in places[::every]),
        tuple(Tick(y(top * part), f"{100 * top * part:g} %") for part in (0, 0.5, 1)),
        None if chart.middle is None else y(chart.middle),
        chart,
    )


def _top(shares: Iterable[float]) -> float:
    highest = max(shares, default=0)
    return next(step for step in _STEPS if highest <= step)


def _stretches(places: Iterable[tuple[float, float | None]]) -> tuple[str, ...]:
    """A month in which nothing was read breaks the line: nobody knows what lay there."""
    paths: list[list[str]] = [[]]
    for x, y in places:
        if y is None:
            paths.append([])
        else:
            paths[-1].append(f"{x},{y}")
    return tuple("M" + " L".join(path) for path in paths if len(path) > 1)
