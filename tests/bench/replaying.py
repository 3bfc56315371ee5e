"""Recorded trends replayed against one limit."""

import numpy as np
from numpy.typing import NDArray

from app.domain.replay import replay
from app.domain.trends import Line, Trends
from tests.bench.contests import Contest, Rival

_LINE = Line("heart-rate-high", "heart-rate", "high", 110.0, 10.0)
NAME = "replay one limit"
_HOURS = 8  # of each patient


def contest(samples: int) -> Contest:
    trends = recording(samples)
    series = np.nan_to_num(trends.values["heart-rate"]).astype(np.int16)
    return Contest(
        name=NAME,
        size=f"{samples:,} samples",
        ours=Rival("replay", lambda: _replayed(trends)),
        others=(
            Rival("a loop over the samples", lambda: _looped(trends)),
            Rival("np.sum of the series", lambda: series.sum(), answers=False),
        ),
        target="linear in samples",
    )


def recording(samples: int) -> Trends:
    """A slow wander with gaps, one sample a second, new patients every eight hours."""
    dice = np.random.default_rng(20261125)
    wander = np.cumsum(dice.normal(0, 1, samples))
    heart_rate = np.round(90 + 25 * np.sin(wander / 40) + dice.normal(0, 3, samples))
    heart_rate[dice.random(samples) < 0.01] = np.nan
    row = np.arange(samples, dtype=np.int64)
    length = _HOURS * 3600
    return Trends(row // length, row % length, {"heart-rate": heart_rate}, step_s=1)


def _replayed(trends: Trends) -> tuple[int, float]:
    load = replay(trends, [_LINE]).alarms[_LINE.alarm]
    return load.count, load.seconds_in_alarm


def _looped(trends: Trends) -> tuple[int, float]:
    count, sounding, onset, patient_before = 0, 0, None, -1
    raised = False
    for patient, second, value in _rows(trends):
        if not value > _LINE.limit:
            onset = None
        elif onset is None or patient != patient_before:
            onset, raised = second, False
        if onset is not None and second - onset >= _LINE.delay_s:
            count += not raised
            raised = True
            sounding += trends.step_s
        patient_before = patient
    return count, float(sounding)


def _rows(trends: Trends) -> "zip[tuple[int, int, float]]":
    columns: tuple[NDArray[np.int64], NDArray[np.int64], NDArray[np.float64]] = (
        trends.patient, trends.second, trends.values["heart-rate"],
    )  # fmt: skip
    return zip(*(column.tolist() for column in columns), strict=True)
