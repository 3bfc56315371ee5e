"""The age corridor as data: walls, the published fan, and where it is silent or noisy.

x runs from 0 at birth to WIDTH at 100 years, the same in every lane and on every page; y runs
from 0 at a lane's top to HEIGHT at its bottom.
"""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from itertools import pairwise
from typing import Literal

from app.domain.age_axis import x_of
from app.domain.ages import Age
from app.domain.alarm_conditions import AlarmCondition, Side, limits_of
from app.domain.centile_fan import CENTILES, CentileFan, fan_of
from app.domain.centiles import References
from app.domain.default_bounds import DEFAULT_BOUNDS
from app.domain.outer_bounds import OuterBounds
from app.domain.patient_categories import PatientCategory
from app.domain.profiles import Profile
from app.domain.reference_ranges import PUBLISHED
from app.domain.rules.rule import Question
from app.domain.settings_of_alarms import Off, On, lines_of
from app.domain.silence import Silence, sides, silences
from app.domain.vital_signs import VITAL_SIGNS, VitalSign, judged_as
from app.domain.written_limits import show_deep, show_limit

WIDTH, HEIGHT = 1000.0, 132.0
_SMOOTH = 8  # stops along a bound that moves with age
_WORD, _WORD_HEIGHT = 46.0, 10.0  # what a word takes up


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


@dataclass(frozen=True)
class Lane:
    """`in_force` are the walls of the revision in force, drawn dashed behind those of a draft."""

    vital: VitalSign
    scale: Scale
    fan: tuple[FanBand, ...]
    median: Line
    fan_source: str | None
    walls: tuple[Wall, ...]
    faces: tuple[Face, ...]
    in_force: tuple[Face, ...]
    silent: tuple[Region, ...]
    noisy: tuple[Region, ...]


@dataclass(frozen=True)
class Band:
    """One category along the axis."""

    key: str
    label: str
    start: float
    end: float


@dataclass(frozen=True)
class Corridor:
    bands: tuple[Band, ...]
    lanes: tuple[Lane, ...]

    def lane(self, vital_sign: str) -> Lane:
        return next(lane for lane in self.lanes if lane.vital.key == vital_sign)


def at_age(age: Age) -> float:
    return round(x_of(age) * WIDTH, 1)


def corridor(
    profile: Profile,
    in_force: Profile | None = None,
    *,
    references: References = PUBLISHED,
    bounds: OuterBounds = DEFAULT_BOUNDS,
) -> Corridor:
    """Only the lanes in which the profile sets something; always in the same order."""
    silent = list(_silences(profile, references, bounds))
    lanes = [
        _lane(vital, profile, in_force, fan_of(references, vital.key), silent)
        for vital in VITAL_SIGNS.values()
        if _sets_something(profile, vital)
    ]
    return Corridor(tuple(map(_band, _in_order(profile))), tuple(lanes))


def _in_order(profile: Profile) -> list[PatientCategory]:
    return sorted(profile.categories, key=lambda category: category.span.start)


def _band(category: PatientCategory) -> Band:
    start, end = at_age(category.span.start), at_age(category.span.stop)
    return Band(category.key, category.label, start, end)


def _sets_something(profile: Profile, vital: VitalSign) -> bool:
    return any(
        isinstance(settings.get(alarm.key), On | Off)
        for settings in profile.settings.values()
        for alarm in limits_of(vital.key)
    )


def _silences(
    profile: Profile, references: References, bounds: OuterBounds
) -> Iterator[tuple[str, Silence]]:
    for category in profile.categories:
        settings = profile.of_category(category.key)
        watch = Question(profile, category, settings, references, bounds).watch
        for group, side in sides():
            for silence in silences(watch, group, side, category.span):
                yield category.key, silence


def _lane(
    vital: VitalSign,
    profile: Profile,
    in_force: Profile | None,
    fan: CentileFan | None,
    silent: Sequence[tuple[str, Silence]],
) -> Lane:
    limits = [*_limits(profile, vital), *(_limits(in_force, vital) if in_force else ())]
    scale = scale_of(vital, [float(limit.value) for limit in limits])
    walls = tuple(_walls(profile, vital, scale))
    behind = tuple(_walls(in_force, vital, scale)) if in_force else ()
    return Lane(
        vital=vital,
        scale=scale,
        fan=() if fan is None else tuple(_fan_bands(fan, scale)),
        median=() if fan is None else _centile_line(fan, CENTILES.index(50), scale),
        fan_source=None if fan is None else fan.source,
        walls=walls,
        faces=tuple(_faces(walls, scale)),
        in_force=tuple(_faces(behind, scale)),
        silent=_labelled([_silent(s, key, scale) for key, s in silent if _belongs(s, vital)]),
        noisy=() if fan is None else _labelled(_noisy(walls, fan, scale)),
    )


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


@dataclass(frozen=True)
class _Limit:
    category: PatientCategory
    alarm: AlarmCondition
    value: Decimal
    written: str
    deep: bool


def _limits(profile: Profile, vital: VitalSign) -> Iterator[_Limit]:
    for alarm in limits_of(vital.key):
        for category in _in_order(profile):
            setting = profile.of_category(category.key).get(alarm.key)
            lines = lines_of(setting, alarm) if isinstance(setting, On) else []
            written = _written(setting, alarm) if isinstance(setting, On) else []
            for index, (value, _) in enumerate(lines):
                yield _Limit(category, alarm, value, written[index], deep=index > 0)


def _written(setting: On, alarm: AlarmCondition) -> list[str]:
    """In the order of `lines_of`."""
    lines = [show_limit(setting, alarm)] if setting.limit is not None else []
    return lines if setting.deep is None else [*lines, show_deep(setting, setting.deep, alarm)]


def _walls(profile: Profile, vital: VitalSign, scale: Scale) -> Iterator[Wall]:
    for limit in _limits(profile, vital):
        span, y = limit.category.span, scale.y_of(float(limit.value))
        yield Wall(
            limit.category.key,
            limit.alarm.key,
            limit.alarm.side,
            limit.value,
            limit.written,
            limit.deep,
            Point(at_age(span.start), y),
            Point(at_age(span.stop), y),
        )


def _faces(walls: Sequence[Wall], scale: Scale) -> Iterator[Face]:
    sides_and_depths = dict.fromkeys((wall.side, wall.deep) for wall in walls)
    for side, deep in sides_and_depths:
        run: list[Wall] = []
        for wall in (wall for wall in walls if (wall.side, wall.deep) == (side, deep)):
            if run and run[-1].end.x != wall.start.x:
                yield _face(run, scale)
                run = []
            run.append(wall)
        yield _face(run, scale)


def _face(run: Sequence[Wall], scale: Scale) -> Face:
    line = tuple(point for wall in run for point in (wall.start, wall.end))
    beyond = scale.y_of(scale.edge(run[0].side))
    mass = (Point(line[0].x, beyond), *line, Point(line[-1].x, beyond))
    return Face(run[0].side, run[0].deep, line, mass)


def _fan_bands(fan: CentileFan, scale: Scale) -> Iterator[FanBand]:
    for index in range(len(CENTILES) // 2):
        low = _centile_line(fan, index, scale)
        high = _centile_line(fan, -1 - index, scale)
        yield FanBand(CENTILES[index], CENTILES[-1 - index], (*low, *high[::-1]))


def _centile_line(fan: CentileFan, index: int, scale: Scale) -> Line:
    stops = zip(fan.xs, fan.values, strict=True)
    return tuple(_point(x, values[index], scale) for x, values in stops)


def _point(x: float, value: float, scale: Scale) -> Point:
    return Point(round(x * WIDTH, 1), scale.y_of(value))


def _belongs(silence: Silence, vital: VitalSign) -> bool:
    """A group's silence shows in every lane that could have broken it, on the same quantity."""
    mine = {alarm.key for alarm in limits_of(vital.key)}
    return judged_as(vital.key) == silence.bound.quantity and not mine.isdisjoint(silence.alarms)


def _silent(silence: Silence, category: str, scale: Scale) -> Region:
    """From the limit, or the lane's edge where none stands, to the outer bound."""
    limit = scale.edge(silence.side) if silence.limit is None else float(silence.limit)
    start, stop = silence.ages.start, silence.ages.stop
    pieces = _SMOOTH if silence.bound.per_year else 1
    ages = [
        Age(start.days + (stop.days - start.days) * piece / pieces) for piece in range(pieces + 1)
    ]
    edge = [Point(at_age(age), scale.y_of(float(silence.bound.at(age)))) for age in ages]
    near = scale.y_of(limit)
    outline = (Point(edge[0].x, near), *edge, Point(edge[-1].x, near))
    return Region("silent", silence.bound.grade, category, silence.side, outline, None)


def _noisy(walls: Sequence[Wall], fan: CentileFan, scale: Scale) -> Iterator[Region]:
    for wall in walls:
        if wall.deep:
            continue
        stops = fan.between(wall.start.x / WIDTH, wall.end.x / WIDTH)
        for run in _runs_outside(stops, wall):
            near = [_point(x, _clamped(values, wall), scale) for x, values in run]
            far = [_point(x, values[_outermost(wall)], scale) for x, values in run]
            outline = (*near, *far[::-1])
            yield Region("noisy", "note", wall.category, wall.side, outline, None)


_Stop = tuple[float, tuple[float, ...]]


def _outermost(wall: Wall) -> int:
    return 0 if wall.side == "low" else -1


def _clamped(values: tuple[float, ...], wall: Wall) -> float:
    """The fan's edge where the whole fan lies outside, else the wall."""
    limit = float(wall.limit)
    return min(limit, values[-1]) if wall.side == "low" else max(limit, values[0])


def _beyond(stop: _Stop, wall: Wall) -> float:
    """How far the fan reaches outside the wall; below zero where it does not."""
    reach = stop[1][_outermost(wall)] - float(wall.limit)
    return -reach if wall.side == "low" else reach


def _runs_outside(stops: Sequence[_Stop], wall: Wall) -> Iterator[list[_Stop]]:
    run = [stops[0]] if stops and _beyond(stops[0], wall) > 0 else []
    for before, after in pairwise(stops):
        leaving, arriving = _beyond(before, wall), _beyond(after, wall)
        if (leaving > 0) != (arriving > 0):
            run.append(_crossing(before, after, leaving / (leaving - arriving)))
        if arriving > 0:
            run.append(after)
        elif run:
            yield run
            run = []
    if run:
        yield run


def _crossing(before: _Stop, after: _Stop, share: float) -> _Stop:
    x = before[0] + share * (after[0] - before[0])
    pairs = zip(before[1], after[1], strict=True)
    return x, tuple(low + share * (high - low) for low, high in pairs)


def _labelled(regions: Iterable[Region]) -> tuple[Region, ...]:
    """A word where there is room for it, and not a second one right beside the first."""
    found: list[Region] = []
    taken: list[Point] = []
    for region in regions:
        place = None if region.grade == "caution" else _word_place(region)
        if place is not None and all(_apart(place, other) for other in taken):
            taken.append(place)
            region = replace(region, label=place)
        found.append(region)
    return tuple(found)


def _word_place(region: Region) -> Point | None:
    """In the middle of a tall silence, else in the open corridor beside the region."""
    xs = [point.x for point in region.outline]
    top, bottom = (pick(point.y for point in region.outline) for pick in (min, max))
    if max(xs) - min(xs) < _WORD / 2 or bottom - top < 2:
        return None
    y = top - 4 if region.side == "low" else bottom + 13
    if region.kind == "silent" and bottom - top > 2 * _WORD_HEIGHT:
        y = (top + bottom + _WORD_HEIGHT) / 2
    return Point((min(xs) + max(xs)) / 2, min(max(y, _WORD_HEIGHT), HEIGHT - 2))


def _apart(place: Point, other: Point) -> bool:
    return abs(place.x - other.x) > 2 * _WORD or abs(place.y - other.y) > 2 * _WORD_HEIGHT
