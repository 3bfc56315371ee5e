"""Bounds beyond which a setting is unsafe, versioned and signed like a profile."""

import re
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property

from app.domain.ages import DAYS_PER_YEAR, Age, AgeSpan
from app.domain.alarm_conditions import Side

GRADES = ("danger", "caution")
_FORMULA = re.compile(
    r"(\d{1,6}(?:\.\d{1,4})?)(?: \+ (\d{1,6}(?:\.\d{1,4})?) \* age_years)?", re.ASCII
)


@dataclass(frozen=True)
class OuterBound:
    """Values strictly beyond `base + per_year * age in years` are of this grade."""

    quantity: str  # a vital sign, apnoea or airway-apnoea
    span: AgeSpan
    side: Side
    base: Fraction
    per_year: Fraction
    grade: str
    status: str
    source: str
    when: str | None = None  # key of a circumstance

    def at(self, age: Age) -> Fraction:
        return self.base + self.per_year * age.years if self.per_year else self.base

    def stricter_than(self, other: "OuterBound", age: Age) -> bool:
        ahead = self.at(age) - other.at(age)
        return ahead > 0 if self.side == "low" else ahead < 0

    def age_reaching(self, value: Fraction) -> Age | None:
        """The age at which the bound passes the value; None where it does not move."""
        if not self.per_year:
            return None
        return Age((value - self.base) / self.per_year * DAYS_PER_YEAR)

    def __str__(self) -> str:
        return self.shown_in("")

    def shown_in(self, unit: str) -> str:
        """`90 mmHg`, or `70 mmHg + 2 per year of age`."""
        base = f"{float(self.base):g} {unit}".strip()
        return f"{base} + {float(self.per_year):g} per year of age" if self.per_year else base


def read_formula(text: str) -> tuple[Fraction, Fraction]:
    """`90` or `70 + 2 * age_years`, as base and per-year; the text is never evaluated."""
    found = _FORMULA.fullmatch(text.strip())
    if found is None:
        raise ValueError("must be a number, or base + per-year * age_years")
    return Fraction(found[1]), Fraction(found[2] or 0)


def bound(
    quantity: str,
    ages: tuple[str, str | None],
    side: Side,
    formula: str,
    grade: str,
    status: str,
    source: str,
    *,
    when: str | None = None,
) -> OuterBound:
    """One row from its written parts."""
    start, end = ages
    span = AgeSpan(Age.parse(start), Age.parse(end) if end else None)
    return OuterBound(quantity, span, side, *read_formula(formula), grade, status, source, when)


@dataclass(frozen=True)
class OuterBounds:
    name: str
    rows: tuple[OuterBound, ...]

    def __hash__(self) -> int:
        """Quick, for bounds are asked about thousands of times; equal ones still share it."""
        return hash((self.name, len(self.rows)))

    @cached_property
    def _by_place(self) -> dict[tuple[str, Side], tuple[OuterBound, ...]]:
        places: dict[tuple[str, Side], list[OuterBound]] = {}
        for row in self.rows:
            places.setdefault((row.quantity, row.side), []).append(row)
        return {place: tuple(rows) for place, rows in places.items()}

    def of(self, quantity: str, side: Side) -> tuple[OuterBound, ...]:
        return self._by_place.get((quantity, side), ())

    def edges(self, quantity: str, side: Side, value: Fraction | None) -> Iterator[Age]:
        """Ages at which a bound begins, ends, or moves past the value."""
        yield from self._edges.get((quantity, side), ())
        if value is not None:
            passed = (row.age_reaching(value) for row in self.of(quantity, side))
            yield from (age for age in passed if age is not None)

    @cached_property
    def _edges(self) -> dict[tuple[str, Side], frozenset[Age]]:
        return {
            place: frozenset(age for row in rows for age in (row.span.start, row.span.stop))
            for place, rows in self._by_place.items()
        }

    def in_force_at(
        self, quantity: str, side: Side, age: Age, circumstance: str | None = None
    ) -> list[OuterBound]:
        """The bounds at an age. A circumstance's own set the stricter ordinary ones aside."""
        here = [row for row in self.of(quantity, side) if age in row.span]
        ordinary = [row for row in here if row.when is None]
        special = [row for row in here if row.when is not None and row.when == circumstance]
        return special + [row for row in ordinary if _stands(row, special, age)]


def _stands(row: OuterBound, special: Iterable[OuterBound], age: Age) -> bool:
    special = list(special)
    return not special or any(not row.stricter_than(other, age) for other in special)


def strictest(bounds: Sequence[OuterBound], side: Side, age: Age) -> OuterBound:
    """Of several at one age, the one that judges."""
    return (max if side == "low" else min)(bounds, key=lambda bound: bound.at(age))
