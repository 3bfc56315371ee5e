"""Noise and silence at every limit at once, against one limit at a time.

The whole bar: `python -m tests.bench --only curve --samples 86400000`, a thousand days of one
sample a second. What memory is needed stands in the size: the series, held once, and what the
reckoning takes besides, by the book-keeping of numpy.
"""

import time
import tracemalloc
from collections.abc import Callable, Iterator

import numpy as np

from app.domain.alarm_curve import MISSING, Whole, alarm_curve
from app.domain.limit_curves import Watched, limit_curves
from app.domain.trends import Flags
from tests.bench.contests import Contest, Rival

NAMES = "alarm curve, silence curve"
DELAY = 10  # samples
LIMITS = np.arange(70, 170, dtype=np.int64)
FEW_LIMITS = LIMITS[::5]  # one by one, silence takes so long
BOUND = 115
_PATIENT = 8 * 3600  # samples of each
_PIECE = 1_000_000
_TARGET = "at most 16 × np.sum, at least 10 × faster than one by one, memory at most 2 ×"

Answer = tuple[list[int], ...]


def contests(samples: int) -> Iterator[Contest]:
    """Made one after the other, so that the long series is there once."""
    watched = _watched(samples)
    covered = watched.values > BOUND + 20  # another alarm for the same danger
    yield _contest(
        "alarm curve",
        watched,
        LIMITS,
        lambda: _noise(watched),
        lambda: _noise_one_by_one(watched),
        _TARGET,
    )
    yield _contest(
        "silence curve",
        watched,
        FEW_LIMITS,
        lambda: _silence(watched, covered),
        lambda: _silence_one_by_one(watched, covered),
        "memory at most 2 × the series",
    )


def _contest(
    name: str,
    watched: Watched,
    limits: Whole,
    ours: Callable[[], Answer],
    loop: Callable[[], Answer],
    target: str,
) -> Contest:
    values, asked = watched.values, limits.size
    return Contest(
        name=name,
        size=f"{values.size:,} samples × {asked} limits, memory {_memory(watched, ours):.2f} ×",
        ours=Rival("all limits in one pass", ours),
        others=(
            Rival("np.sum of the series", lambda: values.sum(), answers=False),
            Rival("one limit at a time", loop),
        ),
        target=target,
        clock=time.process_time,
    )


def _watched(samples: int) -> Watched:
    """A slow wander with gaps, new patients every eight hours."""
    dice = np.random.default_rng(20261125)
    values, at = np.empty(samples, np.int16), 0.0
    for first in range(0, samples, _PIECE):
        size = min(_PIECE, samples - first)
        wander = at + np.cumsum(dice.normal(0, 1, size))
        at = float(wander[-1])
        piece = np.round(90 + 25 * np.sin(wander / 40) + dice.normal(0, 3, size))
        values[first : first + size] = piece
        values[first : first + size][dice.random(size) < 0.01] = MISSING
    patients = np.arange(0, samples, _PATIENT, dtype=np.int64)
    return Watched(values, patients, patients, "high")


def _memory(watched: Watched, run: Callable[[], Answer]) -> float:
    """By the size of the series: the series itself, and the most that is held besides."""
    tracemalloc.start()
    run()
    _, peak = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    return 1 + peak / watched.values.nbytes


def _noise(watched: Watched) -> Answer:
    curve = alarm_curve(watched.values, watched.starts, "high", DELAY, LIMITS)
    return curve.counts.tolist(), curve.samples_in_alarm.tolist()


def _silence(watched: Watched, covered: Flags) -> Answer:
    found = limit_curves(watched, DELAY, FEW_LIMITS, bounds=[BOUND], covered=covered)
    (beyond,) = found.beyond
    told = beyond.silence
    return tuple(
        one.tolist() for one in (found.alarmed, told.samples, told.episodes, told.patients)
    )


def _noise_one_by_one(watched: Watched) -> Answer:
    found = [_at(watched, int(limit)) for limit in LIMITS]
    return [count for count, _ in found], [sounding for _, sounding in found]


def _at(watched: Watched, limit: int) -> tuple[int, int]:
    """Runs above the limit from where they begin and end, so that a limit costs few passes."""
    begins, ends = _runs(watched.values > limit, watched.starts)
    lengths = ends - begins
    long = lengths[lengths > DELAY]
    return int(long.size), int(long.sum()) - DELAY * int(long.size)


def _runs(flags: Flags, starts: Whole) -> tuple[Whole, Whole]:
    """First row of each run, and the row after its last."""
    edges = np.flatnonzero(flags[1:] != flags[:-1]) + 1
    cut = starts[(starts > 0) & flags[starts] & flags[starts - 1]]
    edges = np.concatenate([edges, cut, cut])
    edges.sort()
    if flags[0]:
        edges = np.concatenate([[0], edges])
    if flags[-1]:
        edges = np.concatenate([edges, [flags.size]])
    return edges[::2], edges[1::2]


def _silence_one_by_one(watched: Watched, covered: Flags) -> Answer:
    danger = watched.values > BOUND
    begins, ends = _runs(danger, watched.starts)
    found = [
        _silent_at(watched, int(limit), covered, danger, (begins, ends)) for limit in FEW_LIMITS
    ]
    return tuple(list(column) for column in zip(*found, strict=True))


def _silent_at(
    watched: Watched, limit: int, covered: Flags, danger: Flags, episodes: tuple[Whole, Whole]
) -> tuple[int, int, int, int]:
    """(patients alarmed, samples, episodes, patients)"""
    begins, ends = _runs(watched.values > limit, watched.starts)
    long = ends - begins > DELAY
    change = np.zeros(watched.values.size + 1, np.int8)
    change[begins[long] + DELAY] += 1
    change[ends[long]] -= 1
    sounding = np.cumsum(change[:-1], dtype=np.int8).astype(bool)
    alarmed = np.unique(np.searchsorted(watched.patients, begins[long], side="right")).size
    silent = danger & ~sounding & ~covered
    heard_so_far = np.concatenate([[0], np.cumsum(danger & (sounding | covered))])
    unheard = heard_so_far[episodes[1]] == heard_so_far[episodes[0]]
    who = np.unique(np.searchsorted(watched.patients, episodes[0][unheard], side="right"))
    return int(alarmed), int(silent.sum()), int(unheard.sum()), int(who.size)
