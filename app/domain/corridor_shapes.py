"""The shapes of the age corridor, and the measures of a lane.

x runs from 0 at birth to WIDTH at 100 years, the same in every lane and on every page; y runs
from 0 at a lane's top to HEIGHT at its bottom.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Literal

from app.domain.age_axis import x_of
from app.domain.ages import Age
from app.domain.alarm_conditions import Side
from app.domain.vital_signs import VitalSign, judged_as

WIDTH, HEIGHT = 1000.0, 132.0
_NARROW, _NARROW_DEEP = 26, 90  # of a wall: no room for its number


@dataclass(frozen=True)
class Point:
    x: float
    y: float


Line = tuple[Point, ...]


@dataclass(frozen=True)
class Wall:
    """One limit over one category; `limit` in the vital sign's unit, `written` as it was."""

    category: str
    alarm: str
    side: Side
    limit: Decimal
    written: str
    deep: bool
    start: Point
    end: Point

    @property
    def label(self) -> Point | None:
        """The foot of its number, beyond the wall: centred, of a deep line at its end.

        None where the wall is too narrow for it.
        """
        if self.end.x - self.start.x <= (_NARROW_DEEP if self.deep else _NARROW):
            return None
        x = self.end.x - 5 if self.deep else round((self.start.x + self.end.x) / 2, 1)
        below = min(self.start.y + (12 if self.deep else 14), HEIGHT + 7)
        y = below if self.side == "low" else max(self.start.y - 5, 2)
        return Point(x, round(y, 1))


@dataclass(frozen=True)
class Face:
    """A stepped wall over neighbouring categories, and the mass that lies beyond it."""

    side: Side
    deep: bool
    line: Line
    mass: Line


@dataclass(frozen=True)
class Region:
    """Silent: values inside the walls that are danger (or caution). Noisy: fan outside them.

    `label` is the foot of its word, centred; None where there is no room for it.
    """

    kind: Literal["silent", "noisy"]
    grade: str
    category: str
    side: Side
    outline: Line
    label: Point | None


@dataclass(frozen=True)
class FanBand:
    """Between two centiles, the widest band first."""

    low: float
    high: float
    outline: Line


@dataclass(frozen=True)
class Scale:
    """The values at a lane's bottom and top."""

    bottom: float
    top: float

    def y_of(self, value: float) -> float:
        """Values beyond the lane stand on its edge."""
        share = (value - self.bottom) / (self.top - self.bottom)
        return round((1 - min(max(share, 0.0), 1.0)) * HEIGHT, 1)

    def edge(self, side: Side) -> float:
        return self.bottom if side == "low" else self.top

    def ticks(self) -> list[int]:
        span = self.top - self.bottom
        step = next(step for step in (1, 2, 5, 10, 20, 50, 100) if span / step <= 5)
        first = -(-self.bottom // step) * step
        return [int(first) + step * index for index in range(int((self.top - first) // step) + 1)]


def at_age(age: Age) -> float:
    return round(x_of(age) * WIDTH, 1)


def point(x: float, value: float, scale: Scale) -> Point:
    return Point(round(x * WIDTH, 1), scale.y_of(value))


# Values that a reader wants to see, whatever the limits are (common practice).
_USUAL: dict[str, tuple[float, float]] = {
    "heart-rate": (20, 240),
    "spo2": (70, 100),
    "respiratory-rate": (0, 90),
    "etco2": (0, 80),
    "inspired-co2": (0, 20),
    "nibp-systolic": (30, 220),
    "nibp-diastolic": (10, 140),
    "nibp-mean": (10, 160),
    "ibp-systolic": (30, 220),
    "ibp-diastolic": (10, 140),
    "ibp-mean": (10, 160),
    "temperature": (32, 42),
}


def scale_of(vital: VitalSign, limits: Sequence[float]) -> Scale:
    """The usual stretch, and wherever a plausible limit stands."""
    usual = _USUAL.get(vital.key) or _USUAL[judged_as(vital.key)]
    least, most = float(vital.least), float(vital.most)
    kept = [min(max(limit, least), most) for limit in limits]
    return Scale(min(usual[0], *kept), max(usual[1], *kept)) if kept else Scale(*usual)
