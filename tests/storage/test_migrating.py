import shutil
import sqlite3
import subprocess
import sys
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import pytest
import sqlalchemy as sa
from alembic import command
from sqlmodel import SQLModel

from app.places import folder
from app.storage.engine import make_engine
from app.storage.migrating import (
    DatabaseUnusable,
    NewerSchema,
    alembic_config,
    open_database,
)
from tests.builders import DAY, NOW, an_agency

ROOT = Path(__file__).parents[2]
HEAD = max(path.name[:4] for path in (ROOT / "migrations" / "versions").glob("[0-9]*.py"))
START = """
import sys
from datetime import UTC, datetime

from app.storage.migrating import open_database

open_database(sys.argv[1], now=datetime.now(UTC)).dispose()
"""
NEXT = """
import sqlalchemy as sa
from alembic import op

revision = "9999"
down_revision = "{head}"


def upgrade() -> None:
    with op.batch_alter_table("agency") as agency:
        agency.add_column(sa.Column("motto", sa.String(), server_default="", nullable=False))
    op.execute("{also}")
"""


@pytest.fixture
def next_version(tmp_path: Path) -> Path:
    """The migrations of a later program."""
    return _next_version(tmp_path, also="UPDATE agency SET motto = 'every stone'")


def _next_version(tmp_path: Path, *, also: str) -> Path:
    copy = tmp_path / "later"
    shutil.copytree(folder("migrations"), copy, ignore=shutil.ignore_patterns("__pycache__"))
    (copy / "versions" / "9999_next.py").write_text(NEXT.format(head=HEAD, also=also))
    return copy


@pytest.fixture
def engine(database_url: str) -> Iterator[sa.Engine]:
    engine = make_engine(database_url)
    yield engine
    engine.dispose()


def with_an_agency(url: str) -> None:
    database = open_database(url, now=NOW)
    with database.writing() as tx:
        an_agency(tx)
    database.dispose()


def mottos(url: str) -> list[str]:
    engine = make_engine(url)
    with engine.connect() as connection:
        found = list(connection.execute(sa.text("SELECT motto FROM agency")).scalars())
    engine.dispose()
    return found


def columns_of_agency(url: str) -> set[str]:
    engine = make_engine(url)
    found = {column["name"] for column in sa.inspect(engine).get_columns("agency")}
    engine.dispose()
    return found


def backups(url: str) -> list[Path]:
    file = Path(sa.make_url(url).database or "")
    return sorted(file.parent.glob(f"{file.stem}-schema-*"))


def test_the_first_start_makes_everything(empty_url: str) -> None:
    with_an_agency(empty_url)

    assert "time_zone" in columns_of_agency(empty_url)


def test_the_second_start_changes_nothing(empty_url: str) -> None:
    with_an_agency(empty_url)

    with_an_agency(empty_url)

    assert backups(empty_url) == []


def test_migrations_and_tables_agree(engine: sa.Engine) -> None:
    with engine.connect() as connection:
        command.check(alembic_config(connection, folder("migrations")))


def test_every_check_of_the_tables_is_in_the_database(engine: sa.Engine) -> None:
    """Alembic's own comparison does not look at CHECK constraints."""
    wanted = {
        (table.name, str(constraint.name))
        for table in SQLModel.metadata.sorted_tables
        for constraint in table.constraints
        if isinstance(constraint, sa.CheckConstraint)
    }

    inspector = sa.inspect(engine)
    found = {
        (table, constraint["name"])
        for table in inspector.get_table_names()
        for constraint in inspector.get_check_constraints(table)
    }

    assert found == wanted


def test_an_upgrade_keeps_the_rows(empty_url: str, next_version: Path) -> None:
    with_an_agency(empty_url)

    open_database(empty_url, now=NOW, migrations=next_version).dispose()

    assert mottos(empty_url) == ["every stone"]


def test_a_sqlite_file_is_backed_up_before_it_is_upgraded(
    tmp_path: Path, next_version: Path
) -> None:
    url = f"sqlite:///{tmp_path / 'stones.sqlite3'}"
    with_an_agency(url)

    open_database(url, now=NOW, migrations=next_version).dispose()
    open_database(url, now=NOW + DAY, migrations=next_version).dispose()

    names = [file.name for file in backups(url)]
    assert names == [f"stones-schema-{HEAD}-20260302T090000Z.sqlite3"]
    with closing(sqlite3.connect(backups(url)[0])) as copy:
        assert copy.execute("SELECT key FROM agency").fetchall() == [("skerry",)]
        assert copy.execute("SELECT version_num FROM alembic_version").fetchall() == [(HEAD,)]


def test_a_newer_schema_is_refused_and_left_alone(empty_url: str, next_version: Path) -> None:
    open_database(empty_url, now=NOW, migrations=next_version).dispose()

    with pytest.raises(
        NewerSchema, match=f"schema 9999; this program knows none later than {HEAD}"
    ):
        open_database(empty_url, now=NOW)

    assert "motto" in columns_of_agency(empty_url)


def test_an_upgrade_that_fails_changes_nothing(empty_url: str, tmp_path: Path) -> None:
    with_an_agency(empty_url)
    broken = _next_version(tmp_path, also="UPDATE nowhere SET nothing = 1")

    with pytest.raises(sa.exc.DBAPIError, match="nowhere"):
        open_database(empty_url, now=NOW, migrations=broken)

    assert "motto" not in columns_of_agency(empty_url)
    open_database(empty_url, now=NOW).dispose()


def test_an_upgrade_that_would_orphan_rows_is_refused(tmp_path: Path) -> None:
    url = f"sqlite:///{tmp_path / 'stones.sqlite3'}"
    with_an_agency(url)
    orphaning = _next_version(
        tmp_path,
        also="INSERT INTO device (agency_id, tag, model, station, created_at, "
        "vehicle, serial, software, status, note) VALUES "
        "(99, 'D1', 'dunlin', 'North', '2026-03-02 09:00:00', '', '', '', 'spare', '')",
    )

    with pytest.raises(DatabaseUnusable, match="device"):
        open_database(url, now=NOW, migrations=orphaning)

    assert "motto" not in columns_of_agency(url)


def test_a_folder_that_cannot_be_made_is_told_plainly(tmp_path: Path) -> None:
    (tmp_path / "taken").write_text("a file, no folder")

    with pytest.raises(DatabaseUnusable, match=r"cannot be written.*MARCHSTONE_DATA_DIR"):
        open_database(f"sqlite:///{tmp_path}/taken/stones.sqlite3", now=NOW)


def test_a_folder_that_cannot_be_written_is_told_plainly(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("os.access", lambda *_: False)

    with pytest.raises(DatabaseUnusable, match="cannot be written"):
        open_database(f"sqlite:///{tmp_path}/stones.sqlite3", now=NOW)


def test_a_file_that_is_no_database_is_told_plainly(tmp_path: Path) -> None:
    file = tmp_path / "stones.sqlite3"
    file.write_text("limits, by and large, " * 100)

    with pytest.raises(DatabaseUnusable, match="not a database"):
        open_database(f"sqlite:///{file}", now=NOW)


def test_a_server_that_does_not_answer_is_told_without_its_password(tmp_path: Path) -> None:
    url = f"postgresql+psycopg://m:secret@/stones?host={tmp_path}"

    with pytest.raises(DatabaseUnusable, match="does not answer") as refused:
        open_database(url, now=NOW)

    assert "secret" not in refused.value.message


def test_two_processes_may_start_at_once(empty_url: str) -> None:
    starters = [
        subprocess.Popen([sys.executable, "-c", START, empty_url], cwd=ROOT) for _ in range(2)
    ]

    assert [starter.wait(timeout=180) for starter in starters] == [0, 0]
    assert "time_zone" in columns_of_agency(empty_url)
