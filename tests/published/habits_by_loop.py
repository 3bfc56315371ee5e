"""Averaging, hysteresis and latching as plain loops, straight from the manual."""

import math

from app.domain.trends import Line
from tests.published.replay_by_loop import GAP, Sample, violates


def runs(samples: list[Sample], step: int) -> list[list[int]]:
    """Places of samples that follow each other without a gap or a jump."""
    found: list[list[int]] = []
    for place, sample in enumerate(samples):
        if math.isnan(sample.value):
            continue
        before = found[-1][-1] if found else None
        follows = before == place - 1 and sample.second - samples[place - 1].second <= step
        if follows:
            found[-1].append(place)
        else:
            found.append([place])
    return found


def averaged(samples: list[Sample], averaging_s: float, step: int) -> list[Sample]:
    """On a step of 1, halves up."""
    wide = max(1, math.floor(averaging_s / step + 0.5))
    values = [GAP] * len(samples)
    for run in runs(samples, step):
        for at, place in enumerate(run):
            last = [samples[one].value for one in run[max(0, at - wide + 1) : at + 1]]
            values[place] = math.floor(sum(last) / len(last) + 0.5)
    return [Sample(one.second, value) for one, value in zip(samples, values, strict=True)]


def sounding(samples: list[Sample], line: Line, step: int) -> tuple[int, set[int]]:
    """(alarms, seconds at which one sounds) of one patient, with every habit of the line."""
    if line.averaging_s:
        samples = averaged(samples, line.averaging_s, step)
    raised, seconds = with_hysteresis(samples, line, step)
    if line.acknowledged_after_s:
        return latched(samples, raised, seconds, line.acknowledged_after_s)
    return len(raised), seconds


def with_hysteresis(samples: list[Sample], line: Line, step: int) -> tuple[set[int], set[int]]:
    """(seconds at which an alarm is raised, seconds at which one sounds)"""
    raised, seconds = set(), set()
    onset: int | None = None
    on = False
    last: int | None = None
    for sample in samples:
        jumped = last is not None and sample.second - last > step
        last = sample.second
        if jumped or math.isnan(sample.value):
            onset, on = None, False
        if on and inside(line, sample.value):
            on = False
        if not violates(line, sample.value):
            onset = None
        elif onset is None:
            onset = sample.second
        if not on and onset is not None and sample.second - onset >= line.delay_s:
            on = True
            raised.add(sample.second)
        if on:
            seconds.add(sample.second)
    return raised, seconds


def inside(line: Line, value: float) -> bool:
    if line.side == "low":
        return value >= line.limit + line.hysteresis
    return value <= line.limit - line.hysteresis


def latched(
    samples: list[Sample], raised: set[int], seconds: set[int], after_s: float
) -> tuple[int, set[int]]:
    count, found = 0, set()
    since: int | None = None
    for sample in samples:
        at = sample.second
        goes_on = at in seconds and at not in raised
        if since is not None and not (at < since + after_s or goes_on):
            since = None
        if since is None and at in raised:
            since = at
            count += 1
        if since is not None:
            found.add(at)
    return count, found
