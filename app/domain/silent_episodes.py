"""What passes unannounced beyond one outer bound, added up block by block.

An episode may go on from one block into the next, so the last one stays open until it is seen to
end. Everything is seen as a high line sees it.
"""

from dataclasses import dataclass

import numpy as np

from app.domain.alarm_curve import Steps, histogram
from app.domain.trends import Flags, Whole

_NEVER = np.iinfo(np.int16).max  # above every limit: no episode of the patient is silent at any


@dataclass(frozen=True)
class Piece:
    """Some rows of a recording, from `first` on; `least` is m(t), `starts` where a row does not
    follow the one before, `covered` where another alarm sounds (None: nowhere)."""

    first: int
    values: Steps
    least: Steps
    starts: Flags
    covered: Flags | None


@dataclass(frozen=True)
class _Runs:
    """Episodes, or single samples: first row, largest m(t), whether no other alarm sounds."""

    row: Whole
    furthest: Steps
    alone: Flags

    def then(self, other: "_Runs") -> "_Runs":
        return _Runs(
            np.concatenate([self.row, other.row]),
            np.concatenate([self.furthest, other.furthest]),
            np.concatenate([self.alone, other.alone]),
        )

    def joined(self, begins: Whole) -> "_Runs":
        if not begins.size:
            return _NOTHING
        return _Runs(
            self.row[begins],
            np.maximum.reduceat(self.furthest, begins),
            np.logical_and.reduceat(self.alone, begins),
        )

    def part(self, rows: slice) -> "_Runs":
        return _Runs(self.row[rows], self.furthest[rows], self.alone[rows])


_NOTHING = _Runs(np.zeros(0, np.int64), np.zeros(0, np.int16), np.zeros(0, np.bool_))


class SilentTally:
    """`edge`: beyond it is danger; `ends`: least and greatest limit asked about. The silent ones
    are counted by step: at or below the least limit, at each step, and above the greatest."""

    def __init__(self, edge: int, ends: tuple[int, int], patients: Whole) -> None:
        self.edge, self.ends, self.first_rows = edge, ends, patients
        self.samples = self.episodes = 0
        self.silent_samples, self.silent_episodes = (
            np.zeros(ends[1] - ends[0] + 2, np.int64) for _ in range(2)
        )
        self._endangered = np.zeros(patients.size, dtype=bool)
        self._least = np.full(patients.size, _NEVER, np.int16)
        self._open = _NOTHING

    @property
    def patients(self) -> int:
        return int(self._endangered.sum())

    @property
    def silent_patients(self) -> Whole:
        return histogram(self._least, *self.ends)

    def take(self, piece: Piece) -> None:
        rows = np.flatnonzero(piece.values > self.edge)
        alone = np.ones(rows.size, bool) if piece.covered is None else ~piece.covered[rows]
        samples = _Runs(rows + piece.first, piece.least[rows], alone)
        self.samples += rows.size
        self.silent_samples += histogram(samples.furthest[alone], *self.ends)
        found = self._open.then(samples).joined(self._begins(rows, piece.starts))
        goes_on = bool(rows.size) and int(rows[-1]) == piece.values.size - 1
        closed = found.row.size - goes_on
        self._count(found.part(slice(closed)))
        self._open = found.part(slice(closed, None))

    def close(self) -> None:
        """The recording is over."""
        self._count(self._open)
        self._open = _NOTHING

    def _begins(self, rows: Whole, starts: Flags) -> Whole:
        """Places at which an episode begins, the open one counted in."""
        begins = starts[rows]
        begins[1:] |= np.diff(rows) > 1
        if rows.size:
            begins[0] |= bool(rows[0] > 0) or not self._open.row.size
        return np.flatnonzero(np.concatenate([np.ones(self._open.row.size, bool), begins]))

    def _count(self, ended: _Runs) -> None:
        who = np.searchsorted(self.first_rows, ended.row, side="right") - 1
        self.episodes += ended.row.size
        self._endangered[who] = True
        furthest = ended.furthest[ended.alone]
        self.silent_episodes += histogram(furthest, *self.ends)
        np.minimum.at(self._least, who[ended.alone], furthest)
