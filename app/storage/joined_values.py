"""The values of many rows as one, put together by the database and not row by row in here."""

from typing import Any

import sqlalchemy as sa
from sqlalchemy import func
from sqlalchemy.dialects.postgresql import aggregate_order_by
from sqlmodel import Session


def joined_bytes(tx: Session, column: Any, *, by: Any) -> Any:
    """In the order of `by`, the primary key of a table without another index: on SQLite there is
    no other way through it than in that order."""
    if tx.get_bind().dialect.name == "postgresql":
        nothing = sa.cast(sa.literal(b""), sa.LargeBinary)
        return func.string_agg(column, aggregate_order_by(nothing, by))
    # SQLite keeps the bytes as they are, and calls them text until they are cast back.
    return sa.cast(func.group_concat(column, ""), sa.LargeBinary)
