"""Noise and silence of one line in one picture: limits along, noise up, silence down.

Both scales are square roots, so that one alarm shows beside a hundred. Their ends are those of the
whole line, whatever delay is shown: a longer delay visibly lowers the curve.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import sqrt

from app.domain.corridor_shapes import Point
from app.domain.evidence import LineEvidence, Table
from app.domain.noise_readings import Asked, place_of

WIDTH, NOISE_HEIGHT, SILENCE_HEIGHT = 620.0, 170.0, 120.0
_STEPS = (1, 2, 5, 10, 20, 25, 50)
_MOST_MARKS = 9


@dataclass(frozen=True)
class Stand:
    """A wall at a limit, and the heights at which it cuts the curves."""

    x: float
    noise: float
    silence: float | None


@dataclass(frozen=True)
class NoisePicture:
    """`noise_top` in alarms, `silence_top` in seconds, both an hour: the ends of the scales."""

    noise: tuple[Point, ...]
    silence: tuple[Point, ...]
    noise_top: float
    silence_top: float
    marks: tuple[tuple[float, float], ...]  # x, limit
    bound: float | None  # x
    tried: Stand
    revision: Stand | None
    against: Stand | None


def noise_picture(line: LineEvidence, at: Asked) -> NoisePicture:
    hours = line.hours or 1.0
    silent = line.silence[at.bound] if line.silence else None
    noise_top = _most(line.counts) / hours or 1.0
    silence_top = 1.0 if silent is None else _most(silent.seconds) / hours or 1.0
    drawn = _Drawn(line, at, noise_top, silence_top)
    edge = None if silent is None else silent.value
    seen = edge is not None and line.limits[0] <= edge <= line.limits[-1]
    return NoisePicture(
        noise=tuple(Point(drawn.x(i), drawn.noise(i, at.delay)) for i in drawn.places),
        silence=()
        if silent is None
        else tuple(Point(drawn.x(i), drawn.silence(i, at.delay)) for i in drawn.places),
        noise_top=noise_top,
        silence_top=silence_top,
        marks=tuple((drawn.x_of(limit), limit) for limit in _marks(line.limits)),
        bound=drawn.x_of(edge) if seen and edge is not None else None,
        tried=drawn.stand(at),
        revision=drawn.stand_of(place_of(line, line.revision)),
        against=drawn.stand_of(place_of(line, line.against)),
    )


@dataclass(frozen=True)
class _Drawn:
    line: LineEvidence
    at: Asked
    noise_top: float
    silence_top: float

    @property
    def places(self) -> range:
        return range(len(self.line.limits))

    def x_of(self, limit: float) -> float:
        first, last = self.line.limits[0], self.line.limits[-1]
        return round((limit - first) / ((last - first) or 1.0) * WIDTH, 1)

    def x(self, place: int) -> float:
        return self.x_of(self.line.limits[place])

    def noise(self, place: int, delay: int) -> float:
        share = self.line.counts[delay][place] / (self.line.hours or 1.0) / self.noise_top
        return round(NOISE_HEIGHT * (1 - sqrt(share)), 1)

    def silence(self, place: int, delay: int) -> float:
        silent = self.line.silence[self.at.bound]
        share = silent.seconds[delay][place] / (self.line.hours or 1.0) / self.silence_top
        return round(SILENCE_HEIGHT * sqrt(share), 1)

    def stand(self, at: Asked) -> Stand:
        silence = self.silence(at.limit, at.delay) if self.line.silence else None
        return Stand(self.x(at.limit), self.noise(at.limit, at.delay), silence)

    def stand_of(self, at: Asked | None) -> Stand | None:
        return None if at is None else self.stand(at)


def _most(table: Table) -> int:
    return max(max(row) for row in table)


def _marks(limits: Sequence[float]) -> list[float]:
    """Round limits, few enough to be read."""
    reach = limits[-1] - limits[0]
    unit = 0.1 if reach < _STEPS[0] * 3 else 1.0
    step = next((one * unit for one in _STEPS if reach / (one * unit) <= _MOST_MARKS), 100 * unit)
    first = -(-limits[0] // step)
    count = int((limits[-1] - first * step) / step) + 1
    return [round((first + place) * step, 3) for place in range(max(count, 0))]
