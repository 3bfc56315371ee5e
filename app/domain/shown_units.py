"""The settings of a category as crews meet them: carbon dioxide in the agency's unit, or all of
them as one device model shows them, always rounded toward the earlier alarm."""

from collections.abc import Iterator
from dataclasses import replace
from decimal import ROUND_CEILING, ROUND_FLOOR, Decimal

from app.domain.alarm_conditions import ALARM_CONDITIONS, AlarmCondition
from app.domain.device_models import DeviceModel
from app.domain.patient_categories import PatientCategory
from app.domain.profiles import Profile, Settings
from app.domain.rendering import RenderedPreset
from app.domain.settings_of_alarms import Latitude, On, Setting, convert, round_to
from app.domain.shown_settings import shown_setting

CO2_UNIT = "etco2-unit"
"""The option that says in which unit the agency speaks of carbon dioxide."""


def settings_as_shown(
    profile: Profile, category: PatientCategory, settings: Settings, model: str = ""
) -> Settings:
    """`model`: one that the policy knows. Without one, only carbon dioxide changes its unit."""
    known = profile.models.get(model) or DeviceModel("", (), {}, _unit_chosen(profile))
    shown = RenderedPreset("", category.key, (category.key,), category.span, settings, known)
    return dict(_shown(shown, whole=model in profile.models))


def _unit_chosen(profile: Profile) -> str:
    option = profile.options.get(CO2_UNIT)
    return str(option.value) if option else ""


def _shown(shown: RenderedPreset, *, whole: bool) -> Iterator[tuple[str, Setting]]:
    for key, setting in shown.settings.items():
        condition = ALARM_CONDITIONS[key]
        unit = shown.unit_of(condition)
        if not isinstance(setting, On) or not (whole or _in_other_unit(setting, condition, unit)):
            yield key, setting
            continue
        told, room = shown_setting(shown, key), _room(setting, condition, shown)
        yield key, replace(told, latitude=room) if isinstance(told, On) else told


def _in_other_unit(setting: On, condition: AlarmCondition, unit: str | None) -> bool:
    return bool(unit) and setting.limit is not None and (setting.unit or condition.unit) != unit


def _room(setting: On, condition: AlarmCondition, shown: RenderedPreset) -> Latitude | None:
    """What a crew may set, never wider than it was signed."""
    given, unit = setting.latitude, shown.unit_of(condition)
    if given is None or setting.limit is None:
        return given
    step, written = shown.step_of(condition, unit), setting.unit or condition.unit

    def end(value: Decimal | None, rounding: str) -> Decimal | None:
        if value is None or unit is None or written is None or unit == written:
            return value
        return round_to(convert(value, written, unit), step, rounding)

    return replace(given, start=end(given.start, ROUND_CEILING), end=end(given.end, ROUND_FLOOR))
