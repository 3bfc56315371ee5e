"""A fleet too large for single marks: how many devices were read about that long ago."""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass

from app.domain.known_devices import DeviceStatus
from app.domain.tide_marks import NEVER, Scale


@dataclass(frozen=True)
class TideCount:
    """So many devices of one kind. `column`: the place in `Scale.columns`; None: never read."""

    station: str
    column: int | None
    status: DeviceStatus
    overdue: bool
    devices: int


@dataclass(frozen=True)
class Cell:
    """`start` and `end`: its days, both included; both None: never read. The last one has no end.

    `share`: of the fullest cell of its row.
    """

    x: float
    start: int | None
    end: int | None
    devices: int
    differ: int
    unsafe: int
    share: float

    @property
    def days_words(self) -> str:
        if self.start is None:
            return "never read"
        return (
            f"{self.start} days ago and more"
            if self.end is None
            else f"{self.start} to {self.end} days ago"
        )

    @property
    def words(self) -> str:
        """What needs somebody first."""
        told = [f"{self.unsafe:,} unsafe"] if self.unsafe else []
        told += [f"{self.differ:,} differ"] if self.differ else []
        return ", ".join([*told, f"{self.devices:,} in all", self.days_words])


def total(
    counts: Iterable[TideCount],
    *,
    status: DeviceStatus | None = None,
    overdue: bool | None = None,
) -> int:
    return sum(
        one.devices
        for one in counts
        if status in (None, one.status) and overdue in (None, one.overdue)
    )


def cells_of(counts: Iterable[TideCount], scale: Scale) -> tuple[Cell, ...]:
    """From the newest to the oldest, those never read last; empty ones are left out."""
    held: dict[int | None, list[TideCount]] = defaultdict(list)
    for one in counts:
        held[one.column].append(one)
    fullest = max((total(told) for told in held.values()), default=1)
    ordered = sorted(held.items(), key=lambda item: (item[0] is None, item[0] or 0))
    return tuple(_cell(column, told, scale, fullest) for column, told in ordered)


def _cell(column: int | None, told: list[TideCount], scale: Scale, fullest: int) -> Cell:
    begins = scale.columns
    start = None if column is None else begins[column]
    end = None
    if column is not None and column + 1 < len(begins):
        end = begins[column + 1] - 1
    return Cell(
        NEVER if start is None else scale.x_of_day(start),
        start,
        end,
        total(told),
        total(told, status=DeviceStatus.DIFFERS),
        total(told, status=DeviceStatus.UNSAFE),
        total(told) / fullest,
    )
