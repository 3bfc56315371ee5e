"""Databases as an earlier version of the program left them.

`schemas/NNNN.sql` holds the rows of a small agency as that schema kept them.
"""

import sqlite3
import tempfile
from contextlib import closing
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import sqlalchemy as sa
from alembic import command

from app.places import folder
from app.storage.engine import for_writing, make_engine
from app.storage.migrating import alembic_config

KEPT = sorted((Path(__file__).parent / "schemas").glob("*.sql"))


def fill(url: str, rows: Path) -> None:
    """An empty database of either kind, with the schema that the file is named after."""
    if url.startswith("sqlite"):
        _fill_sqlite(url, rows)
        return
    with tempfile.TemporaryDirectory() as place:
        source = f"sqlite:///{place}/kept.sqlite3"
        _fill_sqlite(source, rows)
        _make(url, rows.stem)
        _copy(source, url)


def _fill_sqlite(url: str, rows: Path) -> None:
    _make(url, rows.stem)
    with closing(sqlite3.connect(sa.make_url(url).database or "")) as kept:
        kept.executescript(rows.read_bytes().decode())  # as text, line ends would change


def _make(url: str, version: str) -> None:
    engine = for_writing(make_engine(url))
    with engine.begin() as connection:
        command.upgrade(alembic_config(connection, folder("migrations")), version)
    engine.dispose()


def _copy(source: str, target: str) -> None:
    here, there = make_engine(source), for_writing(make_engine(target))
    tables = sa.MetaData()
    with here.connect() as reading, there.begin() as writing:
        tables.reflect(there)
        for table in tables.sorted_tables:
            if table.name == "alembic_version":
                continue
            found = [dict(row) for row in reading.execute(_all_of(table)).mappings()]
            if found:
                writing.execute(table.insert(), [_typed(table, row) for row in found])
            if "id" in table.columns:
                last = f"SELECT setval(pg_get_serial_sequence('{table.name}', 'id'), 1000)"
                writing.execute(sa.text(last))
    here.dispose()
    there.dispose()


def _all_of(table: sa.Table) -> sa.TextClause:
    return sa.text(f"SELECT * FROM {table.name}")


def _typed(table: sa.Table, row: dict[str, Any]) -> dict[str, Any]:
    return {name: _one(table.columns[name].type, value) for name, value in row.items()}


def _one(kind: sa.types.TypeEngine[Any], value: Any) -> Any:
    """SQLite keeps times as text in UTC, and yes as 1."""
    if value is None:
        return None
    if isinstance(kind, sa.DateTime):
        return datetime.fromisoformat(value).replace(tzinfo=UTC)
    return bool(value) if isinstance(kind, sa.Boolean) else value
