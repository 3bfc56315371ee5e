"""Where the age corridor is silent, where it is noisy, and where the words for it stand."""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace
from functools import lru_cache
from itertools import pairwise

from app.domain.ages import Age
from app.domain.centile_fan import CentileFan
from app.domain.corridor_shapes import HEIGHT, WIDTH, Point, Region, Scale, Wall, at_age, point
from app.domain.silence import Silence

_SMOOTH = 8  # pieces of a bound that moves with age
_WORD, _WORD_HEIGHT = 46.0, 10.0  # what a word takes up


def silent_region(silence: Silence, category: str, scale: Scale) -> Region:
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


def noisy_regions(walls: Sequence[Wall], fan: CentileFan, scale: Scale) -> Iterator[Region]:
    for wall in walls:
        if not wall.deep:
            yield from _noisy(wall, fan, scale)


@lru_cache(maxsize=1024)
def _noisy(wall: Wall, fan: CentileFan, scale: Scale) -> tuple[Region, ...]:
    """Kept: of all walls of a lane, an edit moves one."""
    found = []
    stops = fan.between(wall.start.x / WIDTH, wall.end.x / WIDTH)
    for run in _runs_outside(stops, wall):
        near = [point(x, _clamped(values, wall), scale) for x, values in run]
        far = [point(x, values[_outermost(wall)], scale) for x, values in run]
        outline = (*near, *far[::-1])
        found.append(Region("noisy", "note", wall.category, wall.side, outline, None))
    return tuple(found)


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


def with_words(regions: Iterable[Region]) -> tuple[Region, ...]:
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
