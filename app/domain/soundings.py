"""Where the alarms of one line sound in a recording.

A value violates a line when it lies strictly beyond it. An episode is a maximal run of violating
samples; a missing sample, or a jump in `second` larger than the step, ends it. An alarm is raised
at the first sample t of an episode with t - onset >= delay, at most one an episode, and lasts to
the end of the episode.

With hysteresis h it lasts until a value lies at least h inside the limit (or is missing), and no
other is raised meanwhile. A latched alarm raised at r sounds on at every sample before
r + R, R being the time until somebody acknowledges it, and after that while the violation that
sounds then lasts; no other is raised meanwhile. It ends with the patient's recording.

Intermittent vital signs (NIBP): a value holds until the next one or for twice the interval, and
the delay is ignored.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import ceil

import numpy as np

from app.domain.alarm_curve import MISSING, in_steps
from app.domain.averaging import averaged, samples_averaged
from app.domain.trends import Flags, Line, Numbers, Trends, Whole
from app.domain.vital_signs import VITAL_SIGNS


@dataclass(frozen=True)
class Soundings:
    """Row at which each alarm is raised, and the last row at which it sounds, ascending."""

    raised: Whole
    last: Whole


def soundings(trends: Trends, values: Numbers, starts: Flags, line: Line) -> Soundings:
    """`values` of the line's vital sign, held where it is intermittent."""
    if line.averaging_s and not line.intermittent:
        values = _averaged(trends, values, starts, line)
    found = _raised(values, starts, line, trends.step_s)
    if line.acknowledged_after_s:
        return _latched(trends, found, line.acknowledged_after_s)
    return found


def carried_on(
    trends: Trends, lines: Sequence[Line], nibp_interval_s: float | None
) -> Mapping[str, Numbers]:
    """The values of each line's vital sign as its alarm sees them."""
    return {
        line.vital_sign: held(trends, trends.values[line.vital_sign], nibp_interval_s)
        if line.intermittent
        else trends.values[line.vital_sign]
        for line in lines
    }


def _averaged(trends: Trends, values: Numbers, starts: Flags, line: Line) -> Numbers:
    per_unit = float(1 / VITAL_SIGNS[line.vital_sign].step)
    width = samples_averaged(line.averaging_s, trends.step_s)
    steps = averaged(in_steps(values, 1 / per_unit), starts, width)
    return np.where(steps == MISSING, np.nan, steps / per_unit)


def _raised(values: Numbers, starts: Flags, line: Line, step_s: int) -> Soundings:
    # A comparison with NaN is false, so a missing sample violates nothing and ends an episode.
    low, back = line.side == "low", line.hysteresis
    onset, last = _runs(values < line.limit if low else values > line.limit, starts)
    # The step is the smallest difference and a larger one ends an episode, so within one the
    # rows stand exactly one step apart.
    raised = onset + (0 if line.intermittent else ceil(line.delay_s / step_s))
    raised, last = raised[raised <= last], last[raised <= last]
    if not back:
        return Soundings(raised, last)
    begins, ends = _runs(values < line.limit + back if low else values > line.limit - back, starts)
    run, first = np.unique(np.searchsorted(begins, raised, side="right") - 1, return_index=True)
    return Soundings(raised[first], ends[run])


def _runs(flags: Flags, starts: Flags) -> tuple[Whole, Whole]:
    """First and last row of every run of true flags that no start breaks."""
    goes_on = flags[1:] & flags[:-1] & ~starts[1:]
    onset, last = flags.copy(), flags.copy()
    onset[1:] &= ~goes_on
    last[:-1] &= ~goes_on
    return np.flatnonzero(onset), np.flatnonzero(last)


def _latched(trends: Trends, found: Soundings, after_s: float) -> Soundings:
    patient_ends = np.searchsorted(trends.patient, np.arange(trends.patients), side="right")
    raised: list[int] = []
    last: list[int] = []
    for begins, ends in zip(found.raised.tolist(), found.last.tolist(), strict=True):
        if last and begins <= last[-1]:
            last[-1] = max(last[-1], ends)
            continue
        rest = trends.second[begins : patient_ends[trends.patient[begins]]]
        sounds = int(np.searchsorted(rest, rest[0] + after_s))
        raised.append(begins)
        last.append(max(ends, begins + sounds - 1))
    return Soundings(np.array(raised, dtype=np.int64), np.array(last, dtype=np.int64))


def held(trends: Trends, values: Numbers, interval_s: float | None) -> Numbers:
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
