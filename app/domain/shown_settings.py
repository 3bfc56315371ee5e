"""One signed setting as a model shows it: in its unit and on its step, toward the earlier alarm."""

from dataclasses import replace

from app.domain.alarm_conditions import ALARM_CONDITIONS, AlarmCondition
from app.domain.device_models import DeviceModel
from app.domain.rendering import RenderedPreset
from app.domain.settings_of_alarms import On, Setting


def shown_setting(preset: RenderedPreset, alarm: str) -> Setting:
    """Of an alarm that the preset's category states."""
    setting, condition = preset.settings[alarm], ALARM_CONDITIONS[alarm]
    if not isinstance(setting, On):
        return setting
    unit = preset.unit_of(condition)
    earliest = max if condition.looser == "down" else min
    limits, deeps = preset.values(alarm), preset.deep_values(alarm)
    if not limits:
        return setting
    told = None if unit == condition.unit else unit
    deep = setting.deep and replace(setting.deep, limit=earliest(deeps), unit=told)
    return replace(setting, limit=earliest(limits), deep=deep, unit=told)


def is_settable(shown: Setting, condition: AlarmCondition, model: DeviceModel | None) -> bool:
    """False: the model offers no such value, or cannot be switched off."""
    grid = None if model is None else model.grid.get(condition.key)
    if grid is None:
        return True
    if isinstance(shown, On):
        return shown.limit is None or grid.holds(shown.limit)
    return grid.can_be_off


def shows_other(condition: AlarmCondition, signed: Setting, shown: Setting) -> bool:
    """Whether the device shows another number than the policy."""
    if not isinstance(signed, On) or not isinstance(shown, On):
        return False
    return _number(condition, signed) != _number(condition, shown)


def _number(condition: AlarmCondition, setting: On) -> tuple[object, ...]:
    return setting.limit, setting.unit or condition.unit
