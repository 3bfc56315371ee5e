"""Numbers for many new rows at once, so that others may point at them before they are written."""

from array import array
from collections.abc import Sequence

from sqlalchemy import func, text
from sqlmodel import Session, select

from app.storage.base import NumberedRow


def new_numbers(tx: Session, table: type[NumberedRow], count: int) -> Sequence[int]:
    """On SQLite the writer is alone until its commit; PostgreSQL hands them out."""
    if tx.get_bind().dialect.name == "postgresql":
        wanted = text(
            "SELECT nextval(pg_get_serial_sequence(:t, 'id')) FROM generate_series(1, :n)"
        )
        found = tx.execute(wanted, {"t": table.__tablename__, "n": count})
        return array("q", found.scalars())
    highest = tx.exec(select(func.max(table.id))).one() or 0
    return range(highest + 1, highest + 1 + count)
