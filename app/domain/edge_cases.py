"""People at the edges of a scheme, and the category that each of them reaches."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from fractions import Fraction

from app.domain.ages import Age, days, months, years
from app.domain.patient_categories import PatientCategory
from app.domain.postmenstrual import Gestation
from app.domain.reaching import Reached, resolve

_BORN = date(2024, 3, 1)  # any date would do: a birth date puts an edge on its anniversary


@dataclass(frozen=True)
class EdgeCase:
    """By birth date where `on` is given, else by age; nothing known where all is None."""

    name: str
    age: Age | None = None
    on: date | None = None
    weight_kg: float | None = None
    gestation: Gestation | None = None


@dataclass(frozen=True)
class EdgeAnswer:
    case: EdgeCase
    reached: Reached

    @property
    def must_choose(self) -> bool:
        """Nobody is shown limits before somebody confirmed, answered or chose."""
        return self.reached.category is None or self.reached.ask is not None

    @property
    def answer(self) -> str:
        return self.reached.category.label if self.reached.category else "No category"

    @property
    def mark(self) -> str:
        """In words why a choice is asked for; "" where the answer stands."""
        if not self.must_choose:
            return ""
        if self.reached.doubts:
            return "contradiction: a choice is needed"
        return "not certain: a choice is needed" if self.reached.category else "a choice is needed"


@dataclass(frozen=True)
class EdgeRow:
    """One edge of the scheme: whom somebody reaches just under it, and at it."""

    at: Age
    under: Age
    before: EdgeAnswer
    after: EdgeAnswer

    @property
    def under_words(self) -> str:
        return "a day before" if self.at.days - self.under.days == 1 else str(self.under)


EDGE_CASES: tuple[EdgeCase, ...] = (
    EdgeCase("27 days", days(27)),
    EdgeCase("28 days exactly", days(28)),
    EdgeCase("The day before the first birthday", on=date(2025, 2, 28)),
    EdgeCase("The first birthday", on=date(2025, 3, 1)),
    EdgeCase("8 y, 60 kg", years(8), weight_kg=60),
    EdgeCase("16 y, 38 kg", years(16), weight_kg=38),
    EdgeCase("Born at 26 weeks, now 5 months, 3.5 kg", months(5), None, 3.5, Gestation(26)),
    EdgeCase("Age unknown, weight unknown"),
    EdgeCase("Age unknown, 10 kg", weight_kg=10),
)


def answer(categories: Sequence[PatientCategory], case: EdgeCase) -> EdgeAnswer:
    """Raises Refused where the case itself is implausible."""
    reached = resolve(
        categories,
        age=case.age,
        born=None if case.on is None else _BORN,
        on=case.on,
        weight_kg=case.weight_kg,
        gestation=case.gestation,
    )
    return EdgeAnswer(case, reached)


def edge_answers(categories: Sequence[PatientCategory]) -> tuple[EdgeAnswer, ...]:
    return tuple(answer(categories, case) for case in EDGE_CASES)


def edge_rows(categories: Sequence[PatientCategory]) -> tuple[EdgeRow, ...]:
    """Every age at which a category begins or ends, youngest first."""
    edges = {edge for one in categories for edge in (one.span.start, one.span.end)}
    return tuple(
        _row(categories, edge) for edge in sorted(edge for edge in edges if edge and edge.days > 0)
    )


def _row(categories: Sequence[PatientCategory], edge: Age) -> EdgeRow:
    under = just_under(edge)
    before = answer(categories, EdgeCase(f"just under {edge}", under))
    return EdgeRow(edge, under, before, answer(categories, EdgeCase(str(edge), edge)))


def just_under(edge: Age) -> Age:
    """A day less, or half of an edge that is no older than a day."""
    day = Fraction(1)
    return Age(edge.days - day if edge.days > day else edge.days / 2)
