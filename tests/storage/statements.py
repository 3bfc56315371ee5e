"""Counts SQL statements: a page must cost the same however large the fleet."""

from collections.abc import Iterator
from contextlib import contextmanager

from sqlalchemy import event

from app.storage.database import Database


@contextmanager
def counted(database: Database) -> Iterator[list[str]]:
    """Yields the list of statements, which grows while the block runs."""
    seen: list[str] = []

    def note(_connection: object, _cursor: object, statement: str, *_: object) -> None:
        if not statement.startswith(("PRAGMA", "BEGIN")):
            seen.append(statement)

    event.listen(database.engine, "before_cursor_execute", note)
    try:
        yield seen
    finally:
        event.remove(database.engine, "before_cursor_execute", note)
