"""Rows from one database into another, of either kind; both have the newest schema."""

from collections.abc import Mapping

import sqlalchemy as sa
from sqlalchemy import Connection, Engine
from sqlmodel import SQLModel

from app.storage.base import NumberedRow
from app.storage.engine import for_reading, for_writing

_AT_ONCE = 1000


def copy_rows(
    source: Engine, target: Engine, queries: Mapping[str, sa.Select[tuple[object, ...]]]
) -> int:
    """How many. One state of the source, one transaction of the target: all of it or nothing."""
    with for_reading(source).connect() as reading, for_writing(target).begin() as writing:
        count = sum(_copy(reading, writing, name, query) for name, query in queries.items())
        if target.dialect.name == "postgresql":
            _go_on_counting(writing)
    return count


def _copy(
    reading: Connection, writing: Connection, name: str, query: sa.Select[tuple[object, ...]]
) -> int:
    table, count = SQLModel.metadata.tables[name], 0
    with reading.execution_options(yield_per=_AT_ONCE).execute(query) as found:
        for some in found.mappings().partitions():
            writing.execute(sa.insert(table), [dict(row) for row in some])
            count += len(some)
    return count


def _go_on_counting(writing: Connection) -> None:
    """The numbers came with the rows; the next one is to follow the highest."""
    for row in NumberedRow.__subclasses__():
        name = row.__tablename__
        writing.execute(
            sa.text(
                f"SELECT setval(pg_get_serial_sequence('{name}', 'id'), "  # noqa: S608 - our names
                f"(SELECT max(id) FROM {name})) WHERE EXISTS (SELECT 1 FROM {name})"
            )
        )
