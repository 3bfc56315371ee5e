"""At which limits and after which delays a line's curve is told."""

from collections.abc import Iterable, Sequence
from decimal import ROUND_CEILING, ROUND_FLOOR, Decimal
from fractions import Fraction

from app.domain.ages import Age, AgeSpan
from app.domain.alarm_conditions import AlarmCondition, Side
from app.domain.outer_bounds import OuterBound, OuterBounds
from app.domain.profiles import Profile
from app.domain.settings_of_alarms import toward_earlier_alarm
from app.domain.wall_steps import stops_of

USUAL_DELAYS = (0.0, 5.0, 10.0, 15.0, 30.0)
_MARGIN = 3  # stops beyond what was recorded: from there on nothing changes


def curve_limits(
    profile: Profile,
    alarm: AlarmCondition,
    recorded: tuple[float, float],
    always: Iterable[float],
) -> list[Decimal]:
    """Every limit that the fleet can be set to, as far as anything was recorded, besides those
    that must be there; on the vital sign's step, toward the earlier alarm."""
    stops = stops_of(profile, alarm, None)
    least, most = (Decimal(repr(edge)) for edge in recorded)
    margin = _MARGIN * stops.step
    found = set()
    stop = stops.first
    while stop <= stops.last:
        if least - margin <= stop <= most + margin:
            found.add(stop)
        stop += stops.step
    found |= {on_step(Decimal(repr(limit)), alarm) for limit in always}
    return sorted(found)


def on_step(limit: Decimal, alarm: AlarmCondition) -> Decimal:
    """The limit on the step that sounds at the same values on the step."""
    return toward_earlier_alarm(limit, alarm.step, alarm)


def curve_delays(own: Iterable[float], *, intermittent: bool) -> list[float]:
    return [0.0] if intermittent else sorted({*USUAL_DELAYS, *own})


def bounds_within(
    bounds: OuterBounds, quantity: str, side: Side, ages: AgeSpan, step: Decimal
) -> list[tuple[OuterBound, Decimal]]:
    """Every ordinary bound at these ages, where it is strictest among them, on the step: danger
    first. Recordings know no age, only their category."""
    found: dict[tuple[str, Decimal], OuterBound] = {}
    for row in bounds.of(quantity, side):
        here = row.span.meet(ages)
        if here is None or row.when is not None:
            continue
        value = _strictest(row, side, (here.start, Age(here.stop.days)))
        rounding = ROUND_CEILING if side == "low" else ROUND_FLOOR
        steps = Decimal(value.numerator) / Decimal(value.denominator) / step
        found.setdefault((row.grade, steps.to_integral_value(rounding) * step), row)
    placed = [(row, value) for (_, value), row in found.items()]
    return sorted(placed, key=lambda one: (one[0].grade != "danger", one[1]))


def _strictest(row: OuterBound, side: Side, ages: Sequence[Age]) -> Fraction:
    return (max if side == "low" else min)(row.at(age) for age in ages)
