"""What is measured against what, and how: medians of interleaved turns on one machine."""

import time
from collections.abc import Callable
from dataclasses import dataclass
from statistics import median

LEAST_TURNS = 5
_LEAST_SECONDS_A_TURN = 0.002  # below that the clock itself is measured
Clock = Callable[[], float]


@dataclass(frozen=True)
class Rival:
    """`answers` is False for a floor: it does less work, so it has no answer to compare."""

    name: str
    run: Callable[[], object]
    answers: bool = True


@dataclass(frozen=True)
class Contest:
    """Our way first; the target is words, for people. `clock`: time that passes, or, where nothing
    is waited for, time of the processor, which a busy machine does not stretch."""

    name: str
    size: str
    ours: Rival
    others: tuple[Rival, ...]
    target: str
    clock: Clock = time.perf_counter

    @property
    def rivals(self) -> tuple[Rival, ...]:
        return (self.ours, *self.others)


@dataclass(frozen=True)
class Line:
    """`ratio` is our time by theirs; None: an answer differs, so no ratio can be trusted."""

    contest: str
    size: str
    against: str
    ours_ms: float
    theirs_ms: float
    ratio: float | None
    target: str


def hold(contest: Contest, turns: int) -> list[Line]:
    seconds = _medians(contest, max(turns, LEAST_TURNS))
    agreed = _agreed(contest)
    mine = seconds[contest.ours.name]
    return [
        Line(
            contest.name,
            contest.size,
            other.name,
            mine * 1000,
            seconds[other.name] * 1000,
            mine / seconds[other.name] if agreed else None,
            contest.target,
        )
        for other in contest.others
    ]


def _agreed(contest: Contest) -> bool:
    expected = contest.ours.run()
    return all(other.run() == expected for other in contest.others if other.answers)


def _medians(contest: Contest, turns: int) -> dict[str, float]:
    """Seconds a call. Everybody has a turn before anybody has the next, so that a slow moment of
    the machine hits all alike."""
    rivals, clock = contest.rivals, contest.clock
    calls = {rival.name: _calls_a_turn(rival, clock) for rival in rivals}
    taken: dict[str, list[float]] = {rival.name: [] for rival in rivals}
    for _ in range(turns):
        for rival in rivals:
            taken[rival.name].append(_turn(rival, calls[rival.name], clock))
    return {name: median(seconds) for name, seconds in taken.items()}


def _calls_a_turn(rival: Rival, clock: Clock) -> int:
    """Also warms up."""
    calls = 1
    while _turn(rival, calls, clock) * calls < _LEAST_SECONDS_A_TURN:
        calls *= 4
    return calls


def _turn(rival: Rival, calls: int, clock: Clock) -> float:
    began = clock()
    for _ in range(calls):
        rival.run()
    return (clock() - began) / calls
