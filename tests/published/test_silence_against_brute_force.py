"""Noise and silence at every limit, held against plain loops over every sample, episode and
patient."""

import math
from itertools import pairwise, product

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from app.domain.alarm_conditions import Side
from app.domain.alarm_curve import in_steps
from app.domain.limit_curves import Watched, all_beyond, patients_alarmed, reached, silence
from app.domain.trends import Line, Trends
from tests.published.replay_by_loop import Sample, alarm_seconds, patients, recording

LIMITS = list(range(86, 95))
DELAYS = [0.0, 2.0, 3.0, 6.0, 60.0]


def watched_of(trends: Trends, side: Side) -> Watched:
    values = in_steps(trends.values["spo2"], 1.0)
    return Watched.of(values, trends.starts(), trends.patient, side)


def beyond(side: Side, value: float, bound: float) -> bool:
    return value < bound if side == "low" else value > bound


def episodes(samples: list[Sample], side: Side, bound: float, step: int) -> list[list[int]]:
    """Seconds of every maximal run beyond the bound."""
    found: list[list[int]] = []
    last: int | None = None
    goes_on = False
    for sample in samples:
        jumped = last is not None and sample.second - last > step
        last = sample.second
        if beyond(side, sample.value, bound):
            if goes_on and not jumped:
                found[-1].append(sample.second)
            else:
                found.append([sample.second])
            goes_on = True
        else:
            goes_on = False
    return found


@settings(max_examples=120, deadline=None)
@given(
    patients(),
    st.sampled_from(["low", "high"]),
    st.sampled_from([88.5, 89.0, 90.0, 91.0]),
    st.sampled_from([None, 89.0, 91.0]),
)
def test_every_limit_and_delay_agrees_with_the_loop(
    series: list[list[Sample]], side: Side, bound: float, guard: float | None
) -> None:
    """`guard`: the limit of another alarm for the same danger, at once."""
    trends = recording(series, "spo2")
    watched = watched_of(trends, side)
    heard = [
        set() if guard is None else alarm_seconds(s, _line(side, guard), 0, trends.step_s)[1]
        for s in series
    ]
    covered = np.array([s.second in heard[i] for i, one in enumerate(series) for s in one])
    danger = watched.beyond(bound)
    runs = [episodes(samples, side, bound, trends.step_s) for samples in series]

    whole = all_beyond(watched, danger)
    for delay_s in DELAYS:
        m = reached(watched, math.ceil(delay_s / trends.step_s))
        noise = patients_alarmed(watched, m, np.array(LIMITS))
        found = silence(watched, m, danger, covered, np.array(LIMITS))
        for index, limit in enumerate(LIMITS):
            alarms = [alarm_seconds(s, _line(side, limit), delay_s, trends.step_s) for s in series]
            told = [seconds | more for (_, seconds), more in zip(alarms, heard, strict=True)]
            unheard = [
                [run for run in own if not told[i].intersection(run)] for i, own in enumerate(runs)
            ]
            assert noise[index] == sum(bool(count) for count, _ in alarms)
            assert found.samples[index] == sum(
                second not in told[i] for i, own in enumerate(runs) for run in own for second in run
            )
            assert found.episodes[index] == sum(map(len, unheard))
            assert found.patients[index] == sum(map(bool, unheard))

    assert whole.samples == sum(len(run) for own in runs for run in own)
    assert whole.episodes == sum(map(len, runs))
    assert whole.patients == sum(map(bool, runs))


def _line(side: Side, limit: float) -> Line:
    return Line("alarm", "spo2", side, limit, 0)


def test_every_short_series_of_three_values_on_both_sides() -> None:
    """All 3⁵ series of a patient, at every limit and delay: nothing is left to chance."""
    for values in product([89.0, 90.0, math.nan], repeat=5):
        samples = [Sample(second, value) for second, value in enumerate(values)]
        trends = recording([samples], "spo2")
        for side in ("low", "high"):
            watched = watched_of(trends, side)
            danger = watched.beyond(90.0 if side == "low" else 89.0)
            nothing = np.zeros(len(samples), dtype=bool)
            for delay in (0, 1, 2):
                m = reached(watched, delay)
                found = silence(watched, m, danger, nothing, np.array([89, 90, 91]))
                for index, limit in enumerate([89, 90, 91]):
                    line = Line("alarm", "spo2", side, limit, delay)
                    heard = alarm_seconds(samples, line, delay, 1)[1]
                    silent = [i for i in np.flatnonzero(danger).tolist() if i not in heard]
                    assert found.samples[index] == len(silent)


def test_a_tighter_limit_or_a_shorter_delay_never_adds_silence() -> None:
    dice = np.random.default_rng(7)
    values = np.rint(90 + 4 * np.sin(np.arange(4000) / 9) + dice.normal(0, 2, 4000))
    trends = Trends(np.arange(4000) // 1000, np.arange(4000) % 1000, {"spo2": values}, 1)
    watched = watched_of(trends, "low")
    danger, nothing = watched.beyond(88), np.zeros(4000, dtype=bool)

    by_delay = [
        silence(watched, reached(watched, delay), danger, nothing, np.array(LIMITS))
        for delay in (0, 5, 20)
    ]

    for shorter, longer in pairwise(by_delay):
        assert (shorter.samples <= longer.samples).all()
        assert (shorter.episodes <= longer.episodes).all()
    for one in by_delay:
        assert (np.diff(one.samples) <= 0).all()
        assert (np.diff(one.patients) <= 0).all()
    assert by_delay[0].samples[LIMITS.index(88)] == 0
