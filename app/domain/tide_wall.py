"""Where every device stands on the tide wall, in the wall's own units.

x runs from the newest reading on the left to the oldest on the right: 0 is now, `WIDTH` twice
the check interval; what is older stands at that edge, marked. Beyond it is the place of the
devices that were never read. A device past the check interval is under water.
"""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from enum import StrEnum

from app.domain.fleet import DeviceStatus, Mark

WIDTH = 720.0
MARK = 24.0  # the side of the square that a mark needs, so that a finger finds it
LETTER = 6.2  # how wide a letter of a label is
LONGEST = 12  # letters of a tag that are shown
NAMED = 60  # in a larger fleet the marks go without the tag
NEVER = WIDTH + 5 * MARK  # leaves room for the labels of the oldest
SLOTS = 5
LANE = MARK + 4
LABEL = 20.0  # above the marks of a row: the name of its station
GAP = 8.0
MOST = 500
DEEPEST = 40
CELLS = 8
DAY = timedelta(days=1)


class Shape(StrEnum):
    """What a mark looks like; never a matter of colour alone."""

    LEVEL = "level"
    OPENING = "opening"
    CLOSING = "closing"
    BROKEN = "broken"
    OUTLINE = "outline"

    @property
    def words(self) -> str:
        return _WORDS[self]


_WORDS = {
    Shape.LEVEL: "holds",
    Shape.OPENING: "looser",
    Shape.CLOSING: "tighter",
    Shape.BROKEN: "differs otherwise",
    Shape.OUTLINE: "not judged",
}


@dataclass(frozen=True)
class Beginning:
    """When a revision came into force."""

    number: int
    at: datetime


@dataclass(frozen=True)
class Afloat:
    """A device at its place: `x` is the middle of its mark, `lane` counts from the top of its row.

    `days` None: never read. `label` is what stands beside the mark: its tag, and unsafe in words.
    """

    mark: Mark
    status: DeviceStatus
    shape: Shape
    days: int | None
    x: float
    lane: int
    under_water: bool
    off_the_edge: bool
    label: str = ""

    @property
    def room(self) -> float:
        return MARK + (len(self.label) + 1) * LETTER if self.label else MARK

    @property
    def unsafe(self) -> bool:
        return self.status is DeviceStatus.UNSAFE

    @property
    def age_words(self) -> str:
        if self.days is None:
            return "never read"
        return "read today" if self.days == 0 else f"read {_days(self.days)} ago"

    @property
    def words(self) -> str:
        """Status first; an unsafe mark says both that and which way it leans."""
        water = ", under water" if self.under_water else ""
        word = f"unsafe, {self.shape.words}" if self.unsafe else self.shape.words
        return f"{word}, {self.age_words}{water}"


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
        return sorted(everything, key=_urgency)

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
    scale, everything = _Scale(check_interval, now), list(devices)
    by_station: dict[str, list[Afloat]] = defaultdict(list)
    for mark, status in everything:
        placed = _afloat(mark, status, scale)
        label = _label(placed, named=len(everything) <= NAMED)
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


@dataclass(frozen=True)
class _Scale:
    check_interval: timedelta
    now: datetime

    @property
    def edge(self) -> timedelta:
        return 2 * self.check_interval

    def x(self, age: timedelta) -> float:
        return round(min(max(age / self.edge, 0.0), 1.0) * WIDTH, 1)


def shape_of(mark: Mark, status: DeviceStatus) -> Shape:
    """Toward fewer alarms weighs more than toward more of them."""
    if status is DeviceStatus.HOLDS:
        return Shape.LEVEL
    if status is DeviceStatus.NOT_JUDGED or mark.tally is None:
        return Shape.OUTLINE
    if mark.tally.looser:
        return Shape.OPENING
    return Shape.CLOSING if mark.tally.tighter else Shape.BROKEN


def _afloat(mark: Mark, status: DeviceStatus, scale: _Scale) -> Afloat:
    """As old as its oldest preset: what was read since tells nothing of the others."""
    age = None if mark.oldest_read_at is None else scale.now - mark.oldest_read_at
    return Afloat(
        mark=mark,
        status=status,
        shape=shape_of(mark, status),
        days=None if age is None else age // DAY,
        x=NEVER if age is None else scale.x(age),
        lane=0,
        under_water=age is None or age > scale.check_interval,
        off_the_edge=age is not None and age > scale.edge,
    )


def _label(mark: Afloat, *, named: bool) -> str:
    tag = mark.mark.device.tag
    short = tag if len(tag) <= LONGEST else f"{tag[: LONGEST - 1]}…"
    return " ".join([*([short] if named else []), *(["unsafe"] if mark.unsafe else [])])


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


def _revisions(beginnings: Iterable[Beginning], scale: _Scale) -> tuple[Waterline, ...]:
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


def _urgency(mark: Afloat) -> tuple[int, float, str]:
    order = (
        DeviceStatus.UNSAFE,
        DeviceStatus.DIFFERS,
        DeviceStatus.NOT_JUDGED,
        DeviceStatus.HOLDS,
    )
    age = float("inf") if mark.days is None else mark.days
    return order.index(mark.status), -age, mark.mark.device.tag


def _between(start: int, days: int, end: int | None) -> bool:
    return start <= days and (end is None or days <= end)


def _days(days: int) -> str:
    return "1 day" if days == 1 else f"{days} days"
