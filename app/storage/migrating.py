"""Brings the schema up to what this version knows, at every start, after a backup."""

import os
import sqlite3
from collections.abc import Callable
from contextlib import closing
from datetime import datetime
from pathlib import Path

from alembic import command
from alembic.config import Config
from alembic.runtime.migration import MigrationContext
from alembic.script import ScriptDirectory
from sqlalchemy import Connection, Engine, event, make_url
from sqlalchemy.exc import DatabaseError
from sqlalchemy.pool import ConnectionPoolEntry
from sqlmodel import Session

from app.domain.errors import MarchstoneError
from app.places import folder
from app.storage.database import Database
from app.storage.engine import for_writing, make_engine
from app.storage.older_rows import copy_older, lock_all
from app.storage.work_queue import bring_queue_up

Keep = Callable[[str, Callable[[Path], None]], None]
"""Keeps what is there: told the schema, and what writes the data into an SQLite file."""
_PATIENCE_MS = 300_000
"""Of one process for another that migrates the same SQLite file."""
_ADVISORY_LOCK = 7_305_182
"""Any number, the same in every process: one of them migrates PostgreSQL, the others wait."""


class DatabaseUnusable(MarchstoneError):
    status = 503
    title = "The database cannot be used"


class NewerSchema(DatabaseUnusable):
    title = "The data are newer than this program"


def open_database(
    url: str, *, now: datetime, migrations: Path | None = None, keep: Keep | None = None
) -> Database:
    """Its schema made or upgraded; `DatabaseUnusable` tells what stands in the way. `keep` is
    handed what is in PostgreSQL before an upgrade; SQLite is copied beside itself."""
    file = sqlite_file(url)
    if file is not None:
        _make_place_for(file)
    _upgrade(url, file, now=now, migrations=migrations or folder("migrations"), keep=keep)
    if file is None:
        _bring_queue_up(url)
    return Database(url)


def _bring_queue_up(url: str) -> None:
    engine = _engine_for_migrating(url)
    try:
        with engine.begin() as connection:
            connection.exec_driver_sql(f"SELECT pg_advisory_xact_lock({_ADVISORY_LOCK})")
            bring_queue_up(connection)
    finally:
        engine.dispose()


def alembic_config(connection: Connection, migrations: Path) -> Config:
    config = Config()
    config.set_main_option("script_location", str(migrations).replace("%", "%%"))
    config.attributes["connection"] = connection
    return config


def schema_of(database: Database) -> str:
    """ "" where there is none yet."""
    with database.engine.connect() as connection:
        return ", ".join(_found(connection))


def schema_in(tx: Session) -> str:
    return ", ".join(_found(tx.connection()))


def newest_schema(migrations: Path | None = None) -> str:
    return ", ".join(ScriptDirectory(str(migrations or folder("migrations"))).get_heads())


def sqlite_file(url: str) -> Path | None:
    """None for PostgreSQL."""
    parsed = make_url(url)
    return Path(parsed.database or "") if parsed.get_backend_name() == "sqlite" else None


def _make_place_for(file: Path) -> None:
    place = file.absolute().parent
    try:
        place.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise _unwritable(place) from error
    if not os.access(place, os.W_OK) or (file.exists() and not os.access(file, os.W_OK)):
        raise _unwritable(place)


def _unwritable(place: Path) -> DatabaseUnusable:
    return DatabaseUnusable(
        f"The folder {place} cannot be written. Give the user who runs Marchstone the right to "
        "write there, or set MARCHSTONE_DATA_DIR to another folder."
    )


def _upgrade(
    url: str, file: Path | None, *, now: datetime, migrations: Path, keep: Keep | None
) -> None:
    engine = _engine_for_migrating(url)
    try:
        if _is_outdated(engine, migrations):
            with engine.begin() as connection:
                _upgrade_alone(connection, file, now=now, migrations=migrations, keep=keep)
    finally:
        engine.dispose()


def _engine_for_migrating(url: str) -> Engine:
    engine = make_engine(url, waits_for_ever=True)
    if engine.dialect.name == "sqlite":
        event.listen(engine, "connect", _for_migrating)
    return for_writing(engine)


def _for_migrating(connection: sqlite3.Connection, _record: ConnectionPoolEntry) -> None:
    """A batch migration drops and rebuilds tables; the check at the end does the work instead.
    Another process that starts meanwhile waits longer than a request would."""
    connection.execute("PRAGMA foreign_keys = OFF")
    connection.execute(f"PRAGMA busy_timeout = {_PATIENCE_MS}")


def _is_outdated(engine: Engine, migrations: Path) -> bool:
    try:
        with engine.connect() as connection:
            return _found(connection) != _known(migrations, _found(connection))
    except DatabaseError as error:
        raise DatabaseUnusable(f"{engine.url} does not answer: {error.orig}") from error


def _found(connection: Connection) -> tuple[str, ...]:
    return MigrationContext.configure(connection).get_current_heads()


def _known(migrations: Path, found: tuple[str, ...]) -> tuple[str, ...]:
    """The newest schema that this program knows; refused if `found` is none it knows."""
    scripts = ScriptDirectory(str(migrations))
    known = {script.revision for script in scripts.walk_revisions()}
    newest = tuple(scripts.get_heads())
    if not known.issuperset(found):
        raise NewerSchema(
            f"The database has schema {', '.join(found)}; this program knows none later than "
            f"{', '.join(newest)}. Start the newer program, or go back to the backup that it "
            "made before its upgrade."
        )
    return newest


def _upgrade_alone(
    connection: Connection,
    file: Path | None,
    *,
    now: datetime,
    migrations: Path,
    keep: Keep | None,
) -> None:
    if file is None:
        connection.exec_driver_sql(f"SELECT pg_advisory_xact_lock({_ADVISORY_LOCK})")
    found = _found(connection)
    if found == _known(migrations, found):
        return  # another process was faster
    if file is not None and found:
        _back_up(file, version=found[0], now=now)
    if file is None and found and keep is not None:
        _keep_older(connection, keep, version=found[0], migrations=migrations)
    command.upgrade(alembic_config(connection, migrations), "head")
    if file is not None:
        _check_foreign_keys(connection)


def _back_up(file: Path, *, version: str, now: datetime) -> None:
    """Beside the database, named by the schema that it holds."""
    copy = file.with_name(f"{file.stem}-schema-{version}-{now:%Y%m%dT%H%M%SZ}{file.suffix}")
    with closing(sqlite3.connect(file)) as source, closing(sqlite3.connect(copy)) as target:
        source.backup(target)


def _keep_older(connection: Connection, keep: Keep, *, version: str, migrations: Path) -> None:
    """As it is until the upgrade is done: nobody writes meanwhile."""

    def write(copy: Path) -> None:
        engine = _engine_for_migrating(f"sqlite:///{copy}")
        with engine.begin() as target:
            command.upgrade(alembic_config(target, migrations), version)
            copy_older(connection, target)
            _check_foreign_keys(target)
        engine.dispose()

    lock_all(connection)
    keep(version, write)


def _check_foreign_keys(connection: Connection) -> None:
    orphans = connection.exec_driver_sql("PRAGMA foreign_key_check").fetchall()
    if orphans:
        tables = ", ".join(sorted({str(row[0]) for row in orphans}))
        raise DatabaseUnusable(
            f"The upgrade would leave rows without their owner in {tables}; nothing was changed."
        )
