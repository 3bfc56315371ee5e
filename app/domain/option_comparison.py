"""Options, the settings that are no alarm: what was found against what was signed."""

from collections.abc import Iterable
from dataclasses import replace
from decimal import Decimal, InvalidOperation

from app.domain.comparison import Deviation, Direction
from app.domain.default_bounds import DEFAULT_BOUNDS
from app.domain.device_reports import CouldNotRead, FoundOn, FoundText, NotRead, Reading
from app.domain.findings import Severity
from app.domain.options import breach
from app.domain.profiles import Option
from app.domain.rendering import RenderedPreset
from app.domain.silence import SPO2_AVERAGING, Watch, silences


def compare_option(key: str, option: Option | None, found: Reading) -> Deviation | None:
    """None where it conforms or the policy says nothing of this option."""
    if option is None or isinstance(found, NotRead):
        return None
    if isinstance(found, CouldNotRead):
        return Deviation(key, option, found, Direction.UNREAD, Severity.NOTE)
    if _same(option, found):
        return None
    return Deviation(key, option, found, Direction.OTHER, Severity.OFF_PROTOCOL)


def weigh_option(
    deviation: Deviation, presets: Iterable[RenderedPreset], signed_averaging_s: Decimal
) -> Deviation:
    """Unsafe where what was found silences the device, or its averaging an SpO₂ alarm."""
    found = deviation.found
    averaging = found.limit if isinstance(found, FoundOn) else None
    if breach(deviation.alarm, found_option(found)) is not None:
        return replace(deviation, severity=Severity.UNSAFE)
    if deviation.alarm == SPO2_AVERAGING and averaging is not None:
        opened = any(_silenced(preset, signed_averaging_s, averaging) for preset in presets)
        return replace(deviation, severity=Severity.UNSAFE) if opened else deviation
    return deviation


def _silenced(preset: RenderedPreset, signed_s: Decimal, found_s: Decimal) -> bool:
    """Whether the longer averaging leaves a danger of low saturation without an alarm."""
    before, after = (
        [
            silence
            for silence in silences(
                Watch(preset.settings, DEFAULT_BOUNDS, None, averaging),
                ("spo2",),
                "low",
                preset.ages,
            )
            if silence.bound.grade == "danger"
        ]
        for averaging in (signed_s, found_s)
    )
    return len(after) > len(before)


def found_option(found: Reading) -> Decimal | str | bool:
    """As a policy would write it."""
    if isinstance(found, FoundOn) and found.limit is not None:
        return found.limit
    return found.text.casefold() if isinstance(found, FoundText) else found.state


def _same(option: Option, found: Reading) -> bool:
    signed = option.value
    if isinstance(found, FoundText):
        return found.text.casefold() in _words(option)
    if isinstance(found, FoundOn) and found.limit is not None:
        return not isinstance(signed, bool) and _number(signed) == found.limit
    if isinstance(signed, bool):
        return (found.state == "on") is signed
    return str(signed) == found.state


def _words(option: Option) -> tuple[str, ...]:
    """A switch is signed as true or false and read as on or off."""
    if isinstance(option.value, bool):
        return ("true", "on") if option.value else ("false", "off")
    return (str(option.value).casefold(),)


def _number(value: Decimal | str) -> Decimal | None:
    try:
        return Decimal(value)
    except InvalidOperation:
        return None
