"""Silence: values beyond an outer bound at which no alarm sounds.

The alarms of one group guard the same danger, so one that closes its own bound covers the
others. Everything lives on the vital sign's step: a limit equal to the bound closes it.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from functools import lru_cache
from itertools import pairwise
from math import ceil, floor

from app.domain.ages import Age, AgeSpan
from app.domain.alarm_conditions import ALARM_CONDITIONS, AlarmCondition, Side
from app.domain.outer_bounds import GRADES, OuterBound, OuterBounds, strictest
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
    alarms = [alarm_of(quantity, side).key for quantity in group]
    return list(
        _silences(
            group,
            side,
            ages,
            tuple(watch.settings.get(alarm) for alarm in alarms),
            watch.bounds,
            watch.circumstance,
            watch.spo2_averaging_s if "spo2" in group else Decimal(0),
            watch.fitted.intersection(alarms),
        )
    )


@lru_cache(maxsize=16_384)
def _silences(
    group: tuple[str, ...],
    side: Side,
    ages: AgeSpan,
    settings: tuple[Setting | None, ...],
    bounds: OuterBounds,
    circumstance: str | None,
    averaging: Decimal,
    fitted: frozenset[str],
) -> tuple[Silence, ...]:
    """Kept by all that it hangs on: a change of one alarm asks about its own group alone."""
    stated = zip(group, settings, strict=True)
    held = {alarm_of(one, side).key: setting for one, setting in stated if setting is not None}
    watch = Watch(held, bounds, circumstance, averaging, fitted)
    members = _stated(watch, group, side)
    if not any(watch.bounds.of(member.judged_as, side) for member in members):
        return ()
    found: list[Silence] = []
    for start, end in pairwise(_cuts(watch, members, side, ages)):
        stretch = AgeSpan(start, ages.end if end == ages.stop else end)
        found += _at(watch, members, side, stretch)
    return tuple(found)


@dataclass(frozen=True)
class _Member:
    alarm: AlarmCondition
    setting: Setting
    limit: Decimal | None  # the tightest line that sounds soon enough
    reach: Fraction | None  # the last value on the step that does not sound

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
            limit = covering_limit(watch, alarm, setting)
            reach = None if limit is None else _on_step(limit, alarm, side)
            members.append(_Member(alarm, setting, limit, reach))
    return members


def covering_limit(watch: Watch, alarm: AlarmCondition, setting: Setting) -> Decimal | None:
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
    first, last = ages.start.days, ages.stop.days
    cuts = {ages.start, ages.stop}
    for member in members:
        for cut in watch.bounds.edges(member.judged_as, side, member.reach):
            if first < cut.days < last:
                cuts.add(cut)
    return sorted(cuts)


def _on_step(limit: Decimal, alarm: AlarmCondition, side: Side) -> Fraction:
    """The last value on the step that does not sound."""
    steps = Fraction(limit) / Fraction(alarm.step)
    return (ceil(steps) if side == "low" else floor(steps)) * Fraction(alarm.step)


def _at(watch: Watch, members: list[_Member], side: Side, ages: AgeSpan) -> Iterator[Silence]:
    """The silence of each grade over ages at which nothing changes."""
    # A moving bound touches the limit at one end of the stretch: ask in its middle.
    middle = Age((ages.start.days + ages.stop.days) / 2)
    here = [
        (member, watch.bounds.in_force_at(member.judged_as, side, middle, watch.circumstance))
        for member in members
    ]
    for grade in GRADES:
        judged = [
            (member, strictest(graded, side, middle))
            for member, bounds in here
            if (graded := [bound for bound in bounds if bound.grade == grade])
        ]
        if not judged or any(_closes(*pair, side, middle) for pair in judged):
            continue
        if grade == "danger" or any(member.on for member, _ in judged):
            yield _silence(judged, side, ages)


def _closes(member: _Member, bound: OuterBound, side: Side, age: Age) -> bool:
    if member.reach is None:
        return False
    return member.reach >= bound.at(age) if side == "low" else member.reach <= bound.at(age)


def _silence(judged: list[tuple[_Member, OuterBound]], side: Side, ages: AgeSpan) -> Silence:
    alarms = tuple(member.alarm.key for member, _ in judged)
    bound = judged[0][1]
    members = [member for member, other in judged if other.quantity == bound.quantity]
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
