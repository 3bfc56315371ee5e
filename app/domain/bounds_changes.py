"""Two sets of outer bounds beside each other: what counts as unsafe now and did not, or did."""

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from fractions import Fraction

from app.domain.ages import Age
from app.domain.comparison import Direction
from app.domain.outer_bounds import OuterBound, OuterBounds
from app.domain.vital_signs import VITAL_SIGNS

_ORDER = (Direction.LOOSER, Direction.TIGHTER, Direction.OTHER)
Pair = tuple[OuterBound | None, OuterBound | None]


@dataclass(frozen=True)
class BoundChange:
    """`before` None: the row is new; `after` None: it is gone. `lean`: what it means for a
    patient, reckoned from the whole sets, since another row may say the same or more."""

    before: OuterBound | None
    after: OuterBound | None
    lean: Direction

    @property
    def row(self) -> OuterBound:
        found = self.after or self.before
        if found is None:
            raise ValueError("a change has a row before or after")
        return found

    @property
    def sentence(self) -> str:
        where = f"{label_of(self.row)}, {self.row.span}"
        if self.row.when:
            where += f", {self.row.when.replace('-', ' ')}"
        return f"{where}: {self._words()}."

    def _words(self) -> str:
        before, after = self.before, self.after
        if before is None:
            return f"{beyond(self.row)} is {self.row.grade} now"
        if after is None:
            return f"{beyond(before)} is no longer {before.grade} by a row of its own"
        if (beyond(after), after.grade) == (beyond(before), before.grade):
            return f"{beyond(after)} stays {after.grade}; what is written as its source changes"
        return f"{beyond(after)} is {after.grade}, and {beyond(before)} was {before.grade} before"


def label_of(row: OuterBound) -> str:
    vital = VITAL_SIGNS.get(row.quantity)
    return vital.label if vital else row.quantity.replace("-", " ").capitalize()


def beyond(row: OuterBound) -> str:
    """`below 90 mmHg`; the quantities that are no vital signs are times."""
    vital = VITAL_SIGNS.get(row.quantity)
    if vital is None:
        return f"longer than {row} s"
    return f"{'below' if row.side == 'low' else 'above'} {row} {vital.shown}"


def bounds_changes(before: OuterBounds, after: OuterBounds) -> list[BoundChange]:
    """What becomes looser comes first."""
    pairs = _pairs(before.rows, after.rows)
    found = [BoundChange(*pair, _lean(pair, before, after)) for pair in pairs]
    return sorted(found, key=lambda change: _ORDER.index(change.lean))


def _pairs(before: Iterable[OuterBound], after: Iterable[OuterBound]) -> Iterator[Pair]:
    """Rows that are the same in both are left out; the others meet by place, grade first."""
    gone, new = list(before), list(after)
    for row in list(gone):
        if row in new:
            gone.remove(row)
            new.remove(row)
    for place in (_graded_place, _place):
        for row in list(gone):
            found = next((other for other in new if place(other) == place(row)), None)
            if found is not None:
                gone.remove(row)
                new.remove(found)
                yield row, found
    yield from ((row, None) for row in gone)
    yield from ((None, row) for row in new)


def _place(row: OuterBound) -> tuple[object, ...]:
    return row.quantity, row.side, row.when or "", row.span


def _graded_place(row: OuterBound) -> tuple[object, ...]:
    return *_place(row), row.grade


def _lean(pair: Pair, before: OuterBounds, after: OuterBounds) -> Direction:
    """Looser if it is so at any age of the rows, whatever it is at others."""
    leans = {
        lean
        for row in pair
        if row is not None
        for age in _ages(row, before, after)
        for lean in [_lean_at(row, age, before, after)]
    }
    return next(lean for lean in (*_ORDER[:2], Direction.OTHER) if lean in leans)


def _ages(row: OuterBound, before: OuterBounds, after: OuterBounds) -> Iterator[Age]:
    """Where a bound begins, and just before it ends: in between, all of them run straight."""
    moment = Fraction(1, 24)
    for bounds in (before, after):
        for edge in bounds.edges(row.quantity, row.side, None):
            yield from (
                age for age in (edge, Age(edge.days - moment)) if age.days >= 0 and age in row.span
            )


def _lean_at(row: OuterBound, age: Age, before: OuterBounds, after: OuterBounds) -> Direction:
    old, new = (_edge(bounds, row, age) for bounds in (before, after))
    if old == new:
        return Direction.OTHER
    if new is None or (old is not None and _stricter(row)(old, new) == old):
        return Direction.LOOSER
    return Direction.TIGHTER


def _edge(bounds: OuterBounds, row: OuterBound, age: Age) -> Fraction | None:
    """Where values of this grade or a graver one begin; danger is the graver of the two."""
    here = bounds.in_force_at(row.quantity, row.side, age, row.when)
    values = [one.at(age) for one in here if one.grade in ("danger", row.grade)]
    return _stricter(row)(*values, values[0]) if values else None


def _stricter(row: OuterBound) -> Callable[..., Fraction]:
    return max if row.side == "low" else min
