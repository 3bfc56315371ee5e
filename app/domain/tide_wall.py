"""Where every device stands on the tide wall, in the wall's own units.

x runs from the newest reading on the left to the oldest on the right: 0 is now, `WIDTH` twice
the check interval; what is older stands at that edge, marked. Beyond it is the place of the
devices that were never read. A device past the check interval is under water.
"""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

from app.domain.known_devices import DeviceStatus, Mark
from app.domain.tide_marks import (
    DAY,
    MARK,
    NEVER,
    WIDTH,
    Afloat,
    Scale,
    afloat,
    label_of,
    urgency,
)

NAMED = 60  # in a larger fleet the marks go without the tag
SLOTS = 5
LANE = MARK + 4
LABEL = 20.0  # above the marks of a row: the name of its station
GAP = 8.0
MOST = 500
DEEPEST = 40
CELLS = 8


@dataclass(frozen=True)
class Beginning:
    """When a revision came into force."""

    number: int
    at: datetime


@dataclass(frozen=True)
class Cell:
    """Devices of a station whose readings are about as old; one beyond the last is never read."""

    column: int
    x: float
    devices: int
    differ: int
    unsafe: int


@dataclass(frozen=True)
class StationRow:
    """`lanes` is how many marks stand on each other; `cells` are drawn instead in a large fleet."""

    station: str
    marks: tuple[Afloat, ...]
    lanes: int
    cells: tuple[Cell, ...] = ()
    top: float = 0.0

    @property
    def devices(self) -> int:
        return len(self.marks)

    @property
    def height(self) -> float:
        return LABEL + self.lanes * LANE + GAP

    @property
    def unsafe(self) -> int:
        return sum(mark.unsafe for mark in self.marks)

    @property
    def under_water(self) -> int:
        return sum(mark.under_water for mark in self.marks)


@dataclass(frozen=True)
class Waterline:
    """A vertical line: a revision, the check interval or a tick of the axis."""

    label: str
    x: float
    days: int


@dataclass(frozen=True)
class TideWall:
    rows: tuple[StationRow, ...]
    revisions: tuple[Waterline, ...]
    ticks: tuple[Waterline, ...]
    water: Waterline
    counted: bool

    @property
    def height(self) -> float:
        return sum(row.height for row in self.rows)

    @property
    def marks(self) -> list[Afloat]:
        """What needs somebody first: unsafe, differing, not judged, the oldest of them first."""
        everything = [mark for row in self.rows for mark in row.marks]
        return sorted(everything, key=urgency)

    def within(self, start: int, end: int | None) -> list[Afloat]:
        """The devices of a stretch of days; one that was never read is older than any."""
        return [
            mark
            for mark in self.marks
            if (end is None if mark.days is None else _between(start, mark.days, end))
        ]


def tide_wall(
    devices: Iterable[tuple[Mark, DeviceStatus]],
    beginnings: Iterable[Beginning],
    *,
    check_interval: timedelta,
    now: datetime,
) -> TideWall:
    scale, everything = Scale(check_interval, now), list(devices)
    by_station: dict[str, list[Afloat]] = defaultdict(list)
    for mark, status in everything:
        placed = afloat(mark, status, scale)
        label = label_of(placed, named=len(everything) <= NAMED)
        by_station[mark.device.station].append(replace(placed, label=label))
    rows = [_row(station, marks) for station, marks in sorted(by_station.items())]
    counted = sum(row.devices for row in rows) > MOST or any(row.lanes > DEEPEST for row in rows)
    return TideWall(
        rows=_one_below_another(_in_cells(row) if counted else row for row in rows),
        revisions=_revisions(beginnings, scale),
        ticks=tuple(
            Waterline(f"{days} d", scale.x(days * DAY), days) for days in _tick_days(check_interval)
        ),
        water=Waterline("check interval", WIDTH / 2, check_interval // DAY),
        counted=counted,
    )


def _row(station: str, marks: Sequence[Afloat]) -> StationRow:
    placed = [*_stacked([m for m in marks if m.days is not None]), *_parked(marks)]
    lanes = max(mark.lane for mark in placed) + 1
    return StationRow(station, tuple(placed), lanes)


def _one_below_another(rows: Iterable[StationRow]) -> tuple[StationRow, ...]:
    top, placed = 0.0, []
    for row in rows:
        placed.append(replace(row, top=top))
        top += row.height
    return tuple(placed)


def _stacked(marks: Iterable[Afloat]) -> list[Afloat]:
    """Each in the first lane in which it hides no other."""
    ends: list[float] = []
    placed = []
    for mark in sorted(marks, key=lambda mark: (mark.x, mark.mark.device.tag)):
        lane = next((i for i, end in enumerate(ends) if end <= mark.x), len(ends))
        ends[lane : lane + 1] = [mark.x + mark.room]
        placed.append(replace(mark, lane=lane))
    return placed


def _parked(marks: Iterable[Afloat]) -> list[Afloat]:
    """Side by side where they go without a label, else one below the other."""
    never = [mark for mark in marks if mark.days is None]
    slots = 1 if any(mark.label for mark in never) else SLOTS
    return [
        replace(mark, x=NEVER + i % slots * MARK, lane=i // slots) for i, mark in enumerate(never)
    ]


def _in_cells(row: StationRow) -> StationRow:
    held: dict[int, list[Afloat]] = defaultdict(list)
    for mark in row.marks:
        held[_column(mark)].append(mark)
    cells = tuple(
        Cell(
            column,
            NEVER if column == CELLS else column * WIDTH / CELLS,
            len(marks),
            sum(mark.status in (DeviceStatus.DIFFERS, DeviceStatus.UNSAFE) for mark in marks),
            sum(mark.unsafe for mark in marks),
        )
        for column, marks in sorted(held.items())
    )
    return replace(row, cells=cells, lanes=1)


def _column(mark: Afloat) -> int:
    return CELLS if mark.days is None else min(int(mark.x / WIDTH * CELLS), CELLS - 1)


def _revisions(beginnings: Iterable[Beginning], scale: Scale) -> tuple[Waterline, ...]:
    """Those that would stand off the edge are left out: a line there would be a lie."""
    ages = [(beginning, scale.now - beginning.at) for beginning in beginnings]
    return tuple(
        Waterline(f"revision {beginning.number}", scale.x(age), age // DAY)
        for beginning, age in ages
        if timedelta(0) <= age <= scale.edge
    )


def _tick_days(check_interval: timedelta) -> list[int]:
    whole = check_interval // DAY
    return sorted({0, whole // 2, whole, whole * 3 // 2, whole * 2})


def _between(start: int, days: int, end: int | None) -> bool:
    return start <= days and (end is None or days <= end)
