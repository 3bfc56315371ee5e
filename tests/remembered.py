"""Puts the rows that a walk through the real actions leaves on an empty database there again."""

from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from functools import wraps
from typing import Any, Concatenate, ParamSpec, TypeVar

import sqlalchemy as sa
from sqlmodel import Session, SQLModel

from app.storage.agencies import AgencyRow

Given = ParamSpec("Given")
Found = TypeVar("Found")
Rows = dict[sa.Table, list[dict[str, Any]]]

_SEQUENCES = (
    "SELECT sequencename, last_value FROM pg_sequences "
    "WHERE last_value IS NOT NULL AND schemaname = current_schema()"
)


def remembered(
    walk: Callable[Concatenate[Session, Given], Found],
) -> Callable[Concatenate[Session, Given], Found]:
    """Of a builder: what hundreds of tests begin with is walked twice a kind of database, and what
    it left is told apart from what was there before; whoever asks again gets those rows."""
    asked: Counter[str] = Counter()
    left: dict[str, tuple[Found, Rows, Sequence[Any]]] = {}

    @wraps(walk)
    def again(tx: Session, /, *args: Given.args, **given: Given.kwargs) -> Found:
        if tx.exec(sa.select(AgencyRow.id).limit(1)).first() is not None:  # type: ignore[call-overload]
            return walk(tx, *args, **given)
        key = repr((tx.get_bind().dialect.name, args, given))
        if key in left:
            found, rows, counted = left[key]
            _put(tx, rows, counted)
            return found
        asked[key] += 1
        if asked[key] == 1:
            return walk(tx, *args, **given)
        before = _rows(tx)
        found = walk(tx, *args, **given)
        left[key] = (found, _added(before, _rows(tx)), _counted(tx))
        return found

    return again


def _rows(tx: Session) -> Rows:
    tx.flush()
    return {
        table: [dict(row) for row in tx.execute(sa.select(table)).mappings()]
        for table in SQLModel.metadata.sorted_tables
    }


def _added(before: Rows, after: Rows) -> Rows:
    added = {}
    for table, rows in after.items():
        assert all(row in rows for row in before[table]), f"{table} was changed, not added to"
        added[table] = [row for row in rows if row not in before[table]]
    return {table: rows for table, rows in added.items() if rows}


def _counted(tx: Session) -> Sequence[Any]:
    """PostgreSQL counts apart from its rows."""
    if tx.get_bind().dialect.name != "postgresql":
        return ()
    return tx.execute(sa.text(_SEQUENCES)).all()


def _put(
    tx: Session, rows: Mapping[sa.Table, list[dict[str, Any]]], counted: Sequence[Any]
) -> None:
    for table, new in rows.items():
        tx.execute(sa.insert(table), new)
    for name, last in counted:
        tx.execute(sa.select(sa.func.setval(name, last)))
