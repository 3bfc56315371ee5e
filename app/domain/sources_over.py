"""What each published source calls low or high over one band of age, beside a bound of the agency.

`app.domain.disagreement` compares in the bands of the default; here the band is the bound's own.
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from fractions import Fraction

from app.domain.ages import AgeSpan
from app.domain.alarm_conditions import Side
from app.domain.disagreement import PUBLISHED_VOICES, Line, Reach, Voice
from app.domain.vital_signs import judged_as


@dataclass(frozen=True)
class SaidOver:
    """`means`: what the source calls this end; `ages`: the part of the band it speaks of."""

    voice: Voice
    means: str
    reach: Reach
    whole: bool  # whether it speaks of the whole band


def sources_over(quantity: str, span: AgeSpan, side: Side) -> tuple[SaidOver, ...]:
    return tuple(_said(judged_as(quantity), span, side))


def _said(quantity: str, span: AgeSpan, side: Side) -> Iterator[SaidOver]:
    for voice in PUBLISHED_VOICES:
        means = voice.low_means if side == "low" else voice.high_means
        here = [
            (line, shared)
            for line in voice.of(quantity)
            if (shared := line.ages.meet(span)) is not None
        ]
        values = [value for line, shared in here for value in _values(line, shared, side)]
        if means is not None and values:
            yield SaidOver(voice, means, Reach(min(values), max(values)), _covers(here, span))


def _values(line: Line, ages: AgeSpan, side: Side) -> Iterator[Fraction]:
    if side == "high":
        if line.high is not None:
            yield line.high
    elif line.low is not None:
        yield line.low + line.per_year * ages.start.years
        if line.per_year:
            yield line.low + line.per_year * ages.stop.years


def _covers(here: Iterable[tuple[Line, AgeSpan]], span: AgeSpan) -> bool:
    reached = span.start
    for _, shared in sorted(here, key=lambda one: one[1].start):
        if shared.start > reached:
            return False
        reached = max(reached, shared.stop)
    return reached >= span.stop


def apart(said: Iterable[SaidOver]) -> str:
    """How far the sources lie apart; empty where fewer than two speak."""
    found = [one.reach for one in said]
    if len(found) < 2:
        return ""
    least, most = min(one.least for one in found), max(one.most for one in found)
    if least == most:
        return f"all say {Reach(least, most)}"
    return f"they differ by up to {float(most - least):g}, from {float(least):g} to {float(most):g}"
