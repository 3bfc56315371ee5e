"""What can be seen of a database from outside, for the self-test and the readiness check."""

import json
import sqlite3
from contextlib import closing
from datetime import UTC, datetime, timedelta

import sqlalchemy as sa
from sqlalchemy.exc import DatabaseError
from sqlmodel import Session

from app.storage import ledger
from app.storage.database import Database
from app.storage.engine import for_writing
from app.storage.migrating import sqlite_file


def unwritable(database: Database) -> str:
    """Why nothing can be written, "" if it can. Takes the lock of a writer and gives it back."""
    try:
        with Session(for_writing(database.engine)) as tx:
            tx.execute(sa.text("UPDATE ledger_head SET seq = seq WHERE agency = ''"))
            tx.rollback()
    except DatabaseError as error:
        return str(error.orig)
    return ""


def damage(url: str) -> str:
    """What SQLite finds wrong with its own file; a server looks after that itself."""
    file = sqlite_file(url)
    if file is None:
        return ""
    try:
        with closing(sqlite3.connect(f"{file.absolute().as_uri()}?mode=ro", uri=True)) as found:
            (told,) = found.execute("PRAGMA integrity_check(1)").fetchone()
    except sqlite3.DatabaseError as error:
        return str(error)
    return "" if told == "ok" else str(told)


def size_of(tx: Session) -> int:
    if tx.get_bind().dialect.name == "postgresql":
        wanted = sa.text("SELECT pg_database_size(current_database())")
    else:
        wanted = sa.text("SELECT page_count * page_size FROM pragma_page_count, pragma_page_size")
    return int(tx.execute(wanted).scalar_one())


def clock_of_server(tx: Session) -> datetime | None:
    if tx.get_bind().dialect.name != "postgresql":
        return None
    found: datetime = tx.execute(sa.text("SELECT clock_timestamp()")).scalar_one()
    return found.astimezone(UTC)


def last_entry_at(tx: Session) -> datetime | None:
    """Of all chains."""
    times = [datetime.fromisoformat(json.loads(one.body)["at"]) for one in ledger.latest(tx)]
    return max(times, default=None)


def answers(database: Database) -> timedelta:
    """How long the shortest question takes; raises whatever stands in the way."""
    before = datetime.now(UTC)
    with database.reading() as tx:
        tx.execute(sa.text("SELECT 1"))
    return datetime.now(UTC) - before
