"""Fixtures for the databases; everything else is made by the builders, where it is needed."""

import gc
import os
import shutil
from collections.abc import Iterator
from contextlib import ExitStack
from functools import cache
from itertools import count
from pathlib import Path
from typing import Any
from zoneinfo import available_timezones

import pytest
import sqlalchemy as sa
from pwdlib import PasswordHash
from sqlmodel import SQLModel

from app.actions import passwords
from app.storage.database import Database
from app.storage.engine import make_engine
from app.storage.migrating import open_database
from tests import postgresql_server
from tests.builders import NOW, QUICK

_END_OTHERS = (
    "SELECT pg_terminate_backend(pid) FROM pg_stat_activity "
    "WHERE datname = current_database() AND pid <> pg_backend_pid()"
)
"""A test that failed half-way may hold locks."""
_COUNT_ANEW = (
    "SELECT setval(quote_ident(sequencename)::regclass, start_value, false) "
    "FROM pg_sequences WHERE last_value IS NOT NULL AND schemaname = current_schema()"
)
_numbers = count(1)
_missing: set[str] = set()
_first_engines: dict[str, sa.Engine] = {}
_compiled: dict[str, dict[Any, Any]] = {}


gc.disable()  # until all tests are collected: what they import stays


def pytest_collection_finish() -> None:
    """Looking for rubbish in what stays, again and again, would take a third of the time."""
    gc.freeze()
    gc.set_threshold(20_000, 10, 10)
    gc.enable()


@pytest.fixture(scope="session", autouse=True)
def _statements_compiled_once() -> Iterator[None]:
    """Each test has a database of its own; compiling every statement anew for each would take half
    of its time."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("app.storage.database.make_engine", _compiling_as_before)
        yield


@pytest.fixture(scope="session", autouse=True)
def _time_zones_listed_once() -> Iterator[None]:
    """Every agency that is made asks for them, which reads a folder of hundreds of files."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("app.actions.people.available_timezones", cache(available_timezones))
        yield


@pytest.fixture(scope="session", autouse=True)
def real_hashing() -> Iterator[PasswordHash]:
    """What the service hashes passwords with; the tests do it with far less work."""
    real = passwords._HASHING
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(passwords, "_HASHING", PasswordHash((QUICK,)))
        yield real


def _compiling_as_before(url: str) -> sa.Engine:
    engine = make_engine(url)
    first = _first_engines.setdefault(engine.name, engine)
    if getattr(first.dialect, "server_version_info", None) is None:  # was never connected
        _first_engines[engine.name] = engine
    else:
        engine.dialect = first.dialect  # compiled statements are found by it
    engine.update_execution_options(compiled_cache=_compiled.setdefault(engine.name, {}))
    return engine


@pytest.fixture(scope="session")
def sqlite_template(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Migrated once and copied: much faster than a migration a test."""
    file = tmp_path_factory.mktemp("sqlite") / "template.sqlite3"
    open_database(f"sqlite:///{file}", now=NOW).dispose()
    return file


@pytest.fixture
def sqlite_url(sqlite_template: Path, tmp_path: Path) -> str:
    file = tmp_path / "marchstone.sqlite3"
    shutil.copyfile(sqlite_template, file)
    return f"sqlite:///{file}"


@pytest.fixture(scope="session")
def postgresql_server_url() -> Iterator[str | None]:
    """The maintenance database of a server of our own; None where no PostgreSQL is found."""
    with ExitStack() as stack:
        yield postgresql_server.start(stack)


@pytest.fixture(scope="session")
def postgresql_server_there(postgresql_server_url: str | None) -> str:
    if postgresql_server_url is None:
        _missing.add(postgresql_server.MISSING)
        if os.environ.get("CI") == "true":
            pytest.fail(postgresql_server.MISSING)
        pytest.skip(postgresql_server.MISSING)
    return postgresql_server_url


@pytest.fixture
def empty_postgresql_url(postgresql_server_there: str) -> Iterator[str]:
    name = f"test_{next(_numbers)}"
    _at(postgresql_server_there, f"CREATE DATABASE {name}")
    yield _named(postgresql_server_there, name)
    _at(postgresql_server_there, f"DROP DATABASE {name} WITH (FORCE)")


@pytest.fixture(scope="session")
def migrated_postgresql_url(postgresql_server_there: str) -> str:
    _at(postgresql_server_there, "CREATE DATABASE migrated")
    url = _named(postgresql_server_there, "migrated")
    open_database(url, now=NOW).dispose()
    return url


@pytest.fixture
def postgresql_url(migrated_postgresql_url: str) -> Iterator[str]:
    """Emptied after each test: copying a database for each takes much longer, and so does TRUNCATE,
    which makes every file of every table anew."""
    yield migrated_postgresql_url
    _at(
        migrated_postgresql_url,
        _END_OTHERS,
        "SET session_replication_role = replica",  # the ledger refuses to be emptied
        "; ".join(f"DELETE FROM {table.name}" for table in SQLModel.metadata.sorted_tables),
        "DELETE FROM work_queue.procrastinate_jobs; DELETE FROM work_queue.procrastinate_workers",
        _COUNT_ANEW,
    )


@pytest.fixture(params=["sqlite", "postgresql"])
def database_url(request: pytest.FixtureRequest) -> str:
    """A fresh, migrated database, once on each of the two."""
    url: str = request.getfixturevalue(f"{request.param}_url")
    return url


@pytest.fixture(params=["sqlite", "postgresql"])
def empty_url(request: pytest.FixtureRequest, tmp_path: Path) -> str:
    """A database in which nothing was ever made."""
    if request.param == "sqlite":
        return f"sqlite:///{tmp_path / 'empty.sqlite3'}"
    url: str = request.getfixturevalue("empty_postgresql_url")
    return url


@pytest.fixture
def database(database_url: str) -> Iterator[Database]:
    database = Database(database_url)
    yield database
    database.dispose()


@pytest.fixture
def sqlite_database(sqlite_url: str) -> Iterator[Database]:
    """For long tables of rows that have nothing to do with the kind of database."""
    database = Database(sqlite_url)
    yield database
    database.dispose()


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter) -> None:
    for line in sorted(_missing):
        terminalreporter.write_sep("!", line, red=True, bold=True)


def _named(server: str, name: str) -> str:
    return sa.make_url(server).set(database=name).render_as_string(hide_password=False)


def _at(url: str, *statements: str) -> None:
    engine = sa.create_engine(url, isolation_level="AUTOCOMMIT", poolclass=sa.NullPool)
    with engine.connect() as connection:
        for statement in statements:
            connection.exec_driver_sql(statement)
    engine.dispose()
