"""What a deviation may have come from. Hints, never verdicts."""

from collections.abc import Iterable, Mapping
from decimal import Decimal

from app.domain.alarm_conditions import ALARM_CONDITIONS
from app.domain.comparison import DEEP, Deviation, Direction, base_alarm
from app.domain.device_reports import FoundOn
from app.domain.rendering import RenderedPreset
from app.domain.settings_of_alarms import convert, show_number


def hints(
    preset: RenderedPreset,
    deviations: Iterable[Deviation],
    others: Mapping[str, RenderedPreset],
    older: Mapping[int, RenderedPreset] | None = None,
) -> dict[str, str]:
    """Alarm → hint, for the deviating readings of one preset of one device.

    `older`: the same preset as earlier revisions had it, by their numbers.
    """
    limits = {
        deviation.alarm: deviation.found
        for deviation in deviations
        if deviation.direction in (Direction.LOOSER, Direction.TIGHTER)
        and isinstance(deviation.found, FoundOn)
        and deviation.found.limit is not None
        and deviation.found.limit not in signed_limits(preset, deviation.alarm, deviation.found)
    }
    origin = _origin(preset, limits, others, older or {})
    found = {}
    for alarm, reading in limits.items():
        hint = _slip(preset, alarm, reading) or origin
        if origin and len(limits) > 1:
            hint = f"all {len(limits)} limits that differ are {origin}"
        if hint:
            found[alarm] = hint
    return found


def signed_limits(preset: RenderedPreset, alarm: str, reading: FoundOn) -> frozenset[Decimal]:
    """The limits that would have conformed, in the unit of the reading."""
    values = preset.deep_values if alarm.endswith(DEEP) else preset.values
    return values(base_alarm(alarm), reading.unit)


def _origin(
    preset: RenderedPreset,
    limits: Mapping[str, FoundOn],
    others: Mapping[str, RenderedPreset],
    older: Mapping[int, RenderedPreset],
) -> str:
    """Where every deviating reading may have come from; nobody can tell which, if from several."""
    neighbour, number = _neighbour(preset, limits, others), _revision(limits, older)
    origins = [
        *([f"as signed for {neighbour}"] if neighbour else []),
        *([f"as in revision {number}"] if number else []),
    ]
    return " or ".join(origins)


def _neighbour(
    preset: RenderedPreset, limits: Mapping[str, FoundOn], others: Mapping[str, RenderedPreset]
) -> str | None:
    """The one other preset whose signed limits explain every deviating reading."""
    if not limits:
        return None
    matching = [
        name
        for name, other in others.items()
        if other.carries != preset.carries and _explains(other, limits)
    ]
    return matching[0] if len(matching) == 1 else None


def _revision(limits: Mapping[str, FoundOn], older: Mapping[int, RenderedPreset]) -> int | None:
    """The latest of the earlier revisions that explain every deviating reading."""
    matching = [number for number, preset in older.items() if _explains(preset, limits)]
    return max(matching) if limits and matching else None


def _explains(other: RenderedPreset, limits: Mapping[str, FoundOn]) -> bool:
    return all(
        reading.limit in signed_limits(other, alarm, reading) for alarm, reading in limits.items()
    )


def _slip(preset: RenderedPreset, alarm: str, reading: FoundOn) -> str | None:
    condition = ALARM_CONDITIONS[base_alarm(alarm)]
    signed_values = signed_limits(preset, alarm, reading)
    if reading.limit is None or not signed_values:
        return None
    signed = min(signed_values)
    grid = preset.model.grid.get(condition.key) if preset.model else None
    if condition.unit == "mm[Hg]" and _is_other_pressure_unit(signed, reading.limit):
        return "kPa and mmHg may have been confused"
    if reading.limit in (signed * 10, signed / 10):
        return "a ten-fold slip of the signed value"
    if reading.limit != signed and _digits(reading.limit) == _digits(signed):
        return "the digits of the signed value, swapped"
    if grid is not None and reading.unit is None and not grid.holds(reading.limit):
        reach = f"{show_number(grid.start)} to {show_number(grid.end)} by {show_number(grid.step)}"
        return f"this model cannot be set to {show_number(reading.limit)} ({reach})"
    return None


def _is_other_pressure_unit(signed: Decimal, found: Decimal) -> bool:
    as_kpa, as_mmhg = convert(signed, "mm[Hg]", "kPa"), convert(signed, "kPa", "mm[Hg]")
    return abs(found - as_kpa) <= Decimal("0.1") or abs(found - as_mmhg) <= 1


def _digits(value: Decimal) -> list[str]:
    return sorted(show_number(value))
