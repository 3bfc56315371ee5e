"""Which rows belong to one agency, found by following the foreign keys of every table."""

from typing import Any

import sqlalchemy as sa
from sqlalchemy.sql.base import ReadOnlyColumnCollection
from sqlmodel import SQLModel

from app.storage.agencies import AgencyRow

OF_THE_INSTALLATION = frozenset({"setup_link", "sign_in_failure"})
OF_THE_MOMENT = frozenset(
    {"answered_request", "invitation", "long_work", "pending_upload", "sign_in"}
)
"""They belong to somebody, but only to this day and this place."""
_KEYS = ("agency_id", "device_id", "revision_id", "person_id")
"""Whose agency is also that of the row, in the order in which they are asked."""


def all_rows() -> dict[str, sa.Select[tuple[object, ...]]]:
    """A query for each table, owners first."""
    return {
        table.name: _in_order(sa.select(table), table) for table in SQLModel.metadata.sorted_tables
    }


def rows_of_agency(key: str) -> dict[str, sa.Select[tuple[object, ...]]]:
    """A query for each table that holds something of an agency, owners first."""
    return {
        table.name: _in_order(sa.select(table).where(belongs(table, key)), table)
        for table in SQLModel.metadata.sorted_tables
        if table.name not in OF_THE_INSTALLATION | OF_THE_MOMENT
    }


def belongs(table: sa.Table, key: str) -> sa.ColumnElement[bool]:
    """Raises LookupError for a table that leads to no agency."""
    if table.name == AgencyRow.__tablename__:
        return table.c.key == key
    if "agency" in table.c:
        return table.c.agency == key
    column = _owner(table.c)
    (foreign,) = column.foreign_keys
    owner = foreign.column.table
    return column.in_(sa.select(foreign.column).where(belongs(owner, key)))


def _owner(columns: ReadOnlyColumnCollection[str, sa.Column[Any]]) -> sa.Column[Any]:
    for name in _KEYS:
        if name in columns:
            return columns[name]
    for column in columns.values():
        if column.foreign_keys and not column.nullable:
            return column
    raise LookupError(f"no column of {list(columns)} leads to an agency")


def _in_order(
    query: sa.Select[tuple[object, ...]], table: sa.Table
) -> sa.Select[tuple[object, ...]]:
    """A row may point at an earlier one of its own table."""
    return query.order_by(*table.primary_key.columns)
