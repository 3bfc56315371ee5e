"""The curve of a changeover as it is drawn: days from left to right, devices verified upward."""

from dataclasses import dataclass

from app.domain.changeover_curve import ChangeoverCurve, Target

WIDTH, HEIGHT = 640.0, 220.0
LEFT, RIGHT, TOP, BOTTOM = 48.0, 24.0, 26.0, 36.0
_TICKS = (1, 2, 5, 7, 10, 14, 15, 30, 60, 90, 180, 365)
_MOST_TICKS = 7


@dataclass(frozen=True)
class Spot:
    """`label` stands beside a target on its left where there is no room on its right."""

    x: float
    y: float
    target: Target

    @property
    def left(self) -> bool:
        return self.x > WIDTH / 2


@dataclass(frozen=True)
class Tick:
    at: float
    label: str


@dataclass(frozen=True)
class DrawnCurve:
    """`line` is stepped: between two readings nobody was verified."""

    curve: ChangeoverCurve
    line: str
    last: tuple[float, float]
    targets: tuple[Spot, ...]
    days: tuple[Tick, ...]
    shares: tuple[Tick, ...]
    width: float = WIDTH
    height: float = HEIGHT
    left: float = LEFT
    right: float = WIDTH - RIGHT
    bottom: float = HEIGHT - BOTTOM
    top: float = TOP


def drawn_curve(curve: ChangeoverCurve) -> DrawnCurve:
    ends = [target.days for target in curve.targets] + [point.days for point in curve.points]
    most = max(ends)

    def x(days: int) -> float:
        return round(LEFT + days / most * (WIDTH - LEFT - RIGHT), 1)

    def y(share: float) -> float:
        return round(HEIGHT - BOTTOM - share * (HEIGHT - BOTTOM - TOP), 1)

    last = curve.points[-1]
    return DrawnCurve(
        curve,
        _stepped([(x(point.days), y(point.share)) for point in curve.points], (x(0), y(0))),
        (x(last.days), y(last.share)),
        tuple(Spot(x(one.days), y(one.share), one) for one in curve.targets),
        tuple(Tick(x(days), str(days)) for days in _days(most)),
        tuple(Tick(y(share), f"{100 * share:g} %") for share in (0, 0.5, 1)),
    )


def _stepped(places: list[tuple[float, float]], start: tuple[float, float]) -> str:
    path = f"M{start[0]},{start[1]}"
    for x, y in places:
        path += f" H{x} V{y}"
    return path


def _days(most: int) -> list[int]:
    step = next((one for one in _TICKS if most / one <= _MOST_TICKS), _TICKS[-1])
    return list(range(0, most + 1, step))
