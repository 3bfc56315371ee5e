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
from app.domain.natural_order import Key, natural
from app.domain.tide_cells import Cell, TideCount, cells_of, total
from app.domain.tide_marks import (
    DAY,
    MARK,
    NEVER,
    WIDTH,
    Afloat,
    Scale,
    afloat,
    label_of,
)

NAMED = 60  # in a larger fleet the marks go without the tag
SLOTS = 5
LANE = MARK + 4
LABEL = 20.0  # above the marks of a row: the name of its station
GAP = 8.0
DEEPEST = 40
MOST_ROWS = 40
EVERYWHERE = "All stations"


@dataclass(frozen=True)
class Beginning:
    """When a revision came into force."""

    number: int
    at: datetime


@dataclass(frozen=True)
class StationRow:
    """`lanes` is how many marks stand on each other; `cells` are drawn instead in a large fleet.

    `everywhere`: it is no station but all of them together.
    """

    station: str
    marks: tuple[Afloat, ...] = ()
    lanes: int = 1
    cells: tuple[Cell, ...] = ()
    counts: tuple[TideCount, ...] = ()
    top: float = 0.0
    everywhere: bool = False

    @property
    def height(self) -> float:
        return LABEL + self.lanes * LANE + GAP

    @property
    def devices(self) -> int:
        return total(self.counts)

    @property
    def unsafe(self) -> int:
        return total(self.counts, status=DeviceStatus.UNSAFE)

    @property
    def differ(self) -> int:
        return total(self.counts, status=DeviceStatus.DIFFERS)

    @property
    def under_water(self) -> int:
        return total(self.counts, overdue=True)


@dataclass(frozen=True)
class Waterline:
    """A vertical line: a revision, the check interval or a tick of the axis."""

    label: str
    x: float
    days: int


@dataclass(frozen=True)
class TideWall:
    """`stations`: a row each in the order of their names; `rows` are those that are drawn."""

    rows: tuple[StationRow, ...]
    stations: tuple[StationRow, ...]
    revisions: tuple[Waterline, ...]
    ticks: tuple[Waterline, ...]
    water: Waterline
    counted: bool

    @property
    def height(self) -> float:
        return sum(row.height for row in self.rows)

    @property
    def left_out(self) -> int:
        """Stations that have no row."""
        return len(self.stations) - sum(not row.everywhere for row in self.rows)


def tide_wall(
    counts: Iterable[TideCount],
    devices: Iterable[tuple[Mark, DeviceStatus]] | None,
    beginnings: Iterable[Beginning],
    *,
    check_interval: timedelta,
    now: datetime,
) -> TideWall:
    """`devices` None: too many to be drawn one by one, as are more than `DEEPEST` in one place."""
    scale = Scale(check_interval, now)
    stations = _by_station(counts)
    drawn = None if devices is None else _rows(stations, list(devices), scale)
    counted = drawn is None or any(row.lanes > DEEPEST for row in drawn)
    return TideWall(
        rows=_one_below_another(_in_cells(stations, scale) if counted or drawn is None else drawn),
        stations=tuple(stations),
        revisions=_revisions(beginnings, scale),
        ticks=tuple(
            Waterline(f"{days} d", scale.x(days * DAY), days) for days in _tick_days(check_interval)
        ),
        water=Waterline("check interval", WIDTH / 2, check_interval // DAY),
        counted=counted,
    )


def _by_name(one: tuple[str, object]) -> Key:
    return natural(one[0])


def _by_station(counts: Iterable[TideCount]) -> list[StationRow]:
    found: dict[str, list[TideCount]] = defaultdict(list)
    for one in counts:
        found[one.station].append(one)
    return [
        StationRow(station, counts=tuple(told))
        for station, told in sorted(found.items(), key=_by_name)
    ]


def _rows(
    stations: Iterable[StationRow], devices: Sequence[tuple[Mark, DeviceStatus]], scale: Scale
) -> list[StationRow]:
    held: dict[str, list[Afloat]] = defaultdict(list)
    for mark, status in devices:
        placed = afloat(mark, status, scale)
        label = label_of(placed, named=len(devices) <= NAMED)
        held[mark.device.station].append(replace(placed, label=label))
    return [_row(station, held[station.station]) for station in stations]


def _row(station: StationRow, marks: Sequence[Afloat]) -> StationRow:
    placed = [*_stacked([m for m in marks if m.days is not None]), *_parked(marks)]
    lanes = max((mark.lane for mark in placed), default=0) + 1
    return replace(station, marks=tuple(placed), lanes=lanes)


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
    for mark in sorted(marks, key=lambda mark: (mark.x, natural(mark.mark.device.tag))):
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


def _in_cells(stations: Sequence[StationRow], scale: Scale) -> list[StationRow]:
    """All of them together first, and of very many stations those that need somebody most."""
    drawn = sorted(stations, key=lambda row: (-row.unsafe, -row.under_water, natural(row.station)))
    if len(drawn) <= MOST_ROWS:
        drawn = list(stations)
    if len(stations) > 1:
        every = tuple(one for row in stations for one in row.counts)
        drawn = [StationRow(EVERYWHERE, counts=every, everywhere=True), *drawn[:MOST_ROWS]]
    return [replace(row, cells=cells_of(row.counts, scale)) for row in drawn]


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
