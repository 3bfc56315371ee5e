"""Silence: values beyond an outer bound at which no alarm sounds.

The alarms of one group guard the same danger, so one that closes its own bound covers the
others. Everything lives on the vital sign's step: a limit equal to the bound closes it.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from itertools import pairwise
from math import ceil, floor

from app.domain.ages import Age, AgeSpan
from app.domain.alarm_conditions import ALARM_CONDITIONS, AlarmCondition, Side
from app.domain.outer_bounds import GRADES, OuterBound, OuterBounds
from app.domain.settings_of_alarms import NotFitted, On, Setting, lines_of
from app.domain.vital_signs import GROUPS, VITAL_SIGNS, group_of, judged_as

LONGEST_COVERING_DELAY_S = 30
SPO2_AVERAGING = "spo2-averaging-s"

Settings = Mapping[str, Setting]


@dataclass(frozen=True)
class Watch:
    """The settings in question, and what else decides whether they guard anyone."""

    settings: Settings
    bounds: OuterBounds
    circumstance: str | None = None
    spo2_averaging_s: Decimal = Decimal(0)
    fitted: frozenset[str] = frozenset()  # alarms that a model has, whatever the policy says


@dataclass(frozen=True)
class Silence:
    """At `ages`, values from `start` to `end` (inclusive, on the step; None: without end) pass
    unannounced. `alarms` are those that could have sounded."""

    alarms: tuple[str, ...]
    side: Side
    ages: AgeSpan
    bound: OuterBound
    limit: Decimal | None
    start: Fraction | None
    end: Fraction | None

    @property
    def width(self) -> float:
        """How many units of the vital sign are silent; endless where no limit stands."""
        if self.start is None or self.end is None:
            return float("inf")
        return float(self.end - self.start)


def sides() -> Iterator[tuple[tuple[str, ...], Side]]:
    """Every group and side that bounds may judge: vital signs both ways, events one."""
    singles = [key for key in VITAL_SIGNS if not any(key in group for group in GROUPS)]
    for group in (*GROUPS, *((key,) for key in singles)):
        yield group, "low"
        yield group, "high"
    for event in ("apnoea", "airway-apnoea", "vpc-rate"):
        yield (event,), "high"


def alarm_of(quantity: str, side: Side) -> AlarmCondition:
    return ALARM_CONDITIONS.get(quantity) or ALARM_CONDITIONS[f"{quantity}-{side}"]


def side_of(alarm: AlarmCondition) -> tuple[tuple[str, ...], Side]:
    return group_of(alarm.quantity), alarm.side


def silences(watch: Watch, group: tuple[str, ...], side: Side, ages: AgeSpan) -> list[Silence]:
    """Every silent stretch of a group's side, in order of age, danger before caution."""
    members = _stated(watch, group, side)
    if not members:
        return []
    found: list[Silence] = []
    for start, end in pairwise(_cuts(watch, members, side, ages)):
        stretch = AgeSpan(start, ages.end if end == ages.stop else end)
        for grade in GRADES:
            found += _at(watch, members, side, stretch, grade)
    return found


@dataclass(frozen=True)
class _Member:
    alarm: AlarmCondition
    setting: Setting
    limit: Decimal | None  # the tightest line that sounds soon enough

    @property
    def judged_as(self) -> str:
        return judged_as(self.alarm.quantity)

    @property
    def on(self) -> bool:
        return isinstance(self.setting, On)


def _stated(watch: Watch, group: tuple[str, ...], side: Side) -> list[_Member]:
    members = []
    for quantity in group:
        alarm = alarm_of(quantity, side)
        setting = watch.settings.get(alarm.key)
        absent = isinstance(setting, NotFitted) and alarm.key not in watch.fitted
        if setting is not None and not absent:
            members.append(_Member(alarm, setting, _covering_limit(watch, alarm, setting)))
    return members


def _covering_limit(watch: Watch, alarm: AlarmCondition, setting: Setting) -> Decimal | None:
    if not isinstance(setting, On):
        return None
    averaging = watch.spo2_averaging_s if alarm.quantity == "spo2" else Decimal(0)
    limits = [
        limit
        for limit, delay in lines_of(setting, alarm)
        if delay + averaging <= LONGEST_COVERING_DELAY_S
    ]
    if not limits:
        return None
    return max(limits) if alarm.looser == "down" else min(limits)


def _cuts(watch: Watch, members: list[_Member], side: Side, ages: AgeSpan) -> list[Age]:
    """Ages between which nothing changes: the edges of bounds, and where one passes a limit."""
    cuts = {ages.start, ages.stop}
    for member in members:
        for bound in watch.bounds.of(member.judged_as, side):
            cuts |= {bound.span.start, bound.span.stop}
            passing = None
            if member.limit is not None:
                passing = bound.age_reaching(_on_step(member.limit, member.alarm, side))
            cuts |= {passing} if passing is not None else set()
    return sorted(cut for cut in cuts if ages.start <= cut <= ages.stop)


def _on_step(limit: Decimal, alarm: AlarmCondition, side: Side) -> Fraction:
    """The last value on the step that does not sound."""
    steps = Fraction(limit) / Fraction(alarm.step)
    return (ceil(steps) if side == "low" else floor(steps)) * Fraction(alarm.step)


def _at(
    watch: Watch, members: list[_Member], side: Side, ages: AgeSpan, grade: str
) -> Iterator[Silence]:
    """The silence of one grade over ages at which nothing changes."""
    # A moving bound touches the limit at one end of the stretch: ask in its middle.
    middle = Age((ages.start.days + ages.stop.days) / 2)
    judged: list[tuple[_Member, OuterBound]] = []
    for member in members:
        bound = _strictest(watch, member.judged_as, side, middle, grade)
        if bound is None:
            continue
        if _closes(member, bound, side, middle):
            return
        judged.append((member, bound))
    if not judged or (grade == "caution" and not any(member.on for member, _ in judged)):
        return
    first = judged[0][1].quantity
    told = [(member, bound) for member, bound in judged if bound.quantity == first]
    alarms = tuple(member.alarm.key for member, _ in judged)
    yield _silence(alarms, [member for member, _ in told], told[0][1], side, ages)


def _strictest(watch: Watch, quantity: str, side: Side, age: Age, grade: str) -> OuterBound | None:
    here = watch.bounds.in_force_at(quantity, side, age, watch.circumstance)
    graded = [bound for bound in here if bound.grade == grade]
    if not graded:
        return None
    return (max if side == "low" else min)(graded, key=lambda bound: bound.at(age))


def _closes(member: _Member, bound: OuterBound, side: Side, age: Age) -> bool:
    if member.limit is None:
        return False
    limit = _on_step(member.limit, member.alarm, side)
    return limit >= bound.at(age) if side == "low" else limit <= bound.at(age)


def _silence(
    alarms: tuple[str, ...], members: list[_Member], bound: OuterBound, side: Side, ages: AgeSpan
) -> Silence:
    step = Fraction(members[0].alarm.step)
    limits = [member.limit for member in members if member.limit is not None]
    worst_age = Age(ages.stop.days) if bound.per_year else ages.start
    edge = bound.at(worst_age)
    if side == "low":
        limit = max(limits) if limits else None
        start = None if limit is None else _on_step(limit, members[0].alarm, side)
        return Silence(alarms, side, ages, bound, limit, start, (ceil(edge / step) - 1) * step)
    limit = min(limits) if limits else None
    end = None if limit is None else _on_step(limit, members[0].alarm, side)
    return Silence(alarms, side, ages, bound, limit, (floor(edge / step) + 1) * step, end)
