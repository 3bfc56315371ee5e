"""A rendered preset line by line: the policy's value, the device's, and what keeps them apart."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from decimal import Decimal

from app.domain.ages import AgeSpan
from app.domain.alarm_conditions import ALARM_CONDITIONS, AlarmCondition
from app.domain.device_models import DeviceModel, Grid, Preset
from app.domain.preset_proof import parts
from app.domain.profiles import Profile
from app.domain.rendering import RenderedPreset, rendered_presets
from app.domain.settings_of_alarms import NoPolicy, NotFitted, On, Setting, show_number
from app.domain.shown_settings import shown_setting, shows_other
from app.domain.written_limits import show_deep, show_limit, shown_unit


@dataclass(frozen=True)
class RenderedLine:
    """`device` is what the preset holds, in `unit`; `rounded` is `up` or `down` where the step of
    the device moved it. `cannot` says why the device cannot hold it, and what it holds at best."""

    alarm: AlarmCondition
    signed: Setting
    policy: str
    device: str
    unit: str
    rounded: str
    cannot: tuple[str, ...]


@dataclass(frozen=True)
class PresetLines:
    """`ages`: all that the preset is used for; parts that do not touch stand apart. `categories`:
    the keys of all that it carries and serves."""

    preset: str
    carries: str
    serves: tuple[str, ...]
    ages: tuple[AgeSpan, ...]
    lines: tuple[RenderedLine, ...]
    categories: frozenset[str]

    @property
    def cannot(self) -> int:
        return sum(bool(line.cannot) for line in self.lines)

    @property
    def rounded(self) -> int:
        return sum(bool(line.rounded) for line in self.lines)


def preset_lines(profile: Profile, model: str) -> tuple[PresetLines, ...]:
    """By age; an alarm of which nothing is said is left out."""
    label = {one.key: one.label for one in profile.categories}
    found = rendered_presets(profile, model).values()
    return tuple(
        PresetLines(
            preset.preset,
            label.get(preset.carries, preset.carries),
            tuple(label.get(key, key) for key in preset.serves),
            tuple(parts([one.span for one in profile.categories if one.key in preset.serves])),
            tuple(_lines(preset)),
            frozenset({preset.carries, *preset.serves}),
        )
        for preset in sorted(found, key=lambda one: (one.ages.start, one.preset))
    )


def in_order_of_age(profile: Profile, presets: Iterable[Preset]) -> list[Preset]:
    """By the youngest that each serves: a document holds them by name."""
    start = {one.key: one.span.start for one in profile.categories}
    return sorted(presets, key=lambda one: (min(start[key] for key in one.serves), one.key))


def _lines(preset: RenderedPreset) -> Iterator[RenderedLine]:
    for key, alarm in ALARM_CONDITIONS.items():
        signed = preset.settings.get(key)
        if signed is not None and not isinstance(signed, NoPolicy):
            yield _line(preset, alarm, signed)


def _line(preset: RenderedPreset, alarm: AlarmCondition, signed: Setting) -> RenderedLine:
    shown = shown_setting(preset, alarm.key)
    unit = preset.unit_of(alarm)
    return RenderedLine(
        alarm,
        signed,
        _policy_words(signed, alarm, unit),
        _words(shown, alarm),
        shown_unit(unit or ""),
        _rounded(alarm, signed, shown, unit),
        tuple(cannot_be_set(shown, alarm, preset.model)),
    )


def _policy_words(signed: Setting, alarm: AlarmCondition, unit: str | None) -> str:
    """With its unit where the device shows another."""
    words = _words(signed, alarm)
    usual = (
        isinstance(signed, On) and signed.limit is not None and signed.unit in (None, alarm.unit)
    )
    return f"{words} {alarm.shown}" if usual and unit != alarm.unit else words


def _words(setting: Setting, alarm: AlarmCondition) -> str:
    if not isinstance(setting, On):
        return setting.state.replace("-", " ")
    words = show_limit(setting, alarm) or "on"
    return (
        words
        if setting.deep is None
        else f"{words}, deep {show_deep(setting, setting.deep, alarm)}"
    )


def _rounded(alarm: AlarmCondition, signed: Setting, shown: Setting, unit: str | None) -> str:
    """Empty also where only the unit differs."""
    if not isinstance(signed, On) or not isinstance(shown, On):
        return ""
    written, held = signed.limit_in(unit) if signed.unit else _in(signed, alarm, unit), shown.limit
    if written is None or held is None or not shows_other(alarm, signed, shown) or written == held:
        return ""
    return "up" if held > written else "down"


def _in(signed: On, alarm: AlarmCondition, unit: str | None) -> Decimal | None:
    """A limit that names no unit is in the alarm's own."""
    return On(signed.limit, unit=alarm.unit).limit_in(unit)


def cannot_be_set(
    shown: Setting, alarm: AlarmCondition, model: DeviceModel | None
) -> Iterator[str]:
    """Why the model cannot hold it, and what it holds at best; nothing where it can."""
    grid = None if model is None else model.grid.get(alarm.key)
    if model is None or grid is None:
        return
    if isinstance(shown, NotFitted):
        yield "is called not fitted, but the device has it"
    elif not isinstance(shown, On):
        if not grid.can_be_off:
            yield "cannot be switched off on this device"
    elif shown.limit is not None:
        unit = shown_unit(model.unit_of(alarm.quantity, alarm.unit) or "")
        deep = shown.deep.limit if shown.deep else shown.limit
        for name, value in (("", shown.limit), ("deep line ", deep)):
            if not grid.holds(value) and (not name or shown.deep):
                yield f"{name}cannot be set: nearest is {_nearest(value, grid, alarm, unit)}"


def nearest_on(value: Decimal, grid: Grid) -> Decimal:
    """The value of the grid that lies nearest; on a tie the lower one."""
    last = grid.start + (grid.end - grid.start) // grid.step * grid.step
    if value <= grid.start or value >= last:
        return grid.start if value <= grid.start else last
    below = grid.start + (value - grid.start) // grid.step * grid.step
    return below if value - below <= below + grid.step - value else below + grid.step


def _nearest(value: Decimal, grid: Grid, alarm: AlarmCondition, unit: str) -> str:
    """With what it means: on a low alarm a lower limit sounds later."""
    nearest = nearest_on(value, grid)
    later = (nearest < value) == (alarm.looser == "down")
    return f"{show_number(nearest)} {unit}".strip() + (
        ", which alarms later" if later else ", which alarms earlier"
    )
