"""What the bands of a policy as it stands cost, month by month, reckoned as advised bands are."""

from collections.abc import Iterator
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from math import ceil, floor

from app.domain.ages import AgeSpan
from app.domain.alarm_conditions import SIDES, AlarmCondition, Side, limits_of
from app.domain.band_costs import Ground, month
from app.domain.centiles import References
from app.domain.profiles import Profile
from app.domain.rules.rule import Question
from app.domain.settings_of_alarms import On
from app.domain.silence import Watch, covering_limit

_NONE = References(())  # the ground holds what is published


@dataclass(frozen=True)
class MonthCosts:
    """Shares in points; gaps in units of the vital sign, those of both sides added up."""

    arrival: float
    danger: float
    caution: float


@dataclass(frozen=True)
class HeldLimits:
    """What one category sets over some ages; None: no such limit."""

    ages: AgeSpan
    low: Decimal | None
    high: Decimal | None


def sets_a_limit(ground: Ground, profile: Profile) -> bool:
    return any(
        isinstance(settings.get(alarm.key), On)
        for settings in profile.settings.values()
        for alarm in limits_of(ground.vital.key)
    )


def costs_today(
    ground: Ground, profile: Profile, ages: range, sides: tuple[Side, ...]
) -> list[MonthCosts]:
    """`sides` are those that are advised on; the other one costs nothing."""
    questions = [
        Question(profile, one, profile.of_category(one.key), _NONE, ground.bounds)
        for one in profile.categories
    ]
    return [_month(ground, questions, month(number), sides) for number in ages]


def _month(
    ground: Ground, questions: list[Question], ages: AgeSpan, sides: tuple[Side, ...]
) -> MonthCosts:
    """Alarm on arrival as the mean over the days, the gap as the widest at any age."""
    outside, days = 0.0, 0
    gaps = dict.fromkeys(_GRADES, 0.0)
    for question in questions:
        shared = question.category.span.meet(ages)
        if shared is None:
            continue
        for points, count in _arrival(ground, question, shared, sides):
            outside, days = outside + points * count, days + count
        for grade in _GRADES:
            here = sum(_gap(ground, question.watch, side, grade, shared) for side in sides)
            gaps[grade] = max(gaps[grade], float(here))
    return MonthCosts(outside / days if days else 0.0, gaps["danger"], gaps["caution"])


_GRADES = ("danger", "caution")


def _arrival(
    ground: Ground, question: Question, ages: AgeSpan, sides: tuple[Side, ...]
) -> Iterator[tuple[float, int]]:
    limits = {side: _limit(question.watch, alarm_at(ground, side)) for side in sides}
    for curve, count in ground.rows(ages):
        low, high = limits.get("low"), limits.get("high")
        below = 0.0 if low is None else curve.share_below(float(low))
        above = 0.0 if high is None else 1 - curve.share_below(float(high))
        yield 100 * (below + above), count


def alarm_at(ground: Ground, side: Side) -> AlarmCondition:
    return limits_of(ground.vital.key)[SIDES.index(side)]


def _limit(watch: Watch, alarm: AlarmCondition) -> Decimal | None:
    setting = watch.settings.get(alarm.key)
    return setting.limit_in(alarm.unit) if isinstance(setting, On) else None


def _gap(ground: Ground, watch: Watch, side: Side, grade: str, ages: AgeSpan) -> Fraction:
    """Without an alarm that sounds soon enough, up to the end of what can be measured."""
    bound = ground.strictest(side, grade, ages)
    if bound is None:
        return Fraction(0)
    alarm = alarm_at(ground, side)
    setting = watch.settings.get(alarm.key)
    limit = None if setting is None else covering_limit(watch, alarm, setting)
    step = Fraction(alarm.step)
    if side == "low":
        reach = Fraction(alarm.least if limit is None else limit) / step
        return max(bound - ceil(reach) * step, Fraction(0))
    reach = Fraction(alarm.most if limit is None else limit) / step
    return max(floor(reach) * step - bound, Fraction(0))


def held_limits(ground: Ground, profile: Profile, ages: AgeSpan) -> tuple[HeldLimits, ...]:
    """In order of age; neighbouring categories with the same limits are one band."""
    found: list[HeldLimits] = []
    for category in sorted(profile.categories, key=lambda one: one.span.start):
        shared = category.span.meet(ages)
        if shared is None:
            continue
        settings = Question(
            profile, category, profile.of_category(category.key), _NONE, ground.bounds
        ).watch
        low, high = (_limit(settings, alarm) for alarm in limits_of(ground.vital.key))
        last = found[-1] if found else None
        if last and (last.low, last.high, last.ages.end) == (low, high, shared.start):
            found[-1] = HeldLimits(AgeSpan(last.ages.start, shared.end), low, high)
        else:
            found.append(HeldLimits(shared, low, high))
    return tuple(found)
