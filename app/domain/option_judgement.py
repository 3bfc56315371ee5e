"""Options of a device beside what was signed: a report of them has the preset `*`."""

from collections.abc import Iterable, Mapping
from decimal import Decimal

from app.domain.comparison import Deviation
from app.domain.device_reports import CouldNotRead, FoundText, Reading
from app.domain.errors import Fault
from app.domain.option_comparison import compare_option, weigh_option
from app.domain.options import OPTIONS
from app.domain.profiles import Profile
from app.domain.rendering import rendered_presets
from app.domain.silence import SPO2_AVERAGING

ANY_PRESET = "*"
ANY_PRESET_WORDS = "all presets"
LONGEST_TEXT = 200


def option_deviations(
    profile: Profile, model: str | None, readings: Mapping[str, Reading]
) -> list[Deviation]:
    """What the policy says nothing of deviates from nothing."""
    averaging = profile.number_option(SPO2_AVERAGING) or Decimal(0)
    presets = rendered_presets(profile, model).values()
    found = (
        compare_option(key, profile.options.get(key), reading) for key, reading in readings.items()
    )
    return [weigh_option(one, presets, averaging) for one in found if one is not None]


def option_faults(readings: Mapping[str, Reading]) -> Iterable[Fault]:
    for key, reading in readings.items():
        if key not in OPTIONS:
            yield Fault("there is no such option", column=key, value=key)
        elif isinstance(reading, CouldNotRead) and not reading.why.strip():
            yield Fault("say why it could not be read", column=key)
        elif isinstance(reading, FoundText) and not 0 < len(reading.text) <= LONGEST_TEXT:
            yield Fault(f"write 1 to {LONGEST_TEXT} characters", column=key, value=reading.text)


def preset_words(preset: str) -> str:
    """As people read it."""
    return ANY_PRESET_WORDS if preset == ANY_PRESET else preset
