"""Recorded trends replayed against alarm lines: how often they sound, and for how long.

Patient-hours count every row; those of an intermittent vital sign (NIBP) count where a value is
held. How a line sounds is said in `soundings`.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from app.domain.patient_loads import PatientLoads, added_up, patient_loads
from app.domain.trends import Line, Trends


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
    return replay_all([trends], lines, nibp_interval_s)


def replay_all(
    recordings: Sequence[Trends], lines: Sequence[Line], nibp_interval_s: float | None = None
) -> Replay:
    """Over all patients of all recordings. An alarm counts the hours of those recordings that
    hold its vital sign; it must be held by one at least."""
    by_alarm, everything = loads_of(recordings, lines, nibp_interval_s)
    return Replay(
        float(everything.hours.sum()),
        everything.patients,
        {alarm: load_of(loads) for alarm, loads in by_alarm.items()},
        load_of(everything),
    )


def loads_of(
    recordings: Sequence[Trends], lines: Sequence[Line], nibp_interval_s: float | None = None
) -> tuple[dict[str, PatientLoads], PatientLoads]:
    """(by alarm, all of them), an entry a patient."""
    parts: dict[str, list[PatientLoads]] = {line.alarm: [] for line in lines}
    wholes = []
    for trends in recordings:
        here = [line for line in lines if line.vital_sign in trends.values]
        loads, whole = patient_loads(trends, here, nibp_interval_s)
        for alarm, load in loads.items():
            parts[alarm].append(load)
        wholes.append(whole)
    return {alarm: added_up(found) for alarm, found in parts.items()}, added_up(wholes)


def load_of(loads: PatientLoads) -> Load:
    return Load(
        int(loads.counts.sum()),
        loads.per_hour,
        float(loads.seconds.sum()),
        int(np.count_nonzero(loads.counts)),
    )
