"""What a device model can do: its presets, what each carries, the grid of what can be set."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from decimal import Decimal


@dataclass(frozen=True)
class Grid:
    """The values that one alarm of a model can be set to, in the model's own unit."""

    start: Decimal
    end: Decimal
    step: Decimal
    can_be_off: bool = True

    def holds(self, value: Decimal) -> bool:
        return self.start <= value <= self.end and (value - self.start) % self.step == 0


@dataclass(frozen=True)
class Preset:
    """`carries` is the category whose values it holds, `serves` all that it is used for."""

    key: str
    carries: str
    serves: tuple[str, ...]


@dataclass(frozen=True)
class DeviceModel:
    key: str
    presets: tuple[Preset, ...]
    grid: Mapping[str, Grid] = field(default_factory=dict)
    etco2_unit: str = "mm[Hg]"
    retention_min: Decimal | None = None

    def preset(self, key: str) -> Preset | None:
        return next((preset for preset in self.presets if preset.key == key), None)

    def unit_of(self, quantity: str, unit: str | None) -> str | None:
        """The unit in which this model shows a quantity."""
        return self.etco2_unit if quantity in ("etco2", "inspired-co2") else unit
