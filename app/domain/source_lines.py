"""What every source calls low and high, as thin lines of a lane with the letter of the source."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise
from string import ascii_uppercase

from app.domain.alarm_conditions import SIDES, Side
from app.domain.corridor import Lane
from app.domain.corridor_shapes import HEIGHT, Line, Point, Scale, at_age
from app.domain.disagreement import PUBLISHED_VOICES, Voice, voices_of_bounds
from app.domain.disagreement import Line as PrintedLine
from app.domain.outer_bounds import OuterBounds
from app.domain.vital_signs import judged_as

_WIDE, _HIGH = 26.0, 12.0  # what a letter takes up beside a number
_APART = 250.0  # between two letters of one source
_PLACES = (0.5, 0.25, 0.75, 0.1, 0.9)  # where along its line a letter may stand


@dataclass(frozen=True)
class LetteredVoice:
    """One letter a source, the same in every lane."""

    letter: str
    voice: Voice


@dataclass(frozen=True)
class SourceLine:
    """`label` is the foot of its letter, centred; None where there is no room for it."""

    letter: str
    side: Side
    line: Line
    label: Point | None


def lettered_voices(bounds: OuterBounds) -> tuple[LetteredVoice, ...]:
    voices = (*PUBLISHED_VOICES, *voices_of_bounds(bounds))
    return tuple(
        LetteredVoice(letter, voice)
        for letter, voice in zip(ascii_uppercase, voices, strict=False)
        if voice.lines
    )


def source_lines(lane: Lane, bounds: OuterBounds) -> tuple[SourceLine, ...]:
    """A sign measured by another sensor shows what is printed for the one it repeats."""
    found: list[SourceLine] = []
    taken = [label for wall in lane.walls if (label := wall.label)]
    taken += [region.label for region in lane.silent + lane.noisy if region.label]
    for letter, side, line in _drawn(judged_as(lane.vital.key), lane.scale, bounds):
        same = [f.label for f in found if f.label and (f.letter, f.side) == (letter, side)]
        places = (p for p in _places(line, side) if _free(p, taken))
        label = next(
            (p for p in places if all(abs(p.x - other.x) > _APART for other in same)), None
        )
        if label is not None:
            taken.append(label)
        found.append(SourceLine(letter, side, line, label))
    return tuple(found)


@lru_cache(maxsize=64)
def _drawn(
    vital_sign: str, scale: Scale, bounds: OuterBounds
) -> tuple[tuple[str, Side, Line], ...]:
    return tuple(
        (one.letter, side, _stepped(chain, side, scale))
        for one in lettered_voices(bounds)
        for side in SIDES
        for chain in _chains([line for line in one.voice.of(vital_sign) if _end(line, side)])
    )


def _end(line: PrintedLine, side: Side) -> bool:
    return (line.low if side == "low" else line.high) is not None


def _chains(lines: Sequence[PrintedLine]) -> list[list[PrintedLine]]:
    """Rows of a source that follow one another make one line."""
    chains: list[list[PrintedLine]] = []
    for line in sorted(lines, key=lambda line: line.ages.start):
        joined = next((c for c in chains if c[-1].ages.end == line.ages.start), None)
        if joined is None:
            chains.append([line])
        else:
            joined.append(line)
    return chains


def _stepped(chain: Sequence[PrintedLine], side: Side, scale: Scale) -> Line:
    points: list[Point] = []
    for line in chain:
        ages = line.ages.start, line.ages.stop
        for age in ages:
            value = line.high if side == "high" else line.low_at(age)
            points.append(Point(at_age(age), scale.y_of(float(value or 0))))
    return tuple(points)


def _places(line: Line, side: Side) -> Iterator[Point]:
    """On the longest stretch first; above a low line and below a high one."""
    pairs = sorted(pairwise(line), key=lambda pair: pair[0].x - pair[1].x)
    for start, end in pairs:
        for place in _PLACES:
            x = start.x + place * (end.x - start.x)
            y = start.y + place * (end.y - start.y) + (-3 if side == "low" else 11)
            yield Point(round(x, 1), round(min(max(y, 10.0), HEIGHT - 2), 1))


def _free(place: Point, taken: Sequence[Point]) -> bool:
    return all(abs(place.x - p.x) > _WIDE or abs(place.y - p.y) > _HIGH for p in taken)
