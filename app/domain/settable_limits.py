"""Which limits every model of a fleet can be set to."""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from decimal import Decimal

from app.domain.ages import BIRTH, AgeSpan
from app.domain.alarm_conditions import AlarmCondition
from app.domain.device_models import DeviceModel
from app.domain.rendering import RenderedPreset
from app.domain.settings_of_alarms import On, convert, round_to


@dataclass(frozen=True)
class SettableLimits:
    """On the alarm's own step and in its unit, rising. `models` are those that had a say."""

    alarm: AlarmCondition
    values: tuple[Decimal, ...]
    models: tuple[str, ...]


def some_settable(alarm: AlarmCondition, models: Iterable[DeviceModel]) -> SettableLimits:
    """What every model can be set to; where they share nothing, what any of them can."""
    each = tuple(models)
    shared = settable_limits(alarm, each)
    if shared.values:
        return shared
    some = {value for model in each for value in settable_limits(alarm, [model]).values}
    return replace(shared, values=tuple(sorted(some)))


def settable_limits(alarm: AlarmCondition, models: Iterable[DeviceModel]) -> SettableLimits:
    """A model that says nothing of the alarm has no say; a limit at the measurable extreme
    never sounds, so it is none."""
    asked = [model for model in models if alarm.key in model.grid]
    values = tuple(
        value
        for value in _plausible(alarm)
        if all(_can_be_set(model, alarm, value) for model in asked)
    )
    return SettableLimits(alarm, values, tuple(sorted({model.key for model in asked})))


def _plausible(alarm: AlarmCondition) -> Iterable[Decimal]:
    steps = int((alarm.most - alarm.least) / alarm.step)
    return (alarm.least + alarm.step * index for index in range(1, steps))


def _can_be_set(model: DeviceModel, alarm: AlarmCondition, value: Decimal) -> bool:
    """Where the model shows another unit: if one of the readings that conform there can be set,
    and reads back as the same limit. A coarse step there stands for one limit and not for all
    that would be rounded to it."""
    grid, unit = model.grid[alarm.key], model.unit_of(alarm.quantity, alarm.unit)
    if unit == alarm.unit or unit is None or alarm.unit is None:
        return grid.holds(value)
    setting = {alarm.key: On(limit=value)}
    rendered = RenderedPreset("", "", (), AgeSpan(BIRTH, None), setting, model)
    return any(
        grid.holds(shown) and round_to(convert(shown, unit, alarm.unit), alarm.step) == value
        for shown in rendered.values(alarm.key)
    )
