"""The values of many rows as one, put together by the database and not row by row in here."""

from typing import Any

import sqlalchemy as sa
from sqlalchemy import func
from sqlmodel import Session

BETWEEN = ","


def joined_bytes(tx: Session, column: Any) -> Any:
    """What two of these, or one and `joined_numbers`, join in one statement is in one order."""
    if _is_postgresql(tx):
        return func.string_agg(column, sa.cast(sa.literal(b""), sa.LargeBinary))
    # SQLite keeps the bytes as they are, and calls them text until they are cast back.
    return sa.cast(func.group_concat(column, ""), sa.LargeBinary)


def joined_numbers(tx: Session, column: Any) -> Any:
    text = sa.cast(column, sa.Text)
    if _is_postgresql(tx):
        return func.string_agg(text, BETWEEN)
    return func.group_concat(text, BETWEEN)


def _is_postgresql(tx: Session) -> bool:
    return tx.get_bind().dialect.name == "postgresql"
