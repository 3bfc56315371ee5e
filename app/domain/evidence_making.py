"""One category's limits against its recordings: every line of the policy, at every limit.

The limits of a vital sign that was recorded are told even where the alarm is off: then the curve
says what switching it on would cost. Other lines stand as in this revision.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from app.domain.alarm_conditions import ALARM_CONDITIONS, SIDES, AlarmCondition
from app.domain.comparison import DEEP
from app.domain.curve_limits import bounds_within, curve_delays, curve_limits
from app.domain.device_models import DeviceModel
from app.domain.evidence import LineEvidence, Measured
from app.domain.line_curves import CurveQuestion, Recorded, line_curves, recorded, recorded_range
from app.domain.outer_bounds import OuterBounds
from app.domain.patient_categories import PatientCategory
from app.domain.patient_loads import SEED, PatientLoads, intervals
from app.domain.profiles import Profile, settings_in
from app.domain.replay import load_of, loads_of
from app.domain.replay_lines import lines_to_replay, nibp_interval_s
from app.domain.trends import Line, Trends
from app.domain.vital_signs import VITAL_SIGNS, group_of, judged_as


@dataclass(frozen=True)
class Found:
    """What is found of one category; None of another policy that is not, or does not know it."""

    hours: float
    patients: int
    whole: Measured
    whole_against: Measured | None
    lines: tuple[LineEvidence, ...]
    not_replayed: tuple[str, ...]


@dataclass(frozen=True)
class _Played:
    """A policy's lines over the recordings, an entry a patient."""

    lines: Mapping[str, Line]
    loads: Mapping[str, PatientLoads]
    whole: PatientLoads
    left_out: tuple[str, ...]


@dataclass(frozen=True)
class _Making:
    category: PatientCategory
    profile: Profile
    against: Profile | None
    bounds: OuterBounds
    trends: Sequence[Trends]
    models: Sequence[DeviceModel]
    circumstance: str

    @cached_property
    def vital_signs(self) -> list[str]:
        held = {name for one in self.trends for name in one.values}
        return [name for name in VITAL_SIGNS if name in held]

    @cached_property
    def here(self) -> _Played:
        return self._played(self.profile)

    @cached_property
    def there(self) -> _Played | None:
        other = self.against
        if other is None or other.category(self.category.key) is None:
            return None
        return self._played(other)

    def _played(self, profile: Profile) -> _Played:
        settings = settings_in(profile, self.category.key, self.circumstance)
        lines, left_out = lines_to_replay(settings, frozenset(self.vital_signs))
        loads, whole = loads_of(self.trends, lines, nibp_interval_s(profile))
        return _Played({line.alarm: line for line in lines}, loads, whole, tuple(left_out))

    @cached_property
    def recorded(self) -> list[Recorded]:
        steps = {name: VITAL_SIGNS[name].step for name in self.vital_signs}
        lines = list(self.here.lines.values())
        interval = nibp_interval_s(self.profile)
        return [recorded(one, lines, steps, interval) for one in self.trends]


def find_evidence(
    category: PatientCategory,
    profile: Profile,
    against: Profile | None,
    *,
    bounds: OuterBounds,
    trends: Sequence[Trends],
    models: Sequence[DeviceModel] = (),
    circumstance: str = "",
) -> Found:
    """`against`: what to hold it against; `models`: whose settable limits the curves stand at. In
    a circumstance its limits and bounds count, in a policy that does not know it the plain ones.
    The same input gives the same answer: dice are thrown anew from one seed for every line."""
    making = _Making(category, profile, against, bounds, trends, models, circumstance)
    here, there = making.here, making.there
    both = _measured((None, here.whole), None if there is None else (None, there.whole))
    return Found(
        hours=float(here.whole.hours.sum()),
        patients=here.whole.patients,
        whole=_there(both.here),
        whole_against=both.there,
        lines=tuple(_lines(making)),
        not_replayed=here.left_out,
    )


def _lines(making: _Making) -> Iterator[LineEvidence]:
    for vital in making.vital_signs:
        for side in SIDES:
            alarm = ALARM_CONDITIONS[f"{vital}-{side}"]
            for name in (alarm.key, alarm.key + DEEP):
                played = [one for one in (making.here, making.there) if one is not None]
                on = any(name in one.lines for one in played)
                if name == alarm.key or on:
                    found = _line(making, alarm, name)
                    if found is not None:
                        yield found


def _line(making: _Making, alarm: AlarmCondition, name: str) -> LineEvidence | None:
    """None where the vital sign was never measured."""
    vital = VITAL_SIGNS[alarm.quantity]
    reach = recorded_range(making.recorded, vital.key)
    if reach is None:
        return None
    here = making.here.lines.get(name)
    there = None if making.there is None else making.there.lines.get(name)
    lines = [line for line in (here, there) if line is not None]
    judged = bounds_within(
        making.bounds,
        judged_as(vital.key),
        alarm.side,
        making.category.span,
        alarm.step,
        making.circumstance,
    )
    ends = tuple(float(edge * alarm.step) for edge in reach)
    asked = CurveQuestion(
        alarm,
        vital.key,
        curve_delays((line.delay_s for line in lines), intermittent=vital.intermittent),
        curve_limits(making.models, alarm, (ends[0], ends[1]), (line.limit for line in lines)),
        judged,
        _guards(making, alarm, name),
    )
    return _told(making, asked, name)


def _guards(making: _Making, alarm: AlarmCondition, name: str) -> frozenset[str]:
    group = group_of(alarm.quantity)
    return frozenset(
        line.alarm
        for line in making.here.lines.values()
        if line.vital_sign in group and line.side == alarm.side and line.alarm != name
    )


def _told(making: _Making, asked: CurveQuestion, name: str) -> LineEvidence:
    curves = line_curves(making.recorded, asked)
    both = _measured(_own(making.here, name), _own(making.there, name))
    holding = [one for one in making.recorded if asked.vital_sign in one.steps]
    return LineEvidence(
        alarm=name,
        hours=sum(one.hours_of(asked.vital_sign) for one in holding),
        patients=sum(one.trends.patients for one in holding),
        limits=tuple(map(float, asked.limits)),
        delays=tuple(asked.delays),
        counts=curves.counts,
        seconds=curves.seconds,
        alarmed=curves.alarmed,
        silence=curves.silence,
        revision=both.here,
        against=both.there,
        change_low=both.change_low,
        change_high=both.change_high,
    )


_Own = tuple[Line | None, PatientLoads]


def _own(played: _Played | None, name: str) -> _Own | None:
    if played is None or name not in played.lines:
        return None
    return played.lines[name], played.loads[name]


@dataclass(frozen=True)
class _Both:
    here: Measured | None
    there: Measured | None
    change_low: float | None
    change_high: float | None


def _measured(here: _Own | None, there: _Own | None) -> _Both:
    asked = [one for one in (there, here) if one is not None]
    drawn = intervals([load for _, load in asked], np.random.default_rng(SEED)) if asked else None
    told: list[Measured] = []
    for index, (line, load) in enumerate(asked):
        found, worst = load_of(load), load.worst_tenth
        between = drawn[0][index] if drawn else None
        told.append(
            Measured(
                limit=None if line is None else line.limit,
                delay_s=0.0 if line is None else line.delay_s,
                count=found.count,
                per_hour=found.per_patient_hour,
                seconds=found.seconds_in_alarm,
                patients=found.patients_with_alarm,
                worst_tenth=worst,
                low=between.low if between else None,
                high=between.high if between else None,
            )
        )
    change = drawn[1] if drawn else None
    return _Both(
        here=told[-1] if here is not None else None,
        there=told[0] if there is not None else None,
        change_low=change.low if change else None,
        change_high=change.high if change else None,
    )


def _there(found: Measured | None) -> Measured:
    if found is None:
        raise RuntimeError("every policy has a load of its lines together")
    return found
