"""What a device can show for one alarm, so that a slip is caught while it is typed.

The grid is what the model can be set to, never what is signed.
"""

from dataclasses import dataclass
from decimal import Decimal

from app.domain.alarm_conditions import AlarmCondition
from app.domain.comparison import DEEP
from app.domain.device_models import DeviceModel
from app.domain.settings_of_alarms import UNIT_STEPS, convert, show_number, units_of
from app.domain.written_limits import shown_unit


@dataclass(frozen=True)
class ReadingGrid:
    """From `start` to `end` by `step`, in `unit`; `model` empty: nobody described what it can."""

    start: Decimal
    end: Decimal
    step: Decimal
    unit: str
    model: str = ""

    def why_not(self, value: Decimal) -> str:
        """Empty where the device can show this value."""
        who = f"a {self.model}" if self.model else "this alarm"
        if not self.start <= value <= self.end:
            reach = f"{show_number(self.start)} to {show_number(self.end)}"
            return f"{who} goes from {reach} {shown_unit(self.unit)}".rstrip()
        beyond = (value - self.start) % self.step
        if not beyond:
            return ""
        near = [v for v in (value - beyond, value - beyond + self.step) if v <= self.end]
        words = " or ".join(show_number(value) for value in near)
        return f"{who} goes in steps of {show_number(self.step)}: {words}"


def reading_grid(condition: AlarmCondition, model: DeviceModel | None, unit: str) -> ReadingGrid:
    """In a unit that the model is not described in, only what is plausible is asked for."""
    grid = None if model is None else model.grid.get(condition.key)
    if model is not None and grid is not None and unit == _unit_shown(condition, model):
        return ReadingGrid(grid.start, grid.end, grid.step, unit, model.key)
    own = condition.unit or ""
    least, most = (convert(end, own, unit) for end in (condition.least, condition.most))
    step = condition.step if unit == own else UNIT_STEPS.get(unit, Decimal("0.1"))
    return ReadingGrid(_rounded(least, step), _rounded(most, step), step, unit)


def _unit_shown(condition: AlarmCondition, model: DeviceModel) -> str:
    return model.unit_of(condition.quantity, condition.unit) or ""


def _rounded(end: Decimal, step: Decimal) -> Decimal:
    return (end / step).quantize(Decimal(1)) * step


def units_to_choose(condition: AlarmCondition) -> tuple[str, ...]:
    """Empty where every model that is described shows the same unit, as for pressures."""
    several = condition.quantity in ("etco2", "inspired-co2", "temperature")
    return units_of(condition) if several else ()


def can_be_off(alarm: str, model: DeviceModel | None) -> bool:
    grid = None if model is None or alarm.endswith(DEEP) else model.grid.get(alarm)
    return grid is None or grid.can_be_off
