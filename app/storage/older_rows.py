"""Every row of a PostgreSQL database of whatever schema, in an SQLite file of the same schema."""

from datetime import UTC, datetime
from typing import Any

import sqlalchemy as sa
from sqlalchemy import Connection

_AT_ONCE = 1000
_VERSION = "alembic_version"


def lock_all(connection: Connection) -> None:
    """Others may read meanwhile; what they would write has to wait, and then meets the upgrade."""
    names = [name for name in sa.inspect(connection).get_table_names() if name != _VERSION]
    quoted = ", ".join(connection.dialect.identifier_preparer.quote(name) for name in names)
    connection.exec_driver_sql(f"LOCK TABLE {quoted} IN EXCLUSIVE MODE")


def copy_older(source: Connection, target: Connection) -> None:
    """`target` has the tables already, and asks for no foreign keys."""
    found = sa.MetaData()
    found.reflect(target)
    for table in found.sorted_tables:
        if table.name != _VERSION:
            _copy(source, target, table)


def _copy(source: Connection, target: Connection, table: sa.Table) -> None:
    names = ", ".join(f'"{column.name}"' for column in table.columns)
    query = sa.text(f'SELECT {names} FROM "{table.name}"')  # noqa: S608 - our names
    with source.execute(query, execution_options={"yield_per": _AT_ONCE}) as rows:
        for some in rows.mappings().partitions():
            target.execute(table.insert(), [_plain(dict(row)) for row in some])


def _plain(row: dict[str, Any]) -> dict[str, Any]:
    """SQLite keeps times in UTC without their zone."""
    return {
        name: value.astimezone(UTC).replace(tzinfo=None) if isinstance(value, datetime) else value
        for name, value in row.items()
    }
