"""Recorded trends replayed against alarm lines.

A value violates a line when it lies strictly beyond it. An episode is a maximal run of violating
samples; a missing sample, or a jump in `second` larger than the step, ends it. An alarm is raised
at the first sample t of an episode with t - onset >= delay, at most one an episode, and lasts to
the end of the episode. Patient-hours count every row.

Intermittent vital signs (NIBP): a value holds until the next one or for twice the interval, the
delay is ignored, and rates are per hour in which a value is held.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from app.domain.alarm_conditions import Side

Numbers = NDArray[np.float64]
Flags = NDArray[np.bool_]
Whole = NDArray[np.int64]


@dataclass(frozen=True)
class Line:
    """One line that can sound; a deep line is another, named `<alarm>.deep`."""

    alarm: str
    vital_sign: str
    side: Side
    limit: float
    delay_s: float
    intermittent: bool = False


@dataclass(frozen=True)
class Trends:
    """Rows of one patient stand together. `patient` numbers them from 0, `second` rises within
    each, `values` holds one column a vital sign, NaN where missing; `step_s` is the smallest
    difference of `second` within a patient over the whole recording."""

    patient: Whole
    second: Whole
    values: Mapping[str, Numbers]
    step_s: int

    @property
    def rows(self) -> int:
        return int(self.patient.size)

    @property
    def patients(self) -> int:
        return int(self.patient[-1]) + 1 if self.rows else 0


@dataclass(frozen=True)
class Load:
    count: int
    per_patient_hour: float
    seconds_in_alarm: float
    patients_with_alarm: int


@dataclass(frozen=True)
class Replay:
    """`all` counts every alarm of every line; its seconds are the union."""

    patient_hours: float
    patients: int
    alarms: Mapping[str, Load]
    all: Load


def replay(trends: Trends, lines: Sequence[Line], nibp_interval_s: float | None = None) -> Replay:
    hours = trends.rows * trends.step_s / 3600
    starts = _run_starts(trends)
    sounding = np.zeros(trends.rows, dtype=bool)
    patients_any = np.zeros(trends.patients, dtype=bool)
    loads: dict[str, Load] = {}
    for line in lines:
        values = trends.values[line.vital_sign]
        if line.intermittent:
            values = _held(trends, values, nibp_interval_s)
        measured = np.count_nonzero(~np.isnan(values)) * trends.step_s / 3600
        delay = 0.0 if line.intermittent else line.delay_s
        alarm, raised = _alarms(trends, starts, _violates(values, line), delay)
        patients = np.unique(trends.patient[raised])
        loads[line.alarm] = _load(
            raised, alarm, patients, trends.step_s, measured if line.intermittent else hours
        )
        sounding |= alarm
        patients_any[patients] = True
    count = sum(load.count for load in loads.values())
    everything = Load(
        count,
        count / hours if hours else 0.0,
        float(np.count_nonzero(sounding) * trends.step_s),
        int(np.count_nonzero(patients_any)),
    )
    return Replay(hours, trends.patients, loads, everything)


def _load(raised: Whole, alarm: Flags, patients: Whole, step_s: int, hours: float) -> Load:
    return Load(
        int(raised.size),
        raised.size / hours if hours else 0.0,
        float(np.count_nonzero(alarm) * step_s),
        int(patients.size),
    )


def _run_starts(trends: Trends) -> Flags:
    """True where a row does not follow the one before it without a jump."""
    starts = np.ones(trends.rows, dtype=bool)
    starts[1:] = (np.diff(trends.patient) != 0) | (np.diff(trends.second) > trends.step_s)
    return starts


def _violates(values: Numbers, line: Line) -> Flags:
    """Comparisons with NaN are false: a missing sample violates nothing."""
    beyond: Flags = values < line.limit if line.side == "low" else values > line.limit
    return beyond


def _alarms(trends: Trends, starts: Flags, violating: Flags, delay_s: float) -> tuple[Flags, Whole]:
    """(samples in alarm, rows at which an alarm is raised)."""
    before = np.zeros_like(violating)
    before[1:] = violating[:-1]
    onset = violating & (starts | ~before)
    if not onset.any():
        return np.zeros_like(violating), np.zeros(0, dtype=np.int64)
    rows = np.flatnonzero(onset)
    episode = np.cumsum(onset) - 1  # valid where violating
    elapsed = trends.second - trends.second[rows[np.maximum(episode, 0)]]
    alarm = violating & (elapsed >= delay_s)
    inside = np.flatnonzero(alarm)
    first = np.ones(inside.size, dtype=bool)
    first[1:] = np.diff(episode[inside]) != 0
    return alarm, inside[first]


def _held(trends: Trends, values: Numbers, interval_s: float | None) -> Numbers:
    """Each value carried on until the next, for at most twice the interval."""
    measured = np.flatnonzero(~np.isnan(values))
    if not measured.size:
        return values
    index = np.searchsorted(measured, np.arange(trends.rows), side="right") - 1
    last = measured[np.maximum(index, 0)]
    same = (index >= 0) & (trends.patient[last] == trends.patient)
    reach = _reach(trends, measured, interval_s)[np.maximum(index, 0)]
    age = trends.second - trends.second[last]
    return np.where(same & ((age == 0) | (age < reach)), values[last], np.nan)


def _reach(trends: Trends, measured: Whole, interval_s: float | None) -> Numbers:
    """For how many seconds each measurement holds at most; 0: for its own sample only."""
    if interval_s is not None:
        return np.full(measured.size, 2 * interval_s)
    patient, second = trends.patient[measured], trends.second[measured]
    reach = np.zeros(measured.size)
    edges = np.flatnonzero(np.diff(patient)) + 1
    for part in np.split(np.arange(measured.size), edges):  # one turn a patient
        if part.size > 1:
            reach[part] = 2 * float(np.median(np.diff(second[part])))
    return reach
