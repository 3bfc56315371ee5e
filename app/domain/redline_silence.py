"""Silence that one policy has and the other has not, and arrests that come to pass unannounced."""

from collections.abc import Iterable, Iterator
from dataclasses import replace
from itertools import pairwise

from app.domain.ages import Age, AgeSpan
from app.domain.alarm_conditions import AlarmCondition
from app.domain.outer_bounds import OuterBounds
from app.domain.redline_ages import AgesChanged, Piece, View
from app.domain.rules.life_threats import threats
from app.domain.silence import Silence


def opened_by(
    change: AgesChanged, before: View, after: View, bounds: OuterBounds
) -> tuple[Silence, ...]:
    """Danger that sounded before and no longer does, or not so soon."""
    return opened(change.alarm, change.pieces, before, after, bounds)


def opened(
    alarm: AlarmCondition,
    pieces: Iterable[Piece],
    before: View,
    after: View,
    bounds: OuterBounds,
) -> tuple[Silence, ...]:
    found: list[Silence] = []
    for piece in pieces:
        now = dangers(after.silences(piece, alarm, bounds, after=True))
        if now:
            was = dangers(before.silences(piece, alarm, bounds, after=False))
            found += newly_silent(was, now)
    return joined(found)


def dangers(found: Iterable[Silence]) -> list[Silence]:
    return [silence for silence in found if silence.bound.grade == "danger"]


def newly_silent(before: list[Silence], after: list[Silence]) -> Iterator[Silence]:
    """What is silent after and was not, or reaches further; by age."""
    for silence in after:
        cuts = {silence.ages.start, silence.ages.stop}
        for other in before:
            cuts |= {cut for cut in (other.ages.start, other.ages.stop) if cut in silence.ages}
        for start, stop in pairwise(sorted(cuts)):
            end = silence.ages.end if stop == silence.ages.stop else stop
            middle = Age((start.days + stop.days) / 2)
            if not any(middle in o.ages and _reaches_as_far(o, silence) for o in before):
                yield replace(silence, ages=AgeSpan(start, end))


def _reaches_as_far(other: Silence, silence: Silence) -> bool:
    """By the limit alone: both are judged by the same bounds."""
    if silence.side == "low":
        far, here = other.start, silence.start
        return far is None or (here is not None and far <= here)
    far, here = other.end, silence.end
    return far is None or (here is not None and far >= here)


def joined(found: Iterable[Silence]) -> tuple[Silence, ...]:
    """Neighbouring stretches of the same depth as one, in order of age."""
    kept: list[Silence] = []
    for silence in sorted(found, key=lambda one: (one.bound.grade != "danger", one.ages.start)):
        last = kept[-1] if kept else None
        if last and last.ages.end == silence.ages.start and _alike(last, silence):
            kept[-1] = replace(last, ages=AgeSpan(last.ages.start, silence.ages.end))
        else:
            kept.append(silence)
    return tuple(kept)


def _alike(one: Silence, other: Silence) -> bool:
    bounds = (one.bound.base, one.bound.per_year, one.bound.grade)
    others = (other.bound.base, other.bound.per_year, other.bound.grade)
    return (one.start, one.end, bounds) == (other.start, other.end, others)


def arrest_unheard(change: AgesChanged, before: View, after: View) -> bool:
    """Whether this alarm now breaks what must always be on at high priority, and did not."""
    for piece in change.pieces:
        was = {alarms for alarms, _ in threats(before.heard(piece.before))}
        now = {alarms for alarms, _ in threats(after.heard(piece.after))}
        if any(change.alarm.key in alarms for alarms in now - was):
            return True
    return False
