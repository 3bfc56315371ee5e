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
from math import ceil

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

    def starts(self) -> Flags:
        """True where a row does not follow the row before it without a jump."""
        starts = np.ones(self.rows, dtype=bool)
        starts[1:] = (np.diff(self.patient) != 0) | (np.diff(self.second) > self.step_s)
        return starts


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


@dataclass(frozen=True)
class _Alarms:
    """Row at which each alarm is raised, and its last row."""

    raised: Whole
    last: Whole


def replay(trends: Trends, lines: Sequence[Line], nibp_interval_s: float | None = None) -> Replay:
    starts = trends.starts()
    held = {
        line.vital_sign: _held(trends, trends.values[line.vital_sign], nibp_interval_s)
        for line in lines
        if line.intermittent
    }
    found: list[_Alarms] = []
    loads: dict[str, Load] = {}
    for line in lines:
        values = held[line.vital_sign] if line.intermittent else trends.values[line.vital_sign]
        alarms = _alarms(values, starts, line, trends.step_s)
        rows = np.count_nonzero(~np.isnan(values)) if line.intermittent else trends.rows
        loads[line.alarm] = _load(trends, alarms, int(rows))
        found.append(alarms)
    hours = trends.rows * trends.step_s / 3600
    return Replay(hours, trends.patients, loads, _all(trends, found))


def _alarms(values: Numbers, starts: Flags, line: Line, step_s: int) -> _Alarms:
    # A comparison with NaN is false, so a missing sample violates nothing and ends an episode.
    violating = values < line.limit if line.side == "low" else values > line.limit
    goes_on = violating[1:] & violating[:-1] & ~starts[1:]
    onset, last = violating.copy(), violating.copy()
    onset[1:] &= ~goes_on
    last[:-1] &= ~goes_on
    # The step is the smallest difference and a larger one ends an episode, so within one the
    # rows stand exactly one step apart.
    raised = np.flatnonzero(onset) + (0 if line.intermittent else ceil(line.delay_s / step_s))
    ends = np.flatnonzero(last)
    return _Alarms(raised[raised <= ends], ends[raised <= ends])


def _load(trends: Trends, alarms: _Alarms, rows: int) -> Load:
    """`rows` at which the alarm could have sounded."""
    return Load(
        int(alarms.raised.size),
        alarms.raised.size * 3600 / (rows * trends.step_s) if rows else 0.0,
        float((alarms.last - alarms.raised + 1).sum() * trends.step_s),
        int(np.unique(trends.patient[alarms.raised]).size),
    )


def _all(trends: Trends, found: Sequence[_Alarms]) -> Load:
    sounding = np.zeros(trends.rows + 1, dtype=np.int64)  # how many more sound at a row
    patients = np.zeros(trends.patients, dtype=bool)
    for alarms in found:
        sounding[alarms.raised] += 1  # the alarms of one line never touch
        sounding[alarms.last + 1] -= 1
        patients[trends.patient[alarms.raised]] = True
    count = sum(alarms.raised.size for alarms in found)
    return Load(
        count,
        count * 3600 / (trends.rows * trends.step_s) if trends.rows else 0.0,
        float(np.count_nonzero(np.cumsum(sounding)) * trends.step_s),
        int(np.count_nonzero(patients)),
    )


def _held(trends: Trends, values: Numbers, interval_s: float | None) -> Numbers:
    """Each value carried on until the next, for at most twice the interval."""
    measured = ~np.isnan(values)
    rows = np.arange(trends.rows)
    last = np.maximum.accumulate(np.where(measured, rows, 0))  # NaN at row 0 carries on as NaN
    age = trends.second - trends.second[last]
    reach = _reach(trends, np.flatnonzero(measured), interval_s)[trends.patient]
    holds = (trends.patient[last] == trends.patient) & ((age == 0) | (age < reach))
    return np.where(holds, values[last], np.nan)


def _reach(trends: Trends, measured: Whole, interval_s: float | None) -> Numbers:
    """For how many seconds a measurement holds, by patient; 0: for its own sample only."""
    if interval_s is not None:
        return np.full(trends.patients, 2 * interval_s)
    reach = np.zeros(trends.patients)
    patient, second = trends.patient[measured], trends.second[measured]
    for rows in np.split(np.arange(measured.size), np.flatnonzero(np.diff(patient)) + 1):
        if rows.size > 1:  # one turn a patient
            reach[patient[rows[0]]] = 2 * float(np.median(np.diff(second[rows])))
    return reach
