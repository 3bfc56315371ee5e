from datetime import UTC, datetime, timedelta

import pytest

from app.domain.devices import Device
from app.domain.findings import Severity
from app.domain.fleet import Tally
from app.domain.known_devices import DeviceStatus, Mark
from app.domain.tide_marks import LETTER, LONGEST, MARK, NEVER, WIDTH, Shape
from app.domain.tide_wall import (
    CELLS,
    DEEPEST,
    GAP,
    LABEL,
    LANE,
    MOST,
    NAMED,
    SLOTS,
    Beginning,
    TideWall,
    tide_wall,
)

NOW = datetime(2026, 3, 2, 9, 0, tzinfo=UTC)
SECOND, DAY = timedelta(seconds=1), timedelta(days=1)
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
    return tide_wall(judged, beginnings, check_interval=INTERVAL, now=NOW)


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
    (mark,) = wall_of(a_mark(age=age)).marks

    assert (mark.x, mark.days) == (x, days)
    assert (mark.under_water, mark.off_the_edge) == (under_water, off_the_edge)


def test_a_device_never_read_stands_at_the_far_right() -> None:
    (mark,) = wall_of(a_mark(age=None)).marks

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
    (mark,) = wall_of(a_mark(age=age, tally=tally)).marks

    assert mark.shape is shape


def test_unsafe_is_said_in_words() -> None:
    (mark,) = wall_of(a_mark(age=DAY, tally=UNSAFE)).marks

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

    labels = {mark.mark.device.tag: mark.label for mark in wall.marks}
    assert labels["boat"] == ("boat unsafe" if named else "unsafe")
    assert labels["kit-1"] == ("kit-1" if named else "")


@pytest.mark.parametrize(
    ("tag", "label"), [("a" * LONGEST, "a" * LONGEST), ("b" * (LONGEST + 1), "bbbbbbbbbbb…")]
)
def test_a_long_tag_is_cut(tag: str, label: str) -> None:
    (mark,) = wall_of(a_mark(tag)).marks

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


@pytest.mark.parametrize(("devices", "counted"), [(MOST, False), (MOST + 1, True)])
def test_a_large_fleet_is_counted(devices: int, counted: bool) -> None:
    marks = [a_mark(str(n), n % 170 * DAY, station=str(n % 60)) for n in range(devices)]

    assert wall_of(*marks).counted is counted


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

    assert [(cell.column, cell.devices, cell.differ, cell.unsafe) for cell in row.cells] == [
        (0, DEEPEST + 1, DEEPEST + 1, 1),
        (CELLS - 1, 2, 0, 0),
        (CELLS, 1, 0, 0),
    ]


def test_the_table_begins_with_what_needs_somebody() -> None:
    wall = wall_of(
        a_mark("holds", DAY),
        a_mark("never", None),
        a_mark("lapsed", 100 * DAY),
        a_mark("differs", DAY, tally=TIGHTER),
        a_mark("unsafe-new", DAY, tally=UNSAFE),
        a_mark("unsafe-old", 3 * DAY, tally=UNSAFE),
    )

    assert [mark.mark.device.tag for mark in wall.marks] == [
        "unsafe-old",
        "unsafe-new",
        "differs",
        "never",
        "lapsed",
        "holds",
    ]


@pytest.mark.parametrize(
    ("start", "end", "found"),
    [
        (10, 10, {"ten"}),
        (11, 50, {"fifty"}),
        (10, 49, {"ten"}),
        (0, None, {"ten", "fifty", "never"}),
        (51, None, {"never"}),
    ],
)
def test_a_stretch_makes_a_list(start: int, end: int | None, found: set[str]) -> None:
    wall = wall_of(a_mark("ten"), a_mark("fifty", 50 * DAY), a_mark("never", None))

    assert {mark.mark.device.tag for mark in wall.within(start, end)} == found


def test_an_empty_fleet_has_a_wall_without_rows() -> None:
    wall = wall_of()

    assert (wall.rows, wall.marks, wall.counted) == ((), [], False)


def test_status_and_shape_agree() -> None:
    (mark,) = wall_of(a_mark(tally=UNSAFE)).marks

    assert mark.status is DeviceStatus.UNSAFE
