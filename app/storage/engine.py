"""The connection to SQLite or PostgreSQL, set up so that both give the same answers."""

from typing import Any

from sqlalchemy import Connection, Engine, create_engine, event
from sqlalchemy.dialects import postgresql, sqlite
from sqlalchemy.engine.interfaces import DBAPIConnection
from sqlmodel import Session, SQLModel

BUSY_MS = 10_000
"""How long a writer waits for another one before its request is refused."""
CACHED_KIB = 8_192
"""Of the pages that a change touches: a large file of readings changes more than 2 MiB of them.
From 4 to 32 MiB, 3.6 million readings take the same time, and the log is as long."""


def make_engine(url: str, *, waits_for_ever: bool = False) -> Engine:
    """`waits_for_ever`: on PostgreSQL, for whoever migrates while others start as well."""
    options = {} if waits_for_ever else {"options": f"-c lock_timeout={BUSY_MS}"}
    postgresql_only = options if url.startswith("postgresql") else {}
    engine = create_engine(url, connect_args=postgresql_only)
    if engine.dialect.name == "sqlite":
        event.listen(engine, "connect", _prepare_sqlite)
        event.listen(engine, "begin", _begin_sqlite)
    return engine


def for_reading(engine: Engine) -> Engine:
    """Every statement of a page sees one state of the data, and none can change it."""
    if engine.dialect.name == "sqlite":
        return engine.execution_options(writing=False)
    return engine.execution_options(isolation_level="REPEATABLE READ", postgresql_readonly=True)


def for_writing(engine: Engine) -> Engine:
    return engine.execution_options(writing=True)


def _prepare_sqlite(connection: DBAPIConnection, _record: object) -> None:
    # sqlite3 would otherwise open transactions on its own, and never for a SELECT.
    connection.isolation_level = None
    for pragma in (
        f"busy_timeout = {BUSY_MS}",  # first, for the others may have to wait as well
        "foreign_keys = ON",
        "journal_mode = WAL",
        "synchronous = FULL",
        f"cache_size = -{CACHED_KIB}",
    ):
        connection.cursor().execute(f"PRAGMA {pragma}")


def _begin_sqlite(connection: Connection) -> None:
    """A writer takes the lock at once: two that read first and write later would dead-lock."""
    options: dict[str, Any] = dict(connection.get_execution_options())
    writing = options.get("writing", False)
    connection.exec_driver_sql(f"PRAGMA query_only = {'OFF' if writing else 'ON'}")
    connection.exec_driver_sql("BEGIN IMMEDIATE" if writing else "BEGIN")


def insert_into(tx: Session, table: type[SQLModel]) -> Any:
    """Both databases know ON CONFLICT; only their own kind of INSERT has it."""
    dialect = postgresql if tx.get_bind().dialect.name == "postgresql" else sqlite
    return dialect.insert(table)
