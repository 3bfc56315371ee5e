"""Outer bounds beside their proof: ages that none of them judges, ages at which several do, and
which one governs at the ages where mistakes are made."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

from app.domain.ages import BIRTH, Age, AgeSpan, years
from app.domain.alarm_conditions import Side
from app.domain.bounds_changes import beyond, label_of
from app.domain.edge_cases import EDGE_CASES, just_under
from app.domain.outer_bounds import GRADES, OuterBound, OuterBounds, strictest
from app.domain.patient_categories import PatientCategory, prove_scheme
from app.domain.vital_signs import VITAL_SIGNS, judged_as

DANGER, CAUTION = GRADES


@dataclass(frozen=True)
class Shared:
    """Ages at which several bounds of one grade stand; of a moving one and a still one, now the
    one and now the other may be the stricter."""

    span: AgeSpan
    grade: str
    rows: tuple[OuterBound, ...]

    @property
    def words(self) -> str:
        told = ", ".join(dict.fromkeys(beyond(row) for row in self.rows))
        return f"{self.span}: {told} are {self.grade} at once; the strictest of them judges."


@dataclass(frozen=True)
class GovernedAge:
    """Which bound of each grade judges somebody of this age; None: none does."""

    name: str
    age: Age
    danger: OuterBound | None
    caution: OuterBound | None


@dataclass(frozen=True)
class SideProof:
    """One side of a vital sign. `bare`: no bound of any grade; `mild`: one of caution alone.

    `idle`: ages at which the caution lies beyond the danger, so that it never tells anybody.
    """

    label: str
    unit: str
    side: Side
    bare: tuple[AgeSpan, ...]
    mild: tuple[AgeSpan, ...]
    shared: tuple[Shared, ...]
    idle: tuple[AgeSpan, ...]
    at: tuple[GovernedAge, ...]

    @property
    def faults(self) -> tuple[str, ...]:
        """In words, the gravest first."""
        return (
            *(f"{span}: nothing is too {self.side}: no bound stands." for span in self.bare),
            *(f"{span}: no bound of danger, only of caution." for span in self.mild),
            *(f"{span}: the caution lies beyond the danger and never tells." for span in self.idle),
        )


@dataclass(frozen=True)
class BoundsProof:
    """`never`: sides of vital signs of which no bound speaks at any age. `crossed`: ages at which
    every value would be danger."""

    sides: tuple[SideProof, ...]
    never: tuple[str, ...]
    crossed: tuple[str, ...]

    @property
    def names(self) -> tuple[str, ...]:
        return tuple(name for name, _ in _edge_ages())


def bounds_proof(bounds: OuterBounds) -> BoundsProof:
    """Of ordinary bounds; what holds under a circumstance alone stands beside them."""
    places = dict.fromkeys((row.quantity, row.side) for row in bounds.rows if row.when is None)
    return BoundsProof(
        tuple(side_proof(bounds, quantity, side) for quantity, side in places),
        tuple(_never(places)),
        tuple(_crossed(bounds)),
    )


def side_proof(bounds: OuterBounds, quantity: str, side: Side) -> SideProof:
    rows = [row for row in bounds.of(quantity, side) if row.when is None]
    graded = {grade: [row for row in rows if row.grade == grade] for grade in GRADES}
    shared = [one for grade, some in graded.items() for one in _shared(some, grade)]
    bare = _gaps([row.span for row in rows])
    return SideProof(
        label=label_of(rows[0]) if rows else quantity.replace("-", " ").capitalize(),
        unit=VITAL_SIGNS[quantity].shown if quantity in VITAL_SIGNS else "s",
        side=side,
        bare=bare,
        mild=_gaps([*(row.span for row in graded[DANGER]), *bare]),
        shared=tuple(shared),
        idle=tuple(_idle(bounds, quantity, side)),
        at=tuple(_governed(bounds, quantity, side, name, age) for name, age in _edge_ages()),
    )


def _as_scheme(spans: Sequence[AgeSpan]) -> list[PatientCategory]:
    """Bounds reach ages as categories do, and the same proof finds what they leave."""
    return [PatientCategory(str(place), "", span) for place, span in enumerate(spans)]


def _gaps(spans: Sequence[AgeSpan]) -> tuple[AgeSpan, ...]:
    return tuple(fault.span for fault in prove_scheme(_as_scheme(spans)) if fault.kind == "gap")


def _shared(rows: Sequence[OuterBound], grade: str) -> Iterator[Shared]:
    for fault in prove_scheme(_as_scheme([row.span for row in rows])):
        if fault.kind == "overlap":
            yield Shared(fault.span, grade, tuple(rows[int(key)] for key in fault.keys))


def _governing(
    bounds: OuterBounds, quantity: str, side: Side, age: Age, grade: str
) -> OuterBound | None:
    here = bounds.in_force_at(quantity, side, age)
    graded = [row for row in here if row.grade == grade]
    return strictest(graded, side, age) if graded else None


def _governed(bounds: OuterBounds, quantity: str, side: Side, name: str, age: Age) -> GovernedAge:
    danger, caution = (_governing(bounds, quantity, side, age, grade) for grade in GRADES)
    return GovernedAge(name, age, danger, caution)


def _idle(bounds: OuterBounds, quantity: str, side: Side) -> Iterator[AgeSpan]:
    begun: AgeSpan | None = None
    for span in _stretches(bounds, quantity):
        middle = Age((span.start.days + span.stop.days) / 2)
        danger, caution = (_governing(bounds, quantity, side, middle, one) for one in GRADES)
        if danger is None or caution is None or not danger.stricter_than(caution, middle):
            continue
        if begun is not None and begun.end == span.start:
            begun = AgeSpan(begun.start, span.end)
            continue
        if begun is not None:
            yield begun
        begun = span
    if begun is not None:
        yield begun


def _crossed(bounds: OuterBounds) -> Iterator[str]:
    """Asked where a bound begins: a low bound at or over the high one leaves no value between."""
    for quantity in dict.fromkeys(row.quantity for row in bounds.rows):
        for span in _stretches(bounds, quantity):
            low = _governing(bounds, quantity, "low", span.start, DANGER)
            high = _governing(bounds, quantity, "high", span.start, DANGER)
            if low is not None and high is not None and low.at(span.start) >= high.at(span.start):
                yield (
                    f"{label_of(low)}, {span}: {beyond(low)} and {beyond(high)} are danger, "
                    "which leaves no safe value."
                )


def _stretches(bounds: OuterBounds, quantity: str) -> list[AgeSpan]:
    """Between the edges of everything that judges it."""
    sides: tuple[Side, Side] = ("low", "high")
    edges = {BIRTH, *(age for side in sides for age in bounds.edges(quantity, side, None))}
    return [AgeSpan(*pair) for pair in pairwise(sorted(edges))]


def _never(places: dict[tuple[str, Side], None]) -> Iterator[str]:
    for key, vital in VITAL_SIGNS.items():
        sides: tuple[Side, Side] = ("low", "high")
        missing = [side for side in sides if (judged_as(key), side) not in places]
        if missing:
            yield f"{vital.label} {' and '.join(missing)}"


def _edge_ages() -> Iterator[tuple[str, Age]]:
    """The people of the scheme's edge cases whose age is known, the first birthday, and the ends
    of life: a weight or a gestation moves no bound."""
    birthday = years(1)
    ages = {case.age: str(case.age) for case in EDGE_CASES if case.age is not None}
    ages |= {just_under(birthday): f"just under {birthday}", birthday: str(birthday)}
    ages |= {BIRTH: "at birth", years(80): "80 y"}
    yield from ((ages[age], age) for age in sorted(ages))
