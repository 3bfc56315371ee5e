"""The curves of one line over all recordings: noise and silence by delay and limit."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from math import ceil

import numpy as np
from numpy.typing import NDArray

from app.domain.alarm_conditions import AlarmCondition
from app.domain.alarm_curve import MISSING, Steps, alarm_curve, in_steps
from app.domain.evidence import SilentBeyond, Table
from app.domain.limit_curves import LimitCurves, Watched, limit_curves
from app.domain.outer_bounds import OuterBound
from app.domain.soundings import held, soundings
from app.domain.trends import Flags, Line, Trends, Whole
from app.domain.vital_signs import VITAL_SIGNS

Numbers3 = NDArray[np.int64]


@dataclass(frozen=True)
class Recorded:
    """One recording as the lines of a policy see it: values in steps, held where the vital sign
    is intermittent, and by line where it sounds. `starts`: rows after a jump; `patients`: the
    first row of each."""

    trends: Trends
    starts: Whole
    patients: Whole
    steps: Mapping[str, Steps]
    sounding: Mapping[str, Flags]

    def hours_of(self, vital_sign: str) -> float:
        """In which its alarm could sound."""
        if VITAL_SIGNS[vital_sign].intermittent:
            held = np.count_nonzero(self.steps[vital_sign] != MISSING)
            return int(held) * self.trends.step_s / 3600
        return self.trends.hours


@dataclass(frozen=True)
class CurveQuestion:
    """`limits` and the values of `bounds` lie on the step; `guards` are the other lines that
    sound for the same danger."""

    alarm: AlarmCondition
    vital_sign: str
    delays: Sequence[float]
    limits: Sequence[Decimal]
    bounds: Sequence[tuple[OuterBound, Decimal]]
    guards: frozenset[str]

    def in_steps(self, value: Decimal) -> int:
        return int(value / self.alarm.step)


@dataclass(frozen=True)
class Curves:
    counts: Table
    seconds: Table
    alarmed: Table
    silence: tuple[SilentBeyond, ...]


def recorded(
    trends: Trends,
    lines: Sequence[Line],
    steps: Mapping[str, Decimal],
    nibp_interval_s: float | None,
) -> Recorded:
    """`lines` of the policy; `steps` names every vital sign that is asked about."""
    starts = trends.starts()
    own = [line for line in lines if line.vital_sign in trends.values]
    seen = {  # held also where no line is on: its curve says what switching it on would cost
        vital: held(trends, values, nibp_interval_s) if VITAL_SIGNS[vital].intermittent else values
        for vital, values in trends.values.items()
    }
    sounding = {}
    for line in own:
        change = np.zeros(trends.rows + 1, dtype=np.int8)
        found = soundings(trends, seen[line.vital_sign], starts, line)
        change[found.raised] += 1
        change[found.last + 1] -= 1
        sounding[line.alarm] = np.cumsum(change, dtype=np.int8)[:-1] > 0
    in_whole = {
        vital: in_steps(seen[vital], float(step)) for vital, step in steps.items() if vital in seen
    }
    first = np.flatnonzero(np.diff(trends.patient, prepend=-1))
    return Recorded(trends, np.flatnonzero(starts), first, in_whole, sounding)


def recorded_range(recordings: Sequence[Recorded], vital_sign: str) -> tuple[int, int] | None:
    """Least and greatest value in steps; None where nothing was measured."""
    edges = []
    for one in recordings:
        there = one.steps.get(vital_sign, np.zeros(0, np.int16))
        there = there[there != MISSING]
        if there.size:
            edges += [int(there.min()), int(there.max())]
    return (min(edges), max(edges)) if edges else None


def line_curves(recordings: Sequence[Recorded], asked: CurveQuestion) -> Curves:
    limits = np.array([asked.in_steps(limit) for limit in asked.limits], dtype=np.int64)
    size = (3, len(asked.delays), limits.size)
    noise = np.zeros(size, dtype=np.int64)
    silent = np.zeros((len(asked.bounds), *size), dtype=np.int64)
    beyond = np.zeros((len(asked.bounds), 3), dtype=np.int64)
    for one in recordings:
        if asked.vital_sign in one.steps:
            _add(one, asked, limits, noise, silent, beyond)
    counts, in_alarm, alarmed = (_table(noise[kind]) for kind in range(3))
    return Curves(
        counts,
        in_alarm,
        alarmed,
        tuple(
            _beyond(bound, value, beyond[index], silent[index])
            for index, (bound, value) in enumerate(asked.bounds)
        ),
    )


def _add(
    one: Recorded,
    asked: CurveQuestion,
    limits: Whole,
    noise: Numbers3,
    silent: Numbers3,
    beyond: Numbers3,
) -> None:
    step_s, side = one.trends.step_s, asked.alarm.side
    values = one.steps[asked.vital_sign]
    watched = Watched(values, one.starts, one.patients, side)
    edges = [asked.in_steps(value) for _, value in asked.bounds]
    covered = _covered(one, asked.guards)
    for place, delay_s in enumerate(asked.delays):
        delay = ceil(delay_s / step_s)
        curve = alarm_curve(values, one.starts, side, delay, limits)
        found = limit_curves(watched, delay, limits, bounds=edges, covered=covered)
        noise[:, place] += np.array((curve.counts, curve.samples_in_alarm * step_s, found.alarmed))
        _add_silence(found, step_s, silent[:, :, place])
    for index, told in enumerate(found.beyond):  # the same after every delay
        beyond[index] += (told.samples * step_s, told.episodes, told.patients)


def _add_silence(found: LimitCurves, step_s: int, silent: Numbers3) -> None:
    for index, told in enumerate(found.beyond):
        gone = told.silence
        silent[index] += np.array((gone.samples * step_s, gone.episodes, gone.patients))


def _covered(one: Recorded, guards: frozenset[str]) -> Flags | None:
    heard = guards & one.sounding.keys()
    if not heard:
        return None
    covered = np.zeros(one.trends.rows, dtype=bool)
    for name in heard:
        covered |= one.sounding[name]
    return covered


def _table(numbers: NDArray[np.int64]) -> Table:
    return tuple(tuple(row) for row in numbers.tolist())


def _beyond(
    bound: OuterBound, value: Decimal, all_of_it: NDArray[np.int64], silent: Numbers3
) -> SilentBeyond:
    samples, episodes, patients = all_of_it.tolist()
    return SilentBeyond(
        float(value),
        bound.grade,
        bound.source,
        samples,
        episodes,
        patients,
        *(_table(silent[kind]) for kind in range(3)),
    )
