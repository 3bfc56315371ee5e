"""Noise and silence of one line at every limit at once, for one delay, block by block.

For a high line, m(t) is the least of the last D + 1 samples up to t: the line sounds at t at every
limit below m(t), and nowhere else. A low line is its mirror image.

Noise: samples with m(t) > L are in alarm; patients whose largest m(t) exceeds L had one.
Silence: a sample beyond an outer bound is silent at L if m(t) <= L and no other alarm that guards
the same danger sounds at it. An episode (a maximal run of samples beyond the bound) is silent if
nothing sounds at any of its samples; a patient, if one of the episodes is.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from math import floor

import numpy as np

from app.domain.alarm_conditions import Side
from app.domain.alarm_curve import BLOCK, MISSING, Steps, histogram, sliding_minimum
from app.domain.silent_episodes import Piece, SilentTally
from app.domain.trends import Flags, Whole


@dataclass(frozen=True)
class Silence:
    """By limit: samples, episodes and patients beyond a bound that no alarm announced."""

    samples: Whole
    episodes: Whole
    patients: Whole


@dataclass(frozen=True)
class Beyond:
    """All that lies beyond a bound, whatever sounds; of it, what passes unannounced."""

    samples: int
    episodes: int
    patients: int
    silence: Silence


@dataclass(frozen=True)
class LimitCurves:
    """How many patients had an alarm, by limit; and what lies beyond each bound asked for."""

    alarmed: Whole
    beyond: tuple[Beyond, ...]


@dataclass(frozen=True)
class Watched:
    """One vital sign of one recording. `starts`: rows that do not follow the row before them
    without a jump; `patients`: the first row of each; both ascending."""

    values: Steps
    starts: Whole
    patients: Whole
    side: Side

    def mirrored(self, numbers: Steps) -> Steps:
        """As a high line sees them. MISSING is its own mirror image."""
        return numbers if self.side == "high" else np.negative(numbers)

    def asked(self, limits: Whole) -> Whole:
        return limits if self.side == "high" else -limits

    def edge(self, bound: float) -> int:
        """Whole steps lie beyond a bound where they lie beyond this edge, as a high line sees."""
        return floor(bound if self.side == "high" else -bound)


def limit_curves(
    watched: Watched,
    delay: int,
    limits: Whole,
    *,
    bounds: Sequence[float] = (),
    covered: Flags | None = None,
    block: int = BLOCK,
) -> LimitCurves:
    """`delay` in samples, limits and bounds in steps; `covered`: where another alarm that guards
    the same danger sounds. Of the whole series no copy is made."""
    asked = watched.asked(limits)
    furthest = np.full(watched.patients.size, MISSING, np.int16)
    ends = (int(asked.min()), int(asked.max())) if asked.size else (0, 0)
    tallies = [SilentTally(watched.edge(bound), ends, watched.patients) for bound in bounds]
    for piece in _pieces(watched, delay, max(block, 4 * delay), covered):
        _reach(furthest, watched.patients, piece)
        for tally in tallies:
            tally.take(piece)
    return LimitCurves(
        furthest.size - _at_or_below(histogram(furthest, *ends), asked, ends[0]),
        tuple(_beyond(tally, asked, ends[0]) for tally in tallies),
    )


def _pieces(watched: Watched, delay: int, size: int, covered: Flags | None) -> Iterator[Piece]:
    for first in range(0, watched.values.size, size):
        left = max(0, first - delay)
        seen = watched.mirrored(watched.values[left : first + size])
        values = seen[first - left :]
        reach = (first - max(delay - 1, 0), first + values.size)
        near = watched.starts[slice(*np.searchsorted(watched.starts, reach))]
        starts = np.zeros(values.size, dtype=bool)
        starts[near[near >= first] - first] = True
        heard = None if covered is None else covered[first : first + values.size]
        yield Piece(first, values, _least(seen, values.size, near - first, delay), starts, heard)


def _least(seen: Steps, size: int, starts: Whole, delay: int) -> Steps:
    """m(t) of the last `size` samples seen; MISSING where a gap or a jump lies among them.
    `starts` are those that a window can look back on, from the first of these samples."""
    found = np.full(size, MISSING, np.int16)
    if seen.size > delay:
        least = sliding_minimum(seen, delay + 1)[-size:]
        found[size - least.size :] = least
    if starts.size and delay:
        found[_within(starts, delay, size)] = MISSING
    return found


def _within(starts: Whole, delay: int, size: int) -> Whole:
    """Rows from 0 to `size` that lie fewer than `delay` rows behind a start."""
    ends = np.minimum(starts + delay, np.append(starts[1:], size))
    begins = np.maximum(starts, 0)
    lengths = np.maximum(ends - begins, 0)
    shift = begins - (np.cumsum(lengths) - lengths)
    rows: Whole = np.arange(int(lengths.sum())) + np.repeat(shift, lengths)
    return rows


def _reach(furthest: Steps, patients: Whole, piece: Piece) -> None:
    """The largest m(t) of each patient so far."""
    first, last = piece.first, piece.first + piece.values.size
    begin, end = np.searchsorted(patients, (first, last - 1), side="right")
    here = slice(int(begin) - 1, int(end))
    rows = np.maximum(patients[here] - first, 0)
    furthest[here] = np.maximum(furthest[here], np.maximum.reduceat(piece.least, rows))


def _beyond(tally: SilentTally, asked: Whole, lowest: int) -> Beyond:
    tally.close()
    silent = (tally.silent_samples, tally.silent_episodes, tally.silent_patients)
    return Beyond(
        tally.samples,
        tally.episodes,
        tally.patients,
        Silence(*(_at_or_below(bins, asked, lowest) for bins in silent)),
    )


def _at_or_below(bins: Whole, asked: Whole, lowest: int) -> Whole:
    found: Whole = np.cumsum(bins)[asked - lowest]
    return found
