"""The policy's values as one model must be set: its presets, unit and step.

Low limits are rounded up and high limits and times down, toward the earlier alarm.
"""

from dataclasses import dataclass
from decimal import Decimal

from app.domain.ages import AgeSpan, hull
from app.domain.alarm_conditions import ALARM_CONDITIONS, AlarmCondition
from app.domain.device_models import DeviceModel, Grid
from app.domain.profiles import Profile, Settings
from app.domain.settings_of_alarms import UNIT_STEPS, On, convert, toward_earlier_alarm


@dataclass(frozen=True)
class RenderedPreset:
    """What one preset of one model (None: any) should hold, and the ages it is used for."""

    preset: str
    carries: str
    serves: tuple[str, ...]
    ages: AgeSpan
    settings: Settings
    model: DeviceModel | None = None

    @property
    def retention_min(self) -> Decimal | None:
        """How long the model keeps what was changed by hand; None where nobody has tested it."""
        return None if self.model is None else self.model.retention_min

    def values(self, alarm: str, unit: str | None = None) -> frozenset[Decimal]:
        """Readings in `unit` (None: the one the model shows) that conform to the signed limit."""
        setting, condition = self.settings.get(alarm), ALARM_CONDITIONS[alarm]
        if not isinstance(setting, On) or setting.limit is None:
            return frozenset()
        return self._rendered(setting.limit, setting.unit or condition.unit, condition, unit)

    def deep_values(self, alarm: str, unit: str | None = None) -> frozenset[Decimal]:
        setting, condition = self.settings.get(alarm), ALARM_CONDITIONS[alarm]
        if not isinstance(setting, On) or setting.deep is None:
            return frozenset()
        written = setting.deep.unit or setting.unit or condition.unit
        return self._rendered(setting.deep.limit, written, condition, unit)

    def _rendered(
        self, limit: Decimal, written: str | None, condition: AlarmCondition, unit: str | None
    ) -> frozenset[Decimal]:
        to = unit or self.unit_of(condition)
        value = limit if written is None or to is None else convert(limit, written, to)
        grid = self._grid_in(condition, to)
        origin = grid.start if grid else Decimal(0)
        step = self.step_of(condition, to)
        earlier = origin + toward_earlier_alarm(value - origin, step, condition)
        if written == to:
            return frozenset({earlier})
        # Between units the nearest step is what anybody would set, so it conforms as well.
        return frozenset({earlier, origin + toward_nearest(value - origin, step, condition)})

    def unit_of(self, condition: AlarmCondition) -> str | None:
        if self.model is None:
            return condition.unit
        return self.model.unit_of(condition.quantity, condition.unit)

    def step_of(self, condition: AlarmCondition, unit: str | None) -> Decimal:
        grid = self._grid_in(condition, unit)
        return grid.step if grid else UNIT_STEPS.get(unit or "", condition.step)

    def _grid_in(self, condition: AlarmCondition, unit: str | None) -> Grid | None:
        """What the model can be set to, where the grid is in that unit."""
        if self.model is None or unit != self.unit_of(condition):
            return None
        return self.model.grid.get(condition.key)


def toward_nearest(value: Decimal, step: Decimal, condition: AlarmCondition) -> Decimal:
    """The nearest step; half way, the one that alarms earlier."""
    early = toward_earlier_alarm(value, step, condition)
    late = early - step if condition.looser == "down" else early + step
    return early if abs(value - early) <= abs(late - value) else late


def rendered_presets(profile: Profile, model: str | None = None) -> dict[str, RenderedPreset]:
    """By name. Without a known model every category is its own preset, on the sign's step."""
    found = profile.models.get(model or "")
    if found is None or not found.presets:
        return {
            category.key: RenderedPreset(
                category.key,
                category.key,
                (category.key,),
                category.span,
                profile.of_category(category.key),
                found,
            )
            for category in profile.categories
        }
    return {
        preset.key: RenderedPreset(
            preset.key,
            preset.carries,
            preset.serves,
            hull([c.span for c in profile.categories if c.key in preset.serves]),
            profile.of_category(preset.carries),
            found,
        )
        for preset in found.presets
    }
