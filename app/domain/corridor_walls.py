"""The walls of the age corridor: one a limit, stepped at the edges of the categories."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from decimal import Decimal

from app.domain.alarm_conditions import AlarmCondition, limits_of
from app.domain.corridor_shapes import Face, Point, Scale, Wall, at_age
from app.domain.patient_categories import PatientCategory
from app.domain.profiles import Profile
from app.domain.settings_of_alarms import On, lines_of
from app.domain.vital_signs import VitalSign
from app.domain.written_limits import show_deep, show_limit


def in_order(profile: Profile) -> list[PatientCategory]:
    return sorted(profile.categories, key=lambda category: category.span.start)


@dataclass(frozen=True)
class Limit:
    category: PatientCategory
    alarm: AlarmCondition
    value: Decimal
    written: str
    deep: bool


def limits_in(profile: Profile, vital: VitalSign) -> Iterator[Limit]:
    for alarm in limits_of(vital.key):
        for category in in_order(profile):
            setting = profile.of_category(category.key).get(alarm.key)
            lines = lines_of(setting, alarm) if isinstance(setting, On) else []
            written = _written(setting, alarm) if isinstance(setting, On) else []
            for index, (value, _) in enumerate(lines):
                yield Limit(category, alarm, value, written[index], deep=index > 0)


def _written(setting: On, alarm: AlarmCondition) -> list[str]:
    """In the order of `lines_of`."""
    lines = [show_limit(setting, alarm)] if setting.limit is not None else []
    return lines if setting.deep is None else [*lines, show_deep(setting, setting.deep, alarm)]


def walls_in(profile: Profile, vital: VitalSign, scale: Scale) -> Iterator[Wall]:
    for limit in limits_in(profile, vital):
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


def faces_of(walls: Sequence[Wall], scale: Scale) -> Iterator[Face]:
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
