"""Copies of the data as they are at one moment, and the way back.

A copy is always an SQLite file: it can be read anywhere, and comes back into either database.
"""

import sqlite3
from contextlib import closing
from datetime import datetime
from pathlib import Path

from sqlalchemy.exc import DatabaseError
from sqlmodel import select

from app.domain.backups import Heads
from app.domain.errors import NotNow
from app.storage.agencies import AgencyRow
from app.storage.agency_rows import all_rows, rows_of_agency
from app.storage.copying import copy_rows
from app.storage.database import Database
from app.storage.ledger import LedgerHeadRow, LedgerRow
from app.storage.migrating import DatabaseUnusable, open_database, schema_of, sqlite_file


class NoBackup(DatabaseUnusable):
    """What came out of a file that is told to be a backup."""

    status = 422
    title = "No backup"


def copy_database(url: str, to: Path, *, now: datetime) -> None:
    """While others read and write; `to` must not be there yet."""
    file = sqlite_file(url)
    if file is None:
        _copy_into(url, f"sqlite:///{to}", now=now)
        return
    if not file.is_file():
        raise DatabaseUnusable(f"There is no database at {file}.")
    try:
        with closing(sqlite3.connect(file, timeout=60, isolation_level=None)) as source:
            source.execute("VACUUM INTO ?", (str(to),))
    except sqlite3.Error as error:
        raise DatabaseUnusable(f"No copy could be made of {file}: {error}.") from error


def copy_agency(url: str, to: Path, *, agency: str, now: datetime) -> None:
    """One agency by itself: its own rows, its chain of the ledger, its people."""
    _copy_into(url, f"sqlite:///{to}", now=now, agency=agency)


def _copy_into(url: str, target_url: str, *, now: datetime, agency: str | None = None) -> None:
    source, target = Database(url), open_database(target_url, now=now)
    try:
        _check_same_schema(source, target)
        queries = all_rows() if agency is None else rows_of_agency(agency)
        copy_rows(source.engine, target.engine, queries)
    finally:
        source.dispose()
        target.dispose()


def _check_same_schema(source: Database, target: Database) -> None:
    found, newest = schema_of(source), schema_of(target)
    if found != newest:
        raise NotNow(
            f"The database has schema {found or 'none'}, this program works with {newest}: start "
            "the service once, which brings the database up to date."
        )


def check_copy(file: Path) -> tuple[str, Heads]:
    """Its schema and the heads of its ledger; `NoBackup` if it is no whole database of ours."""
    database = Database(f"sqlite:///{file}")
    try:
        schema = schema_of(database)
        if not schema:
            raise NoBackup("There is no Marchstone in this file.")
        return schema, heads_of(database)
    except DatabaseError as error:
        raise NoBackup(f"The data in this file cannot be read: {error.orig}") from error
    finally:
        database.dispose()


def heads_of(database: Database) -> Heads:
    with database.reading() as tx:
        rows = tx.exec(select(LedgerHeadRow.agency, LedgerHeadRow.seq, LedgerHeadRow.hash))
        return {agency: (seq, head) for agency, seq, head in rows}


def put_back(file: Path, url: str, *, now: datetime) -> None:
    """A copy of everything into a place where nothing is. `file` is used up."""
    target = sqlite_file(url)
    if target is None:
        open_database(f"sqlite:///{file}", now=now).dispose()  # an older one comes up to date
        _check_nothing_there(url, now=now, ledger_too=True)
        _copy_into(f"sqlite:///{file}", url, now=now)
        return
    for found in (target, *(target.with_name(target.name + end) for end in ("-wal", "-shm"))):
        if found.exists():
            raise NotNow(
                f"{found} is there already. Stop the service, move this file to another place "
                "and begin again: a backup never goes over data."
            )
    target.parent.mkdir(parents=True, exist_ok=True)
    file.rename(target)
    open_database(url, now=now).dispose()


def put_agency_in(file: Path, url: str, *, now: datetime) -> None:
    """A copy of one agency into an installation that has none."""
    open_database(f"sqlite:///{file}", now=now).dispose()
    _check_nothing_there(url, now=now, ledger_too=False)
    _copy_into(f"sqlite:///{file}", url, now=now)


def _check_nothing_there(url: str, *, now: datetime, ledger_too: bool) -> None:
    database = open_database(url, now=now)
    try:
        with database.reading() as tx:
            rows = [select(AgencyRow.key), *([select(LedgerRow.agency)] if ledger_too else [])]
            if any(tx.exec(wanted.limit(1)).first() for wanted in rows):
                raise NotNow(
                    "The database of the settings holds data already. Name an empty one in "
                    "MARCHSTONE_DATABASE_URL: nothing is ever written over data."
                )
    finally:
        database.dispose()
