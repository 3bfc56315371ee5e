"""The queue of long work on PostgreSQL: procrastinate's, in a schema of its own.

It says to a waiting process that there is work, and notices when a process died over it. What the
work is and what became of it stands in `app.storage.long_work`, on both databases.
"""

from pathlib import Path
from typing import Any

import procrastinate
from procrastinate.schema import SchemaManager
from sqlalchemy import Connection, make_url
from sqlmodel import Session

SCHEMA, QUEUE, TASK = "work_queue", "long-work", "do-long-work"
PATH = f"{SCHEMA}, public"
_DEFERRING = procrastinate.App(connector=procrastinate.SyncPsycopgConnector())


def conninfo_of(url: str) -> str:
    """As psycopg itself wants it."""
    return make_url(url).set(drivername="postgresql").render_as_string(hide_password=False)


def has_queue(tx: Session) -> bool:
    return tx.get_bind().dialect.name == "postgresql"


def enqueue(tx: Session, number: int) -> None:
    """In the caller's transaction: there is never a row without its place in the queue, nor the
    reverse. Nothing on SQLite, whose worker looks at the rows themselves."""
    if not has_queue(tx):
        return
    tx.flush()
    connection = tx.connection()
    connection.exec_driver_sql(f"SET LOCAL search_path TO {PATH}")
    task = _DEFERRING.configure_task(
        TASK, queue=QUEUE, connection=connection.connection.driver_connection
    )
    task.defer(number=number)
    connection.exec_driver_sql("SET LOCAL search_path TO DEFAULT")


def queued(tx: Session) -> set[int]:
    """Numbers of the work that somebody waits for or does."""
    found = tx.connection().exec_driver_sql(
        f"SELECT (args->>'number')::int FROM {SCHEMA}.procrastinate_jobs "  # noqa: S608 - ours
        "WHERE status IN ('todo', 'doing')"
    )
    return {int(number) for (number,) in found}


def bring_queue_up(connection: Connection) -> None:
    """Makes the tables of the queue, or brings them from an earlier version of it up to ours. The
    comment of the schema tells which version made them."""
    found = _version(connection)
    if found == procrastinate.__version__:
        return
    raw: Any = connection.connection.driver_connection
    raw.execute(f"CREATE SCHEMA IF NOT EXISTS {SCHEMA}")
    raw.execute(f"SET LOCAL search_path TO {SCHEMA}")
    for statements in _steps(found):
        raw.execute(statements)
    raw.execute("SET LOCAL search_path TO DEFAULT")
    raw.execute(f"COMMENT ON SCHEMA {SCHEMA} IS 'procrastinate {procrastinate.__version__}'")


def _version(connection: Connection) -> str | None:
    told = connection.exec_driver_sql(
        "SELECT obj_description(oid, 'pg_namespace') FROM pg_namespace WHERE nspname = %s",
        (SCHEMA,),
    ).scalar_one_or_none()
    return None if told is None else str(told).rpartition(" ")[2]


def _steps(found: str | None) -> list[str]:
    if found is None:
        return [SchemaManager.get_schema()]
    files = sorted(Path(SchemaManager.get_migrations_path()).glob("*.sql"))
    later = [one for one in files if _numbers(one.name.partition("_")[0]) > _numbers(found)]
    return [one.read_text(encoding="utf-8") for one in later]


def _numbers(version: str) -> tuple[int, ...]:
    return tuple(int(part) for part in version.split("."))
