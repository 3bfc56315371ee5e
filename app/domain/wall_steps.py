"""The values at which a wall can stand: those that every model of the fleet can be set to."""

from collections.abc import Iterator
from dataclasses import dataclass
from decimal import ROUND_CEILING, ROUND_FLOOR, Decimal
from functools import lru_cache

from app.domain.alarm_conditions import ALARM_CONDITIONS, AlarmCondition
from app.domain.device_models import Grid
from app.domain.errors import NotFound
from app.domain.profiles import Profile
from app.domain.settings_of_alarms import UNIT_STEPS, On, convert, round_to


@dataclass(frozen=True)
class Stops:
    """From `first` to `last` by `step`, in the unit in which the limit is written."""

    first: Decimal
    last: Decimal
    step: Decimal

    def moved(self, limit: Decimal, steps: int) -> Decimal:
        """So many steps up (or down), and never beyond the ends.

        A wall between two stops goes to the next one first, so that it never jumps by nearly two.
        """
        places = (limit - self.first) / self.step
        rounding = ROUND_FLOOR if steps > 0 else ROUND_CEILING
        place = places.to_integral_value(rounding) + steps
        return min(max(self.first + place * self.step, self.first), self.last)


def stops_of(profile: Profile, alarm: AlarmCondition, unit: str | None) -> Stops:
    """`unit` is that of the limit; None: the alarm's own."""
    unit = unit or alarm.unit
    grids = (
        model.grid[alarm.key]
        for model in profile.models.values()
        if alarm.key in model.grid and model.unit_of(alarm.quantity, alarm.unit) == unit
    )
    return _shared(alarm.key, unit, tuple(grids))


@lru_cache(maxsize=512)
def _shared(alarm_key: str, unit: str | None, grids: tuple[Grid, ...]) -> Stops:
    alarm = ALARM_CONDITIONS[alarm_key]
    step = alarm.step if unit == alarm.unit else UNIT_STEPS.get(unit or "", alarm.step)
    least, most = (_in_unit(edge, alarm, unit, step) for edge in (alarm.least, alarm.most))
    held = [stop for stop in _each(least, most, step) if all(grid.holds(stop) for grid in grids)]
    if len(held) > 1:
        return Stops(held[0], held[-1], held[1] - held[0])
    # Models that share no value cannot all be obeyed: the coarsest step is the least wrong.
    return Stops(least, most, max([step, *(grid.step for grid in grids)]))


def _each(least: Decimal, most: Decimal, step: Decimal) -> Iterator[Decimal]:
    stop = round_to(least, step, ROUND_CEILING)
    while stop <= most:
        yield stop
        stop += step


def _in_unit(edge: Decimal, alarm: AlarmCondition, unit: str | None, step: Decimal) -> Decimal:
    if unit is None or alarm.unit is None or unit == alarm.unit:
        return edge
    return round_to(convert(edge, alarm.unit, unit), step)


def moved_limit(profile: Profile, category: str, alarm_key: str, steps: int) -> Decimal:
    """The limit so many steps up (or down), among the values that the fleet can be set to."""
    alarm = ALARM_CONDITIONS.get(alarm_key)
    setting = profile.of_category(category).get(alarm_key)
    if alarm is None or not isinstance(setting, On) or setting.limit is None:
        raise NotFound("There is no limit here that could be moved.")
    return stops_of(profile, alarm, setting.unit).moved(setting.limit, steps)
