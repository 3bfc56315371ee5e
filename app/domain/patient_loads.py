"""The alarm load of each patient: what recordings add up to, and how far it can be trusted.

Patients differ far more than hours do, so an interval draws whole patients: B times as many as
there are, with replacement, and the 2.5th and 97.5th centile of the rate of these draws. Two
policies are compared on the same draws, since the same patients sounded under both.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil

import numpy as np

from app.domain.soundings import Soundings, carried_on, soundings
from app.domain.trends import Line, Numbers, Trends, Whole

DRAWS = 1000
SEED = 20260302
_LEVELS = (2.5, 97.5)
_AT_ONCE = 4_000_000  # weights of patients in one piece


@dataclass(frozen=True)
class PatientLoads:
    """An entry a patient: hours in which an alarm could sound, alarms, seconds in alarm."""

    hours: Numbers
    counts: Whole
    seconds: Numbers

    @property
    def patients(self) -> int:
        return int(self.hours.size)

    @property
    def per_hour(self) -> float:
        hours = float(self.hours.sum())
        return float(self.counts.sum()) / hours if hours else 0.0

    @property
    def worst_tenth(self) -> float | None:
        """Share of all alarms that the noisiest tenth of the patients made, rounded up to whole
        patients; None where nothing sounded."""
        total = int(self.counts.sum())
        if not total:
            return None
        noisiest = np.sort(self.counts)[::-1][: ceil(self.patients / 10)]
        return float(noisiest.sum()) / total


@dataclass(frozen=True)
class Interval:
    low: float
    high: float


def added_up(parts: Sequence[PatientLoads]) -> PatientLoads:
    """Patients of one recording are nobody in another."""
    return PatientLoads(
        np.concatenate([part.hours for part in parts]),
        np.concatenate([part.counts for part in parts]),
        np.concatenate([part.seconds for part in parts]),
    )


def patient_loads(
    trends: Trends, lines: Sequence[Line], nibp_interval_s: float | None = None
) -> tuple[dict[str, PatientLoads], PatientLoads]:
    """(by alarm, all of them: its count is of every line, its seconds the union)."""
    starts = trends.starts()
    seen = carried_on(trends, lines, nibp_interval_s)
    found: list[Soundings] = []
    loads: dict[str, PatientLoads] = {}
    for line in lines:
        values = seen[line.vital_sign]
        alarms = soundings(trends, values, starts, line)
        rows = trends.patient[~np.isnan(values)] if line.intermittent else trends.patient
        loads[line.alarm] = _of_line(trends, alarms, rows)
        found.append(alarms)
    return loads, _of_all(trends, found)


def _of_line(trends: Trends, alarms: Soundings, rows: Whole) -> PatientLoads:
    """`rows`: the patient of every row at which the alarm could have sounded."""
    who = trends.patient[alarms.raised]
    samples = np.zeros(trends.patients)
    np.add.at(samples, who, alarms.last - alarms.raised + 1)
    return PatientLoads(
        np.bincount(rows, minlength=trends.patients) * trends.step_s / 3600,
        np.bincount(who, minlength=trends.patients),
        samples * trends.step_s,
    )


def _of_all(trends: Trends, found: Sequence[Soundings]) -> PatientLoads:
    change = np.zeros(trends.rows + 1, dtype=np.int64)  # how many more sound at a row
    counts = np.zeros(trends.patients, dtype=np.int64)
    for alarms in found:
        change[alarms.raised] += 1  # no two alarms of one line begin or end together
        change[alarms.last + 1] -= 1
        counts += np.bincount(trends.patient[alarms.raised], minlength=trends.patients)
    samples = np.bincount(trends.patient[np.cumsum(change)[:-1] > 0], minlength=trends.patients)
    hours = np.bincount(trends.patient, minlength=trends.patients) * trends.step_s / 3600
    return PatientLoads(hours, counts, samples.astype(np.float64) * trends.step_s)


def intervals(
    loads: Sequence[PatientLoads], dice: np.random.Generator, draws: int = DRAWS
) -> tuple[list[Interval], Interval | None] | None:
    """Of the rate of each, and of the last less the first where there are several, over the
    same patients; None where too few patients stand in it to draw from."""
    patients = loads[0].patients
    if patients < 2:
        return None
    rates: list[list[Numbers]] = [[] for _ in loads]
    left = draws
    while left:
        some = min(left, max(1, _AT_ONCE // patients))
        drawn = dice.multinomial(patients, np.full(patients, 1 / patients), size=some)
        for kept, load in zip(rates, loads, strict=True):
            hours = drawn @ load.hours
            kept.append(np.divide(drawn @ load.counts, hours, where=hours > 0, out=hours * 0.0))
        left -= some
    whole = [np.concatenate(kept) for kept in rates]
    change = _between(whole[-1] - whole[0]) if len(whole) > 1 else None
    return [_between(rate) for rate in whole], change


def _between(drawn: Numbers) -> Interval:
    low, high = np.percentile(drawn, _LEVELS)
    return Interval(float(low), float(high))
