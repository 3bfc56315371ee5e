"""How a revision reaches the fleet, day by day, beside what was aimed at."""

from bisect import bisect_right
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

MOST_SHARE = 0.8  # common practice, as are the days in which it is aimed at
_DAY = timedelta(days=1)


@dataclass(frozen=True)
class Point:
    """Within that many days since it began so many were verified."""

    days: int
    verified: int
    share: float


@dataclass(frozen=True)
class Target:
    """`reached`: within how many days it was; None: it is not yet. `missed`: it is too late."""

    share: float
    days: int
    reached: int | None
    missed: bool

    @property
    def words(self) -> str:
        aim = f"{100 * self.share:g} % in {self.days} days"
        if self.reached is None:
            return f"{aim}: missed" if self.missed else f"{aim}: not yet"
        return f"{aim}: reached in {self.reached}" + (", late" if self.missed else "")


@dataclass(frozen=True)
class ChangeoverCurve:
    """`devices`: those on which there is anything to do."""

    devices: int
    points: tuple[Point, ...]
    targets: tuple[Target, ...]

    @property
    def today(self) -> Point | None:
        return self.points[-1] if self.points else None


def changeover_curve(
    verified: Iterable[datetime | None],
    *,
    began: datetime,
    now: datetime,
    most_days: int,
    all_days: int,
) -> ChangeoverCurve:
    """`verified`: of every device, None where it is not yet."""
    when = list(verified)
    taken = sorted((at - began) // _DAY + 1 for at in when if at is not None)
    points = tuple(_points(taken, len(when), (now - began) // _DAY + 1))
    aims = ((MOST_SHARE, most_days), (1.0, all_days))
    late = (now - began) // _DAY
    return ChangeoverCurve(
        len(when), points, tuple(_target(points, *aim, elapsed=late) for aim in aims)
    )


def _points(taken: Sequence[int], devices: int, today: int) -> Iterator[Point]:
    """One for every day on which it rose, and the first and the last day."""
    if today < 1 or not devices:
        return
    for days in sorted({1, today, *(one for one in taken if one <= today)}):
        verified = bisect_right(taken, days)
        yield Point(days, verified, verified / devices)


def _target(points: Sequence[Point], share: float, days: int, *, elapsed: int) -> Target:
    reached = next((point.days for point in points if point.share >= share), None)
    missed = elapsed >= days if reached is None else reached > days
    return Target(share, days, reached, missed)
