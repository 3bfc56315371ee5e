"""Track-and-trigger scores: steps of a value, read at and above each edge."""

from bisect import bisect_right
from collections.abc import Iterator
from dataclasses import dataclass

from app.domain.ages import AgeSpan


@dataclass(frozen=True)
class ScoreSteps:
    """`scores[0]` holds below `edges[0]`, `scores[i]` from `edges[i - 1]` on."""

    vital_sign: str
    ages: AgeSpan
    edges: tuple[float, ...]
    scores: tuple[int, ...]
    when: str | None = None

    def score(self, value: float) -> int:
        return self.scores[bisect_right(self.edges, value)]

    def bands(self) -> Iterator[tuple[float | None, float | None, int]]:
        """(from, up to but not including, score); None is without end."""
        ends: tuple[float | None, ...] = (None, *self.edges, None)
        yield from zip(ends, ends[1:], self.scores, strict=False)
