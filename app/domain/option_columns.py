"""Columns of options in a block of readings: what was signed says of every code."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from decimal import Decimal

from app.domain.comparison import Direction
from app.domain.device_reports import Reading
from app.domain.findings import Severity
from app.domain.option_comparison import compare_option, weigh_option
from app.domain.profiles import Option, Profile
from app.domain.rendering import RenderedPreset, rendered_presets
from app.domain.silence import SPO2_AVERAGING


@dataclass(frozen=True)
class SignedOptions:
    """Of one revision, for one model."""

    options: Mapping[str, Option] = field(default_factory=dict)
    presets: tuple[RenderedPreset, ...] = ()
    spo2_averaging_s: Decimal = Decimal(0)

    def direction(self, key: str, found: Reading) -> Direction | None:
        deviation = compare_option(key, self.options.get(key), found)
        return None if deviation is None else deviation.direction

    def severity(self, key: str, found: Reading) -> Severity:
        deviation = compare_option(key, self.options.get(key), found)
        if deviation is None:
            raise ValueError("only what deviates is more or less grave")
        return weigh_option(deviation, self.presets, self.spo2_averaging_s).severity

    def number(self, key: str) -> int | None:
        """The one whole number that conforms, where it is one."""
        option = self.options.get(key)
        value = None if option is None else option.value
        if not isinstance(value, Decimal) or value != int(value):
            return None
        return int(value)


def signed_options(profile: Profile, model: str) -> SignedOptions:
    return SignedOptions(
        profile.options,
        tuple(rendered_presets(profile, model).values()),
        profile.number_option(SPO2_AVERAGING) or Decimal(0),
    )
