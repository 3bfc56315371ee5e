"""Device models whose preset map, grid or memory is described otherwise."""

from collections.abc import Iterator
from dataclasses import dataclass
from decimal import Decimal

from app.domain.alarm_conditions import ALARM_CONDITIONS
from app.domain.device_models import DeviceModel, Grid, Preset
from app.domain.profiles import Profile
from app.domain.settings_of_alarms import show_number
from app.domain.written_limits import shown_unit


@dataclass(frozen=True)
class ModelChange:
    model: str
    sentences: tuple[str, ...]


def model_changes(before: Profile, after: Profile) -> Iterator[ModelChange]:
    for key in dict.fromkeys((*after.models, *before.models)):
        was, now = before.models.get(key), after.models.get(key)
        told = tuple(_told(before, after, was, now))
        if told:
            yield ModelChange(key, told)


def _told(
    before: Profile, after: Profile, was: DeviceModel | None, now: DeviceModel | None
) -> Iterator[str]:
    if now is None or was is None:
        yield "It is described for the first time." if now else "It is no longer described."
        return
    for key in dict.fromkeys(preset.key for preset in (*now.presets, *was.presets)):
        yield from _of_preset(_Maps(before, after), was.preset(key), now.preset(key))
    for alarm in dict.fromkeys((*was.grid, *now.grid)):
        if was.grid.get(alarm) != now.grid.get(alarm):
            yield _of_grid(now, alarm, was.grid.get(alarm), now.grid.get(alarm))
    if was.etco2_unit != now.etco2_unit:
        units = [shown_unit(one.etco2_unit) for one in (now, was)]
        yield f"It shows EtCO₂ in {units[0]} instead of {units[1]}."
    if was.retention_min != now.retention_min:
        kept, before_that = (_minutes(one.retention_min) for one in (now, was))
        yield f"Switched off, it keeps what was set by hand for {kept} instead of {before_that}."


def _minutes(minutes: Decimal | None) -> str:
    return "an unknown time" if minutes is None else f"{show_number(minutes)} min"


@dataclass(frozen=True)
class _Maps:
    before: Profile
    after: Profile

    def was(self, *keys: str) -> str:
        return _labels(self.before, keys)

    def now(self, *keys: str) -> str:
        return _labels(self.after, keys)


def _labels(profile: Profile, keys: tuple[str, ...]) -> str:
    named = [profile.category(key) for key in keys]
    return ", ".join(one.label if one else key for one, key in zip(named, keys, strict=True))


def _of_preset(maps: _Maps, was: Preset | None, now: Preset | None) -> Iterator[str]:
    if was is None and now is not None:
        served = maps.now(*now.serves)
        yield f"{now.key} is new: it holds the values of {maps.now(now.carries)}, for {served}."
    elif now is None and was is not None:
        yield f"{was.key} is gone; it held the values of {maps.was(was.carries)}."
    elif was is not None and now is not None:
        if was.carries != now.carries:
            held = maps.now(now.carries)
            yield f"{now.key} holds the values of {held} instead of {maps.was(was.carries)}."
        if set(was.serves) != set(now.serves):
            served = maps.now(*now.serves)
            yield f"{now.key} is used for {served} instead of {maps.was(*was.serves)}."


def _of_grid(model: DeviceModel, alarm: str, was: Grid | None, now: Grid | None) -> str:
    condition = ALARM_CONDITIONS.get(alarm)
    label = condition.label if condition else alarm
    unit = model.unit_of(condition.quantity, condition.unit) if condition else None
    shown = shown_unit(unit or "")
    return f"{label} can be set {_reach(now, shown)}; before: {_reach(was, shown)}."


def _reach(grid: Grid | None, unit: str) -> str:
    if grid is None:
        return "to anything on its step"
    start, end, step = (show_number(number) for number in (grid.start, grid.end, grid.step))
    off = "and off" if grid.can_be_off else "never off"
    return f"from {start} to {end} {unit}".strip() + f" in steps of {step}, {off}"
