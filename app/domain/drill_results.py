"""What many drills say of a policy: the cases that people get wrong, and what they took instead."""

from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from app.domain.drills import DrillCase
from app.domain.intervals import Interval, wilson

AIM = 0.995
"""Right answers in drills (a judgement; nobody has published one for crews)."""


@dataclass(frozen=True)
class CaseResult:
    """`instead`: what was taken for the right answer, the commonest first, with how often."""

    case: DrillCase
    asked: int
    right: int
    instead: tuple[tuple[str, int], ...]

    @property
    def share(self) -> float:
        return self.right / self.asked

    @property
    def interval(self) -> Interval:
        """As if each answer came from somebody else."""
        return wilson(self.right, self.asked)


@dataclass(frozen=True)
class DrillResults:
    """The worst case first; `drills`: how many were finished."""

    drills: int
    cases: tuple[CaseResult, ...]

    @property
    def asked(self) -> int:
        return sum(one.asked for one in self.cases)

    @property
    def right(self) -> int:
        return sum(one.right for one in self.cases)

    @property
    def interval(self) -> Interval:
        return wilson(self.right, self.asked)


def drill_results(
    cases: Mapping[str, DrillCase], answered: Iterable[Mapping[str, str]]
) -> DrillResults:
    """Cases that nobody was asked are left out."""
    drills = list(answered)
    counts: dict[str, Counter[str]] = {}
    for answers in drills:
        for key, chosen in answers.items():
            counts.setdefault(key, Counter())[chosen] += 1
    found = [_result(cases[key], counted) for key, counted in counts.items() if key in cases]
    found.sort(key=lambda one: (one.share, -one.asked, one.case.key))
    return DrillResults(len(drills), tuple(found))


def _result(case: DrillCase, counted: Counter[str]) -> CaseResult:
    wrong = [
        (case.label_of(key), count) for key, count in counted.most_common() if key != case.right
    ]
    return CaseResult(case, counted.total(), counted[case.right], tuple(wrong))
