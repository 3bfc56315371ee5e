"""At which limits and after which delays a line's curve is told."""

from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Sequence
from decimal import ROUND_CEILING, ROUND_FLOOR, Decimal
from fractions import Fraction

from app.domain.ages import Age, AgeSpan
from app.domain.alarm_conditions import AlarmCondition, Side
from app.domain.device_models import DeviceModel
from app.domain.outer_bounds import OuterBound, OuterBounds
from app.domain.settable_limits import settable_limits, some_settable
from app.domain.settings_of_alarms import toward_earlier_alarm

USUAL_DELAYS = (0.0, 5.0, 10.0, 15.0, 30.0)
_MARGIN = 3  # stops beyond what was recorded: from there on nothing changes


def curve_limits(
    models: Iterable[DeviceModel],
    alarm: AlarmCondition,
    recorded: tuple[float, float],
    always: Iterable[float],
) -> list[Decimal]:
    """Every limit that the fleet can be set to, as far as anything was recorded, besides those
    that must be there; on the vital sign's step, toward the earlier alarm."""
    stops = some_settable(alarm, models).values
    first, last = (Decimal(repr(edge)) for edge in recorded)
    begin = max(bisect_left(stops, first) - _MARGIN, 0)
    found = set(stops[begin : bisect_right(stops, last) + _MARGIN])
    found |= {on_step(Decimal(repr(limit)), alarm) for limit in always}
    return sorted(found)


def settable_words(alarm: AlarmCondition, models: Iterable[DeviceModel]) -> str:
    """At which limits a curve stands, besides those of the policy."""
    each = tuple(models)
    shared = settable_limits(alarm, each)
    names = ", ".join(shared.models)
    if not names:
        return "No device model is described for this alarm, so the curve stands at every step."
    if shared.values:
        return f"The curve stands at limits that can be set on every model: {names}."
    return f"No limit can be set on every model ({names}): the curve stands where one of them can."


def on_step(limit: Decimal, alarm: AlarmCondition) -> Decimal:
    """The limit on the step that sounds at the same values on the step."""
    return toward_earlier_alarm(limit, alarm.step, alarm)


def curve_delays(own: Iterable[float], *, intermittent: bool) -> list[float]:
    return [0.0] if intermittent else sorted({*USUAL_DELAYS, *own})


def bounds_within(
    bounds: OuterBounds,
    quantity: str,
    side: Side,
    ages: AgeSpan,
    step: Decimal,
    circumstance: str = "",
) -> list[tuple[OuterBound, Decimal]]:
    """Every bound at these ages in the circumstance (empty: in none), where it is strictest among
    them, on the step: danger first. Recordings know no age, only their category."""
    found: dict[tuple[str, Decimal], OuterBound] = {}
    for row in bounds.of(quantity, side):
        here = row.span.meet(ages)
        if here is None or not _stands(bounds, row, here, circumstance):
            continue
        value = _strictest(row, side, (here.start, Age(here.stop.days)))
        rounding = ROUND_CEILING if side == "low" else ROUND_FLOOR
        steps = Decimal(value.numerator) / Decimal(value.denominator) / step
        found.setdefault((row.grade, steps.to_integral_value(rounding) * step), row)
    placed = [(row, value) for (_, value), row in found.items()]
    return sorted(placed, key=lambda one: (one[0].grade != "danger", one[1]))


def _stands(bounds: OuterBounds, row: OuterBound, ages: AgeSpan, circumstance: str) -> bool:
    """At the beginning or in the middle of these ages; a circumstance's own bound sets a stricter
    ordinary one aside."""
    middle = Age((ages.start.days + ages.stop.days) / 2)
    return any(
        row in bounds.in_force_at(row.quantity, row.side, age, circumstance or None)
        for age in (ages.start, middle)
    )


def _strictest(row: OuterBound, side: Side, ages: Sequence[Age]) -> Fraction:
    return (max if side == "low" else min)(row.at(age) for age in ages)
