"""Edits of outer bounds row by row; a row is named by what it says, so nobody edits another."""

from dataclasses import replace
from hashlib import sha256

from app.domain.errors import NotFound, Refused
from app.domain.outer_bounds import OuterBound, OuterBounds


def mark_of(row: OuterBound) -> str:
    """Short enough for an address; a row that says anything else has another one."""
    span = row.span
    parts = (
        row.quantity,
        span.start.days,
        "" if span.end is None else span.end.days,
        row.side,
        row.base,
        row.per_year,
        row.grade,
        row.when or "",
        row.status,
        row.source,
    )
    return sha256("\x1f".join(map(str, parts)).encode()).hexdigest()[:16]


def row_marked(bounds: OuterBounds, mark: str) -> OuterBound:
    """Raises NotFound where the row was changed or removed meanwhile."""
    found = next((row for row in bounds.rows if mark_of(row) == mark), None)
    if found is None:
        raise NotFound("There is no such bound in this draft any more.")
    return found


def with_bound(bounds: OuterBounds, row: OuterBound) -> OuterBounds:
    """New, after the last of the same vital sign and side."""
    _check_new(bounds, row)
    rows = list(bounds.rows)
    alike = [
        at
        for at, other in enumerate(rows)
        if (other.quantity, other.side) == (row.quantity, row.side)
    ]
    rows.insert(alike[-1] + 1 if alike else len(rows), row)
    return replace(bounds, rows=tuple(rows))


def with_changed_bound(bounds: OuterBounds, mark: str, row: OuterBound) -> OuterBounds:
    """In its place. Unchanged, it stays."""
    held = row_marked(bounds, mark)
    if row != held:
        _check_new(bounds, row)
    rows = list(bounds.rows)
    rows[rows.index(held)] = row
    return replace(bounds, rows=tuple(rows))


def without_bound(bounds: OuterBounds, mark: str) -> OuterBounds:
    held = row_marked(bounds, mark)
    rows = list(bounds.rows)
    rows.remove(held)
    if not rows:
        raise Refused.because("the last bound cannot be removed: nothing would be judged unsafe")
    return replace(bounds, rows=tuple(rows))


def _check_new(bounds: OuterBounds, row: OuterBound) -> None:
    if row in bounds.rows:
        raise Refused.because("this very bound stands already", column="bound")
