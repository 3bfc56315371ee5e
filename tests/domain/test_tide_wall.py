from datetime import UTC, datetime, timedelta

import pytest

from app.domain.devices import Device
from app.domain.findings import Severity
from app.domain.fleet import Tally
from app.domain.known_devices import DeviceStatus, Mark
from app.domain.tide_cells import TideCount
from app.domain.tide_marks import (
    CELLS,
    DAY,
    LETTER,
    LONGEST,
    MARK,
    NEVER,
    WIDTH,
    Afloat,
    Scale,
    Shape,
)
from app.domain.tide_wall import (
    DEEPEST,
    EVERYWHERE,
    GAP,
    LABEL,
    LANE,
    MOST_ROWS,
    NAMED,
    SLOTS,
    Beginning,
    TideWall,
    tide_wall,
)

NOW = datetime(2026, 3, 2, 9, 0, tzinfo=UTC)
SECOND = timedelta(seconds=1)
INTERVAL = 90 * DAY
HOLDS = Tally()
LOOSER = Tally(looser=1, worst=Severity.OFF_PROTOCOL)
TIGHTER = Tally(tighter=2, worst=Severity.OFF_PROTOCOL)
BOTH = Tally(looser=1, tighter=5, worst=Severity.OFF_PROTOCOL)
OTHER = Tally(other=1, worst=Severity.OFF_PROTOCOL)
UNSAFE = Tally(looser=1, worst=Severity.UNSAFE)


def a_mark(
    tag: str = "boat-3",
    age: timedelta | None = 10 * DAY,
    *,
    tally: Tally = HOLDS,
    station: str = "North",
) -> Mark:
    device = Device(1, tag, "dunlin", station)
    if age is None:
        return Mark(device)
    return Mark(device, tally, 3, 3, NOW - age, NOW - age, 1)


def wall_of(*marks: Mark, beginnings: tuple[Beginning, ...] = ()) -> TideWall:
    judged = [(mark, mark.status(overdue_before=NOW - INTERVAL)) for mark in marks]
    counts = [counted(mark, status) for mark, status in judged]
    return tide_wall(counts, judged, beginnings, check_interval=INTERVAL, now=NOW)


def counted(mark: Mark, status: DeviceStatus) -> TideCount:
    age = None if mark.oldest_read_at is None else NOW - mark.oldest_read_at
    days = Scale(INTERVAL, NOW).columns
    column = None if age is None else sum(age >= day * DAY for day in days) - 1
    overdue = age is None or age > INTERVAL
    return TideCount(mark.device.station, column, status, overdue, 1)


def counted_wall(*counts: TideCount) -> TideWall:
    return tide_wall(counts, None, (), check_interval=INTERVAL, now=NOW)


def marks_on(wall: TideWall) -> list[Afloat]:
    return [mark for row in wall.rows for mark in row.marks]


@pytest.mark.parametrize(
    ("age", "x", "days", "under_water", "off_the_edge"),
    [
        (timedelta(0), 0, 0, False, False),
        (DAY - SECOND, 4, 0, False, False),
        (45 * DAY, WIDTH / 4, 45, False, False),
        (INTERVAL - SECOND, WIDTH / 2, 89, False, False),
        (INTERVAL, WIDTH / 2, 90, False, False),
        (INTERVAL + SECOND, WIDTH / 2, 90, True, False),
        (2 * INTERVAL, WIDTH, 180, True, False),
        (2 * INTERVAL + SECOND, WIDTH, 180, True, True),
        (1000 * DAY, WIDTH, 1000, True, True),
    ],
)
def test_a_device_drifts_right_and_then_under_water(
    age: timedelta, x: float, days: int, under_water: bool, off_the_edge: bool
) -> None:
    (mark,) = marks_on(wall_of(a_mark(age=age)))

    assert (mark.x, mark.days) == (x, days)
    assert (mark.under_water, mark.off_the_edge) == (under_water, off_the_edge)


def test_a_device_never_read_stands_at_the_far_right() -> None:
    (mark,) = marks_on(wall_of(a_mark(age=None)))

    assert (mark.x, mark.days, mark.under_water) == (NEVER, None, True)
    assert mark.shape is Shape.OUTLINE
    assert mark.words == "not judged, never read, under water"


@pytest.mark.parametrize(
    ("tally", "age", "shape"),
    [
        (HOLDS, INTERVAL, Shape.LEVEL),
        (HOLDS, INTERVAL + SECOND, Shape.OUTLINE),
        (Tally(missing=1), DAY, Shape.OUTLINE),
        (LOOSER, DAY, Shape.OPENING),
        (LOOSER, INTERVAL + SECOND, Shape.OPENING),
        (TIGHTER, DAY, Shape.CLOSING),
        (BOTH, DAY, Shape.OPENING),
        (OTHER, DAY, Shape.BROKEN),
        (UNSAFE, DAY, Shape.OPENING),
    ],
)
def test_the_shape_tells_which_way_it_leans_and_no_bar_is_level_for_ever(
    tally: Tally, age: timedelta, shape: Shape
) -> None:
    (mark,) = marks_on(wall_of(a_mark(age=age, tally=tally)))

    assert mark.shape is shape


def test_unsafe_is_said_in_words() -> None:
    (mark,) = marks_on(wall_of(a_mark(age=DAY, tally=UNSAFE)))

    assert mark.unsafe
    assert mark.words == "unsafe, looser, read 1 day ago"


def test_a_row_a_station_in_the_order_of_their_names() -> None:
    wall = wall_of(a_mark("b", station="South"), a_mark("a", station="North"), a_mark("c"))

    assert [(row.station, row.devices) for row in wall.rows] == [("North", 2), ("South", 1)]


@pytest.mark.parametrize(
    ("beyond", "lanes"),
    [(None, [0, 1]), (-1, [0, 1]), (0, [0, 0]), (1, [0, 0])],
)
def test_marks_that_would_hide_each_other_take_another_lane(
    beyond: float | None, lanes: list[int]
) -> None:
    room = MARK + len("a ") * LETTER
    later = timedelta(0) if beyond is None else (room + beyond) / WIDTH * 2 * INTERVAL

    (row,) = wall_of(a_mark("a", timedelta(0)), a_mark("b", later)).rows

    assert [mark.lane for mark in row.marks] == lanes
    assert row.lanes == max(lanes) + 1


@pytest.mark.parametrize(("devices", "named"), [(NAMED, True), (NAMED + 1, False)])
def test_only_a_small_fleet_shows_its_tags_but_unsafe_is_always_a_word(
    devices: int, named: bool
) -> None:
    others = [a_mark(f"kit-{n}", n * DAY, station=str(n % 9)) for n in range(devices - 1)]

    wall = wall_of(*others, a_mark("boat", tally=UNSAFE))

    labels = {mark.mark.device.tag: mark.label for mark in marks_on(wall)}
    assert labels["boat"] == ("boat unsafe" if named else "unsafe")
    assert labels["kit-1"] == ("kit-1" if named else "")


@pytest.mark.parametrize(
    ("tag", "label"), [("a" * LONGEST, "a" * LONGEST), ("b" * (LONGEST + 1), "bbbbbbbbbbb…")]
)
def test_a_long_tag_is_cut(tag: str, label: str) -> None:
    (mark,) = marks_on(wall_of(a_mark(tag)))

    assert mark.label == label
    assert len(mark.label) == LONGEST


def test_rows_stand_below_one_another() -> None:
    wall = wall_of(a_mark("a"), a_mark("b"), a_mark("c", station="South"))
    north, south = wall.rows

    assert (north.lanes, south.lanes) == (2, 1)
    assert (north.top, south.top) == (0, LABEL + 2 * LANE + GAP)
    assert wall.height == south.top + south.height


def test_a_row_tells_how_many_are_unsafe_and_under_water() -> None:
    (row,) = wall_of(a_mark("a", tally=UNSAFE), a_mark("b", None), a_mark("c")).rows

    assert (row.devices, row.unsafe, row.under_water) == (3, 1, 1)


def test_never_read_devices_stand_one_below_the_other() -> None:
    (row,) = wall_of(a_mark("a", None), a_mark("b", None)).rows

    assert [(mark.x, mark.lane) for mark in row.marks] == [(NEVER, 0), (NEVER, 1)]


def test_without_their_tags_they_fill_their_place_line_by_line() -> None:
    elsewhere = [a_mark(str(n), n * DAY, station=str(n % 9)) for n in range(NAMED)]
    never = [a_mark(f"kit-{number}", None) for number in range(SLOTS + 1)]

    row = wall_of(*elsewhere, *never).rows[-1]

    assert [(mark.x, mark.lane) for mark in row.marks[-2:]] == [
        (NEVER + (SLOTS - 1) * MARK, 0),
        (NEVER, 1),
    ]


@pytest.mark.parametrize(
    ("age", "shown"),
    [
        (-SECOND, []),
        (timedelta(0), [("revision 2", 0)]),
        (2 * INTERVAL, [("revision 2", WIDTH)]),
        (2 * INTERVAL + SECOND, []),
    ],
)
def test_a_line_stands_where_a_revision_came_into_force_if_it_fits(
    age: timedelta, shown: list[tuple[str, float]]
) -> None:
    wall = wall_of(a_mark(), beginnings=(Beginning(2, NOW - age),))

    assert [(line.label, line.x) for line in wall.revisions] == shown


def test_the_axis_names_the_check_interval_and_its_halves() -> None:
    wall = wall_of(a_mark())

    assert [(tick.label, tick.x) for tick in wall.ticks] == [
        ("0 d", 0),
        ("45 d", 180),
        ("90 d", 360),
        ("135 d", 540),
        ("180 d", 720),
    ]
    assert (wall.water.x, wall.water.days) == (360, 90)


@pytest.mark.parametrize(("alike", "counted"), [(DEEPEST, False), (DEEPEST + 1, True)])
def test_so_is_a_crowd_read_on_one_day(alike: int, counted: bool) -> None:
    assert wall_of(*(a_mark(str(number)) for number in range(alike))).counted is counted


def test_every_device_is_counted_once_in_its_cell() -> None:
    crowd = [a_mark(str(number), tally=TIGHTER) for number in range(DEEPEST)]
    others = [
        a_mark("unsafe", tally=UNSAFE),
        a_mark("old", 2 * INTERVAL),
        a_mark("older", 5 * INTERVAL),
        a_mark("never", None),
    ]

    (row,) = wall_of(*crowd, *others).rows

    assert [
        (cell.start, cell.end, cell.devices, cell.differ, cell.unsafe) for cell in row.cells
    ] == [
        (0, 21, DEEPEST + 1, DEEPEST, 1),
        (157, None, 2, 0, 0),
        (None, None, 1, 0, 0),
    ]


@pytest.mark.parametrize(
    ("interval", "begins"),
    [
        (90, (0, 22, 45, 67, 90, 112, 135, 157)),
        (4, (0, 1, 2, 3, 4, 5, 6, 7)),
        (1, (0, 1)),
    ],
)
def test_columns_begin_on_whole_days_and_the_check_interval_is_one(
    interval: int, begins: tuple[int, ...]
) -> None:
    columns = Scale(interval * DAY, NOW).columns

    assert columns == begins
    assert interval in columns
    assert len(columns) <= CELLS


def a_count(
    station: str, devices: int, status: DeviceStatus = DeviceStatus.HOLDS, *, overdue: bool = False
) -> TideCount:
    return TideCount(station, 7 if overdue else 0, status, overdue, devices)


def test_a_counted_wall_begins_with_all_stations_together() -> None:
    wall = counted_wall(a_count("B", 3), a_count("A", 4), a_count("A", 1, DeviceStatus.UNSAFE))

    assert wall.counted
    assert [(row.station, row.devices, row.unsafe) for row in wall.rows] == [
        (EVERYWHERE, 8, 1),
        ("A", 5, 1),
        ("B", 3, 0),
    ]
    assert wall.rows[0].everywhere


def test_one_station_needs_no_row_for_all() -> None:
    assert [row.station for row in counted_wall(a_count("A", 900)).rows] == ["A"]


@pytest.mark.parametrize(("stations", "left_out"), [(MOST_ROWS, 0), (MOST_ROWS + 1, 1)])
def test_of_very_many_stations_those_are_drawn_that_need_somebody(
    stations: int, left_out: int
) -> None:
    counts = [a_count(f"S{number:03}", 20) for number in range(stations)]
    last = a_count(f"S{stations - 1:03}", 1, DeviceStatus.UNSAFE)

    wall = counted_wall(*counts, last, a_count("S001", 1, overdue=True))

    assert wall.left_out == left_out
    assert len(wall.stations) == stations
    assert f"S{stations - 1:03}" in [row.station for row in wall.rows]
    if left_out:
        assert [row.station for row in wall.rows[1:3]] == [f"S{stations - 1:03}", "S001"]


def test_a_cell_says_what_needs_somebody_first() -> None:
    wall = counted_wall(
        a_count("A", 1200),
        a_count("A", 3, DeviceStatus.DIFFERS),
        a_count("A", 2, DeviceStatus.UNSAFE),
    )

    (cell,) = wall.rows[0].cells
    assert cell.words == "2 unsafe, 3 differ, 1,205 in all, 0 to 21 days ago"
    assert cell.share == 1


def test_an_empty_fleet_has_a_wall_without_rows() -> None:
    wall = wall_of()

    assert (wall.rows, wall.stations, wall.counted) == ((), (), False)


def test_status_and_shape_agree() -> None:
    (mark,) = marks_on(wall_of(a_mark(tally=UNSAFE)))

    assert mark.status is DeviceStatus.UNSAFE
