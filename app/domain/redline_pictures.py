"""One vital sign before and after along the age axis: walls and silence, and below them the share
of healthy people beyond the limits as a stepped line."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from app.domain.corridor_regions import silent_region, with_words
from app.domain.corridor_shapes import Face, Line, Point, Region, Scale, Wall, at_age, scale_of
from app.domain.corridor_walls import faces_of, limits_in, walls_in
from app.domain.redline_effects import Held, Share, VitalEffect

SHARE_HEIGHT = 64.0
_TOPS = (0.02, 0.05, 0.1, 0.25, 0.5, 1.0)


@dataclass(frozen=True)
class Picture:
    """`before` is drawn dashed, `after` solid. Shares run from 0 at SHARE_HEIGHT to `top` at 0."""

    scale: Scale
    walls: tuple[Wall, ...]
    faces: tuple[Face, ...]
    before: tuple[Face, ...]
    silent: tuple[Region, ...]
    silent_before: tuple[Region, ...]
    shares: tuple[Line, ...]
    shares_before: tuple[Line, ...]
    top: float


def picture(effect: VitalEffect) -> Picture:
    vital = effect.vital
    policies = (effect.before.profile, effect.after.profile)
    limits = [float(one.value) for profile in policies for one in limits_in(profile, vital)]
    scale = scale_of(vital, limits)
    behind, walls = (tuple(walls_in(profile, vital, scale)) for profile in policies)
    most = max(
        (one.share for held in (effect.before, effect.after) for one in held.shares), default=0
    )
    top = next(top for top in _TOPS if most <= top)
    return Picture(
        scale=scale,
        walls=walls,
        faces=tuple(faces_of(walls, scale)),
        before=tuple(faces_of(behind, scale)),
        silent=with_words(_regions(effect.after, scale)),
        silent_before=tuple(_regions(effect.before, scale)),
        shares=tuple(_steps(effect.after.shares, top)),
        shares_before=tuple(_steps(effect.before.shares, top)),
        top=top,
    )


def _regions(held: Held, scale: Scale) -> Iterator[Region]:
    for silence in held.silent:
        if silence.bound.grade == "danger":
            yield silent_region(silence, "", scale)


def _steps(shares: Iterable[Share], top: float) -> Iterator[Line]:
    """One line a run of ages without a hole."""
    run: list[Point] = []
    end: float | None = None
    for share in shares:
        start, stop = at_age(share.ages.start), at_age(share.ages.stop)
        if run and start != end:
            yield tuple(run)
            run = []
        y = round((1 - share.share / top) * SHARE_HEIGHT, 1)
        run += [Point(start, y), Point(stop, y)]
        end = stop
    if run:
        yield tuple(run)
