"""By what a hand takes hold of a wall: where it stands, and at which values it can stand."""

from collections.abc import Iterator
from dataclasses import dataclass
from decimal import Decimal

from app.domain.alarm_conditions import ALARM_CONDITIONS, AlarmCondition
from app.domain.corridor import Lane
from app.domain.corridor_shapes import Wall
from app.domain.patient_categories import PatientCategory
from app.domain.profiles import Profile
from app.domain.settings_of_alarms import On, convert
from app.domain.wall_steps import Stops, stops_of
from app.domain.written_limits import shown_unit


@dataclass(frozen=True)
class Grip:
    """`limit`, `stops`, `bottom` and `top` (of the lane) in the unit in which the limit is
    written, which is `shown` to people."""

    category: PatientCategory
    alarm: AlarmCondition
    wall: Wall
    limit: Decimal
    shown: str
    stops: Stops
    bottom: float
    top: float

    @property
    def id(self) -> str:
        return f"grip-{self.category.key}-{self.alarm.key}"

    @property
    def knob(self) -> float:
        """Where along the wall its knob shows: beside its number, which stands in the middle."""
        middle = (self.wall.start.x + self.wall.end.x) / 2
        return round(min(middle + 34, self.wall.end.x - 8), 1)


def grips_of(profile: Profile, lane: Lane) -> Iterator[Grip]:
    """The first line of every alarm that is on; a deep line is moved in its cell."""
    for wall in lane.walls:
        setting = profile.of_category(wall.category).get(wall.alarm)
        category = profile.category(wall.category)
        if wall.deep or category is None or not isinstance(setting, On) or setting.limit is None:
            continue
        alarm, unit = ALARM_CONDITIONS[wall.alarm], setting.unit or lane.vital.unit
        bottom, top = (_in(unit, edge, lane) for edge in (lane.scale.bottom, lane.scale.top))
        yield Grip(
            category,
            alarm,
            wall,
            setting.limit,
            shown_unit(unit),
            stops_of(profile, alarm, setting.unit),
            bottom,
            top,
        )


def _in(unit: str, value: float, lane: Lane) -> float:
    return round(float(convert(Decimal(str(value)), lane.vital.unit, unit)), 4)
