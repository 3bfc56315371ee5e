"""The age corridor as data: a lane a vital sign, each with walls, fan, silence and noise."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from functools import lru_cache

from app.domain.alarm_conditions import SIDES, limits_of
from app.domain.centile_fan import CENTILES, CentileFan, fan_of
from app.domain.centiles import References
from app.domain.corridor_regions import noisy_regions, silent_region, with_words
from app.domain.corridor_shapes import (
    Face,
    FanBand,
    Line,
    Region,
    Scale,
    Wall,
    at_age,
    point,
    scale_of,
)
from app.domain.corridor_walls import faces_of, in_order, limits_in, walls_in
from app.domain.default_bounds import DEFAULT_BOUNDS
from app.domain.outer_bounds import OuterBounds
from app.domain.patient_categories import PatientCategory
from app.domain.profiles import Profile
from app.domain.reference_ranges import PUBLISHED
from app.domain.rules.rule import Question
from app.domain.settings_of_alarms import Off, On
from app.domain.silence import Silence, silences
from app.domain.vital_signs import VITAL_SIGNS, VitalSign, group_of, judged_as


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


def corridor(
    profile: Profile,
    in_force: Profile | None = None,
    *,
    references: References = PUBLISHED,
    bounds: OuterBounds = DEFAULT_BOUNDS,
    redrawn: tuple[Profile, Corridor] | None = None,
) -> Corridor:
    """Only the lanes in which the profile sets something; always in the same order.

    `redrawn` is an earlier profile and its corridor, drawn with everything else the same: a lane
    that no difference touches is taken from there.
    """
    kept = {} if redrawn is None else _untouched(redrawn[0], profile, redrawn[1])
    silent = _Silences(profile, references, bounds)
    lanes = [
        kept.get(vital.key)
        or _lane(vital, profile, in_force, fan_of(references, vital.key), silent.of(vital))
        for vital in VITAL_SIGNS.values()
        if _sets_something(profile, vital)
    ]
    return Corridor(tuple(map(_band, in_order(profile))), tuple(lanes))


def _untouched(was: Profile, now: Profile, drawn: Corridor) -> dict[str, Lane]:
    """Silence hangs on a whole group of sensors, and on what the models and options are."""
    if (was.categories, was.models, was.options) != (now.categories, now.models, now.options):
        return {}
    return {
        lane.vital.key: lane
        for lane in drawn.lanes
        if all(
            was.of_category(category.key).get(alarm.key)
            == now.of_category(category.key).get(alarm.key)
            for vital in group_of(lane.vital.key)
            for alarm in limits_of(vital)
            for category in now.categories
        )
    }


def _band(category: PatientCategory) -> Band:
    start, end = at_age(category.span.start), at_age(category.span.stop)
    return Band(category.key, category.label, start, end)


def _sets_something(profile: Profile, vital: VitalSign) -> bool:
    return any(
        isinstance(settings.get(alarm.key), On | Off)
        for settings in profile.settings.values()
        for alarm in limits_of(vital.key)
    )


@dataclass
class _Silences:
    """What passes unannounced, asked for once a group of sensors."""

    profile: Profile
    references: References
    bounds: OuterBounds
    asked: dict[tuple[str, ...], list[tuple[str, Silence]]] = field(default_factory=dict)

    def of(self, vital: VitalSign) -> list[tuple[str, Silence]]:
        """With the category of each."""
        group = group_of(vital.key)
        if group not in self.asked:
            self.asked[group] = list(self._in(group))
        return self.asked[group]

    def _in(self, group: tuple[str, ...]) -> Iterator[tuple[str, Silence]]:
        for category in self.profile.categories:
            settings = self.profile.of_category(category.key)
            question = Question(self.profile, category, settings, self.references, self.bounds)
            for side in SIDES:
                for silence in silences(question.watch, group, side, category.span):
                    yield category.key, silence


def _lane(
    vital: VitalSign,
    profile: Profile,
    in_force: Profile | None,
    fan: CentileFan | None,
    silent: Sequence[tuple[str, Silence]],
) -> Lane:
    limits = [*limits_in(profile, vital), *(limits_in(in_force, vital) if in_force else ())]
    scale = scale_of(vital, [float(limit.value) for limit in limits])
    walls = tuple(walls_in(profile, vital, scale))
    behind = tuple(walls_in(in_force, vital, scale)) if in_force else ()
    return Lane(
        vital=vital,
        scale=scale,
        fan=() if fan is None else _fan_bands(fan, scale),
        median=() if fan is None else _centile_line(fan, CENTILES.index(50), scale),
        fan_source=None if fan is None else fan.source,
        walls=walls,
        faces=tuple(faces_of(walls, scale)),
        in_force=tuple(faces_of(behind, scale)),
        silent=with_words(
            [silent_region(s, key, scale) for key, s in silent if _belongs(s, vital)]
        ),
        noisy=() if fan is None else with_words(noisy_regions(walls, fan, scale)),
    )


@lru_cache(maxsize=64)
def _fan_bands(fan: CentileFan, scale: Scale) -> tuple[FanBand, ...]:
    lines = [_centile_line(fan, index, scale) for index in range(len(CENTILES))]
    return tuple(
        FanBand(CENTILES[index], CENTILES[-1 - index], (*lines[index], *lines[-1 - index][::-1]))
        for index in range(len(CENTILES) // 2)
    )


@lru_cache(maxsize=256)
def _centile_line(fan: CentileFan, index: int, scale: Scale) -> Line:
    stops = zip(fan.xs, fan.values, strict=True)
    return tuple(point(x, values[index], scale) for x, values in stops)


def _belongs(silence: Silence, vital: VitalSign) -> bool:
    """A group's silence shows in every lane that could have broken it, on the same quantity."""
    mine = {alarm.key for alarm in limits_of(vital.key)}
    return judged_as(vital.key) == silence.bound.quantity and not mine.isdisjoint(silence.alarms)
