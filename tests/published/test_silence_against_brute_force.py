"""Noise and silence at every limit, held against plain loops over every sample, episode and
patient."""

import math
import tracemalloc
from itertools import pairwise, product

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from app.domain.alarm_conditions import Side
from app.domain.alarm_curve import in_steps
from app.domain.limit_curves import Silence, Watched, limit_curves
from app.domain.trends import Line, Trends
from tests.published.replay_by_loop import Sample, alarm_seconds, patients, recording

LIMITS = list(range(86, 95))
BLOCKS = [1, 2, 5, 1000]
DELAYS = [0.0, 2.0, 3.0, 6.0, 60.0]


def watched_of(trends: Trends, side: Side) -> Watched:
    values = in_steps(trends.values["spo2"], 1.0)
    first = np.flatnonzero(np.diff(trends.patient, prepend=-1))
    return Watched(values, np.flatnonzero(trends.starts()), first, side)


def silence(
    watched: Watched, delay: int, bound: float, limits: list[int], block: int = 1000
) -> Silence:
    asked = np.array(limits)
    (found,) = limit_curves(watched, delay, asked, bounds=[bound], block=block).beyond
    return found.silence


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
    st.sampled_from(BLOCKS),
)
def test_every_limit_and_delay_agrees_with_the_loop(
    series: list[list[Sample]], side: Side, bound: float, guard: float | None, block: int
) -> None:
    """`guard`: the limit of another alarm for the same danger, at once; `block`: rows at a time,
    so that patients, jumps and episodes lie across their edges."""
    trends = recording(series, "spo2")
    watched = watched_of(trends, side)
    heard = [
        set() if guard is None else alarm_seconds(s, _line(side, guard), 0, trends.step_s)[1]
        for s in series
    ]
    covered = np.array([s.second in heard[i] for i, one in enumerate(series) for s in one])
    runs = [episodes(samples, side, bound, trends.step_s) for samples in series]

    for delay_s in DELAYS:
        told_at_once = limit_curves(
            watched,
            math.ceil(delay_s / trends.step_s),
            np.array(LIMITS),
            bounds=[bound],
            covered=None if guard is None else covered,
            block=block,
        )
        noise, (whole,) = told_at_once.alarmed, told_at_once.beyond
        found = whole.silence
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
            bound = 90.0 if side == "low" else 89.0
            danger = [i for i, one in enumerate(values) if beyond(side, one, bound)]
            for delay in (0, 1, 2):
                found = silence(watched, delay, bound, [89, 90, 91], block=2)
                for index, limit in enumerate([89, 90, 91]):
                    line = Line("alarm", "spo2", side, limit, delay)
                    heard = alarm_seconds(samples, line, delay, 1)[1]
                    silent = [i for i in danger if i not in heard]
                    assert found.samples[index] == len(silent)


def test_a_tighter_limit_or_a_shorter_delay_never_adds_silence() -> None:
    dice = np.random.default_rng(7)
    values = np.rint(90 + 4 * np.sin(np.arange(4000) / 9) + dice.normal(0, 2, 4000))
    trends = Trends(np.arange(4000) // 1000, np.arange(4000) % 1000, {"spo2": values}, 1)
    watched = watched_of(trends, "low")

    by_delay = [silence(watched, delay, 88, LIMITS) for delay in (0, 5, 20)]

    for shorter, longer in pairwise(by_delay):
        assert (shorter.samples <= longer.samples).all()
        assert (shorter.episodes <= longer.episodes).all()
    for one in by_delay:
        assert (np.diff(one.samples) <= 0).all()
        assert (np.diff(one.patients) <= 0).all()
    assert by_delay[0].samples[LIMITS.index(88)] == 0


def test_an_episode_over_many_blocks_is_one_and_is_heard_wherever_it_is_heard() -> None:
    """Nine samples beyond the bound, of which another alarm announces only the last."""
    values = np.array([95, 80, 80, 80, 80, 80, 80, 80, 80, 80], dtype=np.int16)
    watched = Watched(values, np.array([0]), np.array([0]), "low")
    covered = np.arange(10) == 9

    for block in range(1, 11):
        unheard = limit_curves(watched, 0, np.array([70]), bounds=[88], block=block)
        heard = limit_curves(watched, 0, np.array([70]), bounds=[88], covered=covered, block=block)
        (whole,), (helped,) = unheard.beyond, heard.beyond
        assert (whole.samples, whole.episodes, whole.patients) == (9, 1, 1)
        silent = (whole.silence.samples, whole.silence.episodes, whole.silence.patients)
        assert [one.tolist() for one in silent] == [[9], [1], [1]]
        helped_by = (helped.silence.samples, helped.silence.episodes, helped.silence.patients)
        assert [one.tolist() for one in helped_by] == [[8], [0], [0]]


def test_a_long_recording_needs_less_than_twice_its_own_room_for_the_silence() -> None:
    """Numpy tells the book-keeping of what it takes; the series itself is there before."""
    values = np.tile(np.arange(60, 180, dtype=np.int16), 40_000)
    watched = Watched(values, np.array([0]), np.arange(0, values.size, 28_800), "high")
    covered = values > 178
    limits = np.arange(70, 170, dtype=np.int64)

    tracemalloc.start()
    limit_curves(watched, 10, limits, bounds=[160, 170], covered=covered)
    _, peak = tracemalloc.get_traced_memory()
    tracemalloc.stop()

    assert peak < values.nbytes
