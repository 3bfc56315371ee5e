"""What is set by hand on a model, in the words of the look-up: never a bare number."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from app.domain.alarm_conditions import AlarmCondition
from app.domain.by_hand import CategoryOnModel, ModelSetting
from app.domain.settings_of_alarms import On, Setting, show_number
from app.domain.written_limits import shown_unit


@dataclass(frozen=True)
class HandLine:
    """`other`: what the preset holds, or for a rounded value what the policy says."""

    label: str
    set_to: str
    other: str
    settable: bool


@dataclass(frozen=True)
class HandSet:
    """One category on this model; `carries` is empty where its preset holds its own values."""

    key: str
    category: str
    ages: str
    preset: str | None
    carries: str
    lines: list[HandLine]
    rounded: list[HandLine]
    hand_keys: frozenset[str]


def hand_sets(found: Iterable[CategoryOnModel]) -> list[HandSet]:
    return [_hand_set(one) for one in found]


def _hand_set(one: CategoryOnModel) -> HandSet:
    lent = one.carries is not None and one.carries != one.category
    return HandSet(
        key=one.category.key,
        category=one.category.label,
        ages=str(one.category.span),
        preset=one.preset,
        carries=one.carries.label if lent and one.carries else "",
        lines=[_line(told, told.held) for told in one.by_hand],
        rounded=[_line(told, told.signed) for told in one.rounded],
        hand_keys=frozenset(told.condition.key for told in one.by_hand),
    )


def _line(told: ModelSetting, other: Setting | None) -> HandLine:
    condition = told.condition
    return HandLine(
        condition.label,
        ", ".join(_words(condition, told.to_set, beside=other)),
        "" if other is None else ", ".join(_words(condition, other, beside=told.to_set)),
        told.settable,
    )


def _words(condition: AlarmCondition, setting: Setting, beside: Setting | None) -> Iterator[str]:
    if not isinstance(setting, On):
        yield "OFF" if setting.state == "off" else setting.state.replace("-", " ")
        return
    side = _side(condition)
    yield f"{side} {_amount(condition, setting)}" if setting.limit is not None else "on"
    if setting.deep is not None:
        yield f"deep line {side} {show_number(setting.deep.limit)}"
    if not isinstance(beside, On) or beside.priority != setting.priority:
        yield f"{setting.priority} priority"
    if not isinstance(beside, On) or beside.delay_s != setting.delay_s:
        yield f"after {show_number(setting.delay_s)} s" if setting.delay_s else "at once"


def _side(condition: AlarmCondition) -> str:
    if condition.vital_sign is None:
        return "after" if condition.shown == "s" else "above"
    return "below" if condition.side == "low" else "above"


def _amount(condition: AlarmCondition, setting: On) -> str:
    unit = shown_unit(setting.unit) if setting.unit else condition.shown
    return f"{show_number(setting.limit)} {unit}" if setting.limit is not None else ""
